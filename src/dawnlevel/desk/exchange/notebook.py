"""Records and results for notebooks and scripts: numpy arrays, or data frames where a library for them is."""

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from enum import Enum
from importlib import import_module
from typing import Any

import numpy as np

from dawnlevel.desk.advice.today import today_view
from dawnlevel.errors import BadInputError
from dawnlevel.store import Store, open_store
from dawnlevel.tank import RECORD_KINDS

Columns = dict[str, np.ndarray[Any, np.dtype[Any]]]
_LIBRARIES = ("pandas", "polars")


def _tank(store: Store, name: str | None) -> str:
    names = store.tank_names()
    if name is not None or len(names) == 1:
        return store.tank(name or names[0]).name
    raise BadInputError(
        f"There are {len(names)} tanks ({', '.join(names) or 'none'}).",
        where=store.place,
        cure="Name one: tank=...",
    )


def load_records(kind: str, tank: str | None = None, store: str | None = None) -> Columns:
    """What stands of one kind of record, one array a field, by time.

    Args:
        kind: machine name of the kind, such as `ph` or `rate`.
        tank: the tank's name; may be left out where there is one.
        store: path or address of the records; by default the keeper's own.

    Returns:
        Arrays of shape (n,): `id`, `at` (datetime64[us], UTC), then the fields with their units in the name;
        figures that are not known are NaN.

    Raises:
        BadInputError for an unknown kind or where the tank is not clear, NoSuchTankError, StoreError.
    """
    if kind not in RECORD_KINDS:
        raise BadInputError(
            f"{kind!r} is no kind of record.", where="kind", cure=f"Use one of {', '.join(RECORD_KINDS)}."
        )
    cls = RECORD_KINDS[kind]
    with open_store(store) as opened:
        found = [one for one in opened.records(_tank(opened, tank)) if type(one.record) is cls]
    columns: Columns = {"id": np.array([one.id for one in found], dtype=np.int64)}
    for field in dataclasses.fields(cls):
        columns[field.name] = _array([getattr(one.record, field.name) for one in found], field.type)
    return columns


def _array(values: Sequence[object], hint: object) -> np.ndarray[Any, np.dtype[Any]]:
    """One field's values as an array of its own type; words and lists as objects."""
    if hint is datetime:
        return _moments([value for value in values if isinstance(value, datetime)])
    if hint is bool:
        return np.array(values, dtype=np.bool_)
    if hint is int:
        return np.array(values, dtype=np.int64)
    if hint in {float, float | None}:
        return np.array([np.nan if value is None else value for value in values], dtype=np.float64)
    found = np.empty(len(values), dtype=object)
    found[:] = [value.value if isinstance(value, Enum) else value for value in values]
    return found


def _moments(moments: Sequence[datetime]) -> np.ndarray[Any, np.dtype[Any]]:
    """Aware moments as datetime64[us] in UTC."""
    return np.array([one.astimezone(UTC).replace(tzinfo=None) for one in moments], dtype="datetime64[us]")


def load_level(at: datetime | None = None, tank: str | None = None, store: str | None = None) -> Columns:
    """The level of dissolved CO2 through the day around `at`, as `dawnlevel today` draws it.

    Args:
        at: the moment it is asked for (aware; default: now). Records after it are not looked at.
        tank: the tank's name; may be left out where there is one.
        store: path or address of the records; by default the keeper's own.

    Returns:
        Arrays of shape (n,): `at` (datetime64[us], UTC), and in mg/L `median`, `low_50`, `high_50`, `low_90`,
        `high_90`; after `at` it is a forecast.

    Raises:
        NotEnoughRecordsError, NoSuchTankError, BadInputError where the tank is not clear, StoreError.
    """
    with open_store(store) as opened:
        curve = today_view(opened, _tank(opened, tank), at or datetime.now(UTC)).picture.curve
    names = [field.name for field in dataclasses.fields(curve) if field.name != "at"]
    return {"at": _moments(curve.at)} | {name: np.asarray(getattr(curve, name), float) for name in names}


def frame(columns: Mapping[str, np.ndarray[Any, np.dtype[Any]]], library: str | None = None) -> Any:  # noqa: ANN401 - of either library
    """The arrays as a data frame of pandas or polars, whichever is installed (pandas where both are).

    Args:
        columns: arrays of shape (n,) by name, as `load_records` and `load_level` give them.
        library: `pandas` or `polars`, where it matters.

    Raises:
        BadInputError where the library is another, or not installed.
    """
    for name in (library,) if library else _LIBRARIES:
        if name not in _LIBRARIES:
            raise BadInputError(f"{name!r} makes no frames.", where="library", cure="Name pandas or polars.")
        try:
            found = import_module(name)
        except ImportError:
            continue
        return found.DataFrame(
            {key: values.tolist() if values.dtype == object else values for key, values in columns.items()}
        )
    raise BadInputError(
        f"{library} is not installed." if library else "Neither pandas nor polars is installed.",
        where="library",
        cure="Install one of them, for example: pip install pandas",
    )
