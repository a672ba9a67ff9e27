"""What commands print: one envelope for `--json`, plain lines for people, errors the same way everywhere.

`--json` prints one object on standard output, `{"schema": "dawnlevel/<view>/<version>", "data": ...}`, or
`{"error": {"slug", "message", "where", "cure"}}` with an exit code that is not 0 (for a file with bad lines
also `"lines": [{"line", "problem", "cure", "place"}, ...]`). Times are RFC 3339 in
UTC, units stand in the field names. A version rises only when a field goes or changes its meaning.
"""

import json
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict

from dawnlevel.errors import BadLine, BadLinesError, DawnlevelError


def print_json(payload: Mapping[str, object]) -> None:
    """Print one JSON object on standard output."""
    text = json.dumps(payload, ensure_ascii=False, indent=2)
    # An argument that was no UTF-8 holds lone surrogates; written as \udc80 they are JSON's own escapes.
    sys.stdout.write(text.encode("utf-8", "backslashreplace").decode() + "\n")


def envelope(view: str, data: object) -> dict[str, object]:
    """What `--json` prints for a view, version 1."""
    return {"schema": f"dawnlevel/{view}/1", "data": data}


def show(view: str, data: Callable[[], object], text: Callable[[], str], *, as_json: bool) -> None:
    """Print a view's data in its envelope, or its text; only the one that is wanted is made."""
    if as_json:
        print_json(envelope(view, data()))
    else:
        sys.stdout.write(text() + "\n")


def show_problem(
    slug: str, message: str, where: str, cure: str, *, as_json: bool, lines: Sequence[BadLine] = ()
) -> None:
    """Print what went wrong: in its envelope on standard output, or as text on standard error."""
    if as_json:
        error: dict[str, object] = {"slug": slug, "message": message, "where": where, "cure": cure}
        if lines:
            error["lines"] = [asdict(line) for line in lines]
        print_json({"error": error})
        return
    place = f"{where}: " if where and not where.startswith("dawnlevel") else ""
    listed = "".join(f"\n  {bad.told}: {bad.problem} {bad.cure}" for bad in lines)
    sys.stderr.write(f"dawnlevel: {place}{message}{listed}{chr(10) if listed else ' '}{cure}\n")


def show_error(error: DawnlevelError, *, as_json: bool) -> None:
    """Print one of our errors; a file with bad lines with every one of them."""
    if isinstance(error, BadLinesError):
        message = error.what.partition("\n")[0]
        cure = "Mend these, then import the file again."
        show_problem(error.slug, message, error.where, cure, as_json=as_json, lines=error.lines)
    else:
        show_problem(error.slug, error.what, error.where, error.cure, as_json=as_json)
