"""How long does CO2 stay above a level, and how sure is that? The estimate as arrays.

    python examples/level_through_the_day.py [STORE [MOMENT]]

MOMENT is RFC 3339, such as 2026-05-06T12:00:00Z; without it the day around now is looked at.
"""

import sys
from datetime import datetime

import numpy as np

import dawnlevel

LEVEL_MG_L = 15.0


def main(store: str | None = None, moment: str | None = None) -> None:
    """Print the hours above the level, by the median and by both ends of nine in ten."""
    level = dawnlevel.load_level(None if moment is None else datetime.fromisoformat(moment), store=store)
    hours = (level["at"] - level["at"][0]) / np.timedelta64(1, "h")
    for name in ("low_90", "median", "high_90"):
        above = np.trapezoid((level[name] > LEVEL_MG_L).astype(float), hours)
        print(f"{name:8} {above:5.1f} h above {LEVEL_MG_L:g} mg/L, highest {level[name].max():5.1f} mg/L")


if __name__ == "__main__":
    main(*sys.argv[1:3])
