"""The list of records in a browser: corrected, withdrawn, entered, in and out of files."""

import re
from pathlib import Path

import pytest
from advice_world import at
from fastapi.testclient import TestClient
from web_world import BROOK, World, make_world, tokens

from dawnlevel.desk.exchange.archive import import_archive
from dawnlevel.store import open_store
from dawnlevel.tank import (
    CylinderWeighing,
    GasSwitch,
    KhTitration,
    PhReading,
    Record,
    TimerSetting,
    WaterChange,
    WeighedWith,
)

RECORDS = f"{BROOK}/records"


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


@pytest.fixture
def browser(world: World) -> TestClient:
    return world.local()


def number_of(world: World, wanted: Record) -> int:
    with open_store(world.store) as store:
        return next(stored.id for stored in store.records("Brook") if stored.record == wanted)


def send(browser: TestClient, path: str, **fields: str) -> tuple[int, str]:
    """Post a form with tokens from the list; the status and the page it leads to or shows."""
    answer = browser.post(path, data={**tokens(browser.get(RECORDS).text), **fields})
    if answer.status_code == 303:
        return 303, browser.get(answer.headers["location"]).text
    return answer.status_code, answer.text


def test_all_records_are_listed_newest_first_by_day_and_by_kind(world: World, browser: TestClient) -> None:
    page = browser.get(RECORDS).text
    days = re.findall(r'<h2 id="day-([\d-]+)">', page)
    assert days == ["2026-05-06", "2026-05-05"]
    assert page.count('<li id="r') == len(world.records())
    clocks = re.findall(r'<span class="when">(\d\d:\d\d)</span>', page.split("day-2026-05-05")[0])
    assert clocks == sorted(clocks, reverse=True)
    only = browser.get(RECORDS, params={"kind": "ph"}).text
    assert only.count('<li id="r') == sum(isinstance(one, PhReading) for one in world.records())


def test_a_long_diary_goes_on_with_older_days(tmp_path: Path) -> None:
    readings: list[Record] = [
        PhReading(at=at(9, day=5).replace(day=5 + n, month=5), ph=7.0) for n in range(20)
    ]
    world = make_world(tmp_path, records=readings)
    browser = world.local()
    page = browser.get(RECORDS).text
    older = re.search(r'href="([^"]*until=[^"]*)"', page)
    assert older
    rest = browser.get(older[1]).text
    shown = [re.findall(r'<h2 id="day-([\d-]+)">', one) for one in (page, rest)]
    assert len(shown[0]) + len(shown[1]) == 20
    assert shown[0] + shown[1] == sorted(shown[0] + shown[1], reverse=True)


def test_a_correction_stands_and_what_was_written_is_crossed_out(world: World, browser: TestClient) -> None:
    old = PhReading(at=at(11, 30), ph=7.21)
    number = number_of(world, old)
    form = browser.get(f"{RECORDS}/{number}").text
    assert 'value="7.21"' in form
    assert 'value="2026-05-06 11:30:00"' in form
    status, page = send(
        browser, f"{RECORDS}/{number}/correct", value="7.12", at="2026-05-06 11:30:00", note="misread"
    )
    assert status == 303
    assert "<del>pH 7.21</del>" in page
    assert "corrected 2026-05-06" in page
    assert PhReading(at=at(11, 30), ph=7.12, note="misread") in world.records()
    assert old not in world.records()
    again, told = send(browser, f"{RECORDS}/{number}/correct", value="7.13", at="2026-05-06 11:30:00")
    assert again == 422
    assert "corrected by record" in told


def test_a_bad_correction_is_told_beside_its_field_and_kept(world: World, browser: TestClient) -> None:
    number = number_of(world, PhReading(at=at(11, 30), ph=7.21))
    before = world.records()
    status, page = send(browser, f"{RECORDS}/{number}/correct", value="71", at="noon")
    assert status == 422
    assert 'value="71"' in page
    assert 'value="noon"' in page
    assert "is no time" in page
    status, page = send(browser, f"{RECORDS}/{number}/correct", value="7.21", at="2026-05-06 11:30:00")
    assert status == 422
    assert "says exactly that already" in page
    assert world.records() == before


def test_a_record_is_withdrawn_with_its_reason_which_an_archive_keeps(
    world: World, browser: TestClient
) -> None:
    old = PhReading(at=at(11, 30), ph=7.21)
    number = number_of(world, old)
    status, page = send(browser, f"{RECORDS}/{number}/void", reason=" ")
    assert status == 422
    assert "Say why" in page
    assert old in world.records()
    status, page = send(browser, f"{RECORDS}/{number}/void", reason="the probe was dry")
    assert status == 303
    assert "<del>pH 7.21</del>" in page
    assert "the probe was dry" in page
    assert old not in world.records()
    archive = browser.get(f"{RECORDS}.json").json()
    with open_store("sqlite://") as empty:
        assert import_archive(empty, archive["data"], "brook.json").tanks == ("Brook",)
        reasons = [entry.reason for entry in empty.history("Brook") if entry.record is None]
        assert import_archive(empty, archive["data"], "brook.json").touched == []  # again changes nothing
    assert reasons == ["the probe was dry"]


@pytest.mark.parametrize(
    ("kind", "value", "stored"),
    [
        ("water_change", "30%", WaterChange(at=at(12, 10), fraction=0.3)),
        ("water_change", "28L", WaterChange(at=at(12, 10), fraction=0.25)),
        (
            "timer",
            "10:30-12:00;13:00-19:00",
            TimerSetting(at=at(12, 10), windows_h=((10.5, 12.0), (13.0, 19.0))),
        ),
        ("gas", "closed", GasSwitch(at=at(12, 10), is_open=False)),
        ("kh", "4dKH", KhTitration(at=at(12, 10), kh_dkh=4.0)),
    ],
)
def test_what_today_does_not_ask_is_entered_here(
    world: World, browser: TestClient, kind: str, value: str, stored: Record
) -> None:
    status, page = send(browser, RECORDS, kind=kind, value=value)
    assert status == 303
    assert "Recorded." in page
    assert stored in world.records()


def test_bad_entries_are_told_and_kept(world: World, browser: TestClient) -> None:
    before = world.records()
    status, page = send(browser, RECORDS, kind="timer", value="10:30 to nine", note="new timer")
    assert status == 422
    assert 'value="10:30 to nine"' in page
    assert 'value="new timer"' in page
    assert send(browser, RECORDS, kind="kettle", value="1")[0] == 422
    assert world.records() == before


def test_a_file_goes_out_and_in_again_without_change(world: World, browser: TestClient) -> None:
    table = browser.get(f"{RECORDS}.csv")
    assert table.headers["content-disposition"].startswith("attachment")
    before = world.records()
    answer = browser.post(
        f"{BROOK}/import",
        data=tokens(browser.get(RECORDS).text),
        files={"file": ("brook.csv", table.content)},
    )
    assert answer.status_code == 303
    assert "Imported: 0 new" in browser.get(answer.headers["location"]).text
    assert world.records() == before


def test_every_bad_line_of_a_file_is_shown_together_and_none_is_taken(
    world: World, browser: TestClient
) -> None:
    before = world.records()
    lines = [
        "time,tank,quantity,value,unit,method,note",
        "2026-05-06T09:00:00+02:00,Brook,ph,seven,,,",
        "2026-05-06T09:05:00+02:00,Brook,ph,7.3,,,",
        "yesterday,Brook,ph,7.2,,,",
    ]
    answer = browser.post(
        f"{BROOK}/import",
        data=tokens(browser.get(RECORDS).text),
        files={"file": ("bad.csv", "\r\n".join(lines).encode())},
    )
    assert answer.status_code == 422
    assert "Line 2:" in answer.text
    assert "Line 4:" in answer.text
    assert "Line 3:" not in answer.text
    assert world.records() == before
    empty = browser.post(f"{BROOK}/import", data=tokens(browser.get(RECORDS).text))
    assert empty.status_code == 422
    assert "none was chosen" in empty.text


def test_records_of_the_shelf_are_listed_and_withdrawn(tmp_path: Path) -> None:
    weighed = CylinderWeighing(at=at(11), gross_kg=5.2, stood=WeighedWith.REGULATOR)
    world = make_world(tmp_path, weighed)
    browser = world.local()
    assert "weight 5.2" in browser.get(RECORDS).text
    number = number_of(world, weighed)
    page = browser.get(f"{RECORDS}/{number}").text
    assert "Put it right" not in page
    assert send(browser, f"{RECORDS}/{number}/void", reason="wrong scale")[0] == 303
    assert weighed not in world.records()
    assert browser.get(f"{RECORDS}/9999").status_code == 404
