"""When no schedule reaches the band: what stands in the way, and what would help."""

import numpy as np

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.plan.day import DayPlan
from dawnlevel.plan.goal import CEILING_RISK, Goal

LIKELY = 0.5
"""A plan that is likelier to fail than to work must say so."""

SLOW_EXCHANGE_PER_H, FAST_EXCHANGE_PER_H = 0.08, 0.35
"""Below the first a level that has risen fast cannot be held by one needle; above the second gas is lost
about as fast as an ordinary diffuser gives it (computed from the balance at 30 mg/L)."""


def out_of_reach(posterior: Posterior, goal: Goal, plan: DayPlan) -> tuple[str, tuple[str, ...]]:
    """Why the best plan will probably miss, and what would help; empty where it will do."""
    if plan.held >= LIKELY:
        return "", ()
    unknowns = posterior.unknowns
    kla = float(np.median(unknowns["kla_per_h"]))
    told = float(np.log(unknowns["gain_mg_l_h_per_bps"]).std())
    if plan.breach > CEILING_RISK:
        return (
            f"The band lies too near the ceiling of {goal.ceiling_mg_l:g} mg/L for what is known.",
            (
                "Narrow the level down: see `dawnlevel explain` for the measurement that tells most.",
                "Or aim lower, for example with a band 0.1 pH below this one.",
            ),
        )
    if told > 0.2:
        return (
            "It is not known yet how much CO2 a bubble brings to this tank: this is a first acquaintance.",
            ("Read the ramp as planned; the advice after each reading corrects the rate.",),
        )
    if kla < SLOW_EXCHANGE_PER_H:
        helps: tuple[str, ...] = (
            "More surface movement: gas exchange is slow, so what rises fast cannot be held level.",
            "An earlier gas start at a lower rate.",
            "A timer with more windows a day: a boost before the lights, then pulses at the same needle.",
        )
        return (
            f"Gas exchange is slow (about {kla:.2f} per hour): one needle cannot both rise and hold.",
            helps,
        )
    if kla > FAST_EXCHANGE_PER_H:
        helps = (
            "Less surface movement, as far as night oxygen allows.",
            "A finer diffuser or a reactor, so that more of each bubble dissolves.",
        )
        return (f"Gas exchange is fast (about {kla:.2f} per hour): the gas is lost as it comes.", helps)
    return (
        "No start, rate and stop within the allowed hours both hit the band and hold it.",
        (
            "Allow an earlier gas start.",
            "A finer diffuser.",
            "A wider band, or a timer with more windows a day.",
        ),
    )
