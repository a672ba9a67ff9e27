"""What the room's air holds in the water once all extra CO2 has left."""

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import Floats, checked, checked_temp_c, floats, in_blocks
from dawnlevel.chemistry.carbonate import ph_from_co2
from dawnlevel.chemistry.coefficients import MOL_PER_MG_CO2
from dawnlevel.chemistry.constants import kh_plummer_busenberg_1982
from dawnlevel.chemistry.water import density_kg_l_kell_1975, vapour_pressure_atm_weiss_price_1980

ROOM_CO2_RANGE_PPM = (1.0, 50_000.0)
PRESSURE_RANGE_ATM = (0.4, 1.2)


def air_co2_unchecked(temp_c: Floats, room_co2_ppm: Floats, pressure_atm: Floats) -> Floats:
    """As `air_co2_mg_l` [mg/L] from [degC], [ppm] and [atm]; shapes broadcast, nothing checked."""
    dry_atm = pressure_atm - vapour_pressure_atm_weiss_price_1980(temp_c)
    per_atm = kh_plummer_busenberg_1982(temp_c) * density_kg_l_kell_1975(temp_c) * (1e-6 / MOL_PER_MG_CO2)
    return per_atm * dry_atm * room_co2_ppm


def air_co2_mg_l(
    temp_c: npt.ArrayLike, room_co2_ppm: npt.ArrayLike, pressure_atm: npt.ArrayLike = 1.0
) -> Floats:
    """CO2 [mg/L] of water in equilibrium with vapour-saturated room air.

    Args:
        temp_c: water temperature [degC], 0 to 40.
        room_co2_ppm: CO2 in dry air [ppm by volume], 1 to 50000.
        pressure_atm: air pressure [atm], 0.4 to 1.2.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Sources: Plummer & Busenberg 1982 (solubility),
    Weiss & Price 1980 (vapour), Kell 1975 (density); as an ideal gas, which over-reads 0.3 %.
    """
    ppm = checked("room CO2", room_co2_ppm, *ROOM_CO2_RANGE_PPM, "ppm")
    pressure = checked("air pressure", pressure_atm, *PRESSURE_RANGE_ATM, "atm")
    return in_blocks(air_co2_unchecked, checked_temp_c(temp_c), ppm, pressure)


def pressure_atm_at_altitude(altitude_m: npt.ArrayLike) -> Floats:
    """Mean air pressure [atm] at `altitude_m` [m above sea level], -430 to 6000; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: ICAO standard atmosphere, as a formula from memory;
    weather moves it by 2 %.
    """
    altitude = checked("altitude", altitude_m, -430.0, 6000.0, "m")
    return np.power(1.0 - 2.25577e-5 * altitude, 5.25588)


def degassed_ph(
    alkalinity_meq_l: npt.ArrayLike,
    temp_c: npt.ArrayLike,
    room_co2_ppm: npt.ArrayLike,
    pressure_atm: npt.ArrayLike = 1.0,
    ionic_strength_mol_l: npt.ArrayLike | None = None,
) -> Floats:
    """PH [-] of tank water that has come to rest with the room's air: the true baseline.

    Args:
        alkalinity_meq_l: alkalinity [meq/L], 0.01 to 20.
        temp_c: temperature [degC], 0 to 40.
        room_co2_ppm: CO2 in dry air [ppm by volume], 1 to 50000.
        pressure_atm: air pressure [atm], 0.4 to 1.2.
        ionic_strength_mol_l: ionic strength [mol/L], 0 to 0.5; None takes the alkalinity.

    Shapes broadcast; NaN gives NaN. Raises OutOfRangeError. Sources: see `air_co2_mg_l`, `ph_from_co2`.
    """
    co2_mg_l = air_co2_mg_l(temp_c, room_co2_ppm, pressure_atm)
    return ph_from_co2(floats(co2_mg_l), alkalinity_meq_l, temp_c, ionic_strength_mol_l)
