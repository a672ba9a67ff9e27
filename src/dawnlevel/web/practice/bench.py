"""One device's practice: a simulated tank, records that are thrown away, and a clock moved by buttons."""

import math
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from dawnlevel.desk.phrases import clock, day_text
from dawnlevel.desk.records import describe_tank
from dawnlevel.desk.views import ReadingView
from dawnlevel.errors import BadInputError, DawnlevelError
from dawnlevel.practice import easy
from dawnlevel.practice.scenario import moment, tank_of_card
from dawnlevel.rehearsal.keeper import Keeper
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    KhTitration,
    PhReading,
    Record,
    TimerSetting,
)
from dawnlevel.tank.clock import local_day, next_lights_on, wall_clock
from dawnlevel.web.cases import Cases
from dawnlevel.web.house import House
from dawnlevel.web.kept import Kept
from dawnlevel.web.live import Live
from dawnlevel.web.once import Entries
from dawnlevel.web.pictures import Pictures
from dawnlevel.web.practice.lesson import Dawn, Lesson, Progress, lesson_of

BASE = "/practice"
NAME = "Practice"
SEED = 29
"""An easy tank with one timer window and lights from 13:00 to 21:00; its first plan needs steering."""

MORNING_H = 8.0
_HALF_HOUR = timedelta(minutes=30)
_DUE = timedelta(minutes=2)  # as Today says "now"


@dataclass(frozen=True, slots=True)
class Bar:
    """What stands above each practice page: the clock, the lesson, what can be gone to."""

    day: str
    clock: str
    shown_at: str
    lesson: Lesson
    reading: str
    lights_on: str


class Bench:
    """A practice tank and its house, beside the keeper's own house `outer`."""

    base = BASE

    def __init__(self, outer: House) -> None:
        self._lock = threading.RLock()
        self._folder = TemporaryDirectory(prefix="dawnlevel-practice-")
        self._tank = easy(SEED)
        folder = Path(self._folder.name)
        store = open_store(str(folder / "practice.sqlite3"), clock=self.now)
        kept = Kept(folder / "practice.web")
        self._keeper = Keeper(self._tank, store, tank_of_card(self._tank.card(), NAME))
        self._dawn: Dawn | None = None
        self.house = replace(
            outer,
            settings=replace(outer.settings, store=store.place, keep=folder / "practice.web"),
            clock=self.now,
            store=store,
            kept=kept,
            cases=Cases(store, self.now),
            pictures=Pictures(),
            live=Live(store),
            entries=Entries(store, kept, self.now),
            aside=self,
        )
        self._begin()

    def _begin(self) -> None:
        """The evening before: tank described, KH counted; then it is morning."""
        keeper = self._keeper
        describe_tank(self.house.store, keeper.described, keeper.now, keeper.now)
        keeper.note(KhTitration(at=keeper.now, kh_dkh=float(str(self._tank.card()["kh_dkh"]))))
        keeper.wait_until(moment(24.0 + MORNING_H))

    def now(self) -> datetime:
        """The practice tank's clock (UTC)."""
        return moment(self._tank.clock())

    def close(self) -> None:
        """Throw the records away."""
        self.house.close()
        self._folder.cleanup()

    # --- time and looks ---

    def wait(self, until: str, shown_at: str) -> None:
        """Let time pass to where the button `until` says, if it is still as late as the page said it was.

        Raises BadInputError where there is no such moment to go to.
        """
        with self._lock:
            if shown_at != self.now().isoformat():
                return  # a second tap on the same button
            self._pass(self._moment(until))

    def _moment(self, until: str) -> datetime:
        now, keeper = self.now(), self._keeper
        if until == "half_hour":
            return now + _HALF_HOUR
        if until == "lights_on":
            return next_lights_on(keeper.described.photoperiod, keeper.zone, now)
        if until == "morning":
            today = wall_clock(local_day(now, keeper.zone), MORNING_H, keeper.zone)
            return today if today > now else today + timedelta(days=1)
        reading = self._reading()
        if until != "reading" or reading is None or reading.at <= now:
            raise BadInputError(
                "No reading lies ahead.",
                where="practice",
                cure="Let half an hour pass, or a night.",
            )
        return reading.at

    def _pass(self, until: datetime) -> None:
        """Let time pass, with a look at the truth at lights-on."""
        lights, zone = self._keeper.described.photoperiod, self._keeper.zone
        while self.now() < until:
            lights_on = next_lights_on(lights, zone, self.now())
            self._keeper.wait_until(min(until, lights_on))
            if self.now() == lights_on and self._keeper.windows:
                self._dawn = self._truth()

    def _truth(self) -> Dawn:
        truth, band = self._tank.truth(), self._keeper.described.target
        drop = None if math.isnan(truth["drop"]) else truth["drop"]
        return Dawn(
            clock(self.now().astimezone(self._keeper.zone)),
            truth["co2_mg_l"],
            drop,
            drop is not None and band.low <= drop <= band.high,
        )

    def look(self, kind: str, token: str) -> int:
        """Read an instrument of the practice tank, or look at its fish; the number of the record made.

        Raises BadInputError for a kind there is none of.
        """
        looks: dict[str, Callable[[], Record]] = {
            "ph": lambda: PhReading(at=self.now(), ph=self._tank.read_ph()),
            "cup": self._cup,
            "cell": lambda: CellSighting(at=self.now(), colour=CellColour(self._tank.read_cell())),
            "fish": lambda: FishSighting(at=self.now(), state=FishState(self._tank.watch_fish())),
        }
        if kind not in looks:
            raise BadInputError("There is no such instrument.", where="practice", cure="Use the buttons.")
        with self._lock:
            # by force: the same figure twice in one moment is no slip where the clock stands still
            ids, is_new = self.house.entries.take(NAME, token, [looks[kind]()], self.now(), force=True)
            if is_new:
                self.house.changed(NAME)
            return ids[0]

    def _cup(self) -> BaselineCup:
        card = self._tank.card()
        return BaselineCup(
            at=self.now(),
            ph=self._tank.read_degassed_ph(),
            method=BaselineMethod(str(card["baseline_method"])),
            hours=float(str(card["baseline_hours"])),
        )

    # --- as the house's aside ---

    def changed(self) -> None:
        """Set the simulated needle, timer and gas as the records now say."""
        with self._lock:
            self._keeper.follow_records()

    def told(self) -> Bar:
        """The bar above each page."""
        with self._lock:
            local, progress = self.now().astimezone(self._keeper.zone), self._progress()
            return Bar(
                day=day_text(local),
                clock=clock(local),
                shown_at=self.now().isoformat(),
                lesson=lesson_of(progress),
                reading=self._ahead(),
                lights_on=progress.lights_on,
            )

    def _ahead(self) -> str:
        """The clock of the next reading that can be gone to; empty where there is none."""
        reading = self._reading()
        return clock(reading.at) if reading is not None and reading.at > self.now() else ""

    def _reading(self) -> ReadingView | None:
        try:
            return self.house.cases.today(NAME).next_reading
        except DawnlevelError:  # the page itself says what is missing
            return None

    def _progress(self) -> Progress:
        keeper, now = self._keeper, self.now()
        records = [stored.record for stored in self.house.store.records(NAME)]
        fish = [one.state for one in records if isinstance(one, FishSighting)]
        lights_on = next_lights_on(keeper.described.photoperiod, keeper.zone, now)
        reading = self._reading()
        comes_first = reading is not None and reading.at < lights_on
        return Progress(
            has_cup=any(isinstance(one, BaselineCup) for one in records),
            has_plan=any(isinstance(one, TimerSetting) for one in records),
            is_due=reading is not None and reading.at - now < _DUE,
            next_reading=clock(reading.at) if reading is not None and comes_first else "",
            lights_on=clock(lights_on.astimezone(keeper.zone)),
            dawn=self._dawn,
            distress=fish[-1] is not FishState.CALM if FishState.DISTRESS in fish else None,
        )
