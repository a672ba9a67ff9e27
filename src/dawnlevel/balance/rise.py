"""A rise to a plateau, C = plateau - (plateau - start) e^(-rate t), and whether its two ends are known.

A run that stops early fixes only the product of rate and distance. Then rate and plateau must not be
quoted apart: the plateau has to come from elsewhere (a saturation formula), and the rate follows.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.fit import FitOutcome, FitResult, fit

#: Widest 95 % half-width of rate and plateau, relative, at which both are still quoted (judgement, no
#: source: a saturation formula with a thermometer's error is ten times better).
WIDEST_RELATIVE = 0.10
#: How far a formula's plateau may be off, relative (judgement: weather 2 % in pressure, 0.5 degC 1 %).
EXPECTED_RELATIVE = 0.03


@dataclass(frozen=True, slots=True)
class RiseFit:
    """`fit` holds plateau, start and rate; `separable` says whether rate and plateau may be quoted apart."""

    fit: FitResult
    separable: bool
    reason: str


def fit_rise(
    hours: npt.ArrayLike, level_mg_l: npt.ArrayLike, *, expected_plateau_mg_l: float | None = None
) -> RiseFit:
    """Plateau [mg/L], start [mg/L] and rate [1/h] of a rise or fall, from times [h] and levels, both (n,).

    With `expected_plateau_mg_l`, a fitted plateau whose interval misses it by more than 3 % is refused too:
    the record then does not follow this law closely enough to reach beyond its end.

    Raises: NotEnoughRecordsError for fewer than four readings.
    """
    time = np.asarray(hours, dtype=np.float64)
    level = np.asarray(level_mg_l, dtype=np.float64)
    length = float(time[-1] - time[0]) if time.size else 1.0
    first, last = (float(level[0]), float(level[-1])) if level.size else (0.0, 1.0)

    def residuals(parameters: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        plateau, start, rate = parameters
        return np.asarray(plateau - (plateau - start) * np.exp(-rate * time) - level)

    found = fit(
        residuals,
        [last + 0.5 * (last - first), first, 1.0 / length],
        serial_errors=True,
        restarts=3,
    )
    return _judge(found, expected_plateau_mg_l)


def _judge(found: FitResult, expected: float | None) -> RiseFit:
    """Whether plateau and rate of a fit stand on their own; `expected` plateau in mg/L or None."""
    half = 0.5 * (found.high_95 - found.low_95)
    for index, name in ((0, "plateau"), (2, "rate")):
        if not half[index] <= WIDEST_RELATIVE * abs(float(found.values[index])):
            return RiseFit(found, False, f"the {name} is not fixed: the run stops too early")
    if found.outcome not in {FitOutcome.CONVERGED, FitOutcome.RESTARTED}:
        return RiseFit(found, False, found.reason)
    if expected is not None:
        slack = EXPECTED_RELATIVE * expected + float(half[0])
        if abs(float(found.values[0]) - expected) > slack:
            return RiseFit(found, False, "the plateau contradicts the expected one")
    return RiseFit(found, True, "rate and plateau are both fixed by the record")
