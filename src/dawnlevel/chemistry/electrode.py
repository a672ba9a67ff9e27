"""The pH electrode: what buffers should read, and what a two-point calibration says of a meter."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry._arrays import LN10, Floats, checked, checked_temp_c, floats
from dawnlevel.chemistry.constants import FARADAY_C_MOL, GAS_CONSTANT_J_MOL_K
from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.tank.shelf import Buffer
from dawnlevel.units import KELVIN_AT_0_C

NEUTRAL_PH = 7.0  # zero potential of a glass electrode: common practice, no source
SLOPE_RANGE_PERCENT = (85.0, 105.0)  # makers' acceptance (second-hand)
OFFSET_LIMIT_MV = 30.0  # the same

BUFFER_TEMPS_C = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)
# NIST/IUPAC: potassium hydrogenphthalate 0.05 m, phosphate 0.025 + 0.025 m, borax 0.01 m. From memory, but
# within 0.011 of JIS Z 8802:2011 from 0 to 40 degC (two decimals; second-hand, an instrument maker) and, from
# 15 to 30, 0.003 of HJ 1147-2020 (second-hand); phthalate 4.005 at 25 degC checked (Hamer et al. 1946).
# Technical "7.00" phosphate: an instrument manual (second-hand).
BUFFER_PH_NIST = {
    Buffer.PHTHALATE: (4.000, 3.998, 3.997, 3.998, 4.000, 4.005, 4.011, 4.018, 4.027),
    Buffer.PHOSPHATE: (6.984, 6.951, 6.923, 6.900, 6.881, 6.865, 6.853, 6.844, 6.838),
    Buffer.BORAX: (9.464, 9.395, 9.332, 9.276, 9.225, 9.180, 9.139, 9.102, 9.068),
    Buffer.TECHNICAL_7: (7.12, 7.09, 7.06, 7.04, 7.02, 7.00, 6.99, 6.99, 6.98),
}


def buffer_ph(buffer: Buffer, temp_c: npt.ArrayLike) -> Floats:
    """PH [-] of a standard `buffer` at `temp_c` [degC], 0 to 40; same shape as `temp_c`.

    Straight lines between the table's temperatures. Raises OutOfRangeError; NaN gives NaN. Source: NIST/IUPAC
    table (from memory, see `BUFFER_PH_NIST`).
    """
    temp = checked("temperature of the buffer", temp_c, BUFFER_TEMPS_C[0], BUFFER_TEMPS_C[-1], "degC")
    return np.asarray(np.interp(temp, BUFFER_TEMPS_C, BUFFER_PH_NIST[buffer]), dtype=np.float64)[()]


def phthalate_ph_hetzer_1977(temp_c: npt.ArrayLike) -> Floats:
    """PH [-] of 0.05 m potassium hydrogenphthalate at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Hetzer et al. 1977 (equation checked against the source's
    abstract).
    """
    t = checked_temp_c(temp_c) + KELVIN_AT_0_C
    return 2073.44 / t - 13.3270 + t * (0.045199 - 3.4846e-5 * t)


def nernst_slope_mv_per_ph(temp_c: npt.ArrayLike) -> Floats:
    """Ideal electrode slope R T ln 10 / F [mV per pH] at `temp_c` [degC], 0 to 40; same shape.

    Raises OutOfRangeError; NaN gives NaN. Source: Nernst equation.
    """
    kelvin = checked_temp_c(temp_c) + KELVIN_AT_0_C
    return (1000.0 * LN10 * GAS_CONSTANT_J_MOL_K / FARADAY_C_MOL) * kelvin


@dataclass(frozen=True, slots=True)
class MeterCalibration:
    """What a meter showed in buffers, as a straight line: shown = 7 + offset + slope (true - 7).

    Attributes:
        offset_ph: what a neutral buffer reads too high [-].
        slope: change shown per change of true pH [-]; 1 is ideal, a worn electrode has less.
    """

    offset_ph: float
    slope: float

    def correct(self, shown_ph: npt.ArrayLike) -> Floats:
        """True pH [-] of `shown_ph` [-], 0 to 14; same shape. Raises OutOfRangeError; NaN gives NaN."""
        shown = checked("pH", shown_ph, 0.0, 14.0, "")
        return NEUTRAL_PH + (shown - NEUTRAL_PH - self.offset_ph) / self.slope

    @property
    def acceptable(self) -> bool:
        """Whether slope and offset lie within makers' limits, 85 to 105 % and 30 mV (second-hand)."""
        low, high = SLOPE_RANGE_PERCENT
        offset_mv = abs(self.offset_ph) * float(nernst_slope_mv_per_ph(25.0))
        return low <= 100.0 * self.slope <= high and offset_mv <= OFFSET_LIMIT_MV


def calibrate_two_point(
    shown_low_ph: float, true_low_ph: float, shown_high_ph: float, true_high_ph: float
) -> MeterCalibration:
    """Offset and slope of a meter from what it showed in two buffers.

    Args:
        shown_low_ph: what the meter shows in the lower buffer [-], 0 to 14.
        true_low_ph: pH of the lower buffer at its temperature [-], 0 to 14.
        shown_high_ph: what the meter shows in the higher buffer [-], 0 to 14.
        true_high_ph: pH of the higher buffer at its temperature [-], 0 to 14.

    Raises OutOfRangeError where a value or the slope (0.5 to 1.5) is outside its range, BadInputError where
    the buffers are less than 1 pH apart. Source: straight line through two points.
    """
    for name, value in (
        ("pH shown in the lower buffer", shown_low_ph),
        ("pH shown in the higher buffer", shown_high_ph),
        ("pH of the lower buffer", true_low_ph),
        ("pH of the higher buffer", true_high_ph),
    ):
        if not 0.0 <= value <= 14.0:  # also refuses NaN: a calibration needs both readings
            raise OutOfRangeError(name, value, 0.0, 14.0, "")
    apart = true_high_ph - true_low_ph
    if apart < 1.0:
        raise BadInputError(
            f"The two buffers are {apart:.2f} pH apart, too close to tell the slope.",
            where="meter calibration",
            cure="Use two buffers at least 1 pH apart, the lower first.",
        )
    slope = (shown_high_ph - shown_low_ph) / apart
    if not 0.5 <= slope <= 1.5:
        raise OutOfRangeError("slope of the meter", slope, 0.5, 1.5, "", where="meter calibration")
    at_neutral = shown_low_ph + slope * (NEUTRAL_PH - true_low_ph)
    return MeterCalibration(offset_ph=at_neutral - NEUTRAL_PH, slope=slope)


def calibrate_two_point_mv(
    low_mv: float, true_low_ph: float, high_mv: float, true_high_ph: float, temp_c: float
) -> MeterCalibration:
    """Offset and slope of an electrode from its potentials [mV] in two buffers at `temp_c` [degC], 0 to 40.

    Args:
        low_mv: potential in the lower buffer [mV], -600 to 600; positive in acid.
        true_low_ph: pH of the lower buffer at that temperature [-].
        high_mv: potential in the higher buffer [mV], -600 to 600.
        true_high_ph: pH of the higher buffer at that temperature [-].
        temp_c: temperature of both [degC].

    Raises OutOfRangeError and BadInputError as `calibrate_two_point`. Source: Nernst equation.
    """
    per_ph = nernst_slope_mv_per_ph(temp_c)
    shown = [
        float(NEUTRAL_PH - checked("potential", mv, -600.0, 600.0, "mV") / per_ph) for mv in (low_mv, high_mv)
    ]
    return calibrate_two_point(shown[0], true_low_ph, shown[1], true_high_ph)


def drop_error_ph(drop_ph: npt.ArrayLike, slope: npt.ArrayLike) -> Floats:
    """How much a pH drop `drop_ph` [-] is mis-stated by a meter of `slope` [-]; its offset cancels.

    Shapes broadcast; nothing checked; NaN gives NaN. Source: straight line.
    """
    return floats(drop_ph) * (floats(slope) - 1.0)
