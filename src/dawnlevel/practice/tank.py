"""The practice tank: act on it and read it as a keeper can; never look inside."""

import math
from typing import Protocol

import numpy as np

from dawnlevel.errors import BadInputError
from dawnlevel.practice import instruments
from dawnlevel.practice.cup import cup_level_mg_l
from dawnlevel.practice.draw import Card, draw_tank
from dawnlevel.practice.dynamics import GRID_PER_H, State, advance, air_level_mg_l, temp_c
from dawnlevel.practice.levels import Level

BEGINS_H = 20.0
"""The play begins in the evening of day 0 [h]; day 1 is the first whole day."""

_PAST_H = -28.0
_PER_H = 4  # the tank remembers its level every quarter hour, for the cup and the fish


class PlayableTank(Protocol):
    """What any practice tank offers, this module's or another's; hours count from midnight of day 0."""

    def card(self) -> Card:
        """What the keeper knows."""
        ...

    def clock(self) -> float:
        """Now [h]."""
        ...

    def wait_until(self, hour: float) -> None:
        """Let time pass to `hour` [h]."""
        ...

    def set_gas(self, bubbles_per_second: float) -> None:
        """Set the needle to a count [1/s]; 0 closes the solenoid."""
        ...

    def read_ph(self) -> float:
        """One reading in the tank [pH]."""
        ...

    def read_degassed_ph(self) -> float:
        """One reading of the baseline cup [pH]."""
        ...

    def read_cell(self) -> str:
        """The indicator cell's colour."""
        ...

    def watch_fish(self) -> str:
        """How the fish behave."""
        ...

    def truth(self) -> dict[str, float]:
        """For the scorer only."""
        ...


class PracticeTank:
    """A simulated tank behind the keeper's own instruments.

    The contract: `card()` is what the keeper knows; `clock()` and `wait_until(hour)` count local hours
    since midnight of day 0, and the play begins at 20:00 that day with the gas closed. `set_gas(rate)` sets
    the needle to a count of bubbles a second; 0 closes the solenoid and leaves the needle alone, opening
    again at the same count is the timer's work, any other count is the keeper's hand and brings a new
    setting error. `read_ph()`, `read_degassed_ph()`, `read_cell()` and `watch_fish()` are one look each.
    `truth()` is for a scorer only; before the first cup its `drop` is NaN.

    The same seed and level give the same tank; reading it does not change its course, only the noise of
    later readings on the same instrument. `copy.deepcopy` gives a twin with the same future.
    """

    def __init__(self, seed: int, level: Level) -> None:
        self._true, self._card = draw_tank(seed, level)
        streams = np.random.SeedSequence([seed, level.number, 7]).spawn(4)
        self._needle, self._meter, self._eye, self._cups = (np.random.default_rng(s) for s in streams)
        self._baselines: list[float] = []
        self._count_bps, self._setting, self._set_at_h = 0.0, 0.0, 0.0
        self._open = False
        self._live_the_past()

    def _live_the_past(self) -> None:
        """Two days before the play, so that the evening's level and memory are a lived-in tank's."""
        true = self._true
        rest = 1.3 * air_level_mg_l(true.air, _PAST_H, true.air.mean_c)
        excess = true.water.excess(rest)
        self._state = State(_PAST_H, excess, excess, 0.0, rest)
        self._past = [rest]
        for node in range(int(_PAST_H) * GRID_PER_H + 1, int(BEGINS_H) * GRID_PER_H + 1):
            hour = node / GRID_PER_H
            gassed = (hour - (true.light.on_h - 1.0)) % 24.0 <= true.light.off_h - true.light.on_h
            flow = true.past_rate_bps if gassed and hour <= BEGINS_H - 1.0 else 0.0
            self._step(hour, flow)

    def _step(self, until_h: float, flow_bps: float) -> None:
        """One step of at most a grid interval, remembered on the quarter hours."""
        advance(self._true, self._state, until_h, flow_bps)
        if math.isclose(until_h * _PER_H, round(until_h * _PER_H), abs_tol=1e-7):
            place = round((until_h - _PAST_H) * _PER_H)
            if place == len(self._past):
                self._past.append(self._level())

    def _level(self) -> float:
        """CO2 in the open water now [mg/L]."""
        return self._true.water.co2(self._state.open_mg_l)

    def _level_at(self, hour: float) -> float:
        """Remembered CO2 at `hour` [h], to the quarter hour [mg/L]."""
        place = min(max(round((hour - _PAST_H) * _PER_H), 0), len(self._past) - 1)
        return self._past[place]

    def card(self) -> Card:
        """What the keeper knows; a fresh dictionary each time."""
        return dict(self._card)

    def clock(self) -> float:
        """Now [h since midnight of day 0]."""
        return self._state.hour

    def wait_until(self, hour: float) -> None:
        """Let time pass to `hour` [h]. Raises BadInputError for a past or impossible one."""
        now = self._state.hour
        if not math.isfinite(hour) or hour < now - 1e-9:
            raise BadInputError(
                f"It is hour {now:g} and cannot become hour {hour:g}.",
                where="practice tank",
                cure="Wait until an hour still to come.",
            )
        node = math.floor(now * GRID_PER_H + 1e-6) + 1
        while node / GRID_PER_H < hour - 1e-6:
            self._step(node / GRID_PER_H, self._flow(node / GRID_PER_H))
            node += 1
        if hour > self._state.hour:
            self._step(hour, self._flow(hour))

    def _flow(self, hour: float) -> float:
        """True flow [1/s] at `hour` [h], from the count, its setting error and the creep since."""
        if not self._open:
            return 0.0
        creep = self._true.gas.creep
        crept = creep.at(hour) - creep.at(self._set_at_h)
        return self._count_bps * math.exp(self._setting + crept)

    def set_gas(self, bubbles_per_second: float) -> None:
        """Set the needle to this count [1/s]; 0 closes the solenoid. Raises BadInputError below 0."""
        rate = float(bubbles_per_second)
        if not math.isfinite(rate) or rate < 0.0:
            raise BadInputError(
                f"A needle valve cannot be set to {rate:g} bubbles/s.",
                where="practice tank",
                cure="Give 0 to close the gas, or a positive count.",
            )
        self._open = rate > 0.0
        if not self._open or rate == self._count_bps:
            return
        gas = self._true.gas
        turned_up = 0.5 if rate > self._count_bps else -0.5
        error = gas.setting_sd * float(self._needle.standard_normal())
        self._setting = error + gas.hysteresis * turned_up
        self._count_bps, self._set_at_h = rate, self._state.hour

    def read_ph(self) -> float:
        """One reading of the keeper's meter in the tank [pH]."""
        return instruments.shown_ph(self._true.instruments, self._ph(), self._state.hour, self._meter)

    def _ph(self) -> float:
        """True pH of the open water now."""
        return self._true.water.ph(self._level(), temp_c(self._true, self._state.hour))

    def read_degassed_ph(self) -> float:
        """One reading of the baseline cup [pH], filled `baseline_hours` ago."""
        true, now = self._true, self._state.hour
        this_cup = math.exp(true.cup.spread * float(self._cups.standard_normal()))
        left = cup_level_mg_l(
            true.water,
            true.cup,
            true.air,
            filled_mg_l=self._level_at(now - true.cup.hours),
            until_h=now,
            velocity_per_h=true.cup.velocity_per_h * this_cup,
        )
        shown = instruments.shown_ph(true.instruments, true.water.ph(left, true.cup.temp_c), now, self._meter)
        self._baselines.append(shown)
        return shown

    def read_cell(self) -> str:
        """The indicator cell by eye: `blue`, `green`, `lime` or `yellow`."""
        at_c = temp_c(self._true, self._state.hour)
        colour = instruments.cell_colour(self._true.instruments, self._state.cell_mg_l, at_c, self._eye)
        return colour.value

    def watch_fish(self) -> str:
        """`calm`, `uneasy` or `distress`."""
        rise = self._level() - self._level_at(self._state.hour - 1.0)
        state = instruments.fish_state(self._true.fish, self._level(), rise, self._true.limit_mg_l, self._eye)
        return state.value

    def truth(self) -> dict[str, float]:
        """For a scorer only: `co2_mg_l` [mg/L], `ph` and `drop` [pH] without noise and rounding."""
        ph = instruments.meter_ph(self._true.instruments, self._ph(), self._state.hour)
        known = self._baselines
        baseline = sum(known) / len(known) if known else math.nan
        return {"co2_mg_l": self._level(), "ph": ph, "drop": baseline - ph}
