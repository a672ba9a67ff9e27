"""A keeper beside a practice tank: what is read and set is recorded, the advice comes from the desk."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from dawnlevel.desk.advice.acceptance import plan_records, to_minute
from dawnlevel.desk.advice.today import today_view
from dawnlevel.desk.records import record
from dawnlevel.desk.views import ActionView, PlanView, TodayView
from dawnlevel.practice.scenario import hour_of, moment
from dawnlevel.practice.tank import PlayableTank
from dawnlevel.store import Store, StoredRecord
from dawnlevel.tank import (
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    GasSwitch,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
)
from dawnlevel.tank.clock import daily_spans, local_hour

Windows = tuple[tuple[float, float], ...]


class Keeper:
    """Reads and sets one practice tank at its own clock; the records go into a store."""

    def __init__(self, tank: PlayableTank, store: Store, described: Tank) -> None:
        self.tank = tank
        self.store = store
        self.described = described
        self.rate = described.first_rate_bps
        self.windows: Windows = ()
        self.then_bps: float | None = None
        self.by_hand: bool | None = None

    @property
    def name(self) -> str:
        """The tank's name."""
        return self.described.name

    @property
    def now(self) -> datetime:
        """The tank's clock as a moment (UTC)."""
        return moment(self.tank.clock())

    @property
    def zone(self) -> ZoneInfo:
        """The tank's time zone."""
        return ZoneInfo(self.described.timezone)

    def note(self, new: Record) -> StoredRecord:
        """Record one thing; what is set takes effect on the tank too."""
        stored = record(self.store, self.name, new, max(self.now, new.at), force=True)
        if isinstance(new, RateSetting):
            self.rate = new.bubbles_per_second
        elif isinstance(new, TimerSetting):
            self.windows, self.by_hand = new.windows_h, None
        elif isinstance(new, GasSwitch):
            self.by_hand = new.is_open
        self.follow_timer()
        return stored

    def read_ph(self) -> float:
        """Read the meter in the tank and record it [pH]."""
        ph = self.tank.read_ph()
        self.note(PhReading(at=self.now, ph=ph))
        return ph

    def watch_fish(self) -> FishState:
        """Look at the fish and record it."""
        state = FishState(self.tank.watch_fish())
        self.note(FishSighting(at=self.now, state=state))
        return state

    def look_at_cell(self) -> CellColour:
        """Look at the indicator cell and record it."""
        colour = CellColour(self.tank.read_cell())
        self.note(CellSighting(at=self.now, colour=colour))
        return colour

    def today(self) -> TodayView:
        """What the desk says now."""
        return today_view(self.store, self.name, self.now)

    def accept(self, plan: PlanView) -> None:
        """Set timer and needle as planned."""
        for new in plan_records(plan, self.now):
            self.note(new)

    def act(self, action: ActionView) -> None:
        """Do what the advice says with needle and timer."""
        if action.kind == "close_gas":
            self.note(TimerSetting(at=self.now, windows_h=()))
            return
        if action.kind in {"read_again", "close_and_read", "find_change"}:
            return  # the next reading is due at once, and says what to do
        self.then_bps = action.then_rate_bps
        if action.rate_bps is not None and action.rate_bps != self.rate:
            self.note(RateSetting(at=self.now, bubbles_per_second=action.rate_bps))
        if action.gas_closes is not None and self.windows:
            opens_h, closes_h = self.windows[-1]
            wanted_h = local_hour(to_minute(action.gas_closes), self.zone)
            if abs(wanted_h - closes_h) > 1.0 / 60.0:
                self.note(TimerSetting(at=self.now, windows_h=(*self.windows[:-1], (opens_h, wanted_h))))

    def act_at_lights_on(self) -> float | None:
        """Set the needle as the last advice announced for lights-on; the new count, None where it did not."""
        announced, self.then_bps = self.then_bps, None
        if announced is not None:
            self.note(RateSetting(at=self.now, bubbles_per_second=announced))
        return announced

    def wait_until(self, at: datetime) -> None:
        """Let time pass to `at` (aware); the timer switches on the way."""
        edges = {edge for edge in self._edges(at) if edge > self.now}
        for edge in sorted({*edges, at}):
            self.tank.wait_until(max(hour_of(edge), self.tank.clock()))
            if edge in edges:  # the timer switches over what a hand has done
                self.by_hand = None
            self.follow_timer()

    def _edges(self, until: datetime) -> list[datetime]:
        """When the timer switches between now and `until`."""
        spans = self._spans(self.now, until)
        return [edge for span in spans for edge in span if edge <= until]

    def _spans(self, start: datetime, end: datetime) -> Sequence[tuple[datetime, datetime]]:
        return [
            span
            for opens_h, closes_h in self.windows
            for span in daily_spans(opens_h, closes_h, self.zone, start, end)
        ]

    def follow_records(self) -> None:
        """Set needle, timer and gas as the records have them now, whoever wrote or withdrew them."""
        records = [stored.record for stored in self.store.records(self.name)]
        rates = [one for one in records if isinstance(one, RateSetting)]
        timers = [one for one in records if isinstance(one, TimerSetting)]
        hands = [one for one in records if isinstance(one, GasSwitch)]
        self.rate = rates[-1].bubbles_per_second if rates else self.described.first_rate_bps
        self.windows = timers[-1].windows_h if timers else ()
        self.by_hand = None
        if hands and not (timers and timers[-1].at > hands[-1].at):
            since, now = hands[-1].at, self.now
            edges = [edge for span in self._spans(since, now) for edge in span if since < edge <= now]
            self.by_hand = None if edges else hands[-1].is_open
        self.follow_timer()

    def follow_timer(self) -> None:
        """Open or close the gas as the timer has it now, or as a hand left it since the timer switched."""
        now = self.now
        is_open = any(opens <= now < closes for opens, closes in self._spans(now, now))
        is_open = is_open if self.by_hand is None else self.by_hand
        self.tank.set_gas(self.rate if is_open else 0.0)
