"""Writes the pages that are made from the program itself: commands, JSON, sources, messages.

    python -m docs.generate

`tests/test_docs.py` fails where a page is not what this writes now.
"""

import ast
import dataclasses
import inspect
import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, get_type_hints

import click

import dawnlevel
from dawnlevel import errors
from dawnlevel.cli.app import SECTIONS, cli
from dawnlevel.cli.render_json import envelope_schema, type_text
from dawnlevel.desk.advice.baseline import CupView
from dawnlevel.desk.animals.animals import AnimalsView
from dawnlevel.desk.animals.oxygen_views import OxygenView
from dawnlevel.desk.animals.whatif_views import WhatIfView
from dawnlevel.desk.evenness.layout import LayoutView
from dawnlevel.desk.evenness.mixing import MixingView
from dawnlevel.desk.evenness.spread_views import SpreadView
from dawnlevel.desk.exchange.backup import BackupView, RestoreView
from dawnlevel.desk.exchange.doctor import DoctorView
from dawnlevel.desk.fleet.views import FleetView
from dawnlevel.desk.handover.calendar_views import CalendarView, OwnerCalendarView
from dawnlevel.desk.handover.handover_views import HandoverPack, HandoverView
from dawnlevel.desk.shelf.meter_views import MeterView, SolutionView
from dawnlevel.desk.shelf.room_views import RoomView
from dawnlevel.desk.shelf.shelf_views import CylinderView
from dawnlevel.desk.steadiness.following import FollowedView
from dawnlevel.desk.steadiness.live import HeardView
from dawnlevel.desk.steadiness.probing import ProbeImportView, ProbeListView
from dawnlevel.desk.steadiness.steadiness_views import SteadinessView
from dawnlevel.desk.steadiness.thinning import ThinningView
from dawnlevel.desk.trouble.complaint_views import ComplaintView
from dawnlevel.desk.views import ExplainView, PlanView, TodayView
from dawnlevel.sources import SOURCES
from docs.meanings import COMMON, MEANINGS

FOLDER = Path(__file__).parent
VIEWS: dict[str, type] = {
    "today": TodayView,
    "plan": PlanView,
    "explain": ExplainView,
    "why": ComplaintView,
    "steady": SteadinessView,
    "degassed": CupView,
    "cylinder": CylinderView,
    "room": RoomView,
    "solution": SolutionView,
    "meter": MeterView,
    "spread": SpreadView,
    "layout": LayoutView,
    "mixing": MixingView,
    "probe-import": ProbeImportView,
    "probe-list": ProbeListView,
    "probe-thin": ThinningView,
    "probe-follow": FollowedView,
    "probe-listen": HeardView,
    "backup": BackupView,
    "restore": RestoreView,
    "doctor": DoctorView,
    "calendar": CalendarView,
    "owner-calendar": OwnerCalendarView,
    "animals": AnimalsView,
    "oxygen": OxygenView,
    "whatif": WhatIfView,
    "handover": HandoverView,
    "owner-handover": HandoverPack,
    "fleet": FleetView,
}
_MADE = "<!-- Written by `python -m docs.generate`; changes by hand are lost. -->\n"
_UNITS = {
    "_mg_l": "mg/L",
    "_bps": "bubbles/s",
    "_ph": "pH",
    "_percent": "%",
    "_cm": "cm",
    "_sd": "sd of the prior",
    "_per_h": "1/h",
    "_share": "share, 0 to 1",
    "_kg": "kg",
    "_g": "g",
    "_dkh": "dKH",
    "_mv": "mV",
    "_bar": "bar",
    "_hpa": "hPa",
    "_c": "degC",
    "_h": "h",
    "_ml": "mL",
}


def pages() -> dict[str, str]:
    """Every page that is written, by its name in this folder."""
    makers: dict[str, Callable[[], str]] = {
        "commands.md": commands_page,
        "json.md": json_page,
        "messages.md": messages_page,
        "sources.md": sources_page,
    }
    return {name: make() for name, make in makers.items()}


# --- commands ---


def commands_page() -> str:
    """The help of every command, as the terminal shows it."""
    parts = ["# Commands\n", _MADE, _help_block(cli, "dawnlevel", None)]
    for section, commands in SECTIONS.items():
        parts.append(f"## {section}\n")
        for name in commands:
            context = click.Context(cli, info_name="dawnlevel")
            command = cli.get_command(context, name)
            if command is None:
                raise AssertionError(name)
            parts += list(_with_subcommands(command, name, context))
    return "\n".join(parts)


def _with_subcommands(command: click.Command, path: str, parent: click.Context) -> Iterator[str]:
    own = path.rpartition(" ")[2]
    yield f"### dawnlevel {path}\n"
    yield _help_block(command, own, parent)
    if isinstance(command, click.Group):
        context = click.Context(command, info_name=own, parent=parent)
        for name in command.list_commands(context):
            inner = command.get_command(context, name)
            if inner is not None:
                yield from _with_subcommands(inner, f"{path} {name}", context)


def _help_block(command: click.Command, name: str, parent: click.Context | None) -> str:
    context = click.Context(
        command,
        info_name=name,
        parent=parent,
        terminal_width=80,
        help_option_names=["-h", "--help"],
    )
    return f"```text\n{command.get_help(context).rstrip()}\n```\n"


# --- JSON ---


def json_page() -> str:
    """The views `--json` prints: every field, and the JSON Schema of each answer."""
    parts = [
        "# JSON views\n",
        _MADE,
        "The commands of this table print with `--json` one object,",
        '`{"schema": "dawnlevel/<view>/1", "data": {...}}`; the other views and the shape of errors are in',
        "[command-line.md](command-line.md). Times are RFC 3339 in UTC (`timezone` names the tank's zone),",
        "days are ISO dates; what is not known, or no number, is null. `plan --accept` adds `accepted`: the",
        "numbers of the records it stored.\n",
        "| view | command | data |",
        "|---|---|---|",
        *(
            f"| `{name}` | `dawnlevel {name.replace('probe-', 'probe ')}` | {type_text(view)} |"
            for name, view in VIEWS.items()
        ),
        "",
    ]
    for view in _all_parts():
        parts += list(_fields(view))
    for name, view in VIEWS.items():
        parts += [f"## Schema of `{name}`\n", "```json", _compact(envelope_schema(name, view)), "```\n"]
    return "\n".join(parts)


def _all_parts() -> list[type]:
    """Every dataclass in the views, each once, in the order in which it is met."""
    found: dict[type, None] = {}

    def meet(hint: Any) -> None:  # noqa: ANN401 - type hints have no type
        for one in getattr(hint, "__args__", ()):
            meet(one)
        if dataclasses.is_dataclass(hint) and isinstance(hint, type) and hint not in found:
            found[hint] = None
            for inner in get_type_hints(hint).values():
                meet(inner)

    for view in VIEWS.values():
        meet(view)
    return list(found)


def _fields(view: type) -> Iterator[str]:
    text, told = _docstring(view)
    meanings = COMMON | MEANINGS.get(view.__name__, {}) | told
    hints = get_type_hints(view)
    yield f"### {view.__name__}\n"
    yield f"{text}\n"
    yield "| field | type | unit | meaning |"
    yield "|---|---|---|---|"
    for field in dataclasses.fields(view):
        yield (
            f"| `{field.name}` | {type_text(hints[field.name])} | {_unit(field.name)} | "
            f"{meanings.get(field.name, '')} |"
        )
    yield ""


def _docstring(view: type) -> tuple[str, dict[str, str]]:
    """A class's text, and the meaning of each field its Attributes name; `a, b:` speaks of both."""
    text, _, attributes = inspect.cleandoc(view.__doc__ or "").partition("Attributes:")
    meanings: dict[str, str] = {}
    names: list[str] = []
    for line in attributes.splitlines():
        head, colon, rest = line.strip().partition(": ")
        if colon and line.startswith("    ") and not line.startswith("     "):
            names = [name.strip() for name in head.split(",")]
            meanings |= dict.fromkeys(names, rest)
        elif line.strip():
            meanings |= {name: f"{meanings[name]} {line.strip()}" for name in names}
    return " ".join(text.split()), meanings


def _unit(name: str) -> str:
    if name.startswith(("chance_", "breach_")) or name in {"dialled_in", "probability", "removes", "removed"}:
        return "share, 0 to 1"
    return next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")


def _compact(schema: dict[str, Any]) -> str:
    """The schema with a line for each part."""
    parts = schema["$defs"]
    head = json.dumps({key: value for key, value in schema.items() if key != "$defs"}, ensure_ascii=False)
    lines = [f'  "{name}": {json.dumps(part, ensure_ascii=False)}' for name, part in parts.items()]
    return head[:-1] + ', "$defs": {\n' + ",\n".join(lines) + "\n}}"


# --- sources ---


def sources_page() -> str:
    """Every published source the figures rest on, and how far it was checked."""
    rows = [
        f"| `{source.key}` | {_cell(source.text)} | {source.doi} | {source.status} |"
        for source in SOURCES.values()
    ]
    return "\n".join(
        [
            "# Sources\n",
            _MADE,
            "What Dawnlevel's figures rest on, and how far each was checked against the work it is said to",
            "come from. `dawnlevel explain` names those behind its answer.\n",
            "| key | source | DOI | status |",
            "|---|---|---|---|",
            *rows,
            "",
        ]
    )


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


# --- messages ---


def messages_page() -> str:
    """Every error, its messages and their cures, read from the source; `{...}` stands for what is named."""
    found = _messages()
    parts = [
        "# Messages\n",
        _MADE,
        "Every error says where, what and the cure; with `--json` as",
        '`{"error": {"slug", "message", "where", "cure"}}`. Words in braces stand for what it names.\n',
    ]
    for kind in _kinds(errors.DawnlevelError):
        meaning = (inspect.getdoc(kind) or "").partition("\n\n")[0].replace("\n", " ")
        parts += [f"## `{kind.slug}`\n", f"{meaning} Exit code {kind.exit_code}.\n"]
        rows = found.get(kind.__name__, [])
        if rows:
            parts += ["| message | cure |", "|---|---|", *(f"| {what} | {cure} |" for what, cure in rows), ""]
    return "\n".join(parts)


def _kinds(kind: type[errors.DawnlevelError]) -> Iterator[type[errors.DawnlevelError]]:
    """The tree of errors, each before those under it."""
    if kind is not errors.DawnlevelError:
        yield kind
    for under in kind.__subclasses__():
        if under.__module__ == errors.__name__:
            yield from _kinds(under)


def _messages() -> dict[str, list[tuple[str, str]]]:
    """What and cure of each error raised anywhere in the package, by the error's name, each once."""
    names = {kind.__name__ for kind in _kinds(errors.DawnlevelError)}
    found: dict[str, dict[tuple[str, str], None]] = {}
    package = Path(dawnlevel.__file__).parent
    for file in sorted(package.rglob("*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        known = _constants(tree)
        for name, what, cure in _calls(tree, names):
            if isinstance(what, ast.Constant | ast.JoinedStr):
                row = (_cell(_words(what, known)), _cell(_words(cure, known)))
                found.setdefault(name, {})[row] = None
    return {name: list(rows) for name, rows in found.items()}


def _constants(tree: ast.Module) -> dict[str, str]:
    """Strings that stand under a name of their own at the top of a module."""
    return {
        node.targets[0].id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign)
        and isinstance(node.targets[0], ast.Name)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    }


def _calls(tree: ast.AST, names: set[str]) -> Iterator[tuple[str, ast.expr | None, ast.expr | None]]:
    """What and cure, as written, of every error made: by its name, in its own class, or by a table."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names:
            if node.func.id != "OutOfRangeError":  # builds its message from figures
                yield node.func.id, *_what_and_cure(node)
        elif isinstance(node, ast.ClassDef) and node.name in names:
            for inner in ast.walk(node):
                if isinstance(inner, ast.Call) and ast.unparse(inner.func) == "super().__init__":
                    yield node.name, *_what_and_cure(inner)
        elif isinstance(node, ast.Dict):
            for key, value in zip(node.keys, node.values, strict=True):
                if isinstance(key, ast.Name) and key.id in names and isinstance(value, ast.Tuple):
                    yield key.id, value.elts[0], value.elts[1]


def _what_and_cure(call: ast.Call) -> tuple[ast.expr | None, ast.expr | None]:
    cure = next((keyword.value for keyword in call.keywords if keyword.arg == "cure"), None)
    return (call.args[0] if call.args else None), cure


def _words(node: ast.expr | None, known: dict[str, str]) -> str:
    """A string as written, with `{name}` for what is filled in."""
    match node:
        case None:
            return ""
        case ast.Constant():
            return str(node.value)
        case ast.Name() if node.id in known:
            return known[node.id]
        case ast.JoinedStr():
            return "".join(
                str(part.value) if isinstance(part, ast.Constant) else f"{{{_name(part)}}}"
                for part in node.values
            )
        case _:
            return f"{{{_name(node)}}}"


def _name(node: ast.AST) -> str:
    """The word that tells most about an expression: its first attribute of weight, or its name."""
    for inner in ast.walk(node):
        if isinstance(inner, ast.Attribute) and inner.attr not in {"join", "strip", "name", "isoformat"}:
            return inner.attr.strip("_").lower()
        if isinstance(inner, ast.Name) and inner.id not in {"self", "repr", "str", "len"}:
            return inner.id.strip("_").lower()
    return "..."


def main() -> None:
    """Write every page."""
    for name, text in pages().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
        sys.stdout.write(f"docs/{name}\n")


if __name__ == "__main__":
    main()
