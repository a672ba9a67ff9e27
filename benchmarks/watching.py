"""How often watching finds what changed: labelled logs of practice tanks, kind by kind, and clean ones.

    python -m benchmarks.watching --each 8 --clean 40 --workers 2 --json OUT.json

Every log is judged whole, and once more as it stood three days after the change.
"""

import argparse
import json
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from pathlib import Path

from benchmarks._watch_worlds import KINDS, Log, draw_log
from dawnlevel.desk.one_thread import one_blas_thread
from dawnlevel.units import dkh_to_meq_l
from dawnlevel.watch.days import Card, cut_days
from dawnlevel.watch.figures import daily_figures
from dawnlevel.watch.findings import Finding, find_changes

ALIKE = ({"baseline_shift", "probe_step"},)
"""Kinds that pH alone cannot tell apart: either counts as right."""

WITHIN_DAYS = 3.0


@dataclass(frozen=True, slots=True)
class Verdict:
    """One log judged: its label, the first finding, whether it is right and near, whether it came in time."""

    kind: str
    seed: int
    size: float
    first: str | None
    is_right: bool
    is_near: bool
    is_in_time: bool


def card_of(log: Log) -> Card:
    """What `watch` would read from the log's card."""

    def number(key: str) -> float:
        return float(str(log.card[key]))

    return Card(
        number("gas_on_h"),
        number("gas_off_h"),
        number("lights_on_h"),
        number("lights_off_h"),
        float(dkh_to_meq_l(number("kh_dkh"))),
        number("temp_c"),
    )


def judge(log: Log, until_h: float | None = None) -> tuple[list[Finding], float]:
    """Findings of a log, or of its part before `until_h` [h], and the day of its label in their count."""
    card = card_of(log)
    seen = log.hours < (until_h if until_h is not None else float("inf"))
    bins = cut_days(log.hours[seen], log.ph[seen], log.temp_c[seen], card)
    return find_changes(daily_figures(bins, card)), (log.label.at_h - card.begin_h) / 24.0 - bins.first_day


@one_blas_thread()
def verdict(job: tuple[str, int]) -> Verdict:
    """Draw one log and judge it."""
    kind, seed = job
    log = draw_log(kind, seed)
    found, day = judge(log)
    first = found[0] if found else None
    if kind == "none":
        return Verdict(kind, seed, 0.0, first.kind if first else None, first is None, True, first is not None)
    right = first is not None and _is_same(first.kind, kind)
    near = first is not None and right and abs(first.day - day) <= WITHIN_DAYS
    in_time = bool(judge(log, log.label.at_h + 24.0 * WITHIN_DAYS)[0])
    return Verdict(kind, seed, log.label.size, first.kind if first else None, right, near, in_time)


def _is_same(found: str, true: str) -> bool:
    return found == true or any({found, true} <= alike for alike in ALIKE)


def table(verdicts: Sequence[Verdict]) -> str:
    """Counts kind by kind as a Markdown table."""
    lines = [
        "| change | logs | right kind first | and its day within 3 | anything told 3 days after |",
        "|---|---|---|---|---|",
    ]
    for kind in (*KINDS, "none"):
        those = [one for one in verdicts if one.kind == kind]
        if not those:
            continue
        near = "" if kind == "none" else str(sum(one.is_near for one in those))
        time = "" if kind == "none" else str(sum(one.is_in_time for one in those))
        lines.append(f"| {kind} | {len(those)} | {sum(one.is_right for one in those)} | {near} | {time} |")
    changed = [one for one in verdicts if one.kind != "none"]
    shares = [sum(getattr(one, name) for one in changed) for name in ("is_right", "is_near", "is_in_time")]
    lines.append(f"| all changes | {len(changed)} | {shares[0]} | {shares[1]} | {shares[2]} |")
    return "\n".join(lines)


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--each", type=int, default=8, help="logs of each kind of change")
    parser.add_argument("--clean", type=int, default=40, help="logs without a change")
    parser.add_argument("--first", type=int, default=0, help="first seed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--json", type=Path)
    chosen = parser.parse_args()
    jobs = [(kind, chosen.first + i) for kind in KINDS for i in range(chosen.each)]
    jobs += [("none", chosen.first + i) for i in range(chosen.clean)]
    with ProcessPoolExecutor(chosen.workers) as crew:
        verdicts = list(crew.map(verdict, jobs))
    print(table(verdicts))
    if chosen.json:
        chosen.json.write_text(json.dumps([asdict(one) for one in verdicts], indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
