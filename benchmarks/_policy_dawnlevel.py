"""Dawnlevel as a policy: it records what a keeper would record and does what the desk says.

It goes the way every user goes: records into a store, views out of the desk; no look at the estimator.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

from benchmarks._card import hours_of, most_readings_of, number, plain_card
from benchmarks._said import Notebook
from dawnlevel.desk.advice.acceptance import plan_records, to_minute
from dawnlevel.desk.advice.today import today_view
from dawnlevel.desk.advice.tomorrow import plan_view
from dawnlevel.desk.views import ForecastView, TodayView
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    Diffuser,
    FishSighting,
    FishState,
    KhTitration,
    Photoperiod,
    PhReading,
    Planting,
    RateSetting,
    Record,
    Surface,
    Tank,
    Target,
    TargetKind,
    TimerSetting,
)

Report = Callable[[int, float, float], None]

DAY_0 = datetime(2026, 3, 2, tzinfo=UTC)
FISH_AGAIN_H = 1.0
"""Fish in distress are looked at again after this long; own choice."""

_NAME = "practice"
_SOON_H = 1e-6
_RATES_BPS = (0.05, 30.0)
_CEILINGS_MG_L = (5.0, 60.0)


def tank_of_card(card: Mapping[str, Any], target: Target) -> Tank:
    """The tank as its keeper would describe it from a plain `card`. Raises BadInputError.

    A first rate or a ceiling that no tank's description takes is brought to the nearest that it does.
    """
    return Tank(
        name=_NAME,
        volume_l=number(card, "volume_l"),
        surface_cm2=number(card, "surface_cm2"),
        depth_cm=number(card, "depth_cm"),
        temp_c=number(card, "temp_c"),
        photoperiod=Photoperiod(
            lights_on_h=number(card, "lights_on_h") % 24, lights_off_h=number(card, "lights_off_h") % 24
        ),
        planting=Planting(card["planting"]),
        surface=Surface(card["surface"]),
        diffuser=Diffuser(card["diffuser"]),
        room_co2_ppm=card["room_co2_ppm"],
        kh_step_dkh=number(card, "kh_step_dkh"),
        ph_step=number(card, "ph_step"),
        co2_limit_mg_l=_within(number(card, "co2_limit_mg_l"), _CEILINGS_MG_L),
        first_rate_bps=_within(number(card, "first_rate_bps"), _RATES_BPS),
        reads_per_ramp=int(_within(number(card, "reads_per_ramp"), (0, 24))),
        earliest_start_h=number(card, "earliest_start_h") % 24,
        timer_windows=int(_within(number(card, "timer_windows"), (1, 24))),
        target=target,
    )


def _within(value: float, ends: tuple[float, float]) -> float:
    return min(max(value, ends[0]), ends[1])


def _moment(hour: float) -> datetime:
    return DAY_0 + timedelta(hours=hour)


def _hour(moment: datetime) -> float:
    return (moment - DAY_0) / timedelta(hours=1)


class Keeper:
    """Plays a tank by the advice alone."""

    def __init__(self, tank: Any, target: Target, report: Report | None = None) -> None:  # noqa: ANN401 - any module's tank
        self.tank = tank
        self.card = plain_card(tank.card())
        self.report = report
        self.notebook = report if isinstance(report, Notebook) else Notebook()
        self.most_readings = most_readings_of(self.card)
        self.store = open_store("sqlite://")
        self.store.add_tank(tank_of_card(self.card, target), _moment(min(tank.clock(), 0.0)))
        self.rate = _within(number(self.card, "first_rate_bps"), _RATES_BPS)
        self.windows: list[tuple[float, float]] = []
        self.lights_off = tank.clock()
        self.then: tuple[float, float] | None = None
        self.in_distress = False
        self.taken = 0

    @property
    def now(self) -> datetime:
        """The tank's clock as a moment."""
        return _moment(self.tank.clock())

    def note(self, *records: Record) -> None:
        """Put records into the store."""
        self.store.add_records(_NAME, records)

    def begin(self) -> None:
        """Baseline, twice, and KH."""
        method, hours = BaselineMethod(str(self.card["baseline_method"])), number(self.card, "baseline_hours")
        for _ in range(2):
            self.note(BaselineCup(at=self.now, ph=self.tank.read_degassed_ph(), method=method, hours=hours))
        if self.card["kh_dkh"] is not None:
            self.note(KhTitration(at=self.now, kh_dkh=number(self.card, "kh_dkh")))

    def read(self, day: int) -> TodayView:
        """One round beside the tank, and what the desk says then."""
        self.note(PhReading(at=self.now, ph=self.tank.read_ph()))
        self.taken += 1
        self.watch_fish()
        if self.looks_at_cell():
            self.note(CellSighting(at=self.now, colour=CellColour(self.tank.read_cell())))
            self.taken += 1
        view = today_view(self.store, _NAME, self.now)
        self.notebook.looked(day, self.tank.clock(), view)
        return view

    def looks_at_cell(self) -> bool:
        """Whether there is a cell, it is lit, and the day's readings leave room for it and a pH after it."""
        is_lit = self.tank.clock() % 24.0 > number(self.card, "lights_on_h")
        return bool(self.card.get("cell", True)) and is_lit and self.taken + 1 < self.most_readings

    def watch_fish(self) -> FishState:
        """A look at the fish, recorded."""
        state = FishState(self.tank.watch_fish())
        self.note(FishSighting(at=self.now, state=state))
        return state

    def set_timer(self, windows: Sequence[tuple[float, float]]) -> None:
        """The timer's windows, in hours of the tank's clock."""
        self.windows = list(windows)
        daily = tuple((opens % 24.0, closes % 24.0) for opens, closes in windows)
        self.note(TimerSetting(at=self.now, windows_h=daily))

    def set_needle(self, rate_bps: float) -> None:
        """A new count by hand."""
        self.rate = rate_bps
        self.note(RateSetting(at=self.now, bubbles_per_second=rate_bps))

    def wait_for_calm(self, until: float) -> bool:
        """Stay with fish in distress, the gas closed, up to the hour `until`; whether they are calm again.

        While they are in distress the desk gives no plan.
        """
        while self.in_distress:
            self.in_distress = self.watch_fish() is not FishState.CALM
            if self.tank.clock() > until - _SOON_H:
                break
            if self.in_distress:
                self.tank.wait_until(min(self.tank.clock() + FISH_AGAIN_H, until))
        return not self.in_distress

    def plan(self, day: int) -> None:
        """Tomorrow's plan, as the desk gives it."""
        plan = plan_view(self.store, _NAME, self.now)
        self.notebook.planned(day, plan)
        self.note(*plan_records(plan, self.now))
        self.rate = plan.rate_bps
        self.windows = [
            (_hour(to_minute(window.opens)), _hour(to_minute(window.closes))) for window in plan.windows
        ]
        self.lights_off = _hour(plan.lights_off)

    def play_day(self, day: int) -> None:
        """One gas day: the timer's edges, and readings when the desk asks for them."""
        _, lights_on, lights_off = (24.0 * day + hour for hour in hours_of(self.card))
        if self.tank.clock() >= lights_on - _SOON_H:
            return
        self.tank.wait_until(max(lights_on - 24.0, self.tank.clock()))  # from then on it is the next to plan
        if not self.wait_for_calm(lights_on - FISH_AGAIN_H):
            self.notebook.unplanned(day, "the fish were in distress")
            self.tank.wait_until(max(lights_off, self.tank.clock()))
            return
        self.plan(day)
        view = today_view(self.store, _NAME, self.now)
        self.taken, forecast, self.then = 0, None, None
        while True:
            clock = self.tank.clock()
            edges = sorted(edge for window in self.windows for edge in window if edge > clock + _SOON_H)
            read_at = None
            if view.next_reading is not None and self.taken < self.most_readings:
                read_at = max(_hour(view.next_reading.at), clock)
            changes: list[float] = [self.then[0]] if self.then is not None else []
            moments = [
                *edges[:1],
                *changes,
                *([read_at] if read_at is not None and edges and read_at < edges[-1] else []),
            ]
            if not moments:
                break
            self.tank.wait_until(max(min(moments), clock))
            self.change_as_planned()
            self.follow_timer()
            if read_at is not None and min(moments) == read_at:
                view = self.read(day)
                forecast = view.forecast_if_done or forecast
                self.act(view)
        self.tell(day, forecast)
        self.tank.wait_until(max(self.lights_off, self.tank.clock()))

    def tell(self, day: int, forecast: ForecastView | None) -> None:
        """The 90 % interval of the meter's pH at lights-on, for the scorer."""
        if self.report is None or forecast is None or forecast.ph is None:
            return
        self.report(day, forecast.ph.low_90, forecast.ph.high_90)

    def follow_timer(self) -> None:
        """What the timer does now."""
        clock = self.tank.clock() + _SOON_H
        is_open = any(opens <= clock < closes for opens, closes in self.windows)
        self.tank.set_gas(self.rate if is_open else 0.0)

    def change_as_planned(self) -> None:
        """The second change of the needle that the last advice announced, at its hour."""
        if self.then is not None and self.tank.clock() >= self.then[0] - _SOON_H:
            self.set_needle(self.then[1])
            self.then = None

    def act(self, view: TodayView) -> None:
        """Do what the advice says."""
        action = view.action
        if action.kind == "close_gas":
            self.in_distress = True
            self.set_timer([window for window in self.windows if window[1] <= self.tank.clock()][-1:])
            self.tank.set_gas(0.0)
            return
        if action.kind in {"read_again", "close_and_read", "find_change"}:
            return  # the next reading is due at once, and says what to do
        if action.rate_bps is not None and action.rate_bps != self.rate:
            self.set_needle(action.rate_bps)
        self.then = None
        if action.then_rate_bps is not None:
            self.then = (_hour(view.lights_on), action.then_rate_bps)
        if action.gas_closes is not None:
            last_opens, last_closes = self.windows[-1]
            closes = _hour(action.gas_closes)
            if abs(closes - last_closes) > 1.0 / 60.0:
                self.set_timer([*self.windows[:-1], (last_opens, closes)])
        self.follow_timer()


def play(
    tank: Any,  # noqa: ANN401 - any module's tank
    target: Mapping[str, Sequence[float]],
    days: int,
    report: Report | None = None,
) -> None:
    """Dial in `tank` towards `target` (`drop` [pH] or `co2_mg_l` [mg/L]: low, high) for `days` days."""
    kind, (low, high) = next(iter(target.items()))
    keeper = Keeper(tank, Target(kind=TargetKind(kind), low=low, high=high), report)
    keeper.begin()
    for day in range(1, days + 1):
        keeper.play_day(day)
