"""What a person sees of CO2 in a room's air, as data; like the views of `desk.views`."""

from dataclasses import dataclass
from datetime import date

from dawnlevel.desk.shelf.shelf_views import HeatView
from dawnlevel.desk.views import SourceView


@dataclass(frozen=True, slots=True)
class LimitView:
    """A published limit against a room's air.

    Attributes:
        name: whose limit.
        percent: CO2 in the air [%].
        over: the time it is meant for.
        dated: the year or years it dates from.
        in_force: whether it stands today, as far as the source tells.
        passed: whether the room passes it.
        begins_h: hours after the gas begins to come until it is passed; null where it is not.
        ends_h: hours until the air falls below it again; null where it is not passed, or never does.
        mass_kg: gas that brings the closed room to it [kg].
        source: key of the source.
    """

    name: str
    percent: float
    over: str
    dated: str
    in_force: bool
    passed: bool
    begins_h: float | None
    ends_h: float | None
    mass_kg: float
    source: str


@dataclass(frozen=True, slots=True)
class AirView:
    """CO2 in the room's air `hours` after the gas began to come [%], well mixed."""

    hours: float
    percent: float


@dataclass(frozen=True, slots=True)
class RetestView:
    """How often a kind of cylinder in CO2 service is tested again.

    Attributes:
        standard: the stamp, as it is recorded.
        label: what a keeper calls it.
        years: years from test to test.
        source: key of the source.
    """

    standard: str
    label: str
    years: int
    source: str


@dataclass(frozen=True, slots=True)
class CylinderCareView:
    """A cylinder as a thing that stands in a room: warmth, handling, its test.

    Attributes:
        fill_kg_l: charge over water capacity [kg/L]; a usual one where the capacity is not recorded.
        is_recorded: whether charge and capacity are those of the recorded cylinder.
        liquid_full_c: warmth at which liquid fills the full cylinder [degC]; None for a small charge.
        disc_low_bar, disc_high_bar: pressure at which a relief disc opens [bar].
        heat: what the full cylinder presses with as it gets warm.
        hot: the same in words.
        rules: how cylinders are handled.
        retests: how often each kind is tested again.
        retest_due: when this one is due; None where stamp or standard is not recorded.
    """

    fill_kg_l: float
    is_recorded: bool
    liquid_full_c: float | None
    disc_low_bar: float
    disc_high_bar: float
    heat: tuple[HeatView, ...]
    hot: str
    rules: tuple[str, ...]
    retests: tuple[RetestView, ...]
    retest_due: date | None


@dataclass(frozen=True, slots=True)
class RoomView:
    """CO2 in a room if the cylinder vents into it.

    Attributes:
        gas_kg: gas that comes out [kg].
        room_m3: the room's air [m3].
        air_changes_per_h: fresh air, room volumes an hour.
        vents_over_h: hours over which the gas comes out; 0: at once.
        temp_c: temperature [degC].
        mixed_percent: largest share of CO2, well mixed [%].
        closed_percent: the same with no fresh air at all [%].
        pooled_percent: upper bound in still air along the floor [%].
        floor_m2: floor it pools on [m2].
        layer_m: depth of that layer [m].
        oxygen_percent: oxygen left, well mixed [%].
        feels: what people feel at the mixed share, in words; empty below 1 %.
        feels_low: the same at the pooled share.
        use_percent: what ordinary use adds to the room's air [%]; None where it is not known.
        air: the share over time.
        limits: published limits against it.
        alarm: why an oxygen alarm does not warn, in words.
        care: the cylinder itself: warmth, handling, its test.
        cautions: what to mind.
    """

    gas_kg: float
    room_m3: float
    air_changes_per_h: float
    vents_over_h: float
    temp_c: float
    mixed_percent: float
    closed_percent: float
    pooled_percent: float
    floor_m2: float
    layer_m: float
    oxygen_percent: float
    feels: str
    feels_low: str
    use_percent: float | None
    air: tuple[AirView, ...]
    limits: tuple[LimitView, ...]
    alarm: str
    care: CylinderCareView
    cautions: tuple[str, ...]
    sources: tuple[SourceView, ...]
