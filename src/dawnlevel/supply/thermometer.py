"""What a thermometer that is off does to CO2, to the baseline, to a buffer and to the gauge."""

from dataclasses import dataclass

from dawnlevel.arguments import checked
from dawnlevel.chemistry import air_co2_mg_l, buffer_ph, co2_from_ph
from dawnlevel.supply.saturation import saturation_pressure_bar
from dawnlevel.tank import Buffer
from dawnlevel.units import dkh_to_meq_l

THERMOMETER_C = (("stick-on strip", 1.5), ("digital", 0.75), ("glass", 0.5))
"""How far thermometers may be off [degC]; from memory, not checked."""


@dataclass(frozen=True, slots=True)
class TemperatureEffect:
    """What one degree too much does.

    Attributes:
        co2_percent: CO2 from pH and KH [%].
        air_co2_percent: level at equilibrium with air, and so CO2 from a drop [%].
        buffer_ph: pH of the phosphate buffer [-].
        gauge_bar: pressure above liquid [bar].
    """

    co2_percent: float
    air_co2_percent: float
    buffer_ph: float
    gauge_bar: float


def one_degree(temp_c: float, kh_dkh: float = 4.0, ph: float = 6.8) -> TemperatureEffect:
    """What reading one degree too high does around `temp_c` [degC], 1 to 30, at `kh_dkh` [dKH] and `ph` [-].

    Raises OutOfRangeError. Source: central differences of the equilibria, buffers and vapour pressure used
    everywhere else here.
    """
    checked("thermometer", "temperature", temp_c, 1.0, 30.0, "degC")
    low, high = temp_c - 0.5, temp_c + 0.5
    alkalinity = dkh_to_meq_l(kh_dkh)
    co2 = [float(co2_from_ph(ph, alkalinity, at)) for at in (low, high)]
    air = [float(air_co2_mg_l(at, 420.0)) for at in (low, high)]
    buffer = [float(buffer_ph(Buffer.PHOSPHATE, at)) for at in (low, high)]
    gauge = [float(saturation_pressure_bar(at)) for at in (low, high)]
    return TemperatureEffect(
        co2_percent=100.0 * (co2[1] / co2[0] - 1.0),
        air_co2_percent=100.0 * (air[1] / air[0] - 1.0),
        buffer_ph=buffer[1] - buffer[0],
        gauge_bar=gauge[1] - gauge[0],
    )
