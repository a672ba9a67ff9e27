"""How much did pH move on each day? The records of a tank as arrays.

    python examples/readings_of_a_tank.py [STORE]

STORE is a path or an address; without it the keeper's own records are read.
"""

import sys

import numpy as np

import dawnlevel


def main(store: str | None = None) -> None:
    """Print for each day: how many readings, the highest and the lowest pH, and the difference."""
    readings = dawnlevel.load_records("ph", store=store)
    days = readings["at"].astype("datetime64[D]")  # days of UTC
    print("day         readings  highest  lowest  moved")
    for day in np.unique(days):
        ph = readings["ph"][days == day]
        print(f"{day}  {ph.size:8d}  {ph.max():7.2f}  {ph.min():6.2f}  {np.ptp(ph):5.2f}")


if __name__ == "__main__":
    main(*sys.argv[1:2])
