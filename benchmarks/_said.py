"""What a policy's advice said, day by day: kept for the scorer, who holds it against the truth afterwards."""

from dataclasses import dataclass, field

from dawnlevel.desk.views import ForecastView, PlanView, TodayView
from dawnlevel.estimate.posterior import Interval

LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
"""Nominal levels of the bounds below: the ends of the 90 and 50 % intervals, and the median."""

Bounds = tuple[float, float, float, float, float]


def bounds(interval: Interval) -> Bounds:
    """An interval as its bounds at `LEVELS`, in its unit."""
    return interval.low_90, interval.low_50, interval.median, interval.high_50, interval.high_90


@dataclass(frozen=True, slots=True)
class Forecast:
    """Lights-on as forecast: bounds of CO2 [mg/L], meter pH and the target's quantity; chance of the band."""

    co2_mg_l: Bounds
    ph: Bounds
    quantity: Bounds
    chance_in_band: float

    @classmethod
    def of(cls, view: ForecastView) -> "Forecast":
        """From what the desk shows."""
        return cls(bounds(view.co2_mg_l), bounds(view.ph), bounds(view.quantity), view.chance_in_band)


@dataclass(frozen=True, slots=True)
class Look:
    """One round beside the tank, and the advice then.

    Attributes:
        hour: when [h since midnight of day 0].
        action: its kind, as in the desk's ActionView; `rate_bps` the count after it [1/s].
        chance_if_done, chance_if_left, breach_if_done: as stated, None where nothing was.
        settled: whether the tank was taken as settled.
        now_co2_mg_l, now_drop_ph: bounds of the present level and drop.
        lights_on: the forecast if the advice is followed; None after lights-on.
        notes: what else it said.
    """

    hour: float
    action: str
    rate_bps: float | None
    chance_if_done: float | None
    chance_if_left: float | None
    breach_if_done: float | None
    settled: bool
    now_co2_mg_l: Bounds
    now_drop_ph: Bounds | None
    lights_on: Forecast | None
    notes: tuple[str, ...]

    @classmethod
    def of(cls, hour: float, view: TodayView) -> "Look":
        """From what the desk shows at `hour` [h]."""
        action = view.action
        return cls(
            hour=hour,
            action=action.kind,
            rate_bps=action.rate_bps,
            chance_if_done=action.chance_if_done,
            chance_if_left=action.chance_if_left,
            breach_if_done=action.breach_if_done,
            settled=view.settled,
            now_co2_mg_l=bounds(view.now.co2_mg_l),
            now_drop_ph=bounds(view.now.drop_ph) if view.now.drop_ph is not None else None,
            lights_on=Forecast.of(view.forecast_if_done) if view.forecast_if_done is not None else None,
            notes=view.notes,
        )


@dataclass(frozen=True, slots=True)
class Planned:
    """The day's plan as stated the evening before: chances, whether the needle changes, what it doubts."""

    chance_held: float
    chance_breach: float
    needle_changes: bool
    lights_on: Forecast
    out_of_reach: str

    @classmethod
    def of(cls, view: PlanView) -> "Planned":
        """From what the desk shows."""
        return cls(
            view.chance_held,
            view.chance_breach,
            view.needle_changes,
            Forecast.of(view.forecast),
            view.out_of_reach,
        )


@dataclass(slots=True)
class DaySaid:
    """All that was said for one gas day; `unplanned` tells why there was no plan."""

    planned: Planned | None = None
    unplanned: str = ""
    looks: list[Look] = field(default_factory=list)

    def last_forecast(self) -> Forecast | None:
        """The forecast made at the last reading before lights-on, if there was one."""
        told = [look.lights_on for look in self.looks if look.lights_on is not None]
        return told[-1] if told else None


class Notebook:
    """Where a policy may note its forecasts and what its advice said; called as the contract's `report`."""

    def __init__(self) -> None:
        self.forecasts: dict[int, tuple[float, float]] = {}
        self.days: dict[int, DaySaid] = {}

    def __call__(self, day: int, low_ph: float, high_ph: float) -> None:
        """Note the 90 % interval [pH] of `day`'s lights-on forecast; the last one counts."""
        self.forecasts[day] = (float(low_ph), float(high_ph))

    def _day(self, day: int) -> DaySaid:
        return self.days.setdefault(day, DaySaid())

    def planned(self, day: int, view: PlanView) -> None:
        """Note the plan for `day`."""
        self._day(day).planned = Planned.of(view)

    def unplanned(self, day: int, why: str) -> None:
        """Note why `day` has no plan."""
        self._day(day).unplanned = why

    def looked(self, day: int, hour: float, view: TodayView) -> None:
        """Note the advice of one round beside the tank at `hour` [h]."""
        self._day(day).looks.append(Look.of(hour, view))
