"""Records and results as arrays and frames, and the example scripts as they are run."""

import subprocess
import sys
from datetime import UTC
from pathlib import Path

import numpy as np
import pytest
from advice_world import NOW, at, make_store
from store_servers import one_of_each

import dawnlevel
from dawnlevel.desk.advice.today import today_view
from dawnlevel.errors import BadInputError, NoSuchTankError
from dawnlevel.store import open_store
from dawnlevel.tank import RECORD_KINDS

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("notebook") / "records.db", *one_of_each(at(11, 40)))


def test_every_kind_of_record_is_a_set_of_arrays_of_one_length(place: str) -> None:
    with open_store(place) as store:
        standing = store.records("Brook")
    for kind, cls in RECORD_KINDS.items():
        columns = dawnlevel.load_records(kind, store=place)
        wanted = [one for one in standing if type(one.record) is cls]
        assert {values.shape for values in columns.values()} == {(len(wanted),)}
        assert list(columns["id"]) == [one.id for one in wanted]
        moments = [one.record.at.replace(tzinfo=None) for one in wanted]
        assert columns["at"].astype(object).tolist() == moments
        assert list(columns["note"]) == [one.record.note for one in wanted]


def test_arrays_have_the_types_of_their_fields(place: str) -> None:
    ph = dawnlevel.load_records("ph", "Brook", place)
    assert (ph["ph"].dtype, ph["at"].dtype) == (np.float64, np.dtype("datetime64[us]"))
    assert np.isnan(ph["temp_c"][0])
    assert ph["temp_c"][2] == 24.3
    assert dawnlevel.load_records("gas", store=place)["is_open"].dtype == np.bool_
    assert list(dawnlevel.load_records("cell", store=place)["colour"]) == ["blue", "lime"]
    assert dawnlevel.load_records("timer", store=place)["windows_h"][1] == ((10.5, 12.0), (22.0, 1.25))


def test_the_level_is_what_today_draws(place: str) -> None:
    level = dawnlevel.load_level(NOW, store=place)
    with open_store(place) as store:
        curve = today_view(store, "Brook", NOW).picture.curve
    assert level["median"].tolist() == list(curve.median)
    assert level["at"].astype(object).tolist() == [
        one.astimezone(UTC).replace(tzinfo=None) for one in curve.at
    ]
    order = np.stack([level[name] for name in ("low_90", "low_50", "median", "high_50", "high_90")])
    assert np.all(np.diff(order, axis=0) >= 0)


@pytest.mark.parametrize("library", ["pandas", "polars"])
def test_frames_hold_the_same(place: str, library: str) -> None:
    pytest.importorskip(library, reason=f"{library} is not installed here")
    for kind in ("ph", "cell", "timer", "fish", "gas"):
        columns = dawnlevel.load_records(kind, store=place)
        found = dawnlevel.frame(columns, library)
        assert type(found).__module__.startswith(library)
        assert list(found.columns) == list(columns)
        assert len(found) == columns["id"].size
        assert found["id"].to_list() == columns["id"].tolist()
        assert [one.replace(tzinfo=None) for one in found["at"]] == columns["at"].astype(object).tolist()


def test_a_frame_without_a_library_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    columns = {"ph": np.array([7.0])}
    with pytest.raises(BadInputError, match="'excel' makes no frames"):
        dawnlevel.frame(columns, "excel")
    monkeypatch.setitem(sys.modules, "pandas", None)
    monkeypatch.setitem(sys.modules, "polars", None)
    with pytest.raises(BadInputError, match=r"Neither pandas nor polars is installed.*pip install pandas"):
        dawnlevel.frame(columns)


def test_what_is_asked_wrongly_is_told(place: str, tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match="'song' is no kind of record"):
        dawnlevel.load_records("song", store=place)
    with pytest.raises(NoSuchTankError):
        dawnlevel.load_records("ph", "Creek", place)
    with pytest.raises(BadInputError, match=r"There are 0 tanks.*tank=") as caught:
        dawnlevel.load_records("ph", store=str(tmp_path / "empty.db"))
    assert caught.value.where


@pytest.mark.parametrize(
    ("script", "more", "told"),
    [
        ("readings_of_a_tank.py", [], "2026-05-06         3     7.42    6.85   0.57"),
        ("level_through_the_day.py", [NOW.isoformat()], "h above 15 mg/L, highest"),
    ],
)
def test_the_examples_run(place: str, script: str, more: list[str], told: str) -> None:
    command = [sys.executable, str(EXAMPLES / script), place, *more]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    assert told in done.stdout
