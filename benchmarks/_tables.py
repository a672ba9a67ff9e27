"""The report's figures as Markdown tables; the pages and the report share them."""

from collections.abc import Mapping, Sequence
from typing import Any

from benchmarks._shares import Figure

POLICY_WORDS = {
    "dawnlevel": "Dawnlevel",
    "recipe": "the trade's plain recipe",
    "oracle": "an oracle that looks inside",
}
QUANTITY_WORDS = {
    "quantity": "the target's quantity",
    "ph": "pH on the keeper's meter",
    "co2_mg_l": "CO2 in mg/L",
}
NONE = "-"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def percent(figure: Figure, *, signed: bool = False) -> str:
    """A share with its 95 % interval, in percent."""
    if figure["value"] is None:
        return NONE
    sign = "+" if signed else ""
    value, low, high = (None if figure[k] is None else 100.0 * figure[k] for k in ("value", "low", "high"))
    inner = "" if low is None else f" ({_to(f'{low:{sign}.0f}', f'{high:{sign}.0f}')})"
    return f"{value:{sign}.0f} %{inner}"


def plain(figure: Figure, digits: int = 2) -> str:
    """A mean with its 95 % interval."""
    if figure["value"] is None:
        return NONE
    inner = ""
    if figure["low"] is not None:
        low, high = (f"{figure[key]:.{digits}f}" for key in ("low", "high"))
        inner = f" ({_to(low, high)})"
    return f"{figure['value']:.{digits}f}{inner}"


def _to(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"


def goals_table(figures: Mapping[str, Any]) -> str:
    """Goals beside what was reached."""
    verdict = {True: "met", False: "**missed**", None: "not played"}
    rows = [
        [
            goal["what"],
            percent(goal["measured"]) if goal["unit"] == "%" else plain(goal["measured"]),
            goal["goal"],
            verdict[goal["met"]],
        ]
        for goal in figures["goals"]
    ]
    return table(["what", "measured", "goal", ""], rows)


def play_table(run: Mapping[str, Any]) -> str:
    """One run's policies side by side: tuning days."""
    days = range(min(4, run["days"]))
    head = [
        "policy",
        *(f"dialled in on day {day + 1}" for day in days),
        "readings a day",
        "tanks with a breach",
    ]
    rows = [
        [
            POLICY_WORDS.get(name, name),
            *(percent(found["dialled_in_by_day"][day]) for day in days),
            plain(found["tuning"]["readings"], 1),
            percent(found["breach"]),
        ]
        for name, found in run["policies"].items()
    ]
    return table(head, rows)


def quiet_table(run: Mapping[str, Any]) -> str:
    """One run's policies side by side: from day 5 on, and the whole run's forecasts and time."""
    head = [
        "policy",
        "dialled in, days 5 on",
        "readings a day",
        "needle changes a day",
        "lights-on 90 % interval holds",
        "processor seconds per tank-day",
    ]
    rows = [
        [
            POLICY_WORDS.get(name, name),
            percent(found["quiet"]["dialled_in"]),
            plain(found["quiet"]["readings"]),
            plain(found["quiet"]["rate_changes"]),
            percent(found["coverage_90"]),
            plain(found["cpu_seconds_per_day"]),
        ]
        for name, found in run["policies"].items()
    ]
    return table(head, rows)


def levels_table(figures: Mapping[str, Any]) -> str:
    """Easy, ordinary and awkward tanks."""
    rows = []
    for key, words in (("easy", "easy"), ("tuning", "middle"), ("hard", "hard")):
        run = figures["runs"].get(key)
        for name, found in run["policies"].items() if run is not None else ():
            if name == "oracle":
                continue
            by_day = found["dialled_in_by_day"]
            rows.append(
                [
                    words,
                    POLICY_WORDS.get(name, name),
                    str(run["tanks"]),
                    *(percent(by_day[day]) if len(by_day) > day else NONE for day in (0, 1, 2)),
                    percent(found["breach"]),
                ]
            )
    head = [
        "tanks",
        "policy",
        "how many",
        *(f"dialled in on day {day}" for day in (1, 2, 3)),
        "with a breach",
    ]
    return table(head, rows)


def level_goal_table(run: Mapping[str, Any]) -> str:
    """The run with a target in mg/L: true CO2 in the band at lights-on, and dialled in."""
    days = range(run["days"])
    head = [
        "policy",
        *(f"in the band at lights-on, day {day + 1}" for day in days),
        *(f"dialled in, day {day + 1}" for day in days),
        "tanks with a breach",
    ]
    rows = [
        [
            POLICY_WORDS.get(name, name),
            *(percent(found["hit_by_day"][day]) for day in days),
            *(percent(found["dialled_in_by_day"][day]) for day in days),
            percent(found["breach"]),
        ]
        for name, found in run["policies"].items()
    ]
    return table(head, rows)


def coverage_table(held: Mapping[str, Any]) -> str:
    """How often the last forecast's intervals held the truth at lights-on."""
    rows = [
        [
            QUANTITY_WORDS[name],
            str(found["held_90"]["n"]),
            percent(found["held_50"]),
            percent(found["held_90"]),
            plain(found["width_90"]),
        ]
        for name, found in held.items()
    ]
    head = [
        "forecast of",
        "forecasts",
        "50 % interval holds",
        "90 % interval holds",
        "width of the 90 % interval",
    ]
    return table(head, rows)


def chances_table(rows: Sequence[Mapping[str, Any]]) -> str:
    """Stated chances of a day's success beside how often it came."""
    return table(
        ["chance stated", "days", "mean chance stated", "came true"],
        [
            [
                f"{100 * row['from']:g} to {100 * row['to']:g} %",
                str(row["came"]["n"]),
                NONE if row["stated"] is None else f"{100 * row['stated']:.0f} %",
                percent(row["came"]),
            ]
            for row in rows
        ],
    )


def causes_table(found: Mapping[str, Any]) -> str:
    """Causes of failed days, in the order in which the tree asks for them."""
    head = ["cause", "tank-days", "tanks", "on days 1 to 4", "too low", "too high", "the advice had said so"]
    rows = [
        [
            cause["words"],
            *(str(cause[key]) for key in ("days", "tanks", "tuning_days", "low", "high", "said_so")),
        ]
        for cause in found["causes"]
    ]
    total = sum(cause["tuning_days"] for cause in found["causes"])
    sides = [str(sum(cause[side] for cause in found["causes"])) for side in ("low", "high")]
    tanks = len({row["tank"] for row in found["days"]})
    last = ["all", str(found["failed"]), str(tanks), str(total), *sides, str(found["said_so"])]
    return table(head, [*rows, last])


def failing_days_table(found: Mapping[str, Any]) -> str:
    """Every day that failed."""
    rows = [
        [
            str(row["tank"]),
            str(row["day"]),
            row["cause"].replace("_", " "),
            row["side"] or NONE,
            f"{row['went_wrong_h'] - 24 * row['day']:.1f}",
            NONE if row["stated"] is None else f"{100 * row['stated']:.0f} %",
            "yes" if row["said_so"] else "no",
        ]
        for row in found["days"]
    ]
    return table(
        ["tank", "day", "cause", "side", "went wrong at hour", "chance stated before", "said so"], rows
    )


def breaches_table(found: Mapping[str, Any]) -> str:
    """Every tank with a breach: the first one."""
    rows = [
        [
            str(row["tank"]),
            str(row["day"]),
            f"{row['hour'] - 24 * row['day']:.1f}",
            row["what"],
            f"{row['co2_mg_l']:.1f}",
            NONE if row["stated"] is None else f"{100 * row['stated']:.1f} %",
        ]
        for row in found["breaches"]
    ]
    return table(["tank", "day", "hour", "what", "CO2, mg/L", "chance stated before"], rows)


def ablation_table(found: Mapping[str, Any]) -> str:
    """What each thing left out costs towards one target."""
    head = [
        "without",
        "lights-on in the band",
        "change",
        "dialled in",
        "change",
        "tanks with a breach",
        "90 % interval of CO2: high end over low end",
        "it holds",
    ]
    rows = [
        [
            row["meaning"],
            percent(row["hit"]),
            NONE if not row["left_out"] else percent(row["hit_change"], signed=True),
            percent(row["dialled_in"]),
            NONE if not row["left_out"] else percent(row["dialled_in_change"], signed=True),
            percent(row["breach"]),
            plain(row["co2_factor_90"], 1),
            percent(row["co2_held_90"]),
        ]
        for row in found["rows"]
    ]
    return table(head, rows)


def chemistry_table(found: Mapping[str, Any]) -> str:
    """Speed of the chemistry beside two programs of others."""
    ours = found["timings"][0]["us_per_point"]
    rows = [
        [t["job"], f"{t['points']}", f"{t['us_per_point']:.3g}", f"{t['us_per_point'] / ours:.3g}"]
        for t in found["timings"]
    ]
    return table(["job", "points", "microseconds a point", "times the first"], rows)


def advice_table(found: Mapping[str, Any]) -> str:
    """Speed of advice and of the sampler."""
    advice, sampler = found["advice"], found["sampler"]
    busy = f"{advice['median_processor_ms']:.0f} ms of the processor, median"
    clock = f"by the clock {advice['median_ms']:.0f} ms median, {advice['p95_ms']:.0f} ms p95"
    rows = [
        [
            f"one new reading to new advice, {advice['days']} days of records",
            f"{busy}; {clock}",
            f"{advice['goal_ms']:.0f} ms",
        ],
        ["effective draws a second over emcee's", f"{sampler['ratio']:.1f} times", f"{sampler['goal']:.0f}"],
    ]
    return table(["what", "measured", "goal"], rows)


def runs_table(figures: Mapping[str, Any]) -> str:
    """Every command that was run."""
    rows = [
        [name, f"`{run['command']}`", run["source"], str(run["tanks"]), _lost(run)]
        for name, run in figures["runs"].items()
    ]
    return table(["run", "command", "source", "tanks played", "lost or unfinished"], rows)


def _lost(run: Mapping[str, Any]) -> str:
    lost = f"tanks {', '.join(run['lost'])} could not be played" if run["lost"] else ""
    return lost if run["finished"] else f"{lost} stopped before its end".strip()
