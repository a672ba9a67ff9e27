"""Causes a keeper can act on, by kind of change, with what speaks for and against each, and the one check.

The lists are the trade's common practice (no source). What speaks for or against comes from the log: whether
the change came at a stroke or crept in, whether water was changed that day, whether clocks were.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from dawnlevel.watch.figures import Figures
from dawnlevel.watch.findings import Finding

SUDDEN, SLOW, WATER, CLOCK = "sudden", "slow", "water", "clock"

_SAID = {
    SUDDEN: "the figures moved from one day to the next",
    SLOW: "the figures crept over several days",
    WATER: "the pH jumped that day as it does at a water change",
    CLOCK: "the clocks were changed at that time by the same amount",
}
_DENIED = {
    SUDDEN: "the figures crept; they did not move from one day to the next",
    SLOW: "the figures moved from one day to the next and did not creep",
    WATER: "the pH shows no jump that day as a water change leaves",
    CLOCK: "no change of the clocks falls on that day",
}


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause in plain words; `signs` that its log would show."""

    text: str
    signs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JudgedCause:
    """A cause with what the log says for and against it."""

    cause: str
    speaks_for: tuple[str, ...]
    speaks_against: tuple[str, ...]


CAUSES: dict[str, tuple[Cause, ...]] = {
    "injection_weaker": (
        Cause("the needle valve has drifted or was turned down", (SUDDEN,)),
        Cause("the diffuser is clogged: coarser or fewer bubbles in the tank", (SLOW,)),
        Cause("the cylinder is low and its pressure falls", (SLOW,)),
        Cause("gas leaks between valve and diffuser", (SUDDEN,)),
    ),
    "injection_stronger": (
        Cause("the needle valve has drifted or was turned up", (SUDDEN,)),
        Cause("the cylinder runs empty and the regulator lets its outlet pressure rise", (SLOW,)),
        Cause("the diffuser was cleaned or changed", (SUDDEN,)),
    ),
    "exchange_faster": (
        Cause("the surface moves more: outlet turned up, skimmer or air pump on", (SUDDEN,)),
        Cause("a lid or cover glass was taken off", (SUDDEN,)),
        Cause("the water level fell, so that the outlet splashes", (SLOW,)),
    ),
    "exchange_slower": (
        Cause("the filter flow has fallen: clogged intake, hose or media", (SLOW,)),
        Cause("a surface film has formed, or floating plants cover the surface", (SLOW,)),
        Cause("the outlet was turned down or a lid put on", (SUDDEN,)),
    ),
    "uptake_higher": (
        Cause("plants have grown", (SLOW,)),
        Cause("light is stronger or nutrients are no longer short", (SUDDEN,)),
        Cause("new plants were added", (SUDDEN,)),
    ),
    "uptake_lower": (
        Cause("plants were trimmed or taken out", (SUDDEN,)),
        Cause("light is weaker: lamp failed, dimmed, or shaded", (SUDDEN,)),
        Cause("plants ail: nutrients short, algae, damage", (SLOW,)),
    ),
    "start_late": (
        Cause("the clocks changed and the timer did not follow", (CLOCK,)),
        Cause("the timer was set later or lost its time in a power cut", (SUDDEN,)),
        Cause("the gas takes longer to arrive: hose emptied, check valve sticks", ()),
    ),
    "start_early": (
        Cause("the clocks changed and the timer did not follow", (CLOCK,)),
        Cause("the timer was set earlier or lost its time in a power cut", (SUDDEN,)),
    ),
    "start_missed": (
        Cause("the timer or the solenoid did not switch", (SUDDEN,)),
        Cause("the cylinder's main valve is closed, or it is empty", ()),
        Cause("the hose came off or the needle valve is shut", (SUDDEN,)),
    ),
    "stuck_open": (
        Cause("the solenoid stayed open: dirt in its seat, or its magnet does not let go", (SUDDEN,)),
        Cause("the timer did not switch off, or was overridden by hand", (SUDDEN,)),
    ),
    "baseline_shift": (
        Cause("KH changed: a water change with other water, or a buffer added", (WATER,)),
        Cause("hardscape or substrate gives off or takes up carbonate", (SLOW,)),
    ),
    "probe_step": (
        Cause("the meter was calibrated, cleaned or moved", (SUDDEN,)),
        Cause("the probe's junction was disturbed or dried", (SUDDEN,)),
    ),
    "probe_drift": (
        Cause("the probe ages or its junction fouls, and its readings creep", (SLOW,)),
        Cause("KH creeps: nitrification uses it up, or rock gives it off", (SLOW,)),
    ),
    "gas_empty": (
        Cause("the cylinder has run empty", (SLOW,)),
        Cause("the regulator has failed or the main valve was closed", (SUDDEN,)),
    ),
    "unsteady": (
        Cause("the needle valve does not hold: worn seat, dirt, or a regulator that hunts", ()),
        Cause(
            "the diffuser or its hose lets gas through unevenly: wet bubble counter, kink, blocked pores", ()
        ),
        Cause("the circulation past the diffuser comes and goes with the filter", ()),
    ),
}

CHECKS: dict[str, str] = {
    "injection_weaker": (
        "Count the bubbles: fewer than you set means valve or cylinder (then read the gauge); as many"
        " as before means the diffuser or a leak behind the counter."
    ),
    "injection_stronger": (
        "Count the bubbles, then read the cylinder's gauge: more bubbles with a falling gauge means "
        "the cylinder runs empty; the fish come first, so lower the count now."
    ),
    "exchange_faster": (
        "Look at the surface at night with the outlet as it is: is anything moving it that did not?"
    ),
    "exchange_slower": (
        "Measure how long the outlet takes to fill a jug, and look for a film: a slow jug is the "
        "filter, a film is the surface."
    ),
    "uptake_higher": ("Compare today's picture of the plants with one from before that day."),
    "uptake_lower": ("Look at the lamp first (all on, same hours?), then at the plants: trimmed, or ailing?"),
    "start_late": ("Stand by the tank when the gas should open and note when the first bubble comes."),
    "start_early": ("Look at the bubble counter before the gas should open, and read the timer's clock."),
    "start_missed": (
        "When the gas should be on, is there a bubble? If not: does the solenoid click when switched?"
    ),
    "stuck_open": (
        "Switch the solenoid off by hand and watch the counter for two minutes: bubbles mean the "
        "valve, none means the timer. Until then close the cylinder's main valve at night."
    ),
    "baseline_shift": (
        "Measure KH: changed means the water; the same means the meter, which then goes into a buffer."
    ),
    "probe_step": (
        "Put the probe into a fresh buffer: off means the meter; right means the water, so measure KH."
    ),
    "probe_drift": ("Put the probe into a fresh buffer: off means the probe; right means KH creeps."),
    "gas_empty": ("Read the cylinder's gauge, or weigh it."),
    "unsteady": (
        "Count the bubbles at the same hour three days running: counts that differ mean valve or "
        "regulator; equal counts mean diffuser or flow."
    ),
}


def judge_causes(one: Finding, figures: Figures, *, clocks_changed: bool) -> tuple[JudgedCause, ...]:
    """The causes of a finding, those with more evidence first; `clocks_changed` near the day, or not."""
    return judged_by(one.kind, _signs(one, figures, clocks_changed=clocks_changed), _SAID, _DENIED)


def judged_by(
    kind: str, shown: Mapping[str, bool], said: Mapping[str, str], denied: Mapping[str, str]
) -> tuple[JudgedCause, ...]:
    """The causes of a kind by the signs `shown` or not, those with more evidence first.

    `said` and `denied` are the sentences for a sign that is there and for one that is not; a sign that is not
    in `shown` could not be told.
    """
    judged = []
    for cause in CAUSES[kind]:
        speaks_for = tuple(said[sign] for sign in cause.signs if shown.get(sign) is True)
        speaks_against = tuple(denied[sign] for sign in cause.signs if shown.get(sign) is False)
        judged.append(JudgedCause(cause.text, speaks_for, speaks_against))
    return tuple(sorted(judged, key=lambda cause: len(cause.speaks_against) - len(cause.speaks_for)))


def _signs(one: Finding, figures: Figures, *, clocks_changed: bool) -> dict[str, bool]:
    """Which signs the log shows; a sign that cannot be told is left out."""
    signs = {CLOCK: clocks_changed}
    near = figures.jump_ph[max(one.day - 1, 0) : one.day + 1]
    signs[WATER] = bool(np.max(np.abs(near)) > 0.06) if near.size else False
    sudden = _is_sudden(one, figures)
    if sudden is not None:
        signs[SUDDEN], signs[SLOW] = sudden, not sudden
    return signs


def _is_sudden(one: Finding, figures: Figures) -> bool | None:
    """Whether the change came at a stroke; None where too few days lie about it."""
    if one.kind == "probe_drift":
        return False
    if one.kind.startswith(("start", "stuck", "probe", "baseline")):
        return True
    if one.kind == "gas_empty":
        return one.last_day - one.day < 1
    column = {"i": 0, "e": 1, "u": 2}[one.kind[0]]
    values = figures.table[:, column]
    before, first, after = (
        values[max(one.day - 5, 0) : one.day - 1],
        values[one.day : one.day + 2],
        values[one.day + 2 : one.day + 7],
    )  # fmt: skip
    if not (np.isfinite(before).any() and np.isfinite(first).any() and np.isfinite(after).any()):
        return None
    moved = float(np.nanmedian(after) - np.nanmedian(before))
    early = float(np.nanmedian(first) - np.nanmedian(before))
    return bool(abs(early) > 0.6 * abs(moved))
