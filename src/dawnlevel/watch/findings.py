"""Findings: from the odds of every kind on every day to what is told, most important first."""

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from dawnlevel.watch.days import BEFORE_H, BIN_H
from dawnlevel.watch.figures import Figures
from dawnlevel.watch.odds import change_odds, effect, log_sum

Floats = npt.NDArray[np.float64]

THRESHOLD = 4.6
"""Log odds against "no change" above which a change is told: 1 in 100 (tuned on clean simulated logs)."""

SECOND_THRESHOLD = 9.0
"""The same for a further change in a log that has one already."""

FEWEST_DAYS = 6
"""Comparable days without which nothing can be called usual [-] (judgement)."""

_STRETCH, _OVERLAP = 70, 24  # usable days judged together, and how many of them twice
_MOST = 3
_SAME_DAYS = 3  # changes closer than this are one change (judgement)
_START_SIZES_H = np.concatenate([-np.geomspace(0.25, 3.0, 14), np.geomspace(0.25, 8.0, 18)])
_PER_EVENT = (
    20.0  # log odds of a day without gas or a night with it: hardly anything else looks so (judgement)
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One change: machine name, gas day (row) and bin in it, first and last likely day, odds, size.

    `probability` that this is the kind; `log_odds` against no change; `size` in the kind's own unit.
    """

    kind: str
    day: int
    bin: int
    first_day: int
    last_day: int
    probability: float
    log_odds: float
    size: float
    is_lasting: bool = False


@dataclass(frozen=True, slots=True)
class _Candidate:
    """Log evidence by day of one kind, with its best sizes."""

    kind: str
    by_day: Floats
    size: Floats

    @property
    def total(self) -> float:
        """Log evidence over all days, each as likely beforehand."""
        return float(log_sum(self.by_day) - np.log(max(np.isfinite(self.by_day).sum(), 1)))


def find_changes(figures: Figures) -> list[Finding]:
    """Everything that changed, most important first; an empty list where the tank is steady."""
    events = _events(figures)
    found = list(events)
    emptied = next((one.first_day for one in events if one.is_lasting), None)
    start = _start_change(figures)
    if start is not None:
        found.append(start)
    for part in _stretches(figures):
        _add_changes(part, found, emptied)
    found.sort(key=lambda one: -one.log_odds)
    return [split for one in found for split in _both_of_a_shift(one, figures)]


def _stretches(figures: Figures) -> list[Figures]:
    """The log in overlapping stretches of `_STRETCH` usable days; none where too few say what is usual."""
    days = np.flatnonzero(figures.usable)
    if days.size < FEWEST_DAYS:
        return []
    begins = range(0, max(days.size - _OVERLAP, 1), _STRETCH - _OVERLAP)
    stretches = []
    for begin in begins:
        mask = np.zeros_like(figures.usable)
        mask[days[begin : begin + _STRETCH]] = True
        stretches.append(replace(figures, usable=mask))
    return stretches


def _add_changes(part: Figures, found: list[Finding], emptied: int | None) -> None:
    """Add to `found` what changed in one stretch, the clearest first; nothing once gas failed (`emptied`)."""
    table, here = part.table.copy(), set[str]()
    for turn in range(_MOST):
        change = _figure_change(part, table, THRESHOLD if turn == 0 and not found else SECOND_THRESHOLD)
        if change is None or change.kind in here:
            break
        here.add(change.kind)
        told = any(abs(change.day - one.day) <= _SAME_DAYS for one in found)
        if not told and (emptied is None or change.day < emptied - _SAME_DAYS):
            found.append(change)
        if change.kind == "unsteady":
            break
        _take_out(table, part, change)


def _figure_change(figures: Figures, table: Floats, threshold: float) -> Finding | None:
    odds = change_odds(figures, table)
    candidates = [_Candidate(kind, odds.by_day[kind], odds.size[kind]) for kind in odds.by_day]
    totals = np.array([one.total for one in candidates])
    best = candidates[int(np.argmax(totals))]
    if float(np.max(totals)) < threshold:
        return None
    probability = float(np.exp(np.max(totals) - log_sum(np.append(totals, threshold - 4.0))))
    day = int(np.argmax(best.by_day))
    weight = np.exp(best.by_day - np.max(best.by_day))
    share = np.cumsum(weight) / weight.sum()
    first, last = int(np.searchsorted(share, 0.05)), int(np.searchsorted(share, 0.95))
    size = float(best.size[day])
    return Finding(
        _name(best.kind, size),
        day,
        0,
        min(first, day),
        max(last, day),
        probability,
        float(np.max(totals)),
        size,
    )


def _name(kind: str, size: float) -> str:
    names = {
        "injection": ("injection_weaker", "injection_stronger"),
        "exchange": ("exchange_slower", "exchange_faster"),
        "uptake": ("uptake_lower", "uptake_higher"),
        "start": ("start_early", "start_late"),
        "offset": ("offset", "offset"),
        "drift": ("probe_drift", "probe_drift"),
        "unsteady": ("unsteady", "unsteady"),
    }
    return names[kind][int(size > 0.0)]


def _take_out(table: Floats, figures: Figures, change: Finding) -> None:
    """Undo a change that has been told, so that a further one can be seen."""
    base = {"probe_drift": "drift"}.get(change.kind, change.kind.split("_")[0])
    days = np.arange(table.shape[0])
    if base == "drift":
        slope = effect("offset", np.array([0.001]), figures.usual)[0] / 0.001
        table -= change.size * np.maximum(days - change.day + 0.5, 0.0)[:, None] * slope
        return
    shift = effect(base, np.array([change.size]), figures.usual)[0]
    table[change.day :] -= shift


def _start_change(figures: Figures) -> Finding | None:
    """A lasting change of the hour at which the gas opens."""
    start = np.where(figures.missed, np.nan, figures.fits.start_h)
    days = np.flatnonzero(figures.usable & np.isfinite(start))
    if days.size < 5:
        return None
    y = start[days]
    steps = np.abs(np.diff(y)) / np.sqrt(2.0)
    sd = max(1.4826 * float(np.median(steps)), 0.05)
    by_day = np.full(start.size, -np.inf)
    size = np.zeros(start.size)
    middle = float(np.median(y[: max(5, days.size // 3)]))
    clean = _heavy((y - middle) / sd)
    for i in range(3, days.size):
        moved = _heavy((y[i:, None] - middle - _START_SIZES_H) / sd)
        gained = (moved - clean[i:, None]).sum(axis=0)
        by_day[days[i]] = log_sum(gained) - np.log(_START_SIZES_H.size)
        size[days[i]] = _START_SIZES_H[np.argmax(gained)]
    candidate = _Candidate("start", by_day, size)
    if candidate.total < THRESHOLD + 1.0:
        return None
    day = int(np.argmax(by_day))
    moved_h = float(np.median(y[days >= day]) - np.median(y[days < day]))
    if abs(moved_h) < 0.2:
        return None
    return Finding(
        _name("start", moved_h), day, int((BEFORE_H + min(moved_h, 0.0)) / BIN_H), day, day,
        0.97, candidate.total, moved_h,
    )  # fmt: skip


def _heavy(miss: Floats) -> Floats:
    """Log density with heavy tails (Student, 4 degrees of freedom), constants left out."""
    density: Floats = -2.5 * np.log1p(miss * miss / 4.0)
    return density


def _events(figures: Figures) -> list[Finding]:
    """What shows on single days: gas that did not start, that stayed open, that ran out."""
    found: list[Finding] = []
    open_days = np.flatnonzero(figures.open_night)
    length = figures.missed.size
    if open_days.size:
        share = open_days.size / max(length - open_days[0], 1)
        first = int(open_days[0])
        found.append(
            Finding("stuck_open", first, int((24.0 - BEFORE_H) / BIN_H) - 12, first, first, 0.97,
                    _PER_EVENT * open_days.size, share)
        )  # fmt: skip
    missed = np.flatnonzero(figures.missed)
    if not missed.size:
        return found
    first = int(missed[0])
    known = np.flatnonzero(np.isfinite(figures.fits.values[:, 1]))
    after = known[known >= first]
    lasting = bool(figures.missed[after].all())
    faded = _fading(figures, first)
    share = missed.size / max(after.size, 1)
    odds = _PER_EVENT * min(missed.size, 3) + 4.0
    if lasting and faded is not None:
        found.append(Finding("gas_empty", faded, 6, faded, first, 0.93, odds, -1.0, is_lasting=True))
    else:
        sure = 0.75 if lasting else 0.97
        found.append(
            Finding(
                "start_missed",
                first,
                int(BEFORE_H / BIN_H),
                first,
                first,
                sure,
                odds,
                share,
                is_lasting=lasting,
            )
        )
    return found


def _fading(figures: Figures, first: int) -> int | None:
    """The day from which the gas faded before it failed on `first`; None where it failed at a stroke."""
    level = figures.level_off_mg_l
    known = [d for d in range(max(first - 6, 0), first) if np.isfinite(level[d])]
    if not known:
        return None
    usual = float(np.nanmedian(level[: max(first - 2, 1)]))
    if level[known[-1]] > 0.82 * usual:
        return None
    short = [d for d in known if level[d] < 0.82 * usual]
    return short[0]


def _both_of_a_shift(one: Finding, figures: Figures) -> list[Finding]:
    """A shift of pH is a shift of the water's KH or of the meter; both are told with their odds."""
    if one.kind != "offset":
        return [one]
    jump = max(abs(figures.jump_ph[one.day]), abs(figures.jump_ph[max(one.day - 1, 0)]))
    sudden = 1.0 / (1.0 + np.exp((abs(jump - abs(one.size)) - 0.03) / 0.015))
    probe = 0.35 + 0.25 * float(sudden)
    made = [
        Finding(
            kind,
            one.day,
            one.bin,
            one.first_day,
            one.last_day,
            one.probability * share,
            one.log_odds,
            one.size,
        )
        for kind, share in (("probe_step", probe), ("baseline_shift", 1.0 - probe))
    ]
    return sorted(made, key=lambda two: -two.probability)
