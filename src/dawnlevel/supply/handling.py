"""Rules for handling CO2 cylinders and when they are due for retest, each with its source and status.

They inform; the gas supplier, the stamp on the shoulder and local codes decide.
"""

from dataclasses import dataclass
from datetime import date

from dawnlevel.tank import CylinderStandard

RETEST_YEARS: dict[CylinderStandard, int] = {
    CylinderStandard.DOT_3AL: 5,
    CylinderStandard.DOT_3AA: 5,
    CylinderStandard.FOREIGN_IN_US: 5,
    CylinderStandard.ADR: 10,
}
"""Years between retests for CO2 service. 49 CFR 180.209: 3A/3AA 5 (10 or 12 in listed cases, not taken here);
3AL 5, since note 4 excludes CO2 from the 12-year allowance; foreign cylinders in the US 5. ADR P200, UN 1013:
10, from memory, not checked."""

RETEST_SOURCE: dict[CylinderStandard, str] = {
    CylinderStandard.DOT_3AL: "cfr_180_209",
    CylinderStandard.DOT_3AA: "cfr_180_209",
    CylinderStandard.FOREIGN_IN_US: "cfr_180_209",
    CylinderStandard.ADR: "adr_p200",
}

BURST_DISC_BAR = (183.0, 207.0)
"""Pressure [bar] at which a relief disc opens (2650 to 3000 psi, CGA S-1.1, from memory). It does
not close again and vents the whole cylinder."""

STORE_BELOW_C = 52.0
"""Temperature [degC] below which cylinders are kept: CGA, from memory; a labour-safety handbook has 54."""

MAX_FILL_KG_L = 0.68
"""Largest charge over water capacity [kg/L]: 49 CFR 173.304a, 68 %."""


@dataclass(frozen=True, slots=True)
class HandlingRule:
    """One rule in plain words, and the key of its source."""

    text: str
    source: str


HANDLING = (
    HandlingRule("Keep it upright: lying down, liquid reaches the regulator.", "cylinder_storage"),
    HandlingRule(
        "Secure it so that it cannot fall; cap on and regulator off when it is moved.", "cylinder_storage"
    ),
    HandlingRule("Keep it in a ventilated room, not in a locker or cupboard.", "cylinder_storage"),
    HandlingRule(f"Keep it away from heat, below {STORE_BELOW_C:.0f} °C.", "cylinder_heat"),
    HandlingRule(
        "Full means 68 % of the water capacity by weight; the filler checks it on a scale.", "cfr_173_304a"
    ),
    HandlingRule(
        "A relief disc opens at about 183 to 207 bar, does not close again and vents the whole cylinder.",
        "cga_s_1_1",
    ),
    HandlingRule(
        "Aluminium cylinders (DOT 3AL) in CO2 service are retested every 5 years; "
        "the 12-year allowance leaves CO2 out.",
        "cfr_180_209",
    ),
    HandlingRule("Cylinders from abroad are retested every 5 years in the US.", "cfr_180_209"),
    HandlingRule("Under ADR, CO2 cylinders are retested every 10 years.", "adr_p200"),
    HandlingRule("Capsules up to 25 g and 0.75 g/cm3 are exempt from ADR.", "adr_sp_584"),
)


def retest_due(standard: CylinderStandard, year: int, month: int) -> date | None:
    """The first day of the month in which a cylinder tested in `year` and `month` is due again.

    None where the standard is not known. Source: `RETEST_YEARS`.
    """
    years = RETEST_YEARS.get(standard)
    return None if years is None else date(year + years, month, 1)
