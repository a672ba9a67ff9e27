"""One line of the long table, every cell as its text, and what its method cell says."""

from dataclasses import astuple, dataclass

from dawnlevel.errors import BadInputError


@dataclass(frozen=True, slots=True)
class TableRow:
    """One line of the table, every cell as its text."""

    time: str
    tank: str
    quantity: str
    value: str
    unit: str = ""
    method: str = ""
    note: str = ""

    def cells(self) -> tuple[str, ...]:
        """The cells in the order of COLUMNS."""
        return astuple(self)


def read_options(row: TableRow, bare: str, allowed: tuple[str, ...]) -> dict[str, str]:
    """The `key=value` pairs of the method cell; a word without `=` is the value of `bare`."""
    found: dict[str, str] = {}
    for part in filter(None, (piece.strip() for piece in row.method.split(";"))):
        key, has_value, value = (piece.strip() for piece in part.partition("="))
        name, content = (key, value) if has_value else (bare, key)
        if name not in allowed or name in found:
            raise BadInputError(
                f"{part!r} is nothing that can be said of {row.quantity}.",
                where="method",
                cure=f"Leave it empty, or use {', '.join(allowed)}." if allowed else "Leave it empty.",
            )
        found[name] = content
    return found


def refuse_unit(row: TableRow) -> None:
    """Raise BadInputError where the unit cell of a row without a unit is filled."""
    if row.unit.strip():
        raise BadInputError(
            f"{row.unit!r} is no unit for it.", where=row.quantity, cure="Leave the unit empty."
        )
