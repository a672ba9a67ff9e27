"""What the balance says of oxygen where fish are at the surface, and what gas off and air on bring."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.desk.animals.oxygen import EMERGENCY_MG_L
from dawnlevel.desk.casebook import SEED, Case
from dawnlevel.desk.wording import percent
from dawnlevel.estimate.posterior import Interval, interval
from dawnlevel.plan.daynight import DAY_H, co2_ahead, moved, oxygen_ahead, script_ahead
from dawnlevel.plan.faults import AIR_PUMP_FACTOR
from dawnlevel.plan.oxygen_told import MISSED_SD_MG_L, READ_SD_MG_L, oxygen_told

Array = npt.NDArray[np.float64]

_EASES_H = 1.0


@dataclass(frozen=True, slots=True)
class OxygenNow:
    """Oxygen of an opened case, now.

    Attributes:
        chance_low: chance that it is below `EMERGENCY_MG_L`.
        evidence: what the balance says, in sentences.
        relief: what closing the gas and aerating brings, in a sentence.
        told_by_a_reading: share of the doubt whether it is low that one reading removes.
    """

    chance_low: float
    evidence: str
    relief: str
    told_by_a_reading: float


def oxygen_now(case: Case) -> OxygenNow:
    """Oxygen by the tank's balance and its readings."""
    rng = np.random.default_rng(SEED)
    told = oxygen_told(case.found.posterior, case.records, case.found.present_bps, rng)
    script, _ = script_ahead(case.tank, case.records, case.now)
    level = co2_ahead(told.water, script)
    oxygen = oxygen_ahead(told.water, script, level)
    now, before = oxygen[script.edge(DAY_H)], oxygen[script.edge(DAY_H) : script.edge(2 * DAY_H)].min(axis=0)
    chance = float((now < EMERGENCY_MG_L).mean())
    count = len(told.counted)
    rests = f"{count} reading{'s' * (count > 1)} of oxygen" if count else "no reading of oxygen yet"
    evidence = (
        f"By the balance of surface, plants and animals, and {rests}: now {_mg_l(interval(now))}, at the "
        f"lowest of the day {_mg_l(interval(before))}; below {EMERGENCY_MG_L:g} mg/L now: {percent(chance)}."
    )
    eased = moved(script, AIR_PUMP_FACTOR, 0.0)
    level_eased = co2_ahead(told.water, eased)
    oxygen_eased = oxygen_ahead(told.water, eased, level_eased, now)
    hour = eased.edge(_EASES_H)
    relief = (
        f"With the gas closed and {AIR_PUMP_FACTOR:g} times the movement at the surface, CO2 goes from "
        f"{np.median(level[0]):.0f} to {_mg_l(interval(level_eased[hour]), 0)} in an hour, oxygen to "
        f"{_mg_l(interval(oxygen_eased[hour]))}."
    )
    return OxygenNow(chance, evidence, relief, _told(now, rng))


def _told(oxygen_mg_l: Array, rng: np.random.Generator) -> float:
    """Share of the doubt whether oxygen is low that a reading is expected to remove; draws (n,)."""
    low = oxygen_mg_l < EMERGENCY_MG_L
    doubt = float(low.mean() * (1.0 - low.mean()))
    if doubt <= 0.0:
        return 0.0
    sd = float(np.hypot(READ_SD_MG_L, MISSED_SD_MG_L))
    read = oxygen_mg_l + sd * rng.standard_normal(oxygen_mg_l.size)
    weights = np.exp(-0.5 * ((read[:, None] - oxygen_mg_l) / sd) ** 2)
    after = weights @ low / weights.sum(axis=1)
    return max(0.0, 1.0 - float((after * (1.0 - after)).mean()) / doubt)


def _mg_l(value: Interval, digits: int = 1) -> str:
    ends = f"9 in 10: {value.low_90:.{digits}f} to {value.high_90:.{digits}f}"
    return f"{value.median:.{digits}f} mg/L ({ends})"
