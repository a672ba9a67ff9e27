"""Dawnlevel: dissolved CO2 where it belongs at lights-on, from a keeper's few readings.

The names below may be used from outside; each is loaded when first asked for, so that the command line
starts at once.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dawnlevel.balance.animals import fish_oxygen_mg_per_h
    from dawnlevel.chemistry import air_co2_mg_l, co2_from_ph, oxygen_saturation_mg_l, ph_from_co2
    from dawnlevel.desk.exchange.notebook import frame, load_level, load_records
    from dawnlevel.supply.ph_meter import buffer_ph
    from dawnlevel.supply.pressure import cylinder_pressure_bar
    from dawnlevel.supply.room import room_co2_fraction
    from dawnlevel.supply.saturation import saturation_pressure_bar
    from dawnlevel.supply.solutions import bicarbonate_mg_per_l
    from dawnlevel.units import dkh_to_meq_l

__version__ = "0.1.0"

__all__ = [
    "__version__",
    "air_co2_mg_l",
    "bicarbonate_mg_per_l",
    "buffer_ph",
    "co2_from_ph",
    "cylinder_pressure_bar",
    "dkh_to_meq_l",
    "fish_oxygen_mg_per_h",
    "frame",
    "load_level",
    "load_records",
    "oxygen_saturation_mg_l",
    "ph_from_co2",
    "room_co2_fraction",
    "saturation_pressure_bar",
]

_HOMES = {
    "air_co2_mg_l": "dawnlevel.chemistry",
    "bicarbonate_mg_per_l": "dawnlevel.supply.solutions",
    "buffer_ph": "dawnlevel.supply.ph_meter",
    "co2_from_ph": "dawnlevel.chemistry",
    "cylinder_pressure_bar": "dawnlevel.supply.pressure",
    "dkh_to_meq_l": "dawnlevel.units",
    "fish_oxygen_mg_per_h": "dawnlevel.balance.animals",
    "frame": "dawnlevel.desk.exchange.notebook",
    "load_level": "dawnlevel.desk.exchange.notebook",
    "load_records": "dawnlevel.desk.exchange.notebook",
    "oxygen_saturation_mg_l": "dawnlevel.chemistry",
    "ph_from_co2": "dawnlevel.chemistry",
    "room_co2_fraction": "dawnlevel.supply.room",
    "saturation_pressure_bar": "dawnlevel.supply.saturation",
}


def __getattr__(name: str) -> object:
    """Load a public name from its home."""
    if name not in _HOMES:
        message = f"module 'dawnlevel' has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(_HOMES[name]), name)
