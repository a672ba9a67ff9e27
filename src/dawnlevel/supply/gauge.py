"""What the gauge on a cylinder means at a temperature: flat with liquid inside, falling once it is gone."""

from dataclasses import dataclass
from enum import StrEnum

from dawnlevel.supply.cylinder import GAUGE_SD_BAR, USUAL_FILL_KG_L
from dawnlevel.supply.pressure import (
    ATM_BAR,
    gas_density_kg_m3,
    last_liquid_share,
)
from dawnlevel.supply.saturation import CRITICAL_TEMP_C, saturation_pressure_bar

_DOUBT_BAR = 2.0 * GAUGE_SD_BAR


class GaugeSays(StrEnum):
    """What a reading means."""

    LIQUID = "liquid"
    GAS_ONLY = "gas_only"
    ABOVE = "above"
    NO_LIQUID_LEVEL = "no_liquid_level"


@dataclass(frozen=True, slots=True)
class GaugeMeaning:
    """A gauge reading in plain figures.

    Attributes:
        says: liquid inside; gas only; above what liquid can show; too warm for a liquid level.
        flat_bar: what the gauge shows while there is liquid at that temperature [bar]; None above 30.98 degC.
        falls_from_share: share of the charge left when it begins to fall [-]; None above 30.98 degC.
        left_share: share of the charge left, where the reading tells [-]: with gas only.
    """

    says: GaugeSays
    flat_bar: float | None
    falls_from_share: float | None
    left_share: float | None


def read_gauge(gauge_bar: float, temp_c: float, charge_kg_per_l: float = USUAL_FILL_KG_L) -> GaugeMeaning:
    """What `gauge_bar` [bar above the air] at `temp_c` [degC] means for a charge over capacity [kg/L].

    A reading within 6 bar of the liquid's pressure (two sd of a small gauge) counts as flat. Raises
    OutOfRangeError. Sources: Span & Wagner 1996 and 2003.
    """
    if temp_c >= CRITICAL_TEMP_C:
        return GaugeMeaning(GaugeSays.NO_LIQUID_LEVEL, None, None, None)
    flat = float(saturation_pressure_bar(temp_c)) - ATM_BAR
    falls_from = float(last_liquid_share(temp_c, charge_kg_per_l))
    left = None
    says = GaugeSays.ABOVE if gauge_bar > flat + _DOUBT_BAR else GaugeSays.LIQUID
    if gauge_bar < flat - _DOUBT_BAR:
        says = GaugeSays.GAS_ONLY
        left = float(gas_density_kg_m3(temp_c, gauge_bar + ATM_BAR)) / (1000.0 * charge_kg_per_l)
    return GaugeMeaning(says, flat, falls_from, left)
