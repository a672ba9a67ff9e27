"""How soon policies dial in practice tanks.

    python -m benchmarks.dial_in --tanks 200 --days 7 --seed 1 --policy dawnlevel,recipe --json OUT.json

Tank i gets seed S + i. Ctrl-C keeps the tanks that are done; a tank that cannot be played, or a worker
that dies, is told on stderr and leaves the others standing (exit code 1).
"""

# ruff: noqa: E402  # threads are limited before numpy is loaded
import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # the workers share the cores; figures are for one core each

import argparse
import importlib
import json
import math
import sys
import time
import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

from benchmarks._ablations import ABLATIONS, parse, without
from benchmarks._crew import Lost, results, told
from benchmarks._detail import detail
from benchmarks._goal import Goal
from benchmarks._machine import machine, source_digest
from benchmarks._scoring import TankScore, end_of_play, score
from benchmarks._summary import whole_report
from benchmarks._watched import Watched
from dawnlevel.errors import BadInputError, DawnlevelError

POLICIES = {
    "recipe": "dawnlevel.practice.recipe:play",
    "oracle": "benchmarks._oracle:play",
    "dawnlevel": "benchmarks._policy_dawnlevel:play",
}

Scores = dict[str, TankScore]


@dataclass(frozen=True, slots=True)
class Contest:
    """What is played: tank factory and policies (as MODULE:NAME), goal, days, what keepers are without."""

    factory: str
    policies: tuple[tuple[str, str], ...]
    goal: Goal
    days: int
    left_out: tuple[str, ...] = ()
    wants_detail: bool = False


def load(reference: str, where: str) -> Callable[..., Any]:
    """The callable behind MODULE:NAME. Raises BadInputError naming `where` it was asked for."""
    module, _, name = reference.partition(":")
    try:
        found = getattr(importlib.import_module(module), name)
    except Exception as error:  # any module's own code runs here, and may raise anything
        raise BadInputError(
            f"{reference!r} cannot be loaded ({told(error)}).", where=where, cure="Give it as MODULE:NAME."
        ) from error
    if not callable(found):
        raise BadInputError(f"{reference!r} cannot be called.", where=where, cure="Name a function.")
    return found  # type: ignore[no-any-return]  # getattr knows no types


def play_one(contest: Contest, name: str, seed: int) -> TankScore:
    """One policy on one fresh tank.

    A policy that fails, or a tank that fails under it, scores what was done until then. Raises what the
    factory, the card or the first look at the truth raises: then there is no tank to play.
    """
    policy = load(dict(contest.policies)[name], "--policy")
    tank = without(load(contest.factory, "--tank")(seed), contest.left_out)
    watched = Watched(tank, keep_twins=contest.wants_detail)
    started, busy, failure, stopped_h = time.perf_counter(), time.process_time(), "", math.inf
    try:
        policy(watched, contest.goal.as_dict(), contest.days, watched.report)
    except Exception as error:  # noqa: BLE001 - whatever is raised, the other tanks go on and it is shown
        failure, stopped_h = _failure(error), watched.samples[-1].hour
    seconds, cpu_seconds = time.perf_counter() - started, time.process_time() - busy
    try:
        if failure:
            watched.set_gas(0.0)
        watched.wait_until(max(end_of_play(watched.card(), contest.days), watched.clock()))
    except Exception as error:  # noqa: BLE001 - the same
        failure = failure or f"the tank, after the policy was done: {told(error)}"
    result = score(watched, contest.goal, contest.days)
    result.seconds, result.cpu_seconds, result.failure = seconds, cpu_seconds, failure
    if contest.wants_detail:
        result.detail = detail(watched, contest.goal, contest.days, stopped_h)
    return result


def _failure(error: Exception) -> str:
    """What a policy stopped with, in one line, and for errors that are not our own how it came there."""
    trace = "" if isinstance(error, DawnlevelError) else "\n" + "".join(traceback.format_exception(error))
    return told(error) + trace


def play_all(contest: Contest, seed: int) -> Scores:
    """Every policy on the tank of `seed`."""
    return {name: play_one(contest, name, seed) for name, _ in contest.policies}


@dataclass(slots=True)
class Played:
    """Scores of the tanks that were played, by seed; why others could not be; whether all had their turn."""

    scores: dict[int, Scores]
    lost: dict[int, str]
    finished: bool = True

    @property
    def failed(self) -> bool:
        """Whether any tank was lost or any policy stopped with an error."""
        return bool(self.lost) or any(s.failure for tank in self.scores.values() for s in tank.values())


def collect(contest: Contest, seeds: Sequence[int], jobs: int) -> Played:
    """Play the tanks of `seeds`; says on stderr how far it is. Ctrl-C keeps what is done."""
    found = Played({}, {})
    started = time.perf_counter()
    try:
        for seed, result in results(partial(play_all, contest), seeds, jobs):
            if isinstance(result, Lost):
                found.lost[seed] = result.why
                print(f"tank {seed} could not be played: {result.why}", file=sys.stderr)
            else:
                found.scores[seed] = result
                done = len(found.scores) + len(found.lost)
                _say_progress(seed, result, done, len(seeds), time.perf_counter() - started)
    except KeyboardInterrupt:
        found.finished = False
        print(f"\nstopped; {len(found.scores)} of {len(seeds)} tanks are kept", file=sys.stderr)
    found.scores = dict(sorted(found.scores.items()))
    if found.lost:
        lost = ", ".join(str(seed) for seed in sorted(found.lost))
        print(f"{len(found.lost)} of {len(seeds)} tanks are not in the figures: {lost}", file=sys.stderr)
    return found


def _say_progress(seed: int, scores: Scores, done: int, total: int, seconds: float) -> None:
    """One line on stderr for each tank."""
    marks = "  ".join(
        f"{name} {''.join('#' if day else '.' for day in s.dialled_in)}{' breach' if s.breach else ''}"
        for name, s in scores.items()
    )
    print(f"{done}/{total}  {seconds:.0f} s  tank {seed}: {marks}", file=sys.stderr)
    for name, s in scores.items():
        if s.failure:
            print(f"{name} stopped on tank {seed} with {s.failure}", file=sys.stderr)


def _arguments(argv: Sequence[str] | None) -> argparse.Namespace:
    """The command line."""
    parser = argparse.ArgumentParser(
        prog="python -m benchmarks.dial_in",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog="what --without leaves out:\n"
        + "\n".join(f"  {one.name:<14} {one.meaning}" for one in ABLATIONS.values()),
    )
    parser.add_argument("--tank", metavar="MODULE:FACTORY", help="called with a seed; default by --level")
    parser.add_argument("--level", choices=("easy", "middle", "hard"), default="middle")
    parser.add_argument("--tanks", type=int, default=200, metavar="N")
    parser.add_argument("--days", type=int, default=7, metavar="D")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="tank i gets seed S + i")
    parser.add_argument("--target", default="drop:1.0-1.2", metavar="drop:LO-HI|co2:LO-HI")
    parser.add_argument("--policy", default="dawnlevel,recipe", metavar="a,b,c", help="names or MODULE:NAME")
    parser.add_argument("--without", default="", metavar="a,b", help="what the keepers lack: see below")
    parser.add_argument("--json", type=Path, metavar="OUT", help="the figures")
    parser.add_argument("--detail", type=Path, metavar="OUT", help="day by day, with advice and causes")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="worker processes")
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
        left_out=parse(args.without),
        wants_detail=args.detail is not None,
    )
    if "recipe" in names and "kh" in contest.left_out and contest.goal.quantity == "co2_mg_l":
        raise BadInputError(
            "The recipe knows CO2 in mg/L only by a KH kit.",
            where="--without kh",
            cure="Leave the recipe out, or take a drop as the target.",
        )
    load(contest.factory, "--tank")
    for _, reference in contest.policies:
        load(reference, "--policy")
    for path in (args.json, args.detail):
        _prepare(path)
    return contest


def _prepare(path: Path | None) -> None:
    """Make the folder of a file to be written, before hours are spent on what goes into it."""
    if path is None:
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    except OSError as error:
        raise BadInputError(
            f"It cannot be written ({error.strerror}).",
            where=str(path),
            cure="Check the folder and your rights.",
        ) from error


def main(argv: Sequence[str] | None = None) -> int:
    """Play, print and write the shares; 0, or 1 if a policy failed, 2 for a bad command, 130 for Ctrl-C."""
    args = _arguments(argv)
    try:
        contest = _contest(args)
    except DawnlevelError as error:
        print(error, file=sys.stderr)
        return 2
    played = collect(contest, range(args.seed, args.seed + args.tanks), args.jobs)
    names = [name for name, _ in contest.policies]
    report = whole_report(list(played.scores.values()), names, args.days, args.seed)
    print(json.dumps(report, indent=2))
    _write(args.json, report)
    if args.detail is not None:
        _write(args.detail, _detail_report(played, args, sys.argv[1:] if argv is None else argv))
    if not played.finished:
        return 130
    return 1 if played.failed else 0


def _what_is_played(command: Sequence[str]) -> list[str]:
    """The command without its files and processes: they have no part in the figures."""
    elsewhere = ("--json", "--detail", "--jobs")
    kept: list[str] = []
    skips = False
    for word in command:
        if not skips and word.partition("=")[0] not in elsewhere:
            kept.append(word)
        skips = not skips and word in elsewhere
    return kept


def _detail_report(played: Played, args: argparse.Namespace, command: Sequence[str]) -> dict[str, Any]:
    """The detail file: what was run, on what, and everything known of every tank."""
    return {
        "command": f"python -m benchmarks.dial_in {' '.join(_what_is_played(command))}",
        "target": args.target,
        "level": args.level,
        "left_out": parse(args.without),
        "days": args.days,
        "seed": args.seed,
        "finished": played.finished,
        "source": source_digest(),
        "machine": machine(("dawnlevel", "numpy", "scipy")),
        "lost": {str(seed): why for seed, why in played.lost.items()},
        "tanks": {
            str(seed): {name: asdict(one) for name, one in scores.items()}
            for seed, scores in played.scores.items()
        },
    }


def _write(path: Path | None, data: Mapping[str, Any]) -> None:
    """Write `data` as JSON to the prepared `path`, if there is one."""
    if path is not None:
        path.write_text(json.dumps(data, allow_nan=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
