"""What checks in buffers and prepared solutions say of meter and cell, and how fast that grows old.

Between adjustments a meter's offset and slope wander (Ornstein-Uhlenbeck): a check pins them at its moment,
and tells less the further a reading lies from it, before or after, until only the prior is left. An
adjustment begins a stretch of its own. Buffers cannot show what a probe does in soft tank water: that stays.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import buffer_ph
from dawnlevel.errors import DawnlevelError
from dawnlevel.estimate.priors import METER_OFFSET_PH, METER_SLOPE_LOG, SOLUTION_LOG_SD
from dawnlevel.estimate.unknowns import Unknowns
from dawnlevel.supply.ph_meter import judge
from dawnlevel.tank import BaselineCup, BufferCheck, CellSighting, PhReading, Record, SolutionPrepared
from dawnlevel.units import MEQ_L_PER_DKH

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

BUFFER_PH_SD = 0.02
"""Sd [pH] of one reading in a buffer, and of what an adjustment leaves: the buffer's own 0.01 to 0.02, the
meter's step; judgement."""

IN_WATER_PH_SD = 0.045
"""Sd [pH] of a meter's error in tank water that buffers cannot show (liquid junction in water of few salts):
pens are off by 0.05 to 0.1 just after a two-point calibration, from memory, not checked."""

OFFSET_FORGETS_D, SLOPE_FORGETS_D = 28.0, 180.0
"""Days in which what a check said fades to 1/e. Four shop meters were off by -0.26 to +0.34 four weeks after
one calibration (clinical abstract, 2021); a slope wears with the probe, over a year or two; judgement."""

SOLUTION_LEAST_SD = 0.02
"""Log sd of the cell's KH however well it was made: drops of dye, water left in the cell; judgement."""

SOLUTION_OLD_D = 182.0
"""Days after which a prepared solution is as doubtful as one of which nothing is known; judgement (common
practice makes it afresh every six months)."""

USUAL_CELL_DKH = 4.0
"""KH of the cell's solution where none is recorded [dKH]; common practice, no source."""

_WANDER_PH = (METER_OFFSET_PH[1] ** 2 - IN_WATER_PH_SD**2) ** 0.5


@dataclass(frozen=True, slots=True)
class Known:
    """What is believed of a figure: mean and sd."""

    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class Pinned:
    """Looks at a wandering figure: days since the first check, what was seen, sd of the look; shapes (k,)."""

    day: Array
    seen: Array
    sd: Array

    def at(self, day: float, prior: Known, forgets_d: float) -> Known:
        """The figure at `day`: a Gaussian process about the prior, correlated by exp(-|dt|/forgets_d)."""
        if not self.day.size:
            return prior
        inside = prior.sd**2 * np.exp(-np.abs(self.day[:, None] - self.day) / forgets_d)
        to = prior.sd**2 * np.exp(-np.abs(self.day - day) / forgets_d)
        weights = np.linalg.solve(inside + np.diag(self.sd**2), to)
        mean = prior.mean + float(weights @ (self.seen - prior.mean))
        return Known(mean, float(np.sqrt(max(prior.sd**2 - float(weights @ to), 1e-10))))


@dataclass(frozen=True, slots=True)
class Stretch:
    """The time between two adjustments of the meter: looks at its offset and at its slope."""

    offset: Pinned
    slope: Pinned


@dataclass(frozen=True, slots=True)
class MeterThen:
    """Meter of n readings: offset = a + c (offset now) + b (own score), slope alike; each of shape (n, 1)."""

    offset: tuple[Array, Array, Array]
    slope: tuple[Array, Array, Array]
    own: Index

    def shown(self, unknowns: Unknowns, true_ph: Array) -> Array:
        """What the meter showed at `true_ph` [-] (n, B)."""
        offset = _then(self.offset, unknowns["meter_offset_ph"], unknowns.earlier, self.own)
        slope = _then(self.slope, unknowns["meter_slope_log"], unknowns.earlier, self.own + 1)
        return np.asarray(7.0 + offset + np.exp(slope) * (true_ph - 7.0))


@dataclass(frozen=True, slots=True)
class SolutionThen:
    """Solution in the cell at n sightings: its KH [meq/L] (n, 1), and its error like the meter's."""

    alkalinity_meq_l: Array
    error: tuple[Array, Array, Array]
    own: Index

    def strength_meq_l(self, unknowns: Unknowns) -> Array:
        """True alkalinity inside the cell [meq/L], shape (n, B)."""
        error = _then(self.error, unknowns["cell_solution_log"], unknowns.earlier, self.own)
        return np.asarray(self.alkalinity_meq_l * np.exp(error))


def _then(terms: tuple[Array, Array, Array], now: Array, earlier: Array, own: Index) -> Array:
    """A + c now + b own score, shape (n, B)."""
    a, c, b = terms
    found = a + c * now
    return np.asarray(found + b * earlier[own] if b.any() else found)


@dataclass(frozen=True, slots=True)
class Gear:
    """What is recorded of meter and cell up to `end`.

    Attributes:
        end: the moment (UTC) the estimate speaks of.
        adjusted: when the meter was adjusted, in order.
        first: when it was first checked; `end` where never.
        stretches: one more than `adjusted`.
        solutions: what was put into the cell, in order.
        meter_rows: stretch to its first row among the earlier scores, for those read in and over.
        solution_rows: solution (-1: none recorded yet) to its row, for those seen and replaced.
    """

    end: datetime
    adjusted: tuple[datetime, ...]
    first: datetime
    stretches: tuple[Stretch, ...]
    solutions: tuple[SolutionPrepared, ...]
    meter_rows: dict[int, int]
    solution_rows: dict[int, int]

    @property
    def n_earlier(self) -> int:
        """How many scores the earlier stretches and solutions take."""
        return 2 * len(self.meter_rows) + len(self.solution_rows)

    def stretch(self, at: datetime) -> int:
        """Which stretch `at` lies in; an adjustment's own moment belongs to the new one."""
        return sum(moment <= at for moment in self.adjusted)

    def offset_in_buffers(self, at: datetime) -> Known:
        """The meter's offset in buffers at `at` [pH]."""
        pinned, prior = self.stretches[self.stretch(at)].offset, Known(METER_OFFSET_PH[0], _WANDER_PH)
        return pinned.at(_days(at - self.first), prior, OFFSET_FORGETS_D)

    def offset(self, at: datetime) -> Known:
        """The meter's offset in tank water at `at` [pH]."""
        found = self.offset_in_buffers(at)
        return Known(found.mean, float(np.hypot(found.sd, IN_WATER_PH_SD)))

    @property
    def buffers_ph_sd(self) -> float:
        """Noise [pH] of buffers now as a look at the offset in tank water: what they cannot show, too.

        The noise at which a look at the whole offset would take as much of its variance as one at the part
        that buffers show, read to BUFFER_PH_SD.
        """
        whole, shown = self.offset(self.end).sd ** 2, self.offset_in_buffers(self.end).sd ** 2
        return float(np.sqrt(whole**2 * (shown + BUFFER_PH_SD**2) / shown**2 - whole))

    def slope_log(self, at: datetime) -> Known:
        """Logarithm of the meter's slope at `at` [-]."""
        pinned = self.stretches[self.stretch(at)].slope
        return pinned.at(_days(at - self.first), Known(*METER_SLOPE_LOG), SLOPE_FORGETS_D)

    def solution(self, at: datetime) -> int:
        """Which solution was in the cell at `at`; -1 where none was recorded."""
        return sum(one.at <= at for one in self.solutions) - 1

    def solution_dkh(self, at: datetime) -> float:
        """KH of the solution in the cell at `at`, as recorded [dKH]."""
        number = self.solution(at)
        return self.solutions[number].kh_dkh if number >= 0 else USUAL_CELL_DKH

    def solution_log_sd(self, at: datetime) -> float:
        """Log sd of its true KH about that [-]."""
        number = self.solution(at)
        if number < 0:
            return SOLUTION_LOG_SD
        made = self.solutions[number]
        error = SOLUTION_LOG_SD if made.error_percent is None else made.error_percent / 100.0
        age = min(_days(at - made.at) / SOLUTION_OLD_D, 1.0)
        return float(np.sqrt(error**2 + SOLUTION_LEAST_SD**2 * (1.0 - age) + SOLUTION_LOG_SD**2 * age))

    def meter_then(self, records: Sequence[Record]) -> MeterThen:
        """The meter of `records`, as `MeterThen`."""
        offsets, slopes, own = [], [], []
        now_offset, now_slope = self.offset(self.end), self.slope_log(self.end)
        for record in records:
            offset, slope = self.offset(record.at), self.slope_log(record.at)
            row = self.meter_rows.get(self.stretch(record.at))
            offsets.append(_offset_terms(self, record.at, offset, now_offset, is_now=row is None))
            slopes.append(_terms(slope, now_slope, is_now=row is None))
            own.append(row or 0)
        return MeterThen(_columns(offsets), _columns(slopes), np.array(own, dtype=np.intp))

    def solution_then(self, records: Sequence[Record]) -> SolutionThen:
        """The cell's solution at `records`, as `SolutionThen`."""
        strengths, errors, own = [], [], []
        now = Known(0.0, self.solution_log_sd(self.end))
        for record in records:
            row = self.solution_rows.get(self.solution(record.at))
            strengths.append(self.solution_dkh(record.at) * MEQ_L_PER_DKH)
            errors.append(_terms(Known(0.0, self.solution_log_sd(record.at)), now, is_now=row is None))
            own.append(row or 0)
        return SolutionThen(np.array(strengths)[:, None], _columns(errors), np.array(own, dtype=np.intp))

    def shown_now(self, ph: float, at: datetime) -> float:
        """What the meter would have shown [-] as adjusted since, where it showed `ph` at `at`."""
        if self.stretch(at) == self.stretch(self.end):
            return ph
        true = 7.0 + (ph - 7.0 - self.offset(at).mean) / float(np.exp(self.slope_log(at).mean))
        return 7.0 + self.offset(self.end).mean + float(np.exp(self.slope_log(self.end).mean)) * (true - 7.0)


def _terms(then: Known, now: Known, *, is_now: bool) -> tuple[float, float, float]:
    """A, c, b of a figure then: of one with the figure now, or on its own."""
    if not is_now:
        return then.mean, 0.0, then.sd
    share = then.sd / now.sd
    return then.mean - share * now.mean, share, 0.0


def _offset_terms(
    gear: Gear, at: datetime, then: Known, now: Known, *, is_now: bool
) -> tuple[float, float, float]:
    """The same for the offset, whose part in tank water outlives adjustments."""
    if is_now:
        return _terms(then, now, is_now=True)
    share = IN_WATER_PH_SD**2 / now.sd**2
    left = IN_WATER_PH_SD**2 * (1.0 - share) + gear.offset_in_buffers(at).sd ** 2
    return then.mean - share * now.mean, share, left**0.5


def _columns(rows: Sequence[tuple[float, float, float]]) -> tuple[Array, Array, Array]:
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    return table[:, :1], table[:, 1:2], table[:, 2:]


def _days(span: timedelta) -> float:
    return span / timedelta(days=1)


def gear_of(records: Sequence[Record], end: datetime) -> Gear:
    """Meter and cell as `records` (sorted by time, up to `end`) tell of them."""
    checks = [one for one in records if isinstance(one, BufferCheck) and one.at <= end]
    solutions = tuple(one for one in records if isinstance(one, SolutionPrepared) and one.at <= end)
    first = checks[0].at if checks else end
    adjusted = tuple(one.at for one in checks if one.adjusted)
    found = Gear(end, adjusted, first, _stretches(checks, first), solutions, {}, {})
    read = {found.stretch(one.at) for one in records if isinstance(one, PhReading | BaselineCup)}
    seen = {found.solution(one.at) for one in records if isinstance(one, CellSighting)}
    old_meters = sorted(read - {found.stretch(end)})
    old_solutions = sorted(seen - {found.solution(end)})
    meter_rows = {number: 2 * place for place, number in enumerate(old_meters)}
    solution_rows = {number: 2 * len(old_meters) + place for place, number in enumerate(old_solutions)}
    return Gear(end, adjusted, first, found.stretches, solutions, meter_rows, solution_rows)


def _stretches(checks: Sequence[BufferCheck], first: datetime) -> tuple[Stretch, ...]:
    """Looks at offset and slope between adjustments; an adjustment is a look at nothing wrong after it."""
    offsets: list[list[tuple[float, float, float]]] = [[]]
    slopes: list[list[tuple[float, float, float]]] = [[]]
    for check in checks:
        day = _days(check.at - first)
        offset_sd, slope_sd = _look_sds(check)
        try:
            seen = judge(check).calibration
        except DawnlevelError:  # no electrode shows that: it tells nothing of what was
            seen = None
        if seen is not None:
            offsets[-1].append((day, seen.offset_ph, offset_sd))
            slopes[-1].append((day, float(np.log(seen.slope)), slope_sd))
        if check.adjusted:
            offsets.append([(day, 0.0, offset_sd)])
            slopes.append([(day, 0.0, slope_sd)])
    return tuple(Stretch(_pinned(one), _pinned(other)) for one, other in zip(offsets, slopes, strict=True))


def _look_sds(check: BufferCheck) -> tuple[float, float]:
    """Sd of what two buffers say of the offset [pH] and of the logarithm of the slope [-]."""
    low, high = (float(buffer_ph(kind, check.temp_c)) for kind in (check.low, check.high))
    apart = max(high - low, 1.0)
    share = (7.0 - low) / apart
    return BUFFER_PH_SD * float(np.hypot(share, 1.0 - share)), BUFFER_PH_SD * 2.0**0.5 / apart


def _pinned(looks: Sequence[tuple[float, float, float]]) -> Pinned:
    table = np.array(looks, dtype=np.float64).reshape(-1, 3)
    return Pinned(table[:, 0], table[:, 1], table[:, 2])
