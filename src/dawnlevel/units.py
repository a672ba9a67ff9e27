"""Conversions between the units of the aquarium trade and those of chemistry.

Every function takes a float or a numpy array and returns the same kind. All of them are pure factors, so
they raise no error and pass NaN through. Sources:

- German degree: 1 dH is 10 mg/L of calcium oxide (chemistry lexicon: 17.8 mg/L CaCO3, 0.357 meq/L;
  checked against the source's table).
- Molar masses from standard atomic weights (from memory, not checked).
- Inch, pound: exact by the international yard and pound agreement of 1959. US gallon: 231 cubic inches.
- Pound-force per square inch: from pound, inch and the standard acceleration 9.80665 m/s2 (exact).
- Standard atmosphere: 1013.25 hPa, exact by definition (10th CGPM, 1954). All three from memory, not checked.
"""

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:  # keeps numpy out of the command line's start
    import numpy as np
    import numpy.typing as npt

Quantity = TypeVar("Quantity", float, "npt.NDArray[np.float64]")

CAO_G_MOL = 56.0774
CACO3_G_MOL = 100.0869
NAHCO3_G_MOL = 84.0066
O2_G_MOL = 31.9988

CAO_MG_L_PER_DEGREE = 10.0
MMOL_L_PER_DEGREE = CAO_MG_L_PER_DEGREE / CAO_G_MOL
MEQ_L_PER_DKH = 2.0 * MMOL_L_PER_DEGREE
MG_CACO3_PER_MEQ = CACO3_G_MOL / 2.0
MG_L_CACO3_PER_DKH = MEQ_L_PER_DKH * MG_CACO3_PER_MEQ
MG_NAHCO3_PER_MEQ = NAHCO3_G_MOL

CM_PER_INCH = 2.54
KG_PER_LB = 0.45359237
M_PER_FT = 12.0 * CM_PER_INCH / 100.0
CUBIC_INCH_PER_US_GALLON = 231.0
L_PER_US_GALLON = CUBIC_INCH_PER_US_GALLON * CM_PER_INCH**3 / 1000.0
HPA_PER_ATM = 1013.25
BAR_PER_PSI = KG_PER_LB * 9.80665 / (CM_PER_INCH / 100.0) ** 2 * 1e-5
KELVIN_AT_0_C = 273.15


def dkh_to_meq_l(kh_dkh: Quantity) -> Quantity:
    """Alkalinity [meq/L] of a carbonate hardness [dKH]; 1 dKH is 10 mg/L CaO."""
    return kh_dkh * MEQ_L_PER_DKH


def meq_l_to_dkh(alkalinity_meq_l: Quantity) -> Quantity:
    """Carbonate hardness [dKH] of an alkalinity [meq/L]."""
    return alkalinity_meq_l / MEQ_L_PER_DKH


def dkh_to_mg_l_caco3(kh_dkh: Quantity) -> Quantity:
    """Alkalinity [mg/L as CaCO3] of a carbonate hardness [dKH]."""
    return kh_dkh * MG_L_CACO3_PER_DKH


def mg_l_caco3_to_dkh(alkalinity_mg_l_caco3: Quantity) -> Quantity:
    """Carbonate hardness [dKH] of an alkalinity [mg/L as CaCO3]."""
    return alkalinity_mg_l_caco3 / MG_L_CACO3_PER_DKH


def meq_l_to_mg_l_caco3(alkalinity_meq_l: Quantity) -> Quantity:
    """Alkalinity [mg/L as CaCO3] of an alkalinity [meq/L]."""
    return alkalinity_meq_l * MG_CACO3_PER_MEQ


def mg_l_caco3_to_meq_l(alkalinity_mg_l_caco3: Quantity) -> Quantity:
    """Alkalinity [meq/L] of an alkalinity [mg/L as CaCO3]."""
    return alkalinity_mg_l_caco3 / MG_CACO3_PER_MEQ


def dkh_to_mg_l_nahco3(kh_dkh: Quantity) -> Quantity:
    """Sodium hydrogencarbonate [mg/L] that makes pure water of a carbonate hardness [dKH]."""
    return kh_dkh * (MEQ_L_PER_DKH * MG_NAHCO3_PER_MEQ)


def dgh_to_mmol_l(gh_dgh: Quantity) -> Quantity:
    """Calcium plus magnesium [mmol/L] of a general hardness [dGH]; 1 dGH is 10 mg/L CaO."""
    return gh_dgh * MMOL_L_PER_DEGREE


def mmol_l_to_dgh(hardness_mmol_l: Quantity) -> Quantity:
    """General hardness [dGH] of calcium plus magnesium [mmol/L]."""
    return hardness_mmol_l / MMOL_L_PER_DEGREE


def fahrenheit_to_celsius(temp_f: Quantity) -> Quantity:
    """Temperature [degC] of a temperature [degF]."""
    return (temp_f - 32.0) / 1.8


def celsius_to_fahrenheit(temp_c: Quantity) -> Quantity:
    """Temperature [degF] of a temperature [degC]."""
    return temp_c * 1.8 + 32.0


def us_gallon_to_l(volume_us_gallon: Quantity) -> Quantity:
    """Volume [L] of a volume [US gallon], 231 cubic inches each."""
    return volume_us_gallon * L_PER_US_GALLON


def l_to_us_gallon(volume_l: Quantity) -> Quantity:
    """Volume [US gallon] of a volume [L]."""
    return volume_l / L_PER_US_GALLON


def inch_to_cm(length_inch: Quantity) -> Quantity:
    """Length [cm] of a length [inch]."""
    return length_inch * CM_PER_INCH


def cm_to_inch(length_cm: Quantity) -> Quantity:
    """Length [inch] of a length [cm]."""
    return length_cm / CM_PER_INCH


def cubic_ft_to_m3(volume_cubic_ft: Quantity) -> Quantity:
    """Volume [m3] of a volume [cubic foot], 12 inches each way."""
    return volume_cubic_ft * M_PER_FT**3


def square_ft_to_m2(area_square_ft: Quantity) -> Quantity:
    """Area [m2] of an area [square foot], 12 inches each way."""
    return area_square_ft * M_PER_FT**2


def lb_to_kg(mass_lb: Quantity) -> Quantity:
    """Mass [kg] of a mass [lb, avoirdupois]."""
    return mass_lb * KG_PER_LB


def kg_to_lb(mass_kg: Quantity) -> Quantity:
    """Mass [lb, avoirdupois] of a mass [kg]."""
    return mass_kg / KG_PER_LB


def psi_to_bar(pressure_psi: Quantity) -> Quantity:
    """Pressure [bar] of a pressure [psi]."""
    return pressure_psi * BAR_PER_PSI


def hpa_to_atm(pressure_hpa: Quantity) -> Quantity:
    """Pressure [atm] of a pressure [hPa]."""
    return pressure_hpa / HPA_PER_ATM


def atm_to_hpa(pressure_atm: Quantity) -> Quantity:
    """Pressure [hPa] of a pressure [atm]."""
    return pressure_atm * HPA_PER_ATM
