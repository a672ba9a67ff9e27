"""What a person sees, as data: frozen view models that every face renders and `--json` prints.

Moments are aware datetimes in the tank's zone. Intervals are medians with their 50 % and 90 % bounds.
Numbers keep their unit in the name.
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from dawnlevel.estimate.posterior import Interval


class Phase(StrEnum):
    """Where the gas day stands."""

    ALARM = "alarm"
    OVER = "over_ceiling"
    UNEASY = "uneasy"
    WAITING = "waiting"
    RAMP = "ramp"
    HOLDING = "holding"
    FALLING = "falling"
    NO_PLAN = "no_plan"


@dataclass(frozen=True, slots=True)
class BandView:
    """The target: `unit` is `pH drop` or `mg/L`; and what its two ends mean in the other unit."""

    unit: str
    low: float
    high: float
    other_unit: str
    low_in_other: Interval | None
    high_in_other: Interval | None
    rests_on: str
    ceiling_mg_l: float


@dataclass(frozen=True, slots=True)
class NowView:
    """Where the level stands: CO2 [mg/L], drop from the recorded baseline [pH]."""

    at: datetime
    co2_mg_l: Interval
    drop_ph: Interval | None


@dataclass(frozen=True, slots=True)
class ForecastView:
    """Lights-on: level, the meter's pH, the target's quantity (drop or mg/L), chance of lying in the band."""

    at: datetime
    co2_mg_l: Interval
    ph: Interval
    quantity: Interval
    chance_in_band: float


@dataclass(frozen=True, slots=True)
class ActionView:
    """The one thing to do next.

    Attributes:
        kind: `hold`, `raise`, `lower`, `close_gas`, `keep_closed`, `close_and_read`, `read_again`,
            `find_change`, `lower_and_aerate`, `plan`, `wait`.
        text: one sentence.
        reason: why, in one sentence with its numbers.
        rate_bps: needle count after it [bubbles/s].
        gas_closes: when the gas closes today, if it flows or will.
        then_rate_bps: count to go to at lights-on, where the ramp needs more than the day can hold.
        chance_if_done, chance_if_left: chance of hitting and holding the band.
        breach_if_done, breach_if_left: chance of passing the ceiling, or 0.15 more drop than the band's top.
        breach_until: until when that chance counts: then your readings correct; null: until lights-off.
        steps: further steps, in order (fish, or CO2 above the ceiling).
    """

    kind: str
    text: str
    reason: str
    rate_bps: float | None = None
    gas_closes: datetime | None = None
    then_rate_bps: float | None = None
    chance_if_done: float | None = None
    chance_if_left: float | None = None
    breach_if_done: float | None = None
    breach_if_left: float | None = None
    breach_until: datetime | None = None
    steps: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadingView:
    """When the next pH reading is worth taking, and what for."""

    at: datetime
    reason: str


@dataclass(frozen=True, slots=True)
class ProbeNowView:
    """What the probe shows now, and whether a reading about as late is recorded already."""

    at: datetime
    ph: float
    is_recorded: bool


@dataclass(frozen=True, slots=True)
class DayView:
    """One past gas day at lights-on: level, quantity, chance that it was dialled in, readings taken."""

    day: date
    co2_mg_l: Interval
    quantity: Interval
    dialled_in: float
    readings: int


@dataclass(frozen=True, slots=True)
class CurveView:
    """Levels over time for the chart [mg/L], one entry a moment: median, 50 % and 90 % bounds."""

    at: tuple[datetime, ...]
    median: tuple[float, ...]
    low_50: tuple[float, ...]
    high_50: tuple[float, ...]
    low_90: tuple[float, ...]
    high_90: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PointView:
    """A pH reading as CO2 [mg/L] with its 90 % interval, for the chart."""

    at: datetime
    ph: float
    co2_mg_l: float
    low_90: float
    high_90: float


@dataclass(frozen=True, slots=True)
class SpanView:
    """A stretch of time: gas open or lights on."""

    opens: datetime
    closes: datetime


@dataclass(frozen=True, slots=True)
class PictureView:
    """The day's picture: the curve behind and ahead, readings, gas, light, band and ceiling [mg/L]."""

    now: datetime
    curve: CurveView
    readings: tuple[PointView, ...]
    gas: tuple[SpanView, ...]
    light: tuple[SpanView, ...]
    band_low_mg_l: float
    band_high_mg_l: float
    ceiling_mg_l: float


@dataclass(frozen=True, slots=True)
class TodayView:
    """The tank now: state, forecast, the next action, the day's picture.

    `forecast` is for lights-on if nothing is touched, `forecast_if_done` if the action is followed; both
    are None where lights-on is past or no gas is due.
    """

    tank: str
    timezone: str
    phase: Phase
    settled: bool
    band: BandView
    now: NowView
    lights_on: datetime
    lights_off: datetime
    forecast: ForecastView | None
    forecast_if_done: ForecastView | None
    action: ActionView
    next_reading: ReadingView | None
    days: tuple[DayView, ...]
    notes: tuple[str, ...]
    picture: PictureView
    probe: ProbeNowView | None


@dataclass(frozen=True, slots=True)
class PlanView:
    """The next gas day: when to open the gas, at what rate, when to close it, and why.

    `gas_until` is when today's gas closes, where it still flows.
    """

    tank: str
    timezone: str
    day: date
    gas_until: datetime | None
    windows: tuple[SpanView, ...]
    rate_bps: float
    present_rate_bps: float
    needle_changes: bool
    lights_on: datetime
    lights_off: datetime
    band: BandView
    forecast: ForecastView
    end_of_gas_mg_l: Interval
    at_lights_off_mg_l: Interval
    chance_hit: float
    chance_held: float
    chance_breach: float
    breach_until: datetime | None
    breach_bound: float
    readings: tuple[datetime, ...]
    reasons: tuple[str, ...]
    out_of_reach: str
    would_help: tuple[str, ...]
    picture: PictureView


@dataclass(frozen=True, slots=True)
class RouteView:
    """One route to CO2 at `at` [mg/L]; `missing` names the record it lacks."""

    name: str
    label: str
    at: datetime | None
    co2_mg_l: Interval | None
    missing: str


@dataclass(frozen=True, slots=True)
class CulpritView:
    """A suspect with its odds, and how far the records push it from what is usual [sd]."""

    kind: str
    label: str
    probability: float
    shift_sd: float


@dataclass(frozen=True, slots=True)
class MeasurementView:
    """A measurement and the share of the doubt about CO2 it is expected to remove."""

    kind: str
    label: str
    removes: float


@dataclass(frozen=True, slots=True)
class UnknownView:
    """One unknown before and after the records; `removed` is the share of prior variance removed."""

    name: str
    label: str
    prior_median: float
    now: Interval
    removed: float
    source: str


@dataclass(frozen=True, slots=True)
class TangleView:
    """Two unknowns the records cannot tell apart yet, and the reading that would."""

    first: str
    second: str
    correlation: float
    cure: str


@dataclass(frozen=True, slots=True)
class SourceView:
    """A published source the figures rest on."""

    key: str
    text: str
    doi: str
    status: str


@dataclass(frozen=True, slots=True)
class ExplainView:
    """Why: the three routes, whether they agree, what is told and what is not, the sources."""

    tank: str
    timezone: str
    now: NowView
    routes: tuple[RouteView, ...]
    agree: bool
    verdict: str
    culprits: tuple[CulpritView, ...]
    measurements: tuple[MeasurementView, ...]
    unknowns: tuple[UnknownView, ...]
    tangles: tuple[TangleView, ...]
    gear: tuple[str, ...]
    short_rule_mg_l: float | None
    short_rule_off_percent: float | None
    band: BandView
    draws_efficiency: float
    sources: tuple[SourceView, ...]
