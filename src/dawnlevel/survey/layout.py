"""A tank's sketch against the trade's layout rules, and the turnover its pump really gives.

All rules here are common practice, no source. They say what is usual, not what was measured: only a survey
shows whether CO2 reaches a place.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import OutOfRangeError

Array = npt.NDArray[np.float64]

LEAST_TURNOVER_PER_H, MOST_TURNOVER_PER_H = 5.0, 10.0
"""Tank volumes an hour that are usual in planted tanks with injected CO2, as they really flow; common
practice, no source."""

APART = 0.5
"""Share of the length from which two things count as at opposite ends; common practice, no source."""

IN_THE_WAY = 0.15
"""Distance from the way of the water, as a share of the sides, from which hardscape blocks it; own choice."""

_LOW, _HIGH = 1.0 / 3.0, 2.0 / 3.0


@dataclass(frozen=True, slots=True)
class Sketch:
    """Where things are, as shares of length, width and height, each of shape (3,); hardscape (k, 3)."""

    outflow: Array
    intake: Array
    diffuser: Array
    hardscape: Array


@dataclass(frozen=True, slots=True)
class RuleCheck:
    """A rule of the trade, whether the sketch keeps it, and in words what it finds."""

    rule: str
    is_kept: bool
    finding: str


def real_flow_l_h(rated_l_h: float, head_loss: float, clogging: float) -> float:
    """Flow [L/h] of a pump rated at `rated_l_h` [L/h] after both losses, each as a fraction of what is left.

    OutOfRangeError for fractions outside 0 to 1 (1 itself too) and a rating that is not above 0.
    """
    for name, value in (("head loss", head_loss), ("clogging", clogging)):
        if not 0.0 <= value < 1.0:
            raise OutOfRangeError(name, value, 0.0, 0.99, "", where="layout")
    if not 0.0 < rated_l_h <= 1e5:
        raise OutOfRangeError("flow", rated_l_h, 1.0, 1e5, "L/h", where="layout")
    return rated_l_h * (1.0 - head_loss) * (1.0 - clogging)


def turnover_check(turnover_per_h: float) -> RuleCheck:
    """Whether the water turned over [tank volumes/h] is as usual."""
    usual = f"{LEAST_TURNOVER_PER_H:g} to {MOST_TURNOVER_PER_H:g}"
    kept = LEAST_TURNOVER_PER_H <= turnover_per_h <= MOST_TURNOVER_PER_H
    word = (
        "as usual"
        if kept
        else "less than usual"
        if turnover_per_h < LEAST_TURNOVER_PER_H
        else "more than usual"
    )
    return RuleCheck(
        f"The pump turns {usual} tank volumes an hour", kept, f"{turnover_per_h:.1f} an hour: {word}."
    )


def checks(sketch: Sketch) -> list[RuleCheck]:
    """The sketch against each rule, in the order in which water meets them."""
    out, intake, diffuser = sketch.outflow, sketch.intake, sketch.diffuser
    ends = abs(float(out[0] - intake[0]))
    across = abs(float(out[0] - diffuser[0]))
    found = [
        _check(
            "Inlet and outlet at opposite ends",
            ends >= APART,
            "They are at opposite ends.",
            "They are at the same end: water may go from one to the other and leave the far end still.",
        ),
        _check(
            "Diffuser across from the outflow",
            across >= APART,
            "It is across from it.",
            "It is on the outflow's side: its bubbles are carried off, or never cross the tank.",
        ),
        _check(
            "Flow along the front and the back",
            not _LOW <= out[1] <= _HIGH,
            "The outflow lies by a pane, so water goes along it and returns along the other.",
            "The outflow lies half-way between front and back: neither pane has a stream along it.",
        ),
        _check(
            "Flow along the substrate",
            bool(intake[2] < _LOW),
            "The intake lies low and draws water along the substrate.",
            "The intake lies high: nothing draws water along the substrate.",
        ),
    ]
    return [*found, _hardscape_check(sketch)]


def _check(rule: str, is_kept: bool, kept: str, broken: str) -> RuleCheck:
    return RuleCheck(rule, is_kept, kept if is_kept else broken)


def _hardscape_check(sketch: Sketch) -> RuleCheck:
    """Whether hardscape stands on the straight way from outflow to intake."""
    blocking = int((distances_to_way(sketch.hardscape, sketch.outflow, sketch.intake) < IN_THE_WAY).sum())
    return _check(
        "Nothing stands in the way of the water",
        blocking == 0,
        "No hardscape stands between outflow and intake."
        if len(sketch.hardscape)
        else "No hardscape is given.",
        f"Hardscape at {blocking} of {len(sketch.hardscape)} places stands between outflow and intake: read "
        "behind it.",
    )


def distances_to_way(places: Array, start: Array, end: Array) -> Array:
    """Distances of places (k, 3) from the straight way between two (3,), shares of the sides, shape (k,)."""
    way = end - start
    length2 = float(way @ way)
    along = np.clip((places - start) @ way / length2, 0.0, 1.0) if length2 > 0 else np.zeros(len(places))
    return np.asarray(np.sqrt(((places - start - along[:, None] * way) ** 2).sum(axis=1)), dtype=np.float64)


def sketch_of(
    outflow: Sequence[float],
    intake: Sequence[float],
    diffuser: Sequence[float],
    hardscape: Sequence[Sequence[float]],
) -> Sketch:
    """A sketch from shares of length, width and height."""
    rocks = np.array([list(one) for one in hardscape], dtype=np.float64).reshape(-1, 3)
    return Sketch(np.array(outflow), np.array(intake), np.array(diffuser), rocks)
