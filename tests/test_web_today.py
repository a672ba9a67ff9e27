"""Today: what it shows, what is entered there, and what it says to bad input. Works without script."""

import dataclasses
import re
from datetime import timedelta
from pathlib import Path

import pytest
from advice_world import at, brook
from fastapi.testclient import TestClient
from web_world import BROOK, World, make_world, tokens

from dawnlevel.store import open_store
from dawnlevel.tank import (
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    GasSwitch,
    PhReading,
    RateSetting,
)


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


@pytest.fixture(scope="module")
def calm(tmp_path_factory: pytest.TempPathFactory) -> World:
    """A world that nothing is recorded in: its estimate is made once."""
    return make_world(tmp_path_factory.mktemp("calm"))


@pytest.fixture
def browser(world: World) -> TestClient:
    return world.local()


def post(browser: TestClient, kind: str, value: str) -> int:
    """The same, without looking at the page it leads to."""
    form = {**tokens(browser.get("/devices").text), "kind": kind, "value": value}
    return browser.post(f"{BROOK}/record", data=form).status_code


def send(browser: TestClient, kind: str, value: str, **more: str) -> tuple[int, str]:
    """Send a form of Today; the status, and the page it leads to or shows.

    The tokens are taken from a page that costs no estimate.
    """
    page = browser.get("/devices").text
    answer = browser.post(f"{BROOK}/record", data={**tokens(page), "kind": kind, "value": value, **more})
    if answer.status_code == 303:
        return 303, browser.get(answer.headers["location"]).text
    return answer.status_code, answer.text


def words(page: str) -> str:
    """The page's text, without its marks."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_it_says_where_co2_stands_and_the_one_next_action(calm: World) -> None:
    browser = calm.local()
    page = browser.get(BROOK)
    view = calm.house.cases.today("Brook")
    told = words(page.text)
    assert page.status_code == 200
    assert f"{view.now.co2_mg_l.median:.1f} mg/L CO2 now" in told
    assert view.now.drop_ph is not None
    assert f"pH drop {view.now.drop_ph.median:.2f}" in told
    assert f"{view.now.co2_mg_l.low_90:.1f} to {view.now.co2_mg_l.high_90:.1f}" in told
    assert "Lights on in 50 min at 13:00" in told  # 12:10 in Madrid, lights at 13:00
    assert view.action.text in told
    assert page.text.count('<p class="action">') == 1


def test_the_picture_comes_at_two_widths_with_words_and_a_table(calm: World) -> None:
    browser = calm.local()
    page = browser.get(BROOK).text
    assert page.count("<svg") == 3  # the strip, and the picture for a phone and for a desk
    assert page.count('aria-hidden="true" focusable="false"') == 3
    assert "var(--accent)" in page
    assert "The picture shows about" in page
    assert page.count('<th scope="row">') > 12


@pytest.mark.parametrize(
    ("kind", "value", "field", "stored"),
    [
        ("ph", "6.98", "ph", 6.98),
        ("cell", "lime", "colour", CellColour.LIME),
        ("rate", "90/min", "bubbles_per_second", 1.5),
        ("fish", "uneasy", "state", FishState.UNEASY),
    ],
)
def test_four_things_are_recorded_from_their_forms(
    world: World, browser: TestClient, kind: str, value: str, field: str, stored: object
) -> None:
    status, page = send(browser, kind, value)
    assert status == 303
    assert "Recorded:" in page
    newest = max(world.records(), key=lambda record: record.at)
    assert getattr(newest, field) == stored
    assert newest.at == world.clock.now


def test_sent_twice_is_recorded_once(world: World, browser: TestClient) -> None:
    form = {**tokens(browser.get("/devices").text), "kind": "ph", "value": "7.02"}
    places = {browser.post(f"{BROOK}/record", data=form).headers["location"]}
    world.clock.pass_by(timedelta(seconds=5))
    places.add(browser.post(f"{BROOK}/record", data=form).headers["location"])
    assert len(places) == 1
    assert [r for r in world.records() if isinstance(r, PhReading)][-1].ph == 7.02
    assert sum(isinstance(r, PhReading) and r.ph == 7.02 for r in world.records()) == 1


@pytest.mark.parametrize(
    ("kind", "value", "told"),
    [
        ("ph", "seven", "is no number"),
        ("ph", "71", "outside 3 to 11"),
        ("ph", "", "Type what the meter shows"),
        ("rate", "2 cups", "is no unit"),
        ("cell", "purple", "is none of"),
    ],
)
def test_bad_input_is_told_beside_the_field_and_kept(calm: World, kind: str, value: str, told: str) -> None:
    browser = calm.local()
    before = len(calm.records())
    status, page = send(browser, kind, value)
    assert status == 422
    marked = 'class="entry" data-entry'
    (form,) = [part for part in page.split(marked)[1:] if f'name="kind" value="{kind}"' in part]
    assert told in form
    if value and kind != "cell":
        assert f'value="{value}"' in form
        assert 'aria-invalid="true"' in form
    assert len(calm.records()) == before


def test_a_time_is_read_on_the_tanks_clock_and_a_bad_one_keeps_the_value(
    world: World, browser: TestClient
) -> None:
    form = {**tokens(browser.get("/devices").text), "kind": "ph", "value": "7.05", "at": "11:50"}
    assert browser.post(f"{BROOK}/record", data=form).status_code == 303
    assert at(11, 50) in [record.at for record in world.records()]
    status, page = send(browser, "ph", "7.05", at="12:60")
    assert status == 422
    assert 'value="7.05"' in page
    assert 'value="12:60"' in page
    assert "is no time" in page


def test_what_was_typed_is_shown_as_text(calm: World) -> None:
    browser = calm.local()
    _, page = send(browser, "ph", '"><script>alert(1)</script>')
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page


def test_a_slip_is_undone_and_stays_in_the_history(world: World, browser: TestClient) -> None:
    _, page = send(browser, "ph", "6.02")
    place = re.search(r'action="([^"]+/undo)"', page)
    assert place
    for _ in range(2):  # a second tap changes nothing
        answer = browser.post(place[1], data=tokens(page))
        assert answer.status_code == 303
    after = browser.get(answer.headers["location"]).text
    assert "Taken back" in after
    assert not [r for r in world.records() if isinstance(r, PhReading) and r.ph == 6.02]
    history = world.house.store.history("Brook")
    assert [entry for entry in history if isinstance(entry.record, PhReading) and entry.record.ph == 6.02]


def test_another_tanks_record_cannot_be_undone_here(world: World, browser: TestClient) -> None:
    form = tokens(browser.get("/devices").text)
    with open_store(world.store) as store:
        store.add_tank(dataclasses.replace(brook(), name="Pond"), at(12, day=5))
        (number,) = store.add_records("Pond", [PhReading(at=at(11), ph=7.0)])
    assert browser.post(f"{BROOK}/records/{number}/undo", data=form).status_code == 404


def test_distress_is_one_tap_and_says_what_to_do(world: World, browser: TestClient) -> None:
    devices = browser.get("/devices").text  # from a page about something else
    assert f'action="{BROOK}/distress"' in devices
    answer = browser.post(f"{BROOK}/distress", data=tokens(devices))
    page = browser.get(answer.headers["location"]).text
    told = words(page)
    assert "FISH IN DISTRESS" in told
    assert told.index("Close the gas now.") < told.index("mg/L CO2 now")
    assert "veterinarian" in told
    assert any(isinstance(r, FishSighting) and r.state is FishState.DISTRESS for r in world.records())
    assert post(browser, "gas", "closed") == 303
    assert any(isinstance(r, GasSwitch) and not r.is_open for r in world.records())
    _, page = send(browser, "fish", "calm")
    assert "FISH IN DISTRESS" not in page


def test_the_action_is_accepted_with_one_button(tmp_path: Path) -> None:
    world = make_world(tmp_path, FishSighting(at=at(12, 5), state=FishState.UNEASY))
    browser = world.local()
    page = browser.get(BROOK).text
    action = world.house.cases.today("Brook").action
    assert action.rate_bps is not None
    assert f"Done: set to {action.rate_bps:.4g} bubbles/s" in page
    value = re.search(r'name="value" value="([\d.]+)">Done', page)
    assert value
    assert post(browser, "rate", value[1]) == 303
    settings = [r for r in world.records() if isinstance(r, RateSetting)]
    assert settings[-1].bubbles_per_second == pytest.approx(action.rate_bps)


def test_a_tank_without_a_baseline_says_what_is_missing_and_still_takes_readings(tmp_path: Path) -> None:
    world = make_world(tmp_path, records=[PhReading(at=at(11), ph=7.2)])
    browser = world.local()
    page = browser.get(BROOK).text
    assert "needs a baseline" in page
    assert "dawnlevel cup" not in page
    assert post(browser, "cell", "green") == 303
    assert any(isinstance(r, CellSighting) for r in world.records())


def test_a_view_is_kept_for_a_minute_and_made_anew_when_something_is_recorded(
    world: World, browser: TestClient
) -> None:
    browser.get(BROOK)
    first = world.house.cases.today("Brook")
    world.clock.pass_by(timedelta(seconds=59))
    assert world.house.cases.today("Brook") is first
    world.clock.pass_by(timedelta(seconds=2))
    second = world.house.cases.today("Brook")
    assert second is not first
    post(browser, "ph", "7.0")
    assert world.house.cases.today("Brook").picture.readings[-1].ph == 7.0


def test_parts_hold_what_changes_and_nothing_else(calm: World) -> None:
    browser = calm.local()
    part = browser.get(BROOK, params={"part": "words"}).text
    assert part.count("data-part=") == 2
    assert "<html" not in part
    assert "<html" not in browser.get(BROOK, params={"part": "picture"}).text
    assert browser.get(BROOK, params={"part": "nonsense"}).status_code == 404


def test_no_tank_no_page(calm: World) -> None:
    browser = calm.local()
    assert browser.get("/tanks/Nobody").status_code == 404
    page = browser.get("/devices").text
    answer = browser.post("/tanks/Nobody/record", data={**tokens(page), "kind": "ph", "value": "7"})
    assert answer.status_code == 404
    assert browser.post(f"{BROOK}/record", data={**tokens(page), "kind": "kettle"}).status_code == 422
