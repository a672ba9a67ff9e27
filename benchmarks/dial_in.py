"""How soon policies dial in practice tanks.

    python -m benchmarks.dial_in --tanks 200 --days 7 --seed 1 --policy dawnlevel,recipe --json OUT.json

Tank i gets seed S + i. Ctrl-C keeps the tanks that are done.
"""

import argparse
import importlib
import json
import multiprocessing
import os
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchmarks._scoring import Goal, TankScore, Watched, end_of_play, score
from benchmarks._summary import whole_report
from dawnlevel.errors import BadInputError, DawnlevelError

POLICIES = {
    "recipe": "dawnlevel.practice.recipe:play",
    "oracle": "benchmarks._oracle:play",
    "dawnlevel": "benchmarks._policy_dawnlevel:play",
}

Scores = dict[str, TankScore]


@dataclass(frozen=True, slots=True)
class Contest:
    """What is played: a tank factory and policies (as MODULE:NAME), goal, days."""

    factory: str
    policies: tuple[tuple[str, str], ...]
    goal: Goal
    days: int


def load(reference: str, where: str) -> Callable[..., Any]:
    """The callable behind MODULE:NAME. Raises BadInputError naming `where` it was asked for."""
    module, _, name = reference.partition(":")
    try:
        found = getattr(importlib.import_module(module), name)
    except (ImportError, AttributeError, ValueError) as error:
        raise BadInputError(
            f"{reference!r} cannot be loaded ({error}).", where=where, cure="Give it as MODULE:NAME."
        ) from error
    if not callable(found):
        raise BadInputError(f"{reference!r} cannot be called.", where=where, cure="Name a function.")
    return found  # type: ignore[no-any-return]  # getattr knows no types


def play_one(contest: Contest, name: str, seed: int) -> TankScore:
    """One policy on one fresh tank; a policy that fails scores what it has done until then."""
    policy = load(dict(contest.policies)[name], "--policy")
    watched = Watched(load(contest.factory, "--tank")(seed))
    started, failure = time.perf_counter(), ""
    try:
        policy(watched, contest.goal.as_dict(), contest.days, watched.report)
    except Exception:  # noqa: BLE001 - whatever a policy raises, the other tanks go on and it is shown
        failure = traceback.format_exc()
        watched.set_gas(0.0)
    seconds = time.perf_counter() - started
    watched.wait_until(max(end_of_play(watched.card(), contest.days), watched.clock()))
    result = score(watched, contest.goal, contest.days)
    result.seconds, result.failure = seconds, failure
    return result


def play_all(contest: Contest, seed: int) -> Scores:
    """Every policy on the tank of `seed`."""
    return {name: play_one(contest, name, seed) for name, _ in contest.policies}


def _ignore_interrupts() -> None:
    """Ctrl-C is the parent's to answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def results(contest: Contest, seeds: Sequence[int], jobs: int) -> Iterator[tuple[int, Scores]]:
    """Seed and scores of each tank, as they come."""
    if jobs <= 1:
        for seed in seeds:
            yield seed, play_all(contest, seed)
        return
    with ProcessPoolExecutor(jobs, initializer=_ignore_interrupts) as pool:
        waiting = {pool.submit(play_all, contest, seed): seed for seed in seeds}
        try:
            for future in as_completed(waiting):
                yield waiting[future], future.result()
        except (KeyboardInterrupt, GeneratorExit):
            pool.shutdown(wait=False, cancel_futures=True)
            for worker in multiprocessing.active_children():
                worker.terminate()
            raise


def collect(contest: Contest, seeds: Sequence[int], jobs: int) -> tuple[list[Scores], bool]:
    """Scores in the order of the seeds, and whether all tanks were done; says on stderr how far it is."""
    done: dict[int, Scores] = {}
    started = time.perf_counter()
    finished = True
    try:
        for seed, scores in results(contest, seeds, jobs):
            done[seed] = scores
            _say_progress(seed, scores, len(done), len(seeds), time.perf_counter() - started)
    except KeyboardInterrupt:
        finished = False
        print(f"\nstopped; {len(done)} of {len(seeds)} tanks are kept", file=sys.stderr)
    return [done[seed] for seed in seeds if seed in done], finished


def _say_progress(seed: int, scores: Scores, done: int, total: int, seconds: float) -> None:
    """One line on stderr for each tank."""
    marks = "  ".join(
        f"{name} {''.join('#' if day else '.' for day in s.dialled_in)}{' breach' if s.breach else ''}"
        for name, s in scores.items()
    )
    print(f"{done}/{total}  {seconds:.0f} s  tank {seed}: {marks}", file=sys.stderr)
    for name, s in scores.items():
        if s.failure:
            print(f"{name} failed on tank {seed}:\n{s.failure}", file=sys.stderr)


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.dial_in", description=__doc__)
    parser.add_argument("--tank", metavar="MODULE:FACTORY", help="called with a seed; default by --level")
    parser.add_argument("--level", choices=("easy", "middle", "hard"), default="middle")
    parser.add_argument("--tanks", type=int, default=200, metavar="N")
    parser.add_argument("--days", type=int, default=7, metavar="D")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="tank i gets seed S + i")
    parser.add_argument("--target", default="drop:1.0-1.2", metavar="drop:LO-HI|co2:LO-HI")
    parser.add_argument("--policy", default="dawnlevel,recipe", metavar="a,b,c", help="names or MODULE:NAME")
    parser.add_argument("--json", type=Path, metavar="OUT")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    return parser.parse_args(argv)


def _contest(args: argparse.Namespace) -> Contest:
    """The contest asked for; everything is loaded once, so that mistakes show at once."""
    if args.tanks < 1 or args.days < 1 or args.seed < 0:
        raise BadInputError(
            "Tanks and days must be 1 or more, the seed 0 or more.", cure="Check the figures."
        )
    names = [name.strip() for name in args.policy.split(",") if name.strip()]
    unknown = [name for name in names if name not in POLICIES and ":" not in name]
    if unknown or not names:
        raise BadInputError(
            f"No such policy: {', '.join(unknown) or 'none given'}.",
            where="--policy",
            cure=f"Choose from {', '.join(POLICIES)} or give MODULE:NAME.",
        )
    contest = Contest(
        factory=args.tank or f"dawnlevel.practice:{args.level}",
        policies=tuple((name, POLICIES.get(name, name)) for name in names),
        goal=Goal.parse(args.target),
        days=args.days,
    )
    load(contest.factory, "--tank")
    for _, reference in contest.policies:
        load(reference, "--policy")
    return contest


def main(argv: Sequence[str] | None = None) -> int:
    """Play, print and write the shares; 0, or 1 if a policy failed, 2 for a bad command, 130 for Ctrl-C."""
    args = _arguments(argv)
    try:
        contest = _contest(args)
    except DawnlevelError as error:
        print(error, file=sys.stderr)
        return 2
    done, finished = collect(contest, range(args.seed, args.seed + args.tanks), args.jobs)
    report = whole_report(done, [name for name, _ in contest.policies], args.days, args.seed)
    text = json.dumps(report, indent=2)
    if args.json:
        args.json.parent.mkdir(parents=True, exist_ok=True)
        args.json.write_text(text + "\n", encoding="utf-8")
    print(text)
    if not finished:
        return 130
    return 1 if any(s.failure for scores in done for s in scores.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
