"""One sitting beside a practice tank: what may be typed, what it does, what comes back."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.cli.render_page import Paper, page
from dawnlevel.cli.render_plan import plan_page
from dawnlevel.cli.render_today import today_page
from dawnlevel.desk import amounts
from dawnlevel.desk.advice.tomorrow import plan_view
from dawnlevel.desk.amounts import read_amount, read_windows, write_windows
from dawnlevel.desk.moments import read_at
from dawnlevel.desk.phrases import clock, day_text
from dawnlevel.desk.records import describe_tank
from dawnlevel.desk.views import PlanView
from dawnlevel.errors import BadInputError
from dawnlevel.practice.scenario import tank_of_card
from dawnlevel.practice.tank import PlayableTank
from dawnlevel.rehearsal.keeper import Keeper
from dawnlevel.store import Store
from dawnlevel.tank import BaselineCup, BaselineMethod, GasSwitch, KhTitration, RateSetting, TimerSetting
from dawnlevel.tank.clock import light_spans, next_lights_on

NAME = "Practice"
LONGEST_WAIT_MIN = 7 * 24 * 60
_EVERY = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Verb:
    """A word that may be typed: what follows it, what it does; `is_kept` where it changes anything."""

    argument: str
    summary: str
    is_kept: bool


VERBS = {
    "wait": Verb("MINUTES", "let time pass", is_kept=True),
    "until": Verb("HH:MM", "let time pass until the clock shows that", is_kept=True),
    "ph": Verb("", "read the meter in the tank", is_kept=True),
    "kh": Verb("", "count the KH drops", is_kept=True),
    "cup": Verb("", "read the baseline cup", is_kept=True),
    "cell": Verb("", "look at the indicator cell", is_kept=True),
    "fish": Verb("", "look at the fish", is_kept=True),
    "needle": Verb("RATE", "set the needle: 1.5/s", is_kept=True),
    "timer": Verb("WINDOW", "set the gas timer: 10:30-19:00", is_kept=True),
    "gas": Verb("STATE", "open or close the gas by hand until the timer switches", is_kept=True),
    "today": Verb("", "ask where things stand and what to do next", is_kept=False),
    "plan": Verb("", "ask for the next gas day's plan", is_kept=False),
    "accept": Verb("", "set timer and needle as the plan says", is_kept=False),
    "follow": Verb("", "do what today's advice says", is_kept=False),
    "truth": Verb("", "after lights-off: how the day really went", is_kept=False),
    "card": Verb("", "what you know of the tank", is_kept=False),
    "help": Verb("", "this list", is_kept=False),
    "quit": Verb("", "leave", is_kept=False),
}


@dataclass(frozen=True, slots=True)
class Truth:
    """The truth at a moment (UTC): CO2 [mg/L] and the meter's pH without noise."""

    at: datetime
    co2_mg_l: float
    ph: float


class Bench:
    """A practice tank, its records and its clock; `keep` is given every line that changed something."""

    def __init__(self, tank: PlayableTank, store: Store, paper: Paper, keep: Callable[[str], None]) -> None:
        described = tank_of_card(tank.card(), NAME)
        self.keeper = Keeper(tank, store, described)
        self._paper, self._keep = paper, keep
        self._plan: PlanView | None = None
        self._baselines: list[float] = []
        self._seen: list[Truth] = []
        describe_tank(store, described, self.keeper.now, self.keeper.now)
        self._look()

    @property
    def prompt(self) -> str:
        """The practice clock."""
        now = self.keeper.now.astimezone(self.keeper.zone)
        return f"practice, {day_text(now)}, {clock(now)}"

    def run(self, line: str) -> str:
        """Do what a line says; the answer. BadInputError for what cannot be understood."""
        word, _, rest = line.strip().partition(" ")
        verb = VERBS.get(word.lower())
        if verb is None:
            raise BadInputError(f"{word!r} is no word of this game.", where="play", cure="Type: help")
        if bool(verb.argument) != bool(rest.strip()):
            raise BadInputError(
                f"{word} takes {verb.argument or 'nothing'}.",
                where="play",
                cure=f"Type: {word} {verb.argument}",
            )
        action: Callable[..., str] = getattr(self, f"_do_{word.lower()}")
        answer = action(rest.strip()) if verb.argument else action()
        if verb.is_kept:
            self._keep(line.strip())
        return answer

    # --- time ---

    def _do_wait(self, text: str) -> str:
        try:
            minutes = float(text)
        except ValueError:
            minutes = math.nan
        if not 0.0 < minutes <= LONGEST_WAIT_MIN:
            raise BadInputError(
                f"{text!r} is no number of minutes up to {LONGEST_WAIT_MIN}.",
                where="play",
                cure="Type: wait 30",
            )
        return self._pass(self.keeper.now + timedelta(minutes=minutes))

    def _do_until(self, text: str) -> str:
        now, zone = self.keeper.now, self.keeper.zone
        day = now.astimezone(zone).date()
        at = read_at(f"{day} {text}", now, zone)
        if at <= now:
            at = read_at(f"{day + timedelta(days=1)} {text}", now, zone)
        return self._pass(at)

    def _pass(self, until: datetime) -> str:
        """Let time pass, with a look at the truth every quarter hour and at every lights-on."""
        lights, zone = self.keeper.described.photoperiod, self.keeper.zone
        while self.keeper.now < until:
            now = self.keeper.now
            self.keeper.wait_until(min(until, now + _EVERY, next_lights_on(lights, zone, now)))
            self._look()
        return f"It is {self.prompt.removeprefix('practice, ')}."

    def _look(self) -> None:
        truth = self.keeper.tank.truth()
        self._seen.append(Truth(self.keeper.now, truth["co2_mg_l"], truth["ph"]))

    # --- reading and setting ---

    def _do_ph(self) -> str:
        return f"The meter shows pH {self.keeper.read_ph():g}."

    def _do_kh(self) -> str:
        kh = float(str(self.keeper.tank.card()["kh_dkh"]))
        self.keeper.note(KhTitration(at=self.keeper.now, kh_dkh=kh))
        return f"The drop kit shows {kh:g} dKH."

    def _do_cup(self) -> str:
        card = self.keeper.tank.card()
        method, hours = BaselineMethod(str(card["baseline_method"])), float(str(card["baseline_hours"]))
        ph = self.keeper.tank.read_degassed_ph()
        self._baselines.append(ph)
        self.keeper.note(BaselineCup(at=self.keeper.now, ph=ph, method=method, hours=hours))
        return f"The cup ({method.value.replace('_', ' ')}, {hours:g} h) shows pH {ph:g}."

    def _do_cell(self) -> str:
        return f"The indicator cell is {self.keeper.look_at_cell()}."

    def _do_fish(self) -> str:
        return f"The fish are {self.keeper.watch_fish()}."

    def _do_needle(self, text: str) -> str:
        rate = read_amount(amounts.RATE, text)
        self.keeper.note(RateSetting(at=self.keeper.now, bubbles_per_second=rate))
        return f"The needle is set to {rate:.4g} bubbles/s."

    def _do_timer(self, text: str) -> str:
        windows = read_windows(text.replace(" ", ";"))
        most = self.keeper.described.timer_windows
        if len(windows) > most:
            raise BadInputError(
                f"This timer's windows a day: {most}, not more.",
                where="play",
                cure="Give fewer.",
            )
        self.keeper.note(TimerSetting(at=self.keeper.now, windows_h=windows))
        return f"The timer opens the gas {write_windows(windows).replace(';', ', ')}."

    def _do_gas(self, text: str) -> str:
        is_open = amounts.read_open(text)
        self.keeper.note(GasSwitch(at=self.keeper.now, is_open=is_open))
        return f"The gas is {'open' if is_open else 'closed'}."

    # --- advice ---

    def _do_today(self) -> str:
        return today_page(self.keeper.today(), self._paper)

    def _do_plan(self) -> str:
        self._plan = plan_view(self.keeper.store, NAME, self.keeper.now)
        return plan_page(self._plan, self._paper)

    def _do_accept(self) -> str:
        plan = self._plan
        if plan is None or plan.picture.now != self.keeper.now.astimezone(self.keeper.zone):
            plan = plan_view(self.keeper.store, NAME, self.keeper.now)
        return self._settings_after(lambda: self.keeper.accept(plan))

    def _do_follow(self) -> str:
        action = self.keeper.today().action
        return f"{action.text} {self._settings_after(lambda: self.keeper.act(action))}"

    def _settings_after(self, change: Callable[[], object]) -> str:
        """Make a change; keep it as the settings it led to, and say them."""
        rate, windows, by_hand = self.keeper.rate, self.keeper.windows, self.keeper.by_hand
        change()
        new: list[str] = []
        if self.keeper.rate != rate:
            new.append(f"needle {self.keeper.rate!r}/s")
        if self.keeper.windows != windows:
            new.append(f"timer {write_windows(self.keeper.windows)}")
        if self.keeper.by_hand is not None and (new or self.keeper.by_hand != by_hand):
            new.append(f"gas {'open' if self.keeper.by_hand else 'closed'}")
        for line in new:
            self._keep(line)
        return f"Done: {', '.join(new)}." if new else "Nothing had to be set."

    # --- what is known, and what is true ---

    def _do_card(self) -> str:
        tank, lights = self.keeper.described, self.keeper.described.photoperiod
        start = amounts.write_clock(tank.earliest_start_h or 0.0)
        text = (
            f"{tank.volume_l:g} L, {tank.depth_cm:g} cm deep, {tank.planting} plants, {tank.surface} "
            f"surface, {tank.diffuser} diffuser. Lights {amounts.write_clock(lights.lights_on_h)} to "
            f"{amounts.write_clock(lights.lights_off_h)}; gas from {start} on, timer windows a day: "
            f"{tank.timer_windows}. Begin near {tank.first_rate_bps:g} bubbles/s. Target: drop "
            f"{tank.target.low:g} to {tank.target.high:g}; ceiling {tank.co2_limit_mg_l:g} mg/L."
        )
        return page([text], self._paper)

    def _do_truth(self) -> str:
        now, zone = self.keeper.now, self.keeper.zone
        lights = self.keeper.described.photoperiod
        begun = light_spans(lights, zone, self._seen[0].at, now)
        over = [span for span in begun if span[0] >= self._seen[0].at and span[1] <= now]
        if not over:
            off = amounts.write_clock(lights.lights_off_h)
            return f"The truth is told after lights-off, {off}, of a day that was played."
        on, off_at = over[-1]
        return page([self._truth_of(on, off_at)], self._paper)

    def _truth_of(self, on: datetime, off: datetime) -> str:
        day = [truth for truth in self._seen if on <= truth.at <= off]
        most = max(truth.co2_mg_l for truth in self._seen if on - timedelta(hours=12) <= truth.at <= off)
        first = day[0]
        text = f"Lights-on of {day_text(on.astimezone(self.keeper.zone))}: {first.co2_mg_l:.1f} mg/L"
        if self._baselines:
            band = self.keeper.described.target
            drop = sum(self._baselines) / len(self._baselines) - first.ph
            text += f", drop {drop:.2f}, {'in' if band.low <= drop <= band.high else 'outside'} the band"
        ceiling = self.keeper.described.co2_limit_mg_l
        passed = "passed" if most > ceiling else "not passed"
        return f"{text}. Highest that day: {most:.1f} mg/L; the ceiling of {ceiling:g} was {passed}."

    def _do_help(self) -> str:
        lines = [f"  {f'{word} {verb.argument}':16}{verb.summary}" for word, verb in VERBS.items()]
        return "\n".join(lines)
