"""Use case: thinning old minute data by the keeper's choice, with what watching needs left as it was.

Watching reads half-hour means. A thinned log keeps one reading for so many minutes: the mean of those in
them, spikes dropped as watching drops them; the readings of a half hour of the clock are shifted together so
that its mean stays what it was, and on a steep ramp drawn in so that none looks like a spike. All is kept to
0.001 pH, as every reading is.
"""

import re
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.steadiness.probing import moment_of
from dawnlevel.errors import BadInputError
from dawnlevel.store import Store
from dawnlevel.tank.samples import Floats, Samples
from dawnlevel.watch.days import WIDEST_SPIKE_PH

HALF_HOUR_MIN = 30
_WIDEST_LEFT_PH = WIDEST_SPIKE_PH - 0.002  # with room for the rounding of two readings to 0.001
STEPS_MIN = (2, 3, 5, 6, 10, 15, 30)
"""To how many minutes a log may be thinned: those that half an hour is made of."""

Groups = npt.NDArray[np.intp]

_AGE = re.compile(r"(\d+)\s*(d|days?|w|weeks?)")
_STEP = re.compile(r"(\d+)\s*(m|min|minutes?)?")


@dataclass(frozen=True, slots=True)
class ThinningView:
    """What thinning a probe's log takes away and leaves, before or after it is done.

    Attributes:
        tank: the tank's name.
        before: readings earlier than this are thinned; a midnight in UTC.
        step_min: to one for so many minutes.
        readings: how many minutes have a reading that counts.
        left: how many are left of them.
        hidden: readings that no longer count, corrected by later ones or withdrawn, which go for good.
        is_done: whether it was done.
    """

    tank: str
    before: datetime
    step_min: int
    readings: int
    left: int
    hidden: int
    is_done: bool


def read_age(text: str) -> timedelta:
    """How old, from `365d` or `52w`; BadInputError for anything else or less than a day."""
    found = _AGE.fullmatch(text.strip().lower())
    if found is None or int(found[1]) < 1:
        raise BadInputError(
            f"{text!r} is no age.", where="--older-than", cure="Write days or weeks, for example 365d or 52w."
        )
    return timedelta(days=int(found[1]) * (7 if found[2].startswith("w") else 1))


def read_step(text: str) -> int:
    """To how many minutes, from `10min`; BadInputError for one that half an hour is not made of."""
    found = _STEP.fullmatch(text.strip().lower())
    if found is None or int(found[1]) not in STEPS_MIN:
        listed = ", ".join(f"{step}min" for step in STEPS_MIN)
        raise BadInputError(
            f"A log is not thinned to {text!r}.", where="--to", cure=f"Choose one of {listed}."
        )
    return int(found[1])


def plan_thinning(
    store: Store, name: str, older_than: timedelta, step_min: int, now: datetime
) -> ThinningView:
    """What thinning would do; nothing is changed. BadInputError where there is nothing to thin."""
    before = (now - older_than).replace(hour=0, minute=0, second=0, microsecond=0)
    found = store.finer_samples(name, before, step_min)
    if not found.stored:
        raise BadInputError(
            f"There is nothing to thin: no reading before {before:%Y-%m-%d} is finer than {step_min} min.",
            where=name,
            cure="Look at what is stored: dawnlevel probe list",
        )
    left = len(thinned(found.samples, step_min)) if len(found.samples) else 0
    hidden = found.stored - len(found.samples)
    return ThinningView(name, before, step_min, len(found.samples), left, hidden, is_done=False)


def thin(store: Store, plan: ThinningView) -> ThinningView:
    """Do what was planned, all or nothing, and write down that it was done; what came of it."""
    done = store.thin_samples(plan.tank, plan.before, plan.step_min, lambda log: thinned(log, plan.step_min))
    hidden = plan.hidden if done is not None else 0
    before, after = (0, 0) if done is None else (done.readings_before, done.readings_after)
    when = plan.before if done is None else moment_of(done.before_minute)
    return ThinningView(plan.tank, when, plan.step_min, before, after, hidden, is_done=True)


def thinned(log: Samples, step_min: int) -> Samples:
    """One reading for each `step_min` minutes [min] that have any, at their middle minute; log: not empty."""
    half_hours = _groups(log.minute_utc // HALF_HOUR_MIN)
    calm = _is_near_median(log.ph, half_hours)
    kept = Samples(log.minute_utc[calm], log.ph[calm], log.temp_c[calm])
    half_hours = _groups(kept.minute_utc // HALF_HOUR_MIN)
    steps = _groups(kept.minute_utc // step_min)
    ph = _means(kept.ph, steps)
    first = np.unique(steps, return_index=True)[1]
    home = half_hours[first]
    apart = (ph - _means(ph, home)[home]) * _drawn_in(ph, home)[home]
    minutes = kept.minute_utc[first] // step_min * step_min + step_min // 2
    return Samples(minutes, _means(kept.ph, half_hours)[home] + apart, _means(kept.temp_c, steps))


def _drawn_in(ph: Floats, home: Groups) -> Floats:
    """How much the readings of each half hour are drawn together, so that watching takes none for a spike."""
    widest = np.zeros(int(home[-1]) + 1)
    np.maximum.at(widest, home, np.abs(ph - _medians(ph, home)[home]))
    return np.minimum(1.0, _WIDEST_LEFT_PH / np.maximum(widest, 1e-9))


def _groups(keys: npt.NDArray[np.int64]) -> Groups:
    """Numbers from 0 for equal keys, in their order."""
    return np.unique(keys, return_inverse=True)[1].reshape(-1)


def _means(values: Floats, groups: Groups) -> Floats:
    """Mean of the values of each group that are numbers; NaN where none is."""
    known = ~np.isnan(values)
    count = np.bincount(groups, known)
    total = np.bincount(groups, np.where(known, values, 0.0))
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _medians(values: Floats, groups: Groups) -> Floats:
    """The upper median of each group, as watching takes it."""
    order = np.lexsort((values, groups))
    count = np.bincount(groups)
    middle: Floats = values[order[np.cumsum(count) - count + count // 2]]
    return middle


def _is_near_median(values: Floats, groups: Groups) -> npt.NDArray[np.bool_]:
    """Which values lie so near their group's upper median as watching wants them."""
    middle = _medians(values, groups)
    near: npt.NDArray[np.bool_] = np.abs(values - middle[groups]) <= WIDEST_SPIKE_PH
    return near
