"""Steadiness in a keeper's words: what each figure is, what a change says, which check decides."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.steadiness.steadiness_views import ChartView, KindView, ShiftView
from dawnlevel.desk.wording import percent
from dawnlevel.watch.causes import CHECKS, CLOCK, SUDDEN, WATER
from dawnlevel.watch.parting import CELL, CUP, KH, LEVEL, LN10, REST

Floats = npt.NDArray[np.float64]

LABELS = {
    LEVEL: "pH with the gas on, as it would be after the usual hours of gas",
    REST: "pH before the gas opens",
    CUP: "pH of the baseline cup",
    KH: "KH",
    CELL: "CO2 by the indicator cell",
}
UNITS = {LEVEL: "pH", REST: "pH", CUP: "pH", KH: "dKH", CELL: "pH in the cell"}

NEEDS = (
    "pH in the tank at lights-on, at the same hour each time, daily or weekly: dawnlevel ph PH",
    "a baseline cup once a month, so that water and meter can be told from gas: dawnlevel cup PH",
)

DENIED = {
    SUDDEN: "the figure crept; it did not move from one reading to the next",
    "slow": "the figure moved from one reading to the next and did not creep",
    WATER: "no water change is recorded in that time",
    CLOCK: "no change of the clocks falls into that time",
}

_GAS = ("injection", "exchange", "start")
_WATER_OR_METER = ("baseline_shift", "probe_step")
_CUP_CHECK = (
    "Aerate a cup of tank water for an hour and read it: moved as much as the tank means water or meter "
    "(then measure KH and put the probe into a buffer); as before means the gas, so count the bubbles."
)
_AGAIN = "Read again tomorrow at the same hour before you change anything: it rests on one reading."
_WAS_BACK = "Nothing: the next reading was back. If it happens again, look at the meter and at the timer."
_MEANT = {LEVEL: ("more CO2", "less CO2"), CELL: ("more CO2", "less CO2")}


def shown(name: str, values: Floats, *, is_shift: bool = False) -> Floats:
    """Figures as a keeper reads them: pH, or dKH; shifts of KH as a share."""
    if name in {LEVEL, CELL}:
        return -values / LN10
    if name == KH:
        return np.asarray(np.expm1(values) if is_shift else np.exp(values))
    return values


def check_text(kinds: Sequence[KindView], *, is_lasting: bool, is_single: bool) -> str:
    """The one check that separates the likeliest kinds."""
    if not is_lasting:
        return _WAS_BACK
    if is_single:
        return _AGAIN
    both = [any(one.kind.startswith(names) for one in kinds) for names in (_GAS, _WATER_OR_METER)]
    return _CUP_CHECK if all(both) else CHECKS[kinds[0].kind]


def shift_text(view: ShiftView) -> ShiftView:
    """The view with its sentence."""
    if view.figure == KH:
        by = f"by {100.0 * view.moved:+.0f} %"
    else:
        meaning = _MEANT.get(view.figure)
        word = "" if meaning is None else f" ({meaning[int(view.moved > 0.0)]})"
        by = f"by {view.moved:+.2f} pH{word}"
    label = LABELS[view.figure]
    if not view.is_lasting:
        return replace(view, text=f"{label} was off {by} on {view.since:%Y-%m-%d}, for one reading.")
    top = f" Likeliest: {view.kinds[0].label} ({percent(view.kinds[0].probability)})." if view.kinds else ""
    return replace(view, text=f"{label} has moved {by} since {view.since:%Y-%m-%d}.{top}")


def answer_text(charts: Sequence[ChartView], changes: Sequence[ShiftView]) -> str:
    """Is it steady? In a sentence."""
    judged = [one for one in charts if one.state != "too_few"]
    if not judged:
        return "Too few readings to say what is usual: it takes four of one kind under unchanged settings."
    lasting = [one for one in changes if one.is_lasting]
    since = {one.name: one.since for one in judged}
    present = [one for one in lasting if since.get(one.figure) == one.since]
    if present:
        latest = present[0]
        day = f"{latest.since:%a} {latest.since.day} {latest.since:%b %Y}"
        kinds = "".join(f": {one.label} ({percent(one.probability)})" for one in latest.kinds[:1])
        return f"Not as it was, since {day}{kinds}."
    near = [one.label for one in judged if one.state == "warning"]
    if near:
        return f"Steady so far, but watch it: {near[0]} is near its limit. Read again soon."
    return "Steady: nothing has changed since, as far as these readings can tell."
