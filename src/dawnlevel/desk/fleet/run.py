"""Use case: watch every tank of a place into a file, go on where a run was stopped, and tell what changed."""

from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

from dawnlevel.desk.fleet.job import Outcome, Problem, Source, TankJob, program_version
from dawnlevel.desk.fleet.ledger import Entry, Ledger
from dawnlevel.desk.fleet.views import ChangedTank, FleetView, TroubledTank
from dawnlevel.desk.steadiness.watch_words import SAID
from dawnlevel.errors import BadInputError
from dawnlevel.store.codec import moment_from_text

Runner = Callable[[TankJob, Sequence[str]], Generator[Outcome]]
Progress = Callable[[int, int], None]
"""Told how many tanks of how many have a line."""

RECENT = timedelta(days=14)
"""A change that began within it comes before older ones (judgement)."""

RAISES_CO2 = frozenset({"stuck_open", "injection_stronger", "exchange_slower", "start_early", "uptake_lower"})
"""Changes after which there is more CO2 in the water than before: animals come first."""


def watch_fleet(
    source: Source, file: Path, run: Runner, now: datetime, progress: Progress, *, again: bool = False
) -> FleetView:
    """Judge every tank that has no line in `file` yet; with `again` also those that could not be judged.

    A run that goes on with a file judges as of the moment for which the file was begun, so that it ends as
    an unbroken run would have. Raises BadInputError where the file holds other tanks than the place, and
    what `Source`, `Ledger` and `run` raise; what is done by then stays in the file.
    """
    names = source.names()
    with Ledger(file) as ledger:
        _same_fleet(ledger, names, source.place)
        as_of = ledger.as_of or now
        if again and ledger.forget_problems():
            as_of = now
        before = len(ledger.tanks)
        progress(before, len(names))
        lost = []
        job = TankJob(source, as_of, program_version())
        with closing(run(job, [name for name in names if name not in ledger.tanks])) as outcomes:
            for outcome in outcomes:
                if outcome.stop is not None:
                    raise outcome.stop.as_error()
                if outcome.lost is not None:
                    lost.append(_troubled(outcome.tank, outcome.lost))
                    continue
                ledger.append(outcome.tank, outcome.line)
                progress(len(ledger.tanks), len(names))
        return _view(ledger, file, source, len(names), before, lost)


def _same_fleet(ledger: Ledger, names: Sequence[str], place: str) -> None:
    others = sorted(ledger.tanks.keys() - set(names))
    if others:
        raise BadInputError(
            f"The file holds tanks that {place} has not: {', '.join(others[:5])}"
            f"{' and others' if len(others) > 5 else ''}.",
            where="--out",
            cure="Name another file, or the place for which this one was begun.",
        )


def _troubled(tank: str, problem: Problem) -> TroubledTank:
    return TroubledTank(tank, problem.slug, problem.message, problem.cure)


def _view(
    ledger: Ledger, file: Path, source: Source, tanks: int, before: int, lost: list[TroubledTank]
) -> FleetView:
    changed: list[ChangedTank] = []
    troubled: list[TroubledTank] = []
    steady = too_short = 0
    for entry in ledger.entries():
        if entry.problem is not None:
            troubled.append(_troubled(entry.tank, Problem(**entry.problem)))
        elif entry.watch is not None and entry.watch["findings"]:
            changed.append(_changed(entry, entry.watch["findings"]))
        elif entry.watch is not None and not entry.watch["is_long_enough"]:
            too_short += 1
        else:
            steady += 1
    changed.sort(key=lambda one: (_rank(one), -one.since.timestamp(), one.tank))
    return FleetView(
        str(file), source.place, tanks, len(ledger.tanks) - len(troubled), before, steady, too_short,
        tuple(changed),
        tuple(sorted(troubled, key=lambda one: one.tank)),
        tuple(sorted(lost, key=lambda one: one.tank)),
    )  # fmt: skip


def _rank(one: ChangedTank) -> int:
    """Recent changes that raise CO2 first, then other recent ones, then old ones."""
    return (0 if one.raises_co2 else 1) if one.is_recent else 2


def _changed(entry: Entry, findings: list[dict[str, object]]) -> ChangedTank:
    """The tank by its most important finding."""
    told = [_told(entry, one, len(findings) - 1) for one in findings]
    return min(told, key=_rank)  # the first of equals: findings come most important first


def _told(entry: Entry, finding: dict[str, object], further: int) -> ChangedTank:
    kind, since = str(finding["kind"]), moment_from_text(finding["since"], "since")
    causes = finding["causes"]
    first = causes[0] if isinstance(causes, list) and causes else {"cause": ""}
    return ChangedTank(
        entry.tank, kind, SAID[kind], since, float(str(finding["probability"])), str(first["cause"]),
        str(finding["check"]), further,
        is_recent=entry.as_of - since <= RECENT,
        raises_co2=kind in RAISES_CO2,
    )  # fmt: skip
