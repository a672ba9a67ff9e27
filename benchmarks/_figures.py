"""From the detail files of all runs to the figures of the report: small, and all that pages are made from."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from benchmarks._ablations import ABLATIONS
from benchmarks._causes import TREE
from benchmarks._runs import DROP, LEVEL, Size, ablation_name
from benchmarks._said import LEVELS
from benchmarks._shares import Figure, difference, pooled, share, wilson
from benchmarks._summary import FIRST_QUIET_DAY

Detail = Mapping[str, Any]
Tank = Mapping[str, Any]

MOST_READINGS_A_DAY = 8
CHANCE_EDGES = (0.0, 0.5, 0.8, 0.95, 1.0)
QUANTITIES = ("quantity", "ph", "co2_mg_l")


def tanks_of(detail: Detail, policy: str, first: int | None = None) -> list[Tank]:
    """One policy's tanks in the order of their seeds; the first so many."""
    found = [scores[policy] for scores in detail["tanks"].values() if policy in scores]
    return found if first is None else found[:first]


def policies_of(detail: Detail) -> list[str]:
    """The policies played, in the order in which they were."""
    return list(next(iter(detail["tanks"].values()), {}))


def play_figures(detail: Detail) -> dict[str, Any]:
    """Figures of one run, by policy."""
    return {
        "command": detail["command"].partition(" --json")[0],
        "source": detail["source"],
        "target": detail["target"],
        "tanks": len(detail["tanks"]),
        "days": detail["days"],
        "seed": detail["seed"],
        "finished": detail["finished"],
        "lost": detail["lost"],
        "policies": {name: policy_figures(tanks_of(detail, name)) for name in policies_of(detail)},
    }


def policy_figures(tanks: Sequence[Tank]) -> dict[str, Any]:
    """Shares by day, the quiet days, breaches, readings, needle changes, coverage and time of one policy."""
    days = len(tanks[0]["hit"]) if tanks else 0
    quiet = slice(FIRST_QUIET_DAY - 1, None)

    def share_by_day(member: str) -> list[Figure]:
        return [wilson(sum(bool(t[member][day]) for t in tanks), len(tanks)) for day in range(days)]

    def over(member: str, part: slice) -> Figure:
        return pooled([[float(value) for value in t[member][part]] for t in tanks])

    def over_most(t: Tank) -> list[bool]:
        return [count > MOST_READINGS_A_DAY for count in t["readings"][: FIRST_QUIET_DAY - 1]]

    return {
        "dialled_in_by_day": share_by_day("dialled_in"),
        "hit_by_day": share_by_day("hit"),
        "quiet": {
            "dialled_in": share([t["dialled_in"][quiet] for t in tanks]),
            **{name: over(name, quiet) for name in ("readings", "rate_changes")},
        },
        "tuning": {
            "readings": over("readings", slice(0, FIRST_QUIET_DAY - 1)),
            "rate_changes": over("rate_changes", slice(0, FIRST_QUIET_DAY - 1)),
            "most_readings": max((max(t["readings"]) for t in tanks), default=None),
            "days_over_most": share([over_most(t) for t in tanks]),
        },
        "breach": wilson(sum(bool(t["breach"]) for t in tanks), len(tanks)),
        "stopped": sum(bool(t["failure"]) for t in tanks),
        "coverage_90": share([t["forecasts_held"] for t in tanks]),
        "cpu_seconds_per_day": pooled([[t["cpu_seconds"] / max(days, 1)] for t in tanks]),
        "seconds_per_tank": pooled([[t["seconds"]] for t in tanks]),
    }


def days_of(tank: Tank) -> list[Mapping[str, Any]]:
    """The tank's days in detail."""
    return list(tank["detail"]["days"])


def coverage(tanks: Sequence[Tank]) -> dict[str, Any]:
    """How the last forecasts of lights-on held, for each quantity: at each nominal level, and by interval.

    At a level it is the share of truths below the stated bound of that level; an honest forecast has them
    equal.
    """
    return {name: _coverage(tanks, name) for name in QUANTITIES}


def _coverage(tanks: Sequence[Tank], name: str) -> dict[str, Any]:
    pairs = [list(_forecasts(tank, name)) for tank in tanks]

    def counted(holds: Callable[[Sequence[float], float], bool]) -> Figure:
        return share([[holds(bounds, truth) for bounds, truth in tank] for tank in pairs])

    return {
        "below": [{"nominal": level, **counted(_is_below(place))} for place, level in enumerate(LEVELS)],
        "held_50": counted(lambda bounds, truth: bounds[1] <= truth <= bounds[3]),
        "held_90": counted(lambda bounds, truth: bounds[0] <= truth <= bounds[4]),
        "width_90": pooled([[bounds[4] - bounds[0] for bounds, _ in tank] for tank in pairs]),
        "factor_90": pooled([[bounds[4] / max(bounds[0], 1e-3) for bounds, _ in tank] for tank in pairs]),
    }


def _is_below(place: int) -> Callable[[Sequence[float], float], bool]:
    """Whether a truth lies below the stated bound at this place of `LEVELS`."""
    return lambda bounds, truth: truth <= bounds[place]


def _forecasts(tank: Tank, name: str) -> Iterator[tuple[Sequence[float], float]]:
    """The bounds of each day's last forecast of lights-on, and the truth."""
    for day in days_of(tank):
        truth = _truth(day, name, tank)
        if day["last_forecast"] is not None and truth is not None:
            yield day["last_forecast"][name], truth


def _truth(day: Mapping[str, Any], name: str, tank: Tank) -> float | None:
    """The truth at lights-on of `ph`, `co2_mg_l`, or the target's quantity."""
    sample = day["at_lights_on"]
    if sample is None:
        return None
    value = sample[tank["detail"]["quantity"] if name == "quantity" else name]
    return None if value is None else float(value)


def chances(tanks: Sequence[Tank]) -> list[dict[str, Any]]:
    """Stated chances of success against what came, in bins; those that `last_chance` gives."""
    told: list[list[tuple[float, bool]]] = []
    for tank in tanks:
        stated = [(last_chance(day), bool(day["dialled_in"])) for day in days_of(tank)]
        told.append([(chance, came) for chance, came in stated if chance is not None])
    rows = []
    for low, high in pairwise(CHANCE_EDGES):
        last = high == CHANCE_EDGES[-1]
        chosen = [[(c, came) for c, came in tank if low <= c < high or (last and c == high)] for tank in told]
        rows.append(
            {
                "from": low,
                "to": high,
                "stated": pooled([[c for c, _ in tank] for tank in chosen])["value"],
                "came": share([[came for _, came in tank] for tank in chosen]),
            }
        )
    return rows


def last_chance(day: Mapping[str, Any]) -> float | None:
    """The chance of success last stated before lights-on, or with the plan; None where none was."""
    said = day["said"]
    if said is None:
        return None
    looks = [look for look in said["looks"] if look["hour"] < day["lights_on_h"]]
    told = [look["chance_if_done"] for look in looks if look["chance_if_done"] is not None]
    if told:
        return float(told[-1])
    return None if said["planned"] is None else float(said["planned"]["chance_held"])


def failures(tanks: Mapping[str, Tank]) -> dict[str, Any]:
    """Every day that failed with its cause, the causes counted in the tree's order, and every breach."""
    rows = [
        {"tank": int(seed), "day": day["day"], **day["cause"]}
        for seed, tank in tanks.items()
        for day in days_of(tank)
        if day["cause"] is not None
    ]
    counted = Counter(row["cause"] for row in rows)
    breaches = [
        {"tank": int(seed), **tank["detail"]["breach"]}
        for seed, tank in tanks.items()
        if tank["detail"]["breach"] is not None
    ]
    return {
        "tank_days": sum(len(days_of(tank)) for tank in tanks.values()),
        "failed": len(rows),
        "said_so": sum(row["said_so"] for row in rows),
        "causes": [
            _cause(question.key, question.words, [row for row in rows if row["cause"] == question.key])
            for question in TREE
            if counted[question.key]
        ],
        "days": rows,
        "breaches": breaches,
    }


def _cause(key: str, words: str, rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """One cause: how many tank-days, of how many tanks, when, which way, and of how many it was said."""
    return {
        "cause": key,
        "words": words,
        "days": len(rows),
        "tanks": len({row["tank"] for row in rows}),
        "tuning_days": sum(row["day"] < FIRST_QUIET_DAY for row in rows),
        "low": sum(row["side"] == "low" for row in rows),
        "high": sum(row["side"] == "high" for row in rows),
        "said_so": sum(row["said_so"] for row in rows),
    }


def ablation_figures(details: Mapping[str, Detail], size: Size) -> dict[str, Any]:
    """What each thing left out costs, for both targets, on the same tanks; only runs that are there."""
    found: dict[str, Any] = {}
    for target, (tanks, days) in ((DROP, size.ablations), (LEVEL, size.ablations_level)):
        full_name = "tuning" if target == DROP else ablation_name("", target)
        if full_name not in details:
            continue
        rows = [_ablation(details[full_name], details[full_name], "", tanks, days)]
        for left_out in ABLATIONS:
            name = ablation_name(left_out, target)
            if name in details:
                rows.append(_ablation(details[name], details[full_name], left_out, tanks, days))
        found[target] = {"target": target, "tanks": tanks, "days": days, "rows": rows}
    return found


def _ablation(detail: Detail, full: Detail, left_out: str, tanks: int, days: int) -> dict[str, Any]:
    """One row: figures without it, and what they are less than with everything."""
    seeds = [seed for seed in full["tanks"] if seed in detail["tanks"]][:tanks]
    without, complete = (
        [_first_days(one["tanks"][seed]["dawnlevel"], days) for seed in seeds] for one in (detail, full)
    )

    def values(chosen: Sequence[Tank], member: str) -> list[list[float]]:
        return [[float(value) for value in tank[member]] for tank in chosen]

    held = coverage(without)
    return {
        "left_out": left_out,
        "meaning": ABLATIONS[left_out].meaning if left_out else "everything at hand",
        "tanks": len(seeds),
        "hit": share([tank["hit"] for tank in without]),
        "hit_change": difference(values(without, "hit"), values(complete, "hit")),
        "dialled_in": share([tank["dialled_in"] for tank in without]),
        "dialled_in_change": difference(values(without, "dialled_in"), values(complete, "dialled_in")),
        "breach": wilson(sum(bool(tank["detail"]["breach"]) for tank in without), len(without)),
        "readings": pooled(values(without, "readings")),
        "held_90": held["quantity"]["held_90"],
        "co2_held_90": held["co2_mg_l"]["held_90"],
        "co2_factor_90": held["co2_mg_l"]["factor_90"],
    }


def _first_days(tank: Tank, days: int) -> Tank:
    """The tank's first days alone; a breach after them does not count."""
    breach = tank["detail"]["breach"]
    by_day = ("hit", "dialled_in", "readings", "rate_changes")
    return {
        **tank,
        **{member: tank[member][:days] for member in by_day},
        "detail": {
            **tank["detail"],
            "days": days_of(tank)[:days],
            "breach": breach if breach is not None and breach["day"] <= days else None,
        },
    }
