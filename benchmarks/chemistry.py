"""How fast CO2 comes from pH and alkalinity, side by side with two programs of others.

    python -m benchmarks.chemistry [--points 1000000] [--json FILE]

Every program gets waters drawn from the same ranges, in one process, best of several rounds. Goals, per
point: 100 times PyCO2SYS (Humphreys et al., test use only) and 500 times PHREEQC (phreeqc.dat).
"""

import argparse
import json
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from benchmarks._machine import machine
from dawnlevel.chemistry import (
    air_co2_mg_l,
    carbonate_coefficients,
    co2_from_ph,
    ph_from_co2,
    ph_from_co2_fast,
)

Floats = npt.NDArray[np.float64]

PHREEQC_POINTS = 1000
PYCO2SYS_POINTS_AT_MOST = 1_000_000
GOAL_PYCO2SYS = 100.0
GOAL_PHREEQC = 500.0
AGREEMENT = 0.004  # 0.3 % on the published grid, a little more for the range drawn here
CO2_G_MOL = 44.0095


@dataclass(frozen=True, slots=True)
class Waters:
    """Readings to be solved: pH [-], alkalinity [meq/L], temperature [degC], each of shape (points,)."""

    ph: Floats
    alkalinity_meq_l: Floats
    temp_c: Floats

    def first(self, points: int) -> "Waters":
        """The first `points` of them."""
        return Waters(self.ph[:points], self.alkalinity_meq_l[:points], self.temp_c[:points])


@dataclass(frozen=True, slots=True)
class Timing:
    """One program's time: job, points solved, best seconds, microseconds a point."""

    job: str
    points: int
    seconds: float

    @property
    def us_per_point(self) -> float:
        """Microseconds a point."""
        return 1e6 * self.seconds / self.points


def draw_waters(points: int, seed: int = 1) -> Waters:
    """Tank waters: pH 6 to 8, alkalinity 0.5 to 6 meq/L, 18 to 30 degC."""
    rng = np.random.default_rng(seed)
    return Waters(
        rng.uniform(6.0, 8.0, points), rng.uniform(0.5, 6.0, points), rng.uniform(18.0, 30.0, points)
    )


def best_of(rounds: int, job: str, points: int, solve: Callable[[], object]) -> Timing:
    """The fastest of `rounds` runs of `solve`."""
    seconds = []
    for _ in range(rounds):
        start = time.perf_counter()
        solve()
        seconds.append(time.perf_counter() - start)
    return Timing(job, points, min(seconds))


def solve_pyco2sys(waters: Waters) -> Floats:
    """CO2 [mg/kg] by PyCO2SYS, fresh-water constants (option 8), one call for all points."""
    import PyCO2SYS  # noqa: PLC0415  # slow to import; only this benchmark and the tests use it

    solved = PyCO2SYS.sys(
        par1=waters.ph, par1_type=3, par2=1e3 * waters.alkalinity_meq_l, par2_type=1,
        salinity=0, temperature=waters.temp_c, opt_k_carbonic=8, opt_pH_scale=3,
    )  # fmt: skip
    return np.asarray(solved["CO2"], dtype=np.float64) * (1e-3 * CO2_G_MOL)


def solve_phreeqc(waters: Waters) -> Floats:
    """CO2 [mg/kg] by PHREEQC with phreeqc.dat, sodium waters, one call a point."""
    from phreeqpython import PhreeqPython  # noqa: PLC0415  # the same

    program = PhreeqPython(database="phreeqc.dat")
    found = []
    for ph, alkalinity, temp_c in zip(waters.ph, waters.alkalinity_meq_l, waters.temp_c, strict=True):
        water = program.add_solution(
            {"units": "mmol/kgw", "temp": temp_c, "pH": ph, "Alkalinity": alkalinity, "Na": alkalinity}
        )
        found.append(water.molality("CO2") * CO2_G_MOL)
        water.forget()
    return np.array(found)


def measure(points: int) -> tuple[list[Timing], dict[str, float]]:
    """Timings of all programs, and by how much the others' CO2 differs at most [-] on the same waters."""
    waters = draw_waters(points)
    few = waters.first(min(points, PHREEQC_POINTS))
    many = waters.first(min(points, PYCO2SYS_POINTS_AT_MOST))
    ph, alkalinity, temp_c = waters.ph, waters.alkalinity_meq_l, waters.temp_c
    co2 = co2_from_ph(ph, alkalinity, temp_c)
    coefficients = carbonate_coefficients(alkalinity, 25.0)
    solve_pyco2sys(few)  # its first call compiles
    timings = [
        best_of(7, "dawnlevel: pH + alkalinity -> CO2", points, lambda: co2_from_ph(ph, alkalinity, temp_c)),
        best_of(7, "dawnlevel: the same, one temperature", points, lambda: co2_from_ph(ph, alkalinity, 25.0)),
        best_of(5, "dawnlevel: CO2 + alkalinity -> pH", points, lambda: ph_from_co2(co2, alkalinity, temp_c)),
        best_of(
            5,
            "dawnlevel: the same, closed form",
            points,
            lambda: ph_from_co2_fast(co2, alkalinity, coefficients),
        ),
        best_of(5, "dawnlevel: air equilibrium", points, lambda: air_co2_mg_l(temp_c, 420.0)),
        best_of(2, "PyCO2SYS: pH + alkalinity -> CO2", many.ph.size, lambda: solve_pyco2sys(many)),
        best_of(3, "PHREEQC: pH + alkalinity -> CO2", few.ph.size, lambda: solve_phreeqc(few)),
    ]
    small = co2[: few.ph.size]
    without_activity = co2_from_ph(few.ph, few.alkalinity_meq_l, few.temp_c, 0.0)
    apart = {
        "phreeqc": float(np.abs(small / solve_phreeqc(few) - 1.0).max()),
        "pyco2sys_without_activity": float(np.abs(without_activity / solve_pyco2sys(few) - 1.0).max()),
    }
    return timings, apart


def report(timings: list[Timing], apart: dict[str, float]) -> dict[str, object]:
    """Everything measured, ready for JSON; prints the table on the way."""
    ours, pyco2sys, phreeqc = timings[0].us_per_point, timings[-2].us_per_point, timings[-1].us_per_point
    print(f"{'job':<42}{'points':>10}{'us/point':>12}{'ratio':>10}")
    for timing in timings:
        each = timing.us_per_point
        print(f"{timing.job:<42}{timing.points:>10}{each:>12.4f}{each / ours:>10.1f}")
    ratios = {"pyco2sys": pyco2sys / ours, "phreeqc": phreeqc / ours}
    goals = {"pyco2sys": GOAL_PYCO2SYS, "phreeqc": GOAL_PHREEQC}
    for name, ratio in ratios.items():
        verdict = "met" if ratio >= goals[name] else "MISSED"
        print(f"{name}: {ratio:.0f} times slower a point; goal {goals[name]:.0f}: {verdict}")
    gaps = ", ".join(f"{name} {100.0 * gap:.2f} %" for name, gap in apart.items())
    print("largest difference on the same waters:", gaps)
    return {
        "machine": machine(("numpy", "PyCO2SYS", "phreeqpython")),
        "timings": [{**asdict(timing), "us_per_point": timing.us_per_point} for timing in timings],
        "ratios": ratios,
        "goals": goals,
        "goals_met": {name: ratio >= goals[name] for name, ratio in ratios.items()},
        "largest_relative_difference": apart,
    }


def main() -> None:
    """Measure, print, and write JSON where asked."""
    parser = argparse.ArgumentParser(description="Speed of the chemistry against PyCO2SYS and PHREEQC.")
    parser.add_argument("--points", type=int, default=1_000_000, help="waters to solve (default 1000000)")
    parser.add_argument("--json", type=Path, help="file to write the figures to")
    options = parser.parse_args()
    timings, apart = measure(options.points)
    assert max(apart.values()) < AGREEMENT, f"the programs disagree: {apart}"
    figures = report(timings, apart)
    if options.json:
        options.json.parent.mkdir(parents=True, exist_ok=True)
        options.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
