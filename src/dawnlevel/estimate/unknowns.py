"""What is unknown of a tank, in physical units, for many draws at once."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry.coefficients import CarbonateCoefficients

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Unknowns:
    """Physical values of B draws; every array has shape (B,) but the last four: (settings|days|scores, B).

    `earlier` holds standard scores of meters and solutions before the latest adjustment or filling.
    """

    values: dict[str, Array]
    water: CarbonateCoefficients
    air_co2_mg_l: Array
    setting_log: Array
    drift_log: Array
    day_ph: Array
    earlier: Array

    def __getitem__(self, name: str) -> Array:
        """Global parameter by machine name, shape (B,)."""
        return self.values[name]
