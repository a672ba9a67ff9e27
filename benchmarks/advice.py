"""How soon new advice follows a new reading, and how our sampler fares beside emcee.

    python -m benchmarks.advice [--repeats 30] [--json FILE]

First figure: 14 days of records, one more pH reading, then the whole assessment (estimate, forecast,
steering, next reading), one thread; goal 50 ms median. Second: effective draws a second of our sampler and
of emcee (Foreman-Mackey et al. 2013, doi 10.1086/670067) on one posterior, in one run; goal 50 times.
"""

# ruff: noqa: E402  # threads are limited before numpy is loaded
import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: one thread is what is measured

import argparse
import json
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt

from benchmarks._machine import machine
from dawnlevel.estimate.laplace import find_peak
from dawnlevel.estimate.model import TankModel, build_model
from dawnlevel.estimate.posterior import DRAWS, PROPOSALS, SWEEPS
from dawnlevel.estimate.sampler import draw
from dawnlevel.plan.assess import assess
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
)

Floats = npt.NDArray[np.float64]

GOAL_MS, GOAL_RATIO = 50.0, 50.0
DAYS = 14
START = datetime(2026, 3, 2, tzinfo=UTC)
READS_H = (10.0, 10.5, 11.0, 11.5, 16.0)
SEEN_PH = (7.31, 7.05, 6.87, 6.74, 6.62)
CHUNKS = 24


def invented_records(days: int) -> tuple[Tank, list[Record], datetime]:
    """A tank, `days` days of its records, and the moment (UTC) of the last; all figures are invented."""
    tank = Tank(
        name="benchmark",
        volume_l=120.0,
        depth_cm=42.0,
        surface_cm2=3000.0,
        photoperiod=Photoperiod(lights_on_h=12.0, lights_off_h=20.0),
        kh_step_dkh=0.5,
    )
    records: list[Record] = [
        BaselineCup(at=START, ph=7.74, method=BaselineMethod.AERATED, hours=1.0),
        KhTitration(at=START, kh_dkh=4.5),
        RateSetting(at=START, bubbles_per_second=1.5),
        TimerSetting(at=START, windows_h=((9.5, 18.5),)),
    ]
    wobble = np.round(0.02 * np.random.default_rng(4).standard_normal((days, len(READS_H))), 2)
    for day in range(days):
        for hour, ph, off in zip(READS_H, SEEN_PH, wobble[day], strict=True):
            at = START + timedelta(hours=24.0 * day + hour)
            records.append(PhReading(at=at, ph=round(ph + float(off), 2)))
    last = START + timedelta(hours=24.0 * days + 11.0)
    return tank, records, last


def advice_ms(repeats: int) -> tuple[Floats, Floats]:
    """Milliseconds from one new reading to new advice, by the clock and by the processor, each (repeats,).

    Each repeat takes another reading. On a busy machine only the processor's time tells anything.
    """
    tank, records, now = invented_records(DAYS)
    by_clock, by_processor = [], []
    for repeat in range(repeats + 2):
        new = PhReading(at=now, ph=round(6.80 + 0.01 * (repeat % 12), 2))
        start, busy = time.perf_counter(), time.process_time()
        assess(tank, [*records, new], now, np.random.default_rng(repeat))
        by_processor.append(1e3 * (time.process_time() - busy))
        by_clock.append(1e3 * (time.perf_counter() - start))
    return np.array(by_clock[2:]), np.array(by_processor[2:])  # the first two load what is imported late


def _effective_of_ours(model: TankModel, runs: int) -> tuple[float, float]:
    """Effective draws and processor seconds of `runs` runs as tuned, peak included.

    Effective number from the scatter of the runs' means: each run's mean of an unknown has the variance
    sd^2/n_eff; the unknown that comes off worst but for a tenth counts.
    """
    start = time.process_time()
    means, spread = [], []
    for run in range(runs):
        peak, quick = find_peak(model)
        z = draw(quick, peak, np.random.default_rng(run), DRAWS, PROPOSALS, SWEEPS).z
        means.append(z.mean(axis=1))
        spread.append(z.var(axis=1))
    seconds = time.process_time() - start
    each = np.mean(spread, axis=0) / np.var(means, axis=0, ddof=1)
    return runs * float(min(np.quantile(each, 0.1), DRAWS)), seconds


def _effective_of_emcee(model: TankModel, steps: int) -> tuple[float, float]:
    """The same for emcee, started in our peak; a quarter is burn-in, its time counted.

    Differential evolution moves alone: they mix best here; emcee 3.1.6's snooker move is biased.
    Effective number by the same rule: the scatter of the means of 24 stretches of the chain.
    """
    import emcee  # noqa: PLC0415  # a test-time oracle, not part of the package

    start = time.process_time()
    peak, quick = find_peak(model)
    walkers = 4 * model.size
    begin = peak.place(quick, np.random.default_rng(0).standard_normal((model.size, walkers))).T
    sampler = emcee.EnsembleSampler(
        walkers, model.size, lambda z: quick.log_posterior(z.T), vectorize=True, moves=emcee.moves.DEMove()
    )
    sampler.run_mcmc(begin, steps)
    seconds = time.process_time() - start
    chain = sampler.get_chain(discard=steps // 4)
    length = chain.shape[0] // CHUNKS
    stretches = chain[: length * CHUNKS].reshape(CHUNKS, length * walkers, model.size)
    flat = chain.reshape(-1, model.size)
    each = flat.var(axis=0) / np.var(stretches.mean(axis=1), axis=0, ddof=1)
    return CHUNKS * float(np.quantile(each, 0.1)), seconds


def measure(repeats: int, steps: int) -> dict[str, object]:
    """All figures, ready for JSON; prints them on the way."""
    by_clock, by_processor = advice_ms(repeats)
    median, p95 = (float(value) for value in np.quantile(by_clock, (0.5, 0.95)))
    busy = float(np.median(by_processor))
    clock = f"median {median:.0f} ms, p95 {p95:.0f} ms by the clock, {busy:.0f} ms by the processor"
    print(f"advice after one reading, {DAYS} days: {clock}, goal {GOAL_MS:.0f}")
    tank, records, now = invented_records(1)
    model = build_model(tank, records, now)
    ours, ours_s = _effective_of_ours(model, CHUNKS)
    theirs, theirs_s = _effective_of_emcee(model, steps)
    ratio = (ours / ours_s) / (theirs / theirs_s)
    speeds = f"ours {ours / ours_s:.0f}, emcee {theirs / theirs_s:.0f}"
    print(f"effective draws a second: {speeds}, {ratio:.1f} times, goal {GOAL_RATIO:.0f}")
    print("an effective draw counts scatter only: it does not show whether a sampler reaches the tails")
    return {
        "machine": machine(("dawnlevel", "numpy", "scipy", "emcee")),
        "advice": {
            "repeats": repeats,
            "days": DAYS,
            "median_ms": median,
            "p95_ms": p95,
            "median_processor_ms": busy,
            "goal_ms": GOAL_MS,
        },
        "sampler": {
            "unknowns": model.size,
            "ours": {"effective": ours, "seconds": ours_s},
            "emcee": {"effective": theirs, "seconds": theirs_s, "steps": steps, "walkers": 4 * model.size},
            "ratio": ratio,
            "goal": GOAL_RATIO,
        },
        "goals_met": {"advice": busy <= GOAL_MS, "sampler": ratio >= GOAL_RATIO},
    }


def main() -> None:
    """Measure, print, and write JSON where asked."""
    parser = argparse.ArgumentParser(description="Speed of advice, and of the sampler beside emcee.")
    parser.add_argument("--repeats", type=int, default=30, help="readings to time (default 30)")
    parser.add_argument("--steps", type=int, default=4000, help="steps of emcee (default 4000)")
    parser.add_argument("--json", type=Path, help="file to write the figures to")
    options = parser.parse_args()
    figures = measure(max(options.repeats, 30), options.steps)
    if options.json:
        options.json.parent.mkdir(parents=True, exist_ok=True)
        options.json.write_text(json.dumps(figures, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
