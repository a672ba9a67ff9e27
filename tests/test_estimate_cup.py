"""The estimator's quick cup against the accurate one of balance.cup, itself checked on a printed table."""

import numpy as np
import pytest

from dawnlevel.balance.cup import CUP_DEPTH_CM, cup_co2_mg_l
from dawnlevel.chemistry.carbonate import ph_from_co2
from dawnlevel.chemistry.coefficients import coefficients_unchecked
from dawnlevel.estimate.evidence import cup_level
from dawnlevel.units import MEQ_L_PER_DKH

AIR_MG_L = 0.9


@pytest.mark.parametrize("kh_dkh", [1.0, 4.0, 12.0])
@pytest.mark.parametrize("velocity_cm_h", [0.5, 1.0, 5.0, 20.0])
def test_the_quick_cup_is_within_0_03_ph_of_the_accurate_one(kh_dkh: float, velocity_cm_h: float) -> None:
    alkalinity = np.asarray(kh_dkh * MEQ_L_PER_DKH)
    water = coefficients_unchecked(np.asarray(25.0), alkalinity * 1e-3)
    rate = np.asarray(velocity_cm_h / CUP_DEPTH_CM)
    for hours in (1.0, 12.0, 36.0):
        for start in (3.0, 30.0):
            quick = cup_level(
                np.asarray(start), np.asarray(AIR_MG_L), rate, np.asarray(hours), alkalinity, water
            )
            accurate = cup_co2_mg_l(start, AIR_MG_L, velocity_cm_h, CUP_DEPTH_CM, hours, alkalinity, 25.0)
            apart = ph_from_co2(quick, alkalinity, 25.0) - ph_from_co2(accurate, alkalinity, 25.0)
            assert abs(float(apart)) < 0.03
