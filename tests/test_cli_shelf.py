"""`cylinder`, `room`, `solution` and `meter` at the command line: JSON by its schema, pages that fit."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from cli_keeper import DESCRIBE, Keeper
from jsonschema import validate

from dawnlevel.cli.render_json import envelope_schema
from dawnlevel.desk.shelf.meter_views import MeterView, SolutionView
from dawnlevel.desk.shelf.room_views import RoomView
from dawnlevel.desk.shelf.shelf_views import CylinderView

VIEWS: dict[str, type] = {
    "cylinder": CylinderView,
    "room": RoomView,
    "solution": SolutionView,
    "meter": MeterView,
}
STAMPS = "--tare 3.1kg --capacity 3L --standard 3al --tested 2022-01"
LINES = (
    "cylinder",
    "room 30m3",
    "room 1060ft3 --gas 5lb --over 30min --fresh-air 0/h --floor 130ft2 --temp 68F",
    "solution --balance 1g",
    "solution --kh 6dKH --volume 500mL",
    "solution --kh 4 --volume 0.5L --balance 0.001g --stock 40 --temp 77F",
    "meter",
    "meter --at 2026-02-20T10:00:00Z",
)


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys)
    for line in (
        DESCRIBE,
        f"exchange 2kg {STAMPS} --price 20 --at 2026-03-01T08:00Z",
        "rate 1.5/s --at 2026-03-01T08:00Z",
        "timer 10:30-19:00 --at 2026-03-01T08:00Z",
        "weigh 6.05kg --at 2026-03-01T09:00Z",
        "weigh 5.75kg --at 2026-05-05T09:00Z",
        "gauge 58bar --temp 22C --at 2026-05-05T09:00Z",
        "kh 4 --at 2026-05-03T09:00Z",
        "cup 8.05 --hours 1h --method aerated --at 2026-05-03T09:00Z",
        "ph 7.02 --at 2026-05-05T10:40Z",
        "buffers 4.06 6.80 --at 2026-02-01T09:00Z",
        "prepared 4dKH --at 2026-02-01T09:00Z",
    ):
        told = found(line)
        assert told.code == 0, told.err
    return found


@pytest.mark.parametrize("line", LINES)
def test_json_is_what_its_schema_says(keeper: Keeper, line: str) -> None:
    told = keeper(f"{line} --json")
    assert told.code == 0, told.out
    name = line.partition(" ")[0]
    validate(json.loads(told.out), envelope_schema(name, VIEWS[name]))


@pytest.mark.parametrize("columns", [40, 80])
@pytest.mark.parametrize("line", LINES)
def test_pages_fit_and_promise_nothing(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch, line: str, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    told = keeper(line)
    assert told.code == 0, told.err
    assert max(len(row) for row in told.out.splitlines()) <= columns
    assert "Sources" in told.out
    assert " safe" not in told.out.lower()
    assert "nan" not in told.out.split()


def test_what_the_pages_say(keeper: Keeper) -> None:
    assert "kg of 2" in keeper("cylinder").out
    assert "stay silent" in keeper("room 30m3").out
    assert "adds" in keeper("room 30m3").out
    assert "cannot weigh 0.12 g at all" in keeper("solution --balance 1g").out
    meter = keeper("meter").out
    assert "Slope 96 %" in meter
    assert "4-fold" in meter


def data(keeper: Keeper, line: str) -> Any:
    return keeper(f"{line} --json").data


def test_units_the_keeper_thinks_in(keeper: Keeper) -> None:
    ours, theirs = data(keeper, "room 30m3 --gas 2kg"), data(keeper, "room 1059.44ft3 --gas 4.40925lb")
    assert theirs["mixed_percent"] == pytest.approx(ours["mixed_percent"], rel=1e-4)
    assert data(keeper, "solution --kh 71.4mg/L --volume 1L")["kh_dkh"] == pytest.approx(4.0, abs=0.01)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("room 30m3 --gas lots", "no number"),
        ("room 30gal --gas 2kg", "no unit for it"),
        ("room 30m3 --gas -2kg", "outside"),
        ("solution --balance 50g", "outside"),
        ("solution --kh 4 --stock 3", "cannot be diluted"),
        ("solution --kh 4 --volume 1stone", "no unit for it"),
    ],
)
def test_what_cannot_be_is_told(keeper: Keeper, line: str, message: str) -> None:
    told = keeper(f"{line} --json")
    assert told.code == 2
    assert message in told.error["message"]
    assert told.error["cure"]


def test_without_a_cylinder_the_cure_is_how_to_record_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bare = Keeper(tmp_path, monkeypatch, capsys)
    assert bare(DESCRIBE).code == 0
    told = bare("cylinder --json")
    assert told.code == 3
    assert "dawnlevel exchange 2kg" in told.error["cure"]
    assert "--gas" in bare("room 30m3 --json").error["cure"]


def test_solution_and_room_need_no_records(tmp_path: Path) -> None:
    """No store is made by asking for a recipe."""
    for line in (["solution"], ["room", "30m3", "--gas", "2kg"]):
        environment = {"DAWNLEVEL_DATA": str(tmp_path / "none"), "PATH": ""}
        command = [sys.executable, "-m", "dawnlevel.cli", *line, "--json"]
        found = subprocess.run(command, env=environment, check=False, capture_output=True, text=True)
        assert found.returncode == 0, found.stderr
        assert not (tmp_path / "none").exists()
