"""Describing a tank in a browser: step by step without script, bad input beside its field, all or nothing."""

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from web_world import BROOK, World, fields, make_world, tokens

from dawnlevel.desk.setup import surface_figures
from dawnlevel.store import open_store
from dawnlevel.tank import AnimalKind, Animals, Diffuser, Planting, Surface, Tank, TargetKind
from dawnlevel.web.setup_asks import STEPS

ANSWERS = {
    "size": {"name": "Fen", "volume": "48", "volume_unit": "gal", "depth": "18", "depth_unit": "in"},
    "lights": {"lights_on": "12:30", "lights_off": "20:30", "timezone": "Europe/Madrid"},
    "water": {"surface": "rippled", "planting": "dense", "diffuser": "inline"},
    "instruments": {"temp": "77", "temp_unit": "°F", "kh_step": "10", "kh_step_unit": "mg/L CaCO3", "gh": ""},
    "animals": {"fish_number": "12", "fish_weight": "1.5"},
    "target": {"target_kind": "mg/L", "low": "18", "high": "26", "limit": "28"},
    "timer": {"timer_windows": "2", "earliest_gas": "06:00", "first_rate": "90", "first_rate_unit": "/min"},
}


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


@pytest.fixture
def browser(world: World) -> TestClient:
    return world.local()


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """A browser in a world that nothing is kept in: opened once."""
    return make_world(tmp_path_factory.mktemp("calm")).local()


def converse(browser: TestClient, **changed: dict[str, str]) -> str:
    """Answer every step; the review's page."""
    page = browser.get("/setup").text
    for step in STEPS:
        assert f'name="step" value="{step.key}"' in page
        answers = {**ANSWERS[step.key], **changed.get(step.key, {})}
        answer = browser.post("/setup", data={**fields(page), **answers, "go": "next"})
        assert answer.status_code == 200, answer.text
        page = answer.text
    return str(page)


def tank(world: World, name: str) -> Tank:
    with open_store(world.store) as store:
        return store.tank(name)


def test_a_tank_is_described_in_the_keepers_units_and_kept_at_the_end_only(
    world: World, browser: TestClient
) -> None:
    review = converse(browser)
    with open_store(world.store) as store:
        assert store.tank_names() == ["Brook"]
    assert "Nothing is written down yet" in review
    sent = {**fields(review), "go": "save"}
    for _ in range(2):  # a second tap leads to the same tank
        answer = browser.post("/setup", data=sent)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/tanks/Fen"
    fen = tank(world, "Fen")
    assert fen.volume_l == pytest.approx(48 * 3.785411784)  # US gallon, NIST Handbook 44
    assert fen.depth_cm == pytest.approx(18 * 2.54)
    assert fen.surface_cm2 == pytest.approx(fen.volume_l * 1000 / fen.depth_cm)
    assert fen.temp_c == pytest.approx(25.0)
    assert fen.kh_step_dkh == pytest.approx(10 / 17.848, rel=1e-3)  # 1 dKH = 17.848 mg/L CaCO3
    assert (fen.surface, fen.planting, fen.diffuser) == (Surface.RIPPLED, Planting.DENSE, Diffuser.INLINE)
    assert (fen.target.kind, fen.target.low, fen.target.high) == (TargetKind.CO2, 18.0, 26.0)
    assert (fen.photoperiod.lights_on_h, fen.photoperiod.lights_off_h) == (12.5, 20.5)
    assert (fen.first_rate_bps, fen.timer_windows, fen.earliest_start_h) == (1.5, 2, 6.0)
    assert fen.gh_dgh is None
    assert fen.animals == (Animals(AnimalKind.FISH, 12, 1.5),)
    assert (fen.co2_limit_mg_l, fen.limit_reason) == (28.0, "")


def test_the_ceiling_comes_from_the_animals_unless_there_is_a_reason(
    world: World, browser: TestClient
) -> None:
    shrimp = {"shrimp_number": "20", "shrimp_weight": "0.2"}
    review = converse(browser, animals=shrimp, target={"limit": ""})
    browser.post("/setup", data={**fields(review), "go": "save"})
    assert tank(world, "Fen").co2_limit_mg_l == 20.0  # no figure for dwarf shrimp: the precaution
    page = browser.get("/tanks/Fen/description/target").text
    assert "No figure found for dwarf shrimp" in page
    sent = {**fields(page), "limit": "26"}
    refused = browser.post("/tanks/Fen/description/target", data=sent)
    assert refused.status_code == 422
    assert re.search(r'data-problem="limit_reason"[^>]*>[^<]*above the 20 mg/L', refused.text)
    assert 'value="26"' in refused.text
    reason = "two years at 26 without a loss"
    browser.post("/tanks/Fen/description/target", data={**sent, "limit_reason": reason})
    assert (tank(world, "Fen").co2_limit_mg_l, tank(world, "Fen").limit_reason) == (26.0, reason)
    assert reason in browser.get("/tanks/Fen/description").text
    page = browser.get("/tanks/Fen/description/animals").text
    browser.post(
        "/tanks/Fen/description/animals", data={**fields(page), "fish_number": "", "fish_weight": ""}
    )
    assert [one.kind.value for one in tank(world, "Fen").animals] == ["shrimp"]


@pytest.mark.parametrize(
    ("step", "answers", "field", "told"),
    [
        ("size", {"volume": "a lot"}, "volume", "is no number"),
        ("size", {"volume": "0.2"}, "volume", "outside"),
        ("size", {"name": ""}, "name", "Give it a name"),
        ("size", {"length": "90"}, "width", "both length and width"),
        ("lights", {"lights_off": "25:00"}, "lights_off", "is no time of day"),
        ("lights", {"lights_off": "12:30"}, "lights_off", "same time"),
        ("lights", {"timezone": "Atlantis/Reef"}, "timezone", "is no time zone"),
        ("water", {"surface": "frozen"}, "surface", "is none of"),
        ("instruments", {"temp": "77", "temp_unit": "°C"}, "temp", "outside"),
        ("instruments", {"kh_step": "2 spoons"}, "kh_step", "is no unit"),
        ("target", {"low": "30", "high": "20"}, "high", "has no width"),
        ("target", {"limit": "300"}, "limit", "outside"),
        ("target", {"limit": "35"}, "limit_reason", "above the 30 mg/L that guidance allows for fish"),
        ("animals", {"shrimp_number": "20"}, "shrimp_weight", "both how many"),
        ("animals", {"shrimp_number": "many", "shrimp_weight": "1"}, "shrimp_number", "no number"),
        ("timer", {"readings": "2.5"}, "readings", "no whole number"),
    ],
)
def test_bad_input_is_told_beside_its_field_on_its_step_and_kept(
    reader: TestClient, step: str, answers: dict[str, str], field: str, told: str
) -> None:
    page = reader.get("/setup").text
    for one in STEPS:
        given = {**ANSWERS[one.key], **(answers if one.key == step else {})}
        answer = reader.post("/setup", data={**fields(page), **given, "go": "next"})
        page = answer.text
        if one.key == step:
            break
    assert answer.status_code == 422
    message = re.search(rf'data-problem="{field}"[^>]*>([^<]*)<', page)
    assert message
    assert told in message[1]
    assert page.count('class="problem"') > 0
    kept = fields(page)
    for name, text in answers.items():
        if name != "surface":
            assert kept[name] == text
    assert kept.get("volume") or step == "size"


def test_back_and_change_keep_what_was_typed(reader: TestClient) -> None:
    review = converse(reader)
    back = reader.post("/setup", data={**fields(review), "go": "size"})
    assert 'value="Fen"' in back.text
    assert "<option selected>gal" in back.text
    half = reader.post("/setup", data={**fields(back.text), "volume": "junk", "go": "back"})
    assert half.status_code == 200  # nothing is checked on the way back
    assert fields(half.text)["volume"] == "junk"
    again = reader.post("/setup", data={**fields(half.text), "volume": "50", "go": "review"})
    assert "Is this Fen?" in again.text
    assert ">50 gal" in again.text


def test_a_name_that_is_taken_and_a_day_to_come_are_told_and_nothing_is_kept(
    world: World, browser: TestClient
) -> None:
    review = converse(browser, size={"name": "Brook"})
    answer = browser.post("/setup", data={**fields(review), "go": "save"})
    assert answer.status_code == 409
    assert "Brook" in answer.text
    assert 'aria-invalid="true"' in answer.text
    review = converse(browser)
    answer = browser.post("/setup", data={**fields(review), "since": "2027-01-01", "go": "save"})
    assert answer.status_code == 422
    assert "still to come" in answer.text
    assert 'value="2027-01-01"' in answer.text
    with open_store(world.store) as store:
        assert store.tank_names() == ["Brook"]


def test_figures_that_do_not_go_together_are_pointed_out(reader: TestClient) -> None:
    sides = {"length": "90", "width": "45", "length_unit": "cm", "width_unit": "cm", "volume_unit": "L"}
    review = converse(reader, size={**sides, "volume": "60", "depth": "45", "depth_unit": "cm"})
    assert "make 182 L, while you gave 60 L" in review


def test_what_surfaces_mean_follows_first_order_exchange() -> None:
    shallow, deep = surface_figures(20.0), surface_figures(40.0)
    for one, other in zip(shallow, deep, strict=True):
        assert other.middle == pytest.approx(2 * one.middle)  # film law: time goes with depth over velocity
        assert one.low < one.middle < one.high
        low, middle, high = one.curve[0]
        assert low == middle == high == 1.0
        for hour, (_, left, _) in enumerate(one.curve):
            assert left == pytest.approx(0.5 ** (hour / one.middle))
    halves = [one.middle for one in shallow]
    assert halves == sorted(halves, reverse=True)  # the livelier the surface, the sooner CO2 leaves


def test_each_choice_carries_a_sentence_a_figure_and_a_picture(reader: TestClient) -> None:
    page = reader.get(f"{BROOK}/description/water").text
    assert page.count('type="radio"') == len(Surface) + len(Planting) + len(Diffuser)
    assert page.count("<svg") == len(Surface) + len(Planting) + len(Diffuser)
    assert page.count("9 in 10:") == len(Surface) + len(Planting) + len(Diffuser)


def test_a_description_is_changed_a_step_at_a_time(world: World, browser: TestClient) -> None:
    before = tank(world, "Brook")
    page = browser.get(f"{BROOK}/description/instruments").text
    sent = {**fields(page), "temp": "23", "gh": "8"}
    answer = browser.post(f"{BROOK}/description/instruments", data=sent)
    assert answer.status_code == 303
    after = tank(world, "Brook")
    assert (after.temp_c, after.gh_dgh) == (23.0, 8.0)
    assert after.target == before.target
    assert "23 °C" in browser.get(f"{BROOK}/description").text
    sent = {**sent, "gh": ""}
    browser.post(f"{BROOK}/description/instruments", data=sent)
    assert tank(world, "Brook").gh_dgh is None
    with open_store(world.store) as store:
        assert len(store.tank_versions("Brook")) == 3
        browser.post(f"{BROOK}/description/instruments", data=sent)  # nothing changes: nothing is written
        assert len(store.tank_versions("Brook")) == 3


def test_a_bad_change_changes_nothing(world: World, browser: TestClient) -> None:
    before = tank(world, "Brook")
    page = browser.get(f"{BROOK}/description/size").text
    answer = browser.post(f"{BROOK}/description/size", data={**fields(page), "depth": "900"})
    assert answer.status_code == 422
    assert 'value="900"' in answer.text
    assert tank(world, "Brook") == before
    assert browser.get(f"{BROOK}/description/nonsense").status_code == 404


def test_a_tank_can_begin_earlier(world: World, browser: TestClient) -> None:
    page = browser.get(f"{BROOK}/description").text
    answer = browser.post(f"{BROOK}/description", data={**tokens(page), "since": "2026-04-01"})
    assert answer.status_code == 303
    with open_store(world.store) as store:
        assert store.tank_described_at("Brook").isoformat().startswith("2026-03-31T22:00")  # Madrid, UTC+2
    answer = browser.post(f"{BROOK}/description", data={**tokens(page), "since": "someday"})
    assert answer.status_code == 422
    assert 'value="someday"' in answer.text


def test_without_the_pages_token_nothing_is_kept(reader: TestClient) -> None:
    review = converse(reader)
    sent = {**fields(review), "go": "save", "form_token": "forged"}
    assert reader.post("/setup", data=sent).status_code == 403


def test_a_surface_that_came_from_volume_by_depth_follows_them(world: World, browser: TestClient) -> None:
    page = converse(browser)
    browser.post("/setup", data={**fields(page), "go": "save"})
    before = tank(world, "Fen")
    step = browser.get("/tanks/Fen/description/size").text
    answer = browser.post("/tanks/Fen/description/size", data={**fields(step), "depth": "40"})
    assert answer.status_code == 303, answer.text
    after = tank(world, "Fen")
    assert before.surface_cm2 * before.depth_cm == pytest.approx(after.surface_cm2 * after.depth_cm, rel=1e-6)
    assert after.depth_cm == 40.0  # shown, and so changed, in the units that are kept
