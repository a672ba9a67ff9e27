"""The pH meter in two buffers: slope, offset, what they do to readings and drops, when it is due again."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
from dawnlevel.chemistry import MeterCalibration, calibrate_two_point, nernst_slope_mv_per_ph
from dawnlevel.chemistry import buffer_ph as standard_buffer_ph
from dawnlevel.chemistry.electrode import BUFFER_TEMPS_C, drop_error_ph
from dawnlevel.errors import BadInputError
from dawnlevel.tank import Buffer, BufferCheck

CALIBRATION_DAYS = 28
"""Days after which a meter is due in buffers again: four shop meters drifted by up to 0.34 pH in four weeks
(clinical abstract, 2021); the interval itself is common practice, no source."""

GOOD_SLOPE_PERCENT, GOOD_OFFSET_MV = (91.0, 105.0), 20.0
USABLE_SLOPE_PERCENT, USABLE_OFFSET_MV = (85.0, 105.0), 30.0
"""Makers' acceptance, the stricter and the usual one (second-hand)."""

_EXPORTED = (Buffer.PHTHALATE, Buffer.PHOSPHATE, Buffer.BORAX)


class Verdict(StrEnum):
    """What a buffer check says of the electrode."""

    GOOD = "good"
    WORN = "worn"
    UNFIT = "unfit"


@dataclass(frozen=True, slots=True)
class Judgement:
    """A meter as two buffers found it, before any adjustment.

    Attributes:
        calibration: offset and slope.
        slope_percent: share of the ideal slope [%].
        offset_mv: what a neutral buffer reads off [mV].
        verdict: good, worn or unfit by makers' limits.
        low_true_ph, high_true_ph: what the buffers have at that temperature [-].
    """

    calibration: MeterCalibration
    slope_percent: float
    offset_mv: float
    verdict: Verdict
    low_true_ph: float
    high_true_ph: float

    def reading_error_ph(self, shown_ph: float) -> float:
        """How much too high the meter shows at `shown_ph` [-]; within 0 to 14."""
        return shown_ph - float(self.calibration.correct(shown_ph))

    def drop_factor(self, drop_ph: float) -> float:
        """CO2 told by a true drop of `drop_ph` [-], over the true CO2: the slope's doing, no offset's.

        Below 1 the meter understates CO2. Source: CO2 over its level in air is 10 to the drop.
        """
        return float(10.0 ** drop_error_ph(drop_ph, self.calibration.slope))


def judge(check: BufferCheck) -> Judgement:
    """Slope and offset from what the meter showed in two buffers at their temperature.

    Raises BadInputError where the buffers are the same or the wrong way round, OutOfRangeError where the
    slope is none. Sources: NIST/IUPAC buffers against temperature, Nernst equation, makers' limits.
    """
    low, high = (float(standard_buffer_ph(kind, check.temp_c)) for kind in (check.low, check.high))
    found = calibrate_two_point(check.low_ph, low, check.high_ph, high)
    slope = 100.0 * found.slope
    offset = found.offset_ph * float(nernst_slope_mv_per_ph(check.temp_c))
    return Judgement(found, slope, offset, _verdict(slope, offset), low, high)


def _verdict(slope_percent: float, offset_mv: float) -> Verdict:
    def within(slopes: tuple[float, float], offset: float) -> bool:
        return slopes[0] <= slope_percent <= slopes[1] and abs(offset_mv) <= offset

    if within(GOOD_SLOPE_PERCENT, GOOD_OFFSET_MV):
        return Verdict.GOOD
    return Verdict.WORN if within(USABLE_SLOPE_PERCENT, USABLE_OFFSET_MV) else Verdict.UNFIT


def drift_ph_per_week(adjusted: BufferCheck, later: BufferCheck) -> float | None:
    """Drift of a neutral reading between an adjustment and the next check [pH a week]; None within a day.

    Raises as `judge`. Source: what the later check finds, over the time since.
    """
    weeks = (later.at - adjusted.at) / timedelta(weeks=1)
    return judge(later).calibration.offset_ph / weeks if weeks > 1.0 / 7.0 else None


def calibration_due(last: datetime) -> datetime:
    """When a meter last in buffers at `last` (aware) is due again."""
    return last + timedelta(days=CALIBRATION_DAYS)


def buffer_ph(kind: str, temp_c: npt.ArrayLike) -> Floats:
    """PH [-] of a standard buffer at a temperature; same shape as `temp_c`.

    Args:
        kind: `phthalate` (0.05 m), `phosphate` (0.025 + 0.025 m) or `borax` (0.01 m).
        temp_c: its temperature [degC], 0 to 40.

    NaN gives NaN. Raises BadInputError for another kind or no number, OutOfRangeError. Source: NIST/IUPAC
    table, straight lines between its 5-degree steps (from memory; within 0.011 of JIS Z 8802).
    """
    if kind not in _EXPORTED:
        raise BadInputError(
            f"{kind!r} is none of {', '.join(_EXPORTED)}.", where="buffer", cure="Name one of these buffers."
        )
    temp = checked("buffer", "temperature", temp_c, BUFFER_TEMPS_C[0], BUFFER_TEMPS_C[-1], "degC")
    return standard_buffer_ph(Buffer(kind), temp)
