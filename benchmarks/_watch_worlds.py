"""Labelled probe logs: practice tanks run on a timer for weeks, with one thing changed on a known day.

The tank behind the log is the practice tank's: two zones, saturating uptake, water that holds more than
carbonate, wandering flow, surface and plants. Added here: weekly water changes, growth, a minute logger's
noise, spikes and gaps, and the change. Sizes of changes are judgements (common practice, no source).
"""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from dawnlevel.practice.draw import Card, draw_tank
from dawnlevel.practice.dynamics import GRID_PER_H, State, advance, air_level_mg_l, steady_rate_bps, temp_c
from dawnlevel.practice.levels import EASY, MIDDLE
from dawnlevel.practice.truth import TrueTank, Wander
from dawnlevel.practice.water import Water, make_water
from dawnlevel.units import dkh_to_meq_l

Floats = npt.NDArray[np.float64]

DAYS = 42
KINDS = (
    "injection_weaker", "injection_stronger", "exchange_faster", "exchange_slower", "uptake_higher",
    "uptake_lower", "start_late", "start_early", "start_missed", "stuck_open", "baseline_shift",
    "probe_step", "probe_drift", "gas_empty", "unsteady",
)  # fmt: skip
SIZES = {
    "injection_weaker": (0.6, 0.8),
    "injection_stronger": (1.25, 1.6),
    "exchange_faster": (1.4, 2.0),
    "exchange_slower": (0.5, 0.72),
    "uptake_higher": (1.5, 2.0),
    "uptake_lower": (0.35, 0.6),
    "start_late": (0.5, 2.0),
    "start_early": (0.5, 2.0),
    "start_missed": (0.4, 1.0),
    "stuck_open": (0.4, 1.0),
    "baseline_shift": (0.08, 0.2),
    "probe_step": (0.08, 0.25),
    "probe_drift": (0.008, 0.02),
    "gas_empty": (0.0, 0.25),
    "unsteady": (0.25, 0.45),
}
"""Factor on flow, kLa or uptake; hours; share of days or nights; pH; pH a day; rise; log sd a day."""

SIGNED = {"baseline_shift", "probe_step", "probe_drift"}


@dataclass(frozen=True, slots=True)
class Label:
    """What was changed, when [h since midnight of day 0], by how much; kind "none" for a clean log."""

    kind: str
    at_h: float
    size: float


PATHS_D = 56
"""The practice tank's own paths wander for so many days; for longer ones they are drawn anew."""

COUNTED_SHARE = 0.1
"""From so far off a keeper who counts bubbles by eye sees it (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Log:
    """Minutes [h since midnight of day 0], pH and temperature [degC] as logged, card, and the truth."""

    hours: Floats
    ph: Floats
    temp_c: Floats
    card: Card
    label: Label


@dataclass(slots=True)
class _Course:
    """One log while it is being lived."""

    tank: TrueTank
    label: Label
    rng: np.random.Generator
    gas_on_h: float
    gas_off_h: float
    rate_bps: float
    factors: Floats
    chances: Floats
    growth_per_day: float
    base_uptake: float

    def flow(self, hour: float) -> float:
        """Flow that timer, needle and cylinder let through [1/s]."""
        day, clock = divmod(hour, 24.0)
        kind, since, size = self.label.kind, hour - self.label.at_h, self.label.size
        on, off = self.gas_on_h, self.gas_off_h
        if since >= 0.0 and kind == "start_late":
            on += size
        if since >= 0.0 and kind == "start_early":
            on -= size
        is_open = on <= clock < off
        chance = self.chances[int(day)]
        if kind == "start_missed" and is_open and day * 24.0 + on >= self.label.at_h and chance < size:
            is_open = False
        if kind == "stuck_open" and not is_open and since >= 0.0:
            is_open = self.chances[int((hour - on) // 24.0)] < size
        if not is_open:
            return 0.0
        return self.rate_bps * self._strength(since, int(day)) * float(np.exp(self.tank.gas.creep.at(hour)))

    def _strength(self, since: float, day: int) -> float:
        kind, size = self.label.kind, self.label.size
        if since < 0.0:
            return 1.0
        if kind in {"injection_weaker", "injection_stronger"}:
            return size
        if kind == "unsteady":
            return float(np.exp(size * self.factors[day]))
        if kind == "gas_empty":
            rising = 1.0 + size * min(since / 20.0, 1.0)
            return rising * float(np.clip(1.0 - (since - 24.0) / 14.0, 0.0, 1.0))
        return 1.0

    def grow(self, hour: float) -> None:
        """Uptake follows growth, trimming and the change."""
        factor = 1.0 + self.growth_per_day * hour / 24.0
        if self.label.kind.startswith("uptake") and hour >= self.label.at_h:
            factor *= self.label.size
        self.tank = replace(self.tank, life=replace(self.tank.life, uptake_mg_l_h=self.base_uptake * factor))


@dataclass(frozen=True, slots=True)
class World:
    """A tank that was lived: as it began, its card, what changed, true pH by the hour, its waters."""

    tank: TrueTank
    card: Card
    label: Label
    course: _Course
    hours: Floats
    ph: Floats
    waters: tuple[Water, Water]

    def water_at(self, hour: float) -> Water:
        """The water at `hour` [h]."""
        return self.waters[int(hour >= self.label.at_h)]

    def kh_at(self, hour: float) -> float:
        """KH at `hour` [h], [dKH]: a shift of pH at the same CO2 is one of KH by the same factor of ten."""
        is_shifted = self.label.kind == "baseline_shift" and hour >= self.label.at_h
        return float(str(self.card["kh_dkh"])) * float(10.0 ** (self.label.size if is_shifted else 0.0))


def draw_world(kind: str, seed: int, days: int = DAYS) -> World:
    """A tank and what it went through in `days` days with a change of `kind` ("none" for none)."""
    number = (*KINDS, "none").index(kind)
    rng = np.random.default_rng([seed, number, 5])
    tank, card = _tank(kind, seed * 31 + number, rng)
    if days > PATHS_D:
        tank = _longer_paths(tank, np.random.default_rng([seed, number, 11]), days)
    on_h, off_h = float(str(card["gas_on_h"])), float(str(card["gas_off_h"]))
    label = _label(kind, rng, days, on_h, off_h)
    course = _Course(
        tank, label, rng, on_h, off_h, float(str(card["rate_bps"])), rng.standard_normal(days + 1),
        rng.random(days + 1), float(rng.uniform(0.0, 0.006)), tank.life.uptake_mg_l_h,
    )  # fmt: skip
    course.chances[int((label.at_h - on_h) // 24.0) + 1] = 0.0
    course.chances[int((label.at_h - on_h) // 24.0)] = 0.0
    waters = _waters(course)
    hours, true_ph = _lived(course, days)
    return World(tank, card, label, course, hours, true_ph, waters)


def draw_log(kind: str, seed: int, days: int = DAYS) -> Log:
    """One log of `days` days with a change of `kind` ("none" for a clean one); the same for the same seed."""
    return log_of(draw_world(kind, seed, days), days)


def log_of(world: World, days: int = DAYS) -> Log:
    """What a logger writes of a world; asked once of each, for it draws from the world's own dice."""
    minutes = np.arange(0.0, days * 24.0, 1.0 / 60.0)
    warm = np.interp(minutes, world.hours, [temp_c(world.tank, float(h)) for h in world.hours])
    shown = _shown(world.course, minutes, np.interp(minutes, world.hours, world.ph))
    kept = _kept(world.course.rng, minutes)
    return Log(minutes[kept], shown[kept], np.round(warm[kept], 2), world.card, world.label)


def _longer_paths(tank: TrueTank, rng: np.random.Generator, days: int) -> TrueTank:
    """The tank with paths that reach to the end; a needle a tenth off is set back at the weekly count."""
    creep, every_h = tank.gas.creep, tank.gas.creep.every_h
    step = float(np.std(np.diff(creep.values)))
    path, now = [], 0.0
    for i in range(int(days * 24.0 / every_h) + 2):
        now += step * float(rng.standard_normal())
        if i % round(168.0 / every_h) == 0 and abs(now) > COUNTED_SHARE:
            now = tank.gas.setting_sd * float(rng.standard_normal())
        path.append(now)
    return replace(
        tank,
        gas=replace(tank.gas, creep=Wander(every_h, tuple(path))),
        air=replace(tank.air, surface=_longer_factor(tank.air.surface, rng, days)),
        life=replace(tank.life, vigour=_longer_factor(tank.life.vigour, rng, days)),
    )


def _longer_factor(short: Wander, rng: np.random.Generator, days: int) -> Wander:
    """A factor that wanders as the short one does, for longer."""
    sd, kept, path, now = float(np.std(np.log(short.values))), 0.6, [], 0.0
    for _ in range(int(days * 24.0 / short.every_h) + 2):
        now = kept * now + (1.0 - kept * kept) ** 0.5 * float(rng.standard_normal())
        path.append(float(np.exp(sd * now)))
    return Wander(short.every_h, tuple(path))


def _tank(kind: str, seed: int, rng: np.random.Generator) -> tuple[TrueTank, Card]:
    """A tank whose plants can be seen where they are to change, with a logger's meter."""
    for attempt in range(200):
        tank, card = draw_tank(seed * 211 + attempt, EASY if rng.random() < 0.5 else MIDDLE)
        noon = tank.water.level_at_ph(tank.water.ph(20.0, tank.air.mean_c), tank.air.mean_c)
        lost = tank.air.kla_per_h * noon
        seen = tank.life.uptake_mg_l_h > 0.12 * lost or not kind.startswith("uptake")
        if seen and 0.04 < tank.air.kla_per_h < 0.8:
            break
    on, off = float(str(card["lights_on_h"])), float(str(card["lights_off_h"]))
    lead = float(rng.choice([1.5, 2.0, 2.5, 3.0]))
    aim = 0.75 * tank.limit_mg_l
    card |= {
        "gas_on_h": max(on - lead, 0.5),
        "gas_off_h": off - float(rng.choice([0.5, 1.0])),
        "rate_bps": float(f"{steady_rate_bps(tank, aim):.3g}"),
        "timezone": "UTC",
        "ph_step": 0.01,
    }
    meter = replace(tank.instruments, step_ph=0.01, noise_ph=float(rng.uniform(0.008, 0.02)))
    return replace(tank, instruments=meter), card


def _label(kind: str, rng: np.random.Generator, days: int, on_h: float, off_h: float) -> Label:
    if kind == "none":
        return Label(kind, days * 24.0, 0.0)
    size = float(rng.uniform(*SIZES[kind]))
    if kind in SIGNED and rng.random() < 0.5:
        size = -size
    day = int(rng.integers(14, days - 6))
    clock = {"stuck_open": off_h, "start_missed": on_h, "gas_empty": on_h}.get(kind, rng.uniform(0.0, 24.0))
    if kind.startswith("start") or kind == "unsteady":
        clock = max(on_h - 3.0, 0.0)
    return Label(kind, day * 24.0 + float(clock), size)


def _lived(course: _Course, days: int) -> tuple[Floats, Floats]:
    """The tank's true pH at every node of the grid."""
    rest = 1.3 * air_level_mg_l(course.tank.air, 0.0, course.tank.air.mean_c)
    waters = _waters(course)
    water = waters[0]
    excess = water.excess(rest)
    state = State(0.0, excess, excess, 0.0, rest)
    hours = np.arange(days * 24 * GRID_PER_H) / GRID_PER_H
    ph = np.empty_like(hours)
    change_day, change_h, shifted = int(course.rng.integers(7)), float(course.rng.uniform(9.0, 19.0)), False
    for i, hour in enumerate(hours.tolist()):
        if i:
            advance(course.tank, state, hour, course.flow(hour - 0.5 / GRID_PER_H))
        if i % (6 * GRID_PER_H) == 0:
            course.grow(hour)
        if course.label.kind.startswith("exchange") and not shifted and hour >= course.label.at_h:
            air = course.tank.air
            factor = course.label.size
            course.tank = replace(course.tank, air=replace(air, kla_per_h=air.kla_per_h * factor))
            shifted = True
        if course.label.kind == "baseline_shift" and not shifted and hour >= course.label.at_h:
            _change_water(state, water, waters[1], 0.0)
            course.tank, water, shifted = replace(course.tank, water=waters[1]), waters[1], True
        clock = hour - 24.0 * change_day
        if clock >= 0.0 and abs(clock % 168.0 - change_h) < 0.5 / GRID_PER_H:
            _change_water(state, water, water, float(course.rng.uniform(0.2, 0.45)))
        ph[i] = water.ph(water.co2(state.open_mg_l), temp_c(course.tank, hour))
    return hours, ph


def _waters(course: _Course) -> tuple[Water, Water]:
    """The tank's water, and after a shift of `size` in pH at the same CO2."""
    first = course.tank.water
    if course.label.kind != "baseline_shift":
        return first, first
    at_c = course.tank.air.mean_c
    # the alkalinity that gives this pH at 10 mg/L, then the one that gives `size` more
    grid = dkh_to_meq_l(np.geomspace(0.4, 20.0, 120))
    made = [make_water(float(a), 1.5e-3 * float(a), 0.0, 0.0, at_c) for a in grid]
    shown = np.array([water.ph(10.0, at_c) for water in made])
    wanted = float(np.interp(first.ph(10.0, at_c) + course.label.size, shown, grid))
    plain = float(np.interp(first.ph(10.0, at_c), shown, grid))
    return (
        make_water(plain, 1.5e-3 * plain, 0.0, 0.0, at_c),
        make_water(wanted, 1.5e-3 * wanted, 0.0, 0.0, at_c),
    )


def _change_water(state: State, old: Water, new: Water, share: float) -> None:
    """Part of the water exchanged for tap water of 3 mg/L CO2; the levels carried into the new water."""
    for name in ("open_mg_l", "slow_mg_l"):
        level = old.co2(getattr(state, name))
        setattr(state, name, new.excess(level + share * (3.0 - level)))


def _shown(course: _Course, minutes: Floats, ph: Floats) -> Floats:
    """What the logger writes: offset, slope, drift, noise, spikes, rounding."""
    made, label, rng = course.tank.instruments, course.label, course.rng
    shown = 7.0 + made.slope * (ph - 7.0) + made.offset_ph + made.drift_ph_per_day * minutes / 24.0
    since = np.maximum(minutes - label.at_h, 0.0)
    if label.kind == "probe_step":
        shown += label.size * (since > 0.0)
    if label.kind == "probe_drift":
        shown += label.size * since / 24.0
    shown += made.noise_ph * rng.standard_normal(minutes.size)
    spikes = rng.random(minutes.size) < 0.0005
    shown[spikes] += rng.normal(0.0, 0.5, int(spikes.sum()))
    rounded: Floats = np.round(made.step_ph * np.floor(shown / made.step_ph + 0.5), 3)
    return rounded


def _kept(rng: np.random.Generator, minutes: Floats) -> npt.NDArray[np.bool_]:
    """Minutes that reach the file: single ones lost, and a few gaps of hours."""
    kept = rng.random(minutes.size) > 0.002
    for _ in range(int(rng.integers(0, 4))):
        begin = float(rng.uniform(0.0, minutes[-1]))
        kept &= ~((minutes > begin) & (minutes < begin + rng.uniform(0.5, 5.0)))
    return kept
