"""A survey as a table of its own: time, pH, and the place by name or in cm; its lines as the long table's."""

from collections.abc import Mapping, Sequence

from dawnlevel.desk.exchange.tablerow import TableRow

_NEEDED = {"time", "ph"}
_CM = ("x_cm", "y_cm", "z_cm")
_KNOWN = {*_NEEDED, *_CM, "place", "tank", "note"}


def is_survey(names: Sequence[str]) -> bool:
    """Whether these columns are a survey's: time, ph, place or x_cm, y_cm, z_cm; and tank, note."""
    found = set(names)
    has_place = "place" in found or found.issuperset(_CM)
    return len(found) == len(names) and found >= _NEEDED and found <= _KNOWN and has_place


def row_of(cells: Mapping[str, str]) -> TableRow:
    """A line as a row of the long table; `cells` by column of either kind of table."""
    if "ph" not in cells:
        return TableRow(**cells)
    place = [f"place={cells['place'].strip()}"] if cells.get("place", "").strip() else []
    place += [f"{name}={cells[name].strip()}" for name in _CM if cells.get(name, "").strip()]
    return TableRow(
        time=cells["time"],
        tank=cells.get("tank", ""),
        quantity="survey",
        value=cells["ph"],
        method=";".join(place),
        note=cells.get("note", ""),
    )
