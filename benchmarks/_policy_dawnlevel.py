"""Dawnlevel as a policy: it records what a keeper would record and does what the advice says."""

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from dawnlevel.plan.assess import Assessment, assess, plan_next_day
from dawnlevel.plan.schedule import Schedule
from dawnlevel.plan.steer import Action, lights_on_forecast
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    Diffuser,
    FishSighting,
    FishState,
    GasSwitch,
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


def tank_of_card(card: Mapping[str, Any], target: Target) -> Tank:
    """The tank as its keeper would describe it."""
    return Tank(
        name="practice",
        volume_l=card["volume_l"],
        surface_cm2=card["surface_cm2"],
        depth_cm=card["depth_cm"],
        temp_c=card["temp_c"],
        photoperiod=Photoperiod(lights_on_h=card["lights_on_h"] % 24, lights_off_h=card["lights_off_h"] % 24),
        planting=Planting(card["planting"]),
        surface=Surface(card["surface"]),
        diffuser=Diffuser(card["diffuser"]),
        room_co2_ppm=card["room_co2_ppm"],
        kh_step_dkh=card["kh_step_dkh"],
        ph_step=card["ph_step"],
        co2_limit_mg_l=card["co2_limit_mg_l"],
        first_rate_bps=card["first_rate_bps"],
        reads_per_ramp=card["reads_per_ramp"],
        earliest_start_h=card["earliest_start_h"] % 24,
        timer_windows=card.get("timer_windows", 1),
        target=target,
    )


class Keeper:
    """Plays a tank by the advice alone."""

    def __init__(self, tank: Any, target: Target, report: Report | None) -> None:  # noqa: ANN401 - any module's tank
        self.tank = tank
        self.card = tank.card()
        self.described = tank_of_card(self.card, target)
        self.records: list[Record] = []
        self.report = report

    @property
    def now(self) -> datetime:
        """The tank's clock as a moment."""
        return DAY_0 + timedelta(hours=self.tank.clock())

    def look(self) -> Assessment:
        """The assessment now."""
        return assess(self.described, self.records, self.now, np.random.default_rng(7))

    def begin(self) -> None:
        """Baseline and KH."""
        method = BaselineMethod(self.card["baseline_method"])
        for _ in range(2):
            ph = self.tank.read_degassed_ph()
            self.records.append(
                BaselineCup(at=self.now, ph=ph, method=method, hours=float(self.card["baseline_hours"]))
            )
        self.records.append(KhTitration(at=self.now, kh_dkh=self.card["kh_dkh"]))

    def read(self) -> None:
        """One round beside the tank."""
        self.records.append(PhReading(at=self.now, ph=self.tank.read_ph()))
        self.records.append(FishSighting(at=self.now, state=FishState(self.tank.watch_fish())))

    def look_at_cell(self) -> None:
        """The cell by eye."""
        self.records.append(CellSighting(at=self.now, colour=CellColour(self.tank.read_cell())))

    def set_needle(self, rate: float) -> None:
        """A new count."""
        self.records.append(RateSetting(at=self.now, bubbles_per_second=rate))

    def switch(self, rate: float) -> None:
        """The solenoid."""
        self.tank.set_gas(rate)
        self.records.append(GasSwitch(at=self.now, is_open=rate > 0))

    def set_timer(self, windows_h: Sequence[tuple[float, float]]) -> None:
        """The timer's windows, hours from now."""
        clock = self.tank.clock()
        daily = tuple(((clock + opens) % 24.0, (clock + closes) % 24.0) for opens, closes in windows_h)
        self.records.append(TimerSetting(at=self.now, windows_h=daily))
        self.windows = [(clock + opens, clock + closes) for opens, closes in windows_h]

    def plan(self) -> None:
        """The evening's plan for the next gas day."""
        found = self.look()
        ahead, plan = plan_next_day(found, self.described, self.records, self.now)
        self.rate = plan.schedule.rate_bps
        if plan.schedule.is_new:
            self.set_needle(self.rate)
        self.set_timer(plan.schedule.windows_h)
        self.lights_on = self.tank.clock() + ahead.lights_on_h
        self.lights_off = self.tank.clock() + ahead.lights_off_h

    def play_day(self, day: int) -> None:
        """One gas day: the timer's edges, and readings when they are worth it."""
        self.plan()
        taken, interval = 0, None
        reading = self.look().reading
        while True:
            clock = self.tank.clock()
            edges = [edge for window in self.windows for edge in window if edge > clock + 1e-6]
            at = None if reading is None or taken >= MOST_READINGS else _hours(reading.at)
            if not edges and (at is None or at > self.windows[-1][1]):
                break
            moment = min([*edges[:1], *([at] if at is not None else [])])
            self.tank.wait_until(max(moment, clock))
            self.follow_timer()
            if at is not None and moment == at:
                taken += 1
                self.read()
                found = self.look()
                if found.steering is not None:
                    self.act(found)
                    forecast = forecast_ph(found)
                    interval = forecast if forecast is not None else interval
                reading = found.reading
        if self.report is not None and interval is not None:
            self.report(day, *interval)
        self.tank.set_gas(0.0)
        self.tank.wait_until(self.lights_off)

    def follow_timer(self) -> None:
        """What the timer does now."""
        clock = self.tank.clock() + 1e-6
        is_open = any(opens <= clock < closes for opens, closes in self.windows)
        self.tank.set_gas(self.rate if is_open else 0.0)

    def act(self, found: Assessment) -> None:
        """Do what the advice says."""
        steering = found.steering
        if steering is None:
            return
        if steering.action is not Action.HOLD:
            self.rate = steering.schedule.rate_bps
            self.set_needle(self.rate)
        if steering.closes_moved:
            begun = [w for w in self.windows if w[0] < self.tank.clock()]
            opened = min((w[0] for w in begun), default=0.0)
            clock = self.tank.clock()
            windows = list(steering.schedule.windows_h)
            if windows[0][0] <= 0.0 and begun:
                windows[0] = (max(w[0] for w in begun) - clock, windows[0][1])
            del opened
            self.set_timer(windows)
        self.follow_timer()


MOST_READINGS = 8


def _hours(moment: datetime) -> float:
    return (moment - DAY_0) / timedelta(hours=1)


def forecast_ph(found: Assessment) -> tuple[float, float] | None:
    """90 % interval of the meter's pH at lights-on under the schedule that was chosen."""
    chosen: Schedule = found.steering.schedule  # type: ignore[union-attr]
    at_on = lights_on_forecast(found.posterior, found.goal, found.luck, found.ahead, chosen)
    if at_on is None:
        return None
    quantity = at_on.quantity
    base = found.posterior.baseline_ph or 0.0
    return base - quantity.high_90, base - quantity.low_90


def play(
    tank: Any,  # noqa: ANN401 - any module's tank
    target: Mapping[str, Sequence[float]],
    days: int,
    report: Report | None = None,
) -> None:
    """Dial in `tank` towards `target` for `days` days."""
    kind, (low, high) = next(iter(target.items()))
    wanted = Target(kind=TargetKind(kind), low=low, high=high)
    keeper = Keeper(tank, wanted, report)
    keeper.begin()
    for day in range(1, days + 1):
        keeper.play_day(day)
