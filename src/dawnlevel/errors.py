"""Every error Dawnlevel raises on purpose.

The tree::

    DawnlevelError
    ├── OutOfRangeError          a number outside the range it is defined for
    ├── BadInputError            a value that cannot be understood or contradicts another
    ├── BadLinesError            a file with lines that cannot be taken; all of them, with places
    ├── NotEnoughRecordsError    a question the records cannot answer yet
    ├── NoSuchTankError          a name that no tank has
    ├── NoSuchOwnerError         a name that no tank's owner has
    ├── TankExistsError          a name that a tank has already
    ├── NotInstalledError        an optional part of the program that is not there
    └── StoreError               the records cannot be read or written
        ├── StoreLockedError
        ├── StoreReadOnlyError
        ├── StoreFullError
        ├── StoreUnreachableError
        └── DamagedStoreError

Each class builds its own message from what was wrong, where, and the cure.
"""

from collections.abc import Sequence
from dataclasses import dataclass


class DawnlevelError(Exception):
    """Something the user can act on; the message says what, where and the cure.

    Attributes:
        slug: short machine name of the kind of error, also in `--json` output.
        exit_code: what the command line returns; never 0.
    """

    slug = "error"
    exit_code = 1

    def __init__(self, what: str, *, where: str = "", cure: str = "") -> None:
        self.what = what
        self.where = where
        self.cure = cure
        super().__init__(self.what, self.where, self.cure)

    def __reduce__(self) -> tuple[object, ...]:
        """So that another process may send it here whole."""
        return _as_sent, (type(self), self.args, self.__dict__)

    def __str__(self) -> str:
        """One sentence with the place, the reason and the cure."""
        place = f"{self.where}: " if self.where else ""
        cure = f" {self.cure}" if self.cure else ""
        return f"{place}{self.what}{cure}"


def _as_sent(
    kind: type[DawnlevelError], args: tuple[object, ...], state: dict[str, object]
) -> DawnlevelError:
    """The error that `DawnlevelError.__reduce__` took apart."""
    error = kind.__new__(kind, *args)
    error.__dict__.update(state)
    return error


class OutOfRangeError(DawnlevelError, ValueError):
    """A number outside the range for which it is defined.

    Args: name of the quantity, the offending value, both ends of the range (inclusive), the unit.
    """

    slug = "out-of-range"
    exit_code = 2

    def __init__(
        self, name: str, value: float, low: float, high: float, unit: str, *, where: str = ""
    ) -> None:
        self.name = name
        self.value = value
        self.low = low
        self.high = high
        self.unit = unit
        suffix = f" {unit}" if unit else ""
        super().__init__(
            f"{name} is {value:g}{suffix}, outside {low:g} to {high:g}{suffix}.",
            where=where,
            cure="Check the figure and its unit, then enter it again.",
        )


class BadInputError(DawnlevelError, ValueError):
    """A value that cannot be understood, or that contradicts another."""

    slug = "bad-input"
    exit_code = 2


@dataclass(frozen=True, slots=True)
class BadLine:
    """One line of a file that cannot be taken: its number (first line is 1), the reason, the cure.

    `place` says where it stands, where a number alone would not.
    """

    line: int
    problem: str
    cure: str
    place: str = ""

    @property
    def told(self) -> str:
        """Where it stands, in words."""
        return self.place or f"line {self.line}"


class BadLinesError(DawnlevelError, ValueError):
    """A file in which some lines cannot be taken; nothing of it has been stored."""

    slug = "bad-lines"
    exit_code = 2

    def __init__(self, file: str, lines: Sequence[BadLine], total: int, noun: str = "line") -> None:
        self.file = file
        self.lines = tuple(lines)
        self.total = total
        listed = "".join(f"\n  {bad.told}: {bad.problem} {bad.cure}" for bad in self.lines)
        nouns = noun if len(self.lines) == 1 else f"{noun}s"
        super().__init__(
            f"{len(self.lines)} {nouns} of {total} cannot be taken; nothing was imported.{listed}",
            where=file,
        )


class NotEnoughRecordsError(DawnlevelError):
    """A question that the records cannot answer yet; the cure names the record that is missing."""

    slug = "not-enough-records"
    exit_code = 3


class NoSuchTankError(DawnlevelError, LookupError):
    """A name that no tank has."""

    slug = "no-such-tank"
    exit_code = 2

    def __init__(self, name: str, known: Sequence[str]) -> None:
        listed = ", ".join(known) if known else "none yet"
        super().__init__(f"There is no tank called {name!r} (tanks: {listed}).", cure="Check the name.")


class NoSuchOwnerError(DawnlevelError, LookupError):
    """A name that no tank's owner has."""

    slug = "no-such-owner"
    exit_code = 2

    def __init__(self, name: str, known: Sequence[str]) -> None:
        listed = ", ".join(known) if known else "none yet"
        super().__init__(
            f"No tank has an owner called {name!r} (owners: {listed}).",
            cure="Check the name, or say whose a tank is: dawnlevel tank change --tank NAME --owner OWNER",
        )


class TankExistsError(DawnlevelError):
    """A name that a tank has already."""

    slug = "tank-exists"
    exit_code = 2

    def __init__(self, name: str, *, is_another: bool = False) -> None:
        if is_another:
            super().__init__(
                f"The store has another tank called {name!r}: no description of it is in the file.",
                cure="Give one of the two another name: dawnlevel tank rename OLD NEW",
            )
        else:
            super().__init__(f"A tank called {name!r} exists already.", cure="Choose another name.")


class NotInstalledError(DawnlevelError):
    """An optional part of the program is not installed; names what it is for, the package, the extra."""

    slug = "not-installed"
    exit_code = 5

    def __init__(self, what_for: str, package: str, extra: str) -> None:
        super().__init__(
            f"{what_for} needs {package}, which is not installed.",
            cure=f"Install it: pip install 'dawnlevel[{extra}]'",
        )


class StoreError(DawnlevelError):
    """The records cannot be read or written; nothing was changed."""

    slug = "store"
    exit_code = 4


class StoreLockedError(StoreError):
    """Another program holds the store."""

    slug = "store-locked"


class StoreReadOnlyError(StoreError):
    """The store, its folder or its disk is read-only."""

    slug = "store-read-only"


class StoreFullError(StoreError):
    """The disk that holds the store is full."""

    slug = "store-full"


class StoreUnreachableError(StoreError):
    """The store cannot be opened at all."""

    slug = "store-unreachable"


class DamagedStoreError(StoreError):
    """The store's file, or a copy of it, does not hold together."""

    slug = "store-damaged"

    def __init__(self, place: str, found: str) -> None:
        super().__init__(
            f"The file is damaged ({found}).",
            where=place,
            cure="Put back the latest copy: dawnlevel restore FILE --replace (what is there is kept aside).",
        )
