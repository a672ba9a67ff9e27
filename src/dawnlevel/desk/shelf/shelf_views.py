"""What a person sees of the cylinder and of what is due, as data; like the views of `desk.views`.

Moments are aware datetimes in the tank's zone. Intervals are medians with their 50 % and 90 % bounds.
"""

from dataclasses import dataclass
from datetime import date, datetime

from dawnlevel.desk.views import SourceView
from dawnlevel.estimate.posterior import Interval


@dataclass(frozen=True, slots=True)
class ReminderView:
    """Something that is due.

    Attributes:
        kind: `cylinder`, `retest`, `buffers`, `solution` or `kh`.
        text: what to do and why, in one or two sentences.
        due: since when, or by when.
    """

    kind: str
    text: str
    due: date


@dataclass(frozen=True, slots=True)
class RunOutView:
    """When the cylinder is empty if the gas goes on as set: early and late end of nine in ten, and likely."""

    early: date
    likely: date
    late: date


@dataclass(frozen=True, slots=True)
class GaugeView:
    """What the latest gauge reading means.

    Attributes:
        at: when it was read.
        gauge_bar: what it showed [bar above the air].
        temp_c: temperature it is judged at [degC].
        says: `liquid`, `gas_only`, `above` or `no_liquid_level`.
        flat_bar: what it shows at that temperature while liquid is left [bar].
        falls_from_share: share of the charge left when it begins to fall [-].
        text: what that means, in words.
    """

    at: datetime
    gauge_bar: float
    temp_c: float
    says: str
    flat_bar: float | None
    falls_from_share: float | None
    text: str


@dataclass(frozen=True, slots=True)
class HeatView:
    """What the full cylinder presses with when it is as warm as that.

    Attributes:
        temp_c: temperature of the whole cylinder [degC].
        gauge_bar: pressure above the air [bar].
        from_disc: whether a relief disc may open there.
    """

    temp_c: float
    gauge_bar: float
    from_disc: bool


@dataclass(frozen=True, slots=True)
class GasDayView:
    """Where the gas of the last day went [g]; `dissolved_share` and `taken_up_share` of what was injected."""

    begins: datetime
    ends: datetime
    injected_g: Interval
    dissolved_share: Interval
    bubbled_off_g: Interval
    taken_up_g: Interval
    given_off_g: Interval
    taken_up_share: Interval


@dataclass(frozen=True, slots=True)
class CylinderView:
    """What is left in the cylinder, when it runs out, what a bubble holds, where the gas goes.

    Attributes:
        fitted: when it was connected.
        charge_kg: charge as filled [kg].
        counted: what use is counted by, `bubbles` or `days`.
        left_kg: gas left now [kg].
        left_share: the same over the charge [-].
        use_g_per_day: gas that goes a day as set now [g].
        mg_per_bubble: gas in a bubble of the counter [mg]; None where bubbles are not counted.
        told: share of the prior doubt about the gas per bubble (or day) that the records removed [-].
        runs_out: when it is empty; None where no gas is due.
        exchange_by: the day to have the next one: the early end of nine in ten.
        fill_kg_l: charge over water capacity [kg/L]; a usual one where the capacity is not recorded.
        liquid_full_c: warmth at which liquid fills the full cylinder [degC]; None for a small charge.
        heat: what the full cylinder presses with as it gets warm.
        gauge: what the latest gauge reading means; None without one.
        gas_day: where the last day's gas went; None where it cannot be told.
        no_gas_day: why it cannot be told; empty where it can.
        cost_per_month: in the currency of the price [currency]; None without a price.
        retest_due: when the cylinder is due for its test; None where stamp or standard is not known.
        retest: the same in a sentence, and whether it is overdue; empty where not known.
        warnings: what should be looked at, in words.
        weigh_next: what would tell more, in words.
        cautions: what to mind with cylinders.
    """

    tank: str
    timezone: str
    at: datetime
    fitted: datetime
    charge_kg: float
    counted: str
    left_kg: Interval
    left_share: Interval
    use_g_per_day: Interval
    mg_per_bubble: Interval | None
    told: float
    runs_out: RunOutView | None
    exchange_by: date | None
    fill_kg_l: float
    liquid_full_c: float | None
    heat: tuple[HeatView, ...]
    gauge: GaugeView | None
    gas_day: GasDayView | None
    no_gas_day: str
    cost_per_month: Interval | None
    retest_due: date | None
    retest: str
    warnings: tuple[str, ...]
    weigh_next: str
    cautions: tuple[str, ...]
    sources: tuple[SourceView, ...]
