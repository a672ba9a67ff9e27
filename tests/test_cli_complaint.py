"""`dawnlevel why`: complaints answered from an invented tank's records, in letters and as JSON."""

import json
from pathlib import Path

import pytest
from advice_world import NOW, at, make_store, morning

from dawnlevel.cli.app import run
from dawnlevel.cli.complaint import COMPLAINTS
from dawnlevel.desk.trouble.complaint import complaint_view
from dawnlevel.desk.trouble.complaint_causes import BEHIND, CAUSES, LABELS, Complaint
from dawnlevel.desk.trouble.complaint_evidence import _SAYS
from dawnlevel.plan.fish import DISTRESS_STEPS
from dawnlevel.store import open_store
from dawnlevel.tank import (
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    KhTitration,
    PhReading,
    RateSetting,
)


@pytest.fixture(autouse=True)
def noon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DAWNLEVEL_NOW", NOW.isoformat())
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("DAWNLEVEL_TANK", raising=False)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("kept") / "records.db")


def test_the_commands_complaints_are_the_desks_and_every_cause_has_its_words() -> None:
    assert tuple(Complaint) == COMPLAINTS
    assert set(BEHIND) == set(LABELS) == set(Complaint)
    named = {kind for causes in BEHIND.values() for kind, _ in causes}
    assert named <= set(CAUSES) == set(_SAYS) | {"low_oxygen"}  # by the balance of oxygen
    assert all(0 < share < 1 for causes in BEHIND.values() for _, share in causes)


def test_causes_come_likeliest_first_each_with_its_evidence(place: str) -> None:
    with open_store(place) as store:
        view = complaint_view(store, "Brook", Complaint.LOW, NOW)
    shares = dict(BEHIND[Complaint.LOW])
    order = [shares[one.kind] if one.probability is None else one.probability for one in view.causes]
    assert order == sorted(order, reverse=True)
    assert {one.kind for one in view.causes} == set(shares)
    assert all(one.evidence and one.unknown and one.check for one in view.causes)
    assert view.remedy is not None
    assert 0 <= view.remedy.chance_if_done <= 1
    assert view.remedy.chance_if_left is not None
    assert view.remedy.chance_if_done >= view.remedy.chance_if_left - 0.05
    removes = [one.removes for one in view.measurements]
    assert removes == sorted(removes, reverse=True)


def test_the_page_says_why_what_to_measure_and_what_to_change(
    place: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["why", "low-at-lights-on", "--store", place]) == 0
    said = " ".join(capsys.readouterr().out.split())
    for part in ("The level is too low at lights-on", "evidence", "to settle it", "What to measure next"):
        assert part in said
    assert "What to change" in said
    assert "dawnlevel plan; --accept" in said
    assert "safe" not in said.lower()


def test_json_carries_the_kinds_and_the_chances(place: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["why", "cell-stays-blue", "--store", place, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)["data"]
    assert data["complaint"] == "cell-stays-blue"
    kinds = {cause["kind"]: cause["probability"] for cause in data["causes"]}
    assert kinds["uneven"] is None
    assert 0 <= kinds["cell_behind_rise"] <= 1


def test_fish_at_the_surface_come_before_any_ranking(place: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["why", "fish-at-surface", "--store", place]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.index(DISTRESS_STEPS[0]) < said.index("No cause")
    assert "veterinarian" in said
    assert "What to change" not in said


def test_a_level_over_the_ceiling_is_the_likeliest_cause_of_fish_at_the_surface(tmp_path: Path) -> None:
    readings = [(10, 30, 7.0), (11, 0, 6.75), (11, 30, 6.55), (12, 5, 6.3)]
    records = [*morning()[:4], RateSetting(at=at(9, 25), bubbles_per_second=9.0)]
    records += [PhReading(at=at(hour, minute), ph=ph) for hour, minute, ph in readings]
    place = make_store(tmp_path / "records.db", records=records)
    with open_store(place) as store:
        view = complaint_view(store, "Brook", Complaint.FISH, NOW)
    assert view.causes[0].kind == "over_ceiling"
    assert (view.causes[0].probability or 0) > 0.7
    assert view.first[0] == DISTRESS_STEPS[0]


def test_no_plan_is_offered_while_the_fish_are_in_distress(tmp_path: Path) -> None:
    place = make_store(tmp_path / "records.db", FishSighting(at=at(12, 5), state=FishState.DISTRESS))
    with open_store(place) as store:
        view = complaint_view(store, "Brook", Complaint.YELLOW, NOW)
    assert view.remedy is None


def test_a_blue_cell_early_in_the_ramp_is_the_cells_lag(tmp_path: Path) -> None:
    records = [
        *morning()[:4],
        PhReading(at=at(10, 30), ph=7.2),
        PhReading(at=at(11, 30), ph=6.9),
        CellSighting(at=at(11, 31), colour=CellColour.BLUE),
    ]
    place = make_store(tmp_path / "records.db", records=records)
    with open_store(place) as store:
        view = complaint_view(store, "Brook", Complaint.BLUE, NOW)
    lag = next(one for one in view.causes if one.kind == "cell_behind_rise")
    assert (lag.probability or 0) > 0.8
    assert "blue at 11:31" in lag.evidence


@pytest.mark.parametrize("count", [0, 1, 2])
def test_without_records_it_asks_for_the_readings_that_matter_most(tmp_path: Path, count: int) -> None:
    few = [KhTitration(at=at(9), kh_dkh=4.0), PhReading(at=at(10), ph=7.1)][:count]
    place = make_store(tmp_path / "records.db", records=few)
    with open_store(place) as store:
        view = complaint_view(store, "Brook", Complaint.STALL, NOW)
    assert len(view.needs) == (1 if count == 2 else 2)
    assert "dawnlevel cup" in view.needs[-1]
    assert view.causes == ()
    assert view.remedy is None


def test_an_unknown_complaint_is_refused_with_the_list(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["why", "nonsense"]) == 2
    assert "low-at-lights-on" in capsys.readouterr().err
