"""PHREEQC with phreeqc.dat as the oracle: a program of the US Geological Survey, nothing of this project."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from phreeqpython import PhreeqPython

CO2_G_MOL = 44.0095


@cache
def phreeqc() -> PhreeqPython:
    return PhreeqPython(database="phreeqc.dat")


@contextmanager
def solution(**given: Any) -> Iterator[Any]:
    """A PHREEQC solution in mmol per kg of water, forgotten afterwards."""
    made = phreeqc().add_solution({"units": "mmol/kgw", **given})
    try:
        yield made
    finally:
        made.forget()


def co2_mg_kg(*, temp: float, ph: float, **ions: Any) -> float:
    """CO2 [mg/kg of water] of water with a given pH and `Alkalinity`."""
    with solution(temp=temp, pH=ph, **ions) as made:
        return float(made.molality("CO2")) * CO2_G_MOL  # the wrapper gives mmol/kg
