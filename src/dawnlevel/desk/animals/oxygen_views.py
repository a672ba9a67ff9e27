"""What a person sees of oxygen, as data; like the views of `desk.views`."""

from dataclasses import dataclass
from datetime import datetime

from dawnlevel.desk.views import CurveView, SourceView
from dawnlevel.estimate.posterior import Interval


@dataclass(frozen=True, slots=True)
class OxygenLimitView:
    """A published level of oxygen against the night's minimum.

    Attributes:
        oxygen_mg_l: the level [mg/L].
        means: what is said of it.
        chance_below: chance that the day's minimum is below it.
        source: key of the source.
    """

    oxygen_mg_l: float
    means: str
    chance_below: float
    source: str


@dataclass(frozen=True, slots=True)
class MovementView:
    """What another movement of the surface does, the gas timer as it stands.

    Attributes:
        label: what is done, in words.
        factor: exchange with the air over the present.
        minimum_mg_l: the day's lowest oxygen [mg/L].
        chance_below_5: chance that it is below 5 mg/L.
        lights_on_mg_l: CO2 at lights-on with the needle left alone [mg/L].
        gas_factor: gas over the present that keeps today's CO2 at lights-on; null where no gas is due.
    """

    label: str
    factor: float
    minimum_mg_l: Interval
    chance_below_5: float
    lights_on_mg_l: Interval
    gas_factor: float | None


@dataclass(frozen=True, slots=True)
class OxygenReadingView:
    """A reading that counts.

    Attributes:
        at: when.
        oxygen_mg_l: what it says [mg/L]; from % by temperature and pressure.
        saturation_percent: the same over what the air gives [%].
        sd_mg_l: how far it may lie from the balance, one standard deviation [mg/L]; more with age.
    """

    at: datetime
    oxygen_mg_l: float
    saturation_percent: float
    sd_mg_l: float


@dataclass(frozen=True, slots=True)
class OxygenView:
    """Oxygen over a day and a night that go as timer, lights and animals stand.

    Attributes:
        at: the moment it speaks of.
        minimum_mg_l: lowest oxygen of the day [mg/L].
        minimum_at: when it is lowest, in the middle.
        maximum_mg_l: highest oxygen of the day [mg/L].
        saturation_mg_l: oxygen in balance with the air [mg/L].
        exchange_per_h: exchange rate of oxygen [1/h].
        animals_mg_l_h: oxygen animals and filter take [mg/L/h].
        plants_dark_mg_l_h: oxygen plants take in the dark [mg/L/h].
        plants_light_mg_l_h: oxygen plants make at lights-on's CO2 in full light [mg/L/h].
        from_animals: whether animals are described; else their part is read from the CO2 they make.
        limits: published levels against the minimum.
        movements: what more movement does to oxygen and to CO2.
        curve: oxygen over the day.
        readings: oxygen readings that count, the oldest first.
        told: what they did to the forecast, in words.
        verdict: what it comes to, in words.
        cautions: what to mind.
    """

    tank: str
    at: datetime
    minimum_mg_l: Interval
    minimum_at: datetime
    maximum_mg_l: Interval
    saturation_mg_l: float
    exchange_per_h: Interval
    animals_mg_l_h: Interval
    plants_dark_mg_l_h: Interval
    plants_light_mg_l_h: Interval
    from_animals: bool
    limits: tuple[OxygenLimitView, ...]
    movements: tuple[MovementView, ...]
    curve: CurveView
    readings: tuple[OxygenReadingView, ...]
    told: str
    verdict: str
    cautions: tuple[str, ...]
    sources: tuple[SourceView, ...]
