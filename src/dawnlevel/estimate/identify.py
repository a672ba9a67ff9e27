"""What the records have told, and what they cannot tell apart yet."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from dawnlevel.estimate.posterior import Interval, Posterior, interval

TOLD = 0.5
"""An unknown counts as told when the records have removed half its prior variance."""

TANGLED = 0.75
"""Two unknowns count as not told apart when their draws correlate by more than this."""


@dataclass(frozen=True, slots=True)
class Told:
    """One unknown before and after: prior median, posterior interval, share of prior variance removed."""

    name: str
    label: str
    prior_median: float
    now: Interval
    removed: float
    source: str


@dataclass(frozen=True, slots=True)
class Tangle:
    """Two unknowns that the records cannot tell apart, and the reading that would."""

    first: str
    second: str
    correlation: float
    cure: str


_GAS_OFF = "read pH as the gas closes and again two hours later: with no gas only the surface acts"
_AT_REST = "read pH twice after lights-off with the gas closed, two hours apart: plants rest then"
_DARK_THEN_LIT = "read pH in the dark ramp and an hour after lights-on at the same rate"
_BUFFER = "check the meter in fresh buffer"

_CURES = {
    frozenset({"kla_per_h", "uptake_mg_l_h"}): _AT_REST,
    frozenset({"kla_per_h", "gain_mg_l_h_per_bps"}): _GAS_OFF,
    frozenset({"gain_mg_l_h_per_bps", "uptake_mg_l_h"}): _DARK_THEN_LIT,
    frozenset({"alkalinity_meq_l", "meter_offset_ph"}): _BUFFER + ", or titrate KH with a larger sample",
    frozenset({"alkalinity_meq_l", "kh_kit_log"}): "titrate a 4 dKH reference solution with the same kit",
    frozenset({"alkalinity_meq_l", "other_alkalinity_meq_l"}): "measure phosphate; judge tannins by colour",
    frozenset({"alkalinity_meq_l", "gain_mg_l_h_per_bps"}): "titrate KH with a larger sample",
    frozenset({"room_co2_ppm", "cup_velocity_log"}): "aerate the cup for an hour beside an open window",
    frozenset({"room_co2_ppm", "meter_offset_ph"}): _BUFFER,
    frozenset({"cell_solution_log", "cell_eye_ph"}): "fill the cell with fresh 4 dKH solution and compare",
}


def told(posterior: Posterior) -> list[Told]:
    """Every global unknown before and after the records."""
    return [
        Told(
            parameter.name,
            parameter.label,
            parameter.middle,
            interval(posterior.unknowns[parameter.name]),
            float(np.clip(1.0 - z.var(), 0.0, 1.0)),
            parameter.source,
        )
        for parameter, z in zip(posterior.model.parameters, posterior.draws.z, strict=False)
    ]


def tangles(posterior: Posterior) -> list[Tangle]:
    """Pairs that move together in the draws, the worst first."""
    names = [parameter.name for parameter in posterior.model.parameters]
    correlation = np.atleast_2d(np.corrcoef(posterior.draws.z[: len(names)]))
    found = [
        Tangle(names[i], names[j], float(correlation[i, j]), _CURES.get(frozenset({names[i], names[j]}), ""))
        for i, j in combinations(range(len(names)), 2)
        if abs(correlation[i, j]) > TANGLED
    ]
    return sorted(found, key=lambda tangle: -abs(tangle.correlation))
