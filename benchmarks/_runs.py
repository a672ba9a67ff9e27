"""What `make bench` runs: every command of the report, in its full and in its quick setting."""

from dataclasses import dataclass

from benchmarks._ablations import ABLATIONS

DROP, LEVEL = "drop:1.0-1.2", "co2:20-30"
ALL = "dawnlevel,recipe,oracle"


@dataclass(frozen=True, slots=True)
class Run:
    """One command; its files are named after it."""

    name: str
    module: str
    arguments: tuple[str, ...]
    has_detail: bool = False


@dataclass(frozen=True, slots=True)
class Size:
    """How much is played: (tanks, days) of each kind of run, and arguments of the speed benchmarks."""

    tuning: tuple[int, int]
    levels: tuple[int, int]
    level_goal: tuple[int, int]
    ablations: tuple[int, int]
    ablations_level: tuple[int, int]
    chemistry: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()


FULL = Size(tuning=(200, 14), levels=(24, 7), level_goal=(200, 3), ablations=(24, 7), ablations_level=(24, 3))

QUICK = Size(
    tuning=(8, 6),
    levels=(2, 3),
    level_goal=(4, 2),
    ablations=(3, 3),
    ablations_level=(3, 2),
    chemistry=("--points", "50000"),
    advice=("--steps", "800"),
)


def runs(size: Size) -> list[Run]:
    """All runs of a size, the quickest kinds first."""
    found = [
        Run("chemistry", "benchmarks.chemistry", size.chemistry),
        Run("advice", "benchmarks.advice", size.advice),
        _play("tuning", size.tuning, "--target", DROP, "--policy", ALL),
        _play("easy", size.levels, "--level", "easy", "--target", DROP, "--policy", "dawnlevel,recipe"),
        _play("hard", size.levels, "--level", "hard", "--target", DROP, "--policy", "dawnlevel,recipe"),
        _play(
            "level",
            size.level_goal,
            "--tank",
            "benchmarks._tanks:aerated",
            "--target",
            LEVEL,
            "--policy",
            ALL,
        ),
    ]
    for target, how_many in ((DROP, size.ablations), (LEVEL, size.ablations_level)):
        # with nothing left out, the drop is the tuning run's first tanks and days
        for left_out in ABLATIONS if target == DROP else ("", *ABLATIONS):
            name = ablation_name(left_out, target)
            lacking = ("--without", left_out) if left_out else ()
            found.append(_play(name, how_many, "--target", target, "--policy", "dawnlevel", *lacking))
    return found


def ablation_name(left_out: str, target: str) -> str:
    """Name of the run without `left_out` (nothing: empty) towards `target`."""
    return f"{target.partition(':')[0]}-without-{left_out or 'nothing'}"


def _play(name: str, how_many: tuple[int, int], *arguments: str) -> Run:
    tanks, days = how_many
    size = ("--tanks", str(tanks), "--days", str(days), "--seed", "1")
    return Run(name, "benchmarks.dial_in", (*size, *arguments), has_detail=True)
