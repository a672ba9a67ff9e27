"""What each instrument is worth, in a keeper's words, from the figures of what it costs to go without."""

from collections.abc import Mapping
from typing import Any

from benchmarks import _tables as tables
from benchmarks._ablations import ABLATIONS
from benchmarks._runs import DROP, LEVEL
from benchmarks._shares import Figure

NAMES: Mapping[str, tuple[str, str]] = {
    "cup_model": ("noting how the cup was prepared", "costs nothing but a note"),
    "kh": ("a KH drop kit", "the cheapest kit there is"),
    "cell": ("an indicator cell", "cheap, slow, and read by eye"),
    "half_readings": ("twice the readings", "costs time, no money"),
    "coarse_meter": ("a pH meter that shows 0.01", "instead of one that shows 0.1"),
}
"""Each thing left out, as a keeper buys or does it, with what it takes; prices are not ours to know."""

Row = Mapping[str, Any]


def _rows(figures: Mapping[str, Any], target: str) -> dict[str, Row]:
    """One target's rows by what is left out; empty where it was not played."""
    found = figures["ablations"].get(target, {"rows": []})
    return {row["left_out"]: row for row in found["rows"]}


def tanks_words(figures: Mapping[str, Any]) -> str:
    """How many tanks were asked."""
    counts = sorted({one["tanks"] for one in figures["ablations"].values()})
    return " and ".join(str(count) for count in counts)


def change_words(change: Figure) -> str:
    """A change of a share of days, as days in a hundred."""
    if change["value"] is None:
        return tables.NONE
    value, low, high = (100.0 * change[key] for key in ("value", "low", "high"))
    if high < 0.0:
        return f"{-value:.0f} days in a hundred fewer ({-high:.0f} to {-low:.0f})"
    if low > 0.0:
        return f"{value:.0f} days in a hundred more ({low:.0f} to {high:.0f})"
    return f"no difference seen ({low:+.0f} to {high:+.0f})"


def _knowing(row: Row | None, full: Row | None) -> str:
    """How well mg/L is known without it, and with everything."""
    if row is None or full is None or row["co2_factor_90"]["value"] is None:
        return tables.NONE
    return f"{row['co2_factor_90']['value']:.1f} times instead of {full['co2_factor_90']['value']:.1f}"


def plain_table(figures: Mapping[str, Any]) -> str:
    """One line for each thing: what going without it does."""
    drop, level = _rows(figures, DROP), _rows(figures, LEVEL)
    rows = []
    for name in ABLATIONS:
        if name not in drop and name not in level:
            continue
        what, takes = NAMES[name]
        rows.append(
            [
                f"{what} ({takes})",
                change_words(drop[name]["dialled_in_change"]) if name in drop else tables.NONE,
                change_words(level[name]["dialled_in_change"]) if name in level else tables.NONE,
                _knowing(level.get(name), level.get("")),
            ]
        )
    head = ["without ...", "steering by the pH drop", "steering by mg/L", "how well you then know mg/L"]
    return tables.table(head, rows)


def order_words(figures: Mapping[str, Any]) -> str:
    """What to get first: by the days it saves where the figures are clear, then what was not told apart."""
    clear: list[tuple[float, str]] = []
    unclear: list[str] = []
    for name in ABLATIONS:
        changes = [
            (target, rows[name]["dialled_in_change"])
            for target in (DROP, LEVEL)
            if name in (rows := _rows(figures, target))
        ]
        costs = [
            (-100.0 * change["value"], "the pH drop" if target == DROP else "mg/L")
            for target, change in changes
            if change["high"] is not None and change["high"] < 0.0
        ]
        if costs:
            most, steering = max(costs)
            clear.append((most, f"{NAMES[name][0]} ({most:.0f} days in a hundred, steering by {steering})"))
        elif changes:
            unclear.append(NAMES[name][0])
    parts = []
    if clear:
        first = "; ".join(words for _, words in sorted(clear, reverse=True))
        parts.append(f"Worth having, the most telling first: {first}.")
    if unclear:
        parts.append(
            f"For {_joined(unclear)} these tanks showed no difference in days dialled in; what each does for "
            "knowing mg/L stands in the last column."
        )
    return " ".join(parts)


def _joined(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def full_tables(figures: Mapping[str, Any]) -> str:
    """The tables of both targets, under headings of their own."""
    words = {DROP: "Steering by the pH drop", LEVEL: "Steering by mg/L"}
    parts = []
    for target, one in figures["ablations"].items():
        parts += [
            f"### {words[target]}: {one['tanks']} tanks, {one['days']} days, target {target}",
            tables.ablation_table(one),
        ]
    return "\n\n".join(parts)
