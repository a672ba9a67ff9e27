"""The tank's calendar: told by its records alone, read by another library, right when clocks change."""

import json
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from io import StringIO
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from advice_world import at, brook, make_store, morning
from cli_keeper import Keeper
from dateutil.rrule import rrulestr
from dateutil.tz import resolve_imaginary, tzical
from icalendar import Calendar, Event
from jsonschema import validate

from dawnlevel.cli.render_json import envelope_schema
from dawnlevel.desk.exchange.archive import export_archive, import_archive
from dawnlevel.desk.handover.calendar import calendar_view
from dawnlevel.desk.handover.calendar_views import CalendarView, EntryView
from dawnlevel.report.ical import calendar_ics
from dawnlevel.store import open_store
from dawnlevel.tank import (
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    Photoperiod,
    PhReading,
    SolutionPrepared,
    TimerSetting,
)


def view_of(place: str) -> CalendarView:
    with open_store(place) as store:
        return calendar_view(store, "Brook")


def events(view: CalendarView) -> dict[str, Event]:
    """The file's events by kind, or kind and number, as the library reads them."""
    found: dict[str, Event] = {}
    for event, entry in zip(Calendar.from_ical(calendar_ics(view)).events, view.entries, strict=True):
        key = entry.kind
        while key in found:
            key += "+"
        found[key] = event
    return found


def moments(event: Event, first: date, last: date) -> Iterator[datetime]:
    """The moments (UTC) of an event's series, by the rules of RFC 5545 as dateutil knows them."""
    begin = event.start
    assert isinstance(begin, datetime)
    wall = rrulestr(event["RRULE"].to_ical().decode(), dtstart=begin.replace(tzinfo=None))
    for shown in wall.between(datetime.combine(first, time(0)), datetime.combine(last, time(0))):
        yield resolve_imaginary(shown.replace(tzinfo=begin.tzinfo)).astimezone(UTC)


@pytest.fixture
def place(tmp_path: Path) -> str:
    more = (
        CylinderExchange(at=at(9), gas_kg=2.0, tested="2022-03", standard=CylinderStandard.DOT_3AL),
        SolutionPrepared(at=at(9), kh_dkh=4.0),
    )
    return make_store(tmp_path / "records.sqlite3", *more)


def test_the_wall_clock_stays_the_same_when_the_clocks_change(place: str) -> None:
    found = events(view_of(place))
    wanted = {"lights_on": "13:00", "lights_off": "21:00", "gas_opens": "09:30", "gas_closes": "18:30"}
    for kind, clock in wanted.items():
        days = list(moments(found[kind], date(2026, 10, 20), date(2027, 4, 2)))
        assert len(days) == 164  # none missing, none twice
        assert {f"{one.astimezone(ZoneInfo('Europe/Madrid')):%H:%M}" for one in days} == {clock}
        assert len({f"{one:%H:%M}" for one in days}) == 2  # summer and winter differ in UTC


@pytest.mark.parametrize(
    "zone", ["Europe/Madrid", "America/New_York", "Australia/Lord_Howe", "Atlantic/Azores", "Asia/Kolkata"]
)
def test_the_files_own_zone_rules_are_those_of_the_zone(tmp_path: Path, zone: str) -> None:
    """Read by dateutil from the file's VTIMEZONE alone, and compared with the zone database hour by hour."""
    place = make_store(tmp_path / "records.sqlite3", records=[])
    with open_store(place) as store:
        tank = brook()
        fields = {name: getattr(tank, name) for name in tank.__dataclass_fields__}
        store.update_tank(type(tank)(**(fields | {"timezone": zone})), at(12, day=5))
        file = calendar_ics(calendar_view(store, "Brook")).decode()
    told, true = tzical(StringIO(file.replace("\r\n", "\n"))).get(zone), ZoneInfo(zone)
    hour = datetime(2026, 6, 1)  # noqa: DTZ001 - a wall clock
    while hour.year < 2029:
        hour += timedelta(hours=1)
        aware = hour.replace(tzinfo=true)
        if aware.astimezone(UTC).astimezone(true).replace(tzinfo=None) != hour:
            continue  # the clocks skip it
        assert hour.replace(tzinfo=told).utcoffset() == aware.utcoffset(), hour


def test_the_same_records_give_the_same_file_and_more_of_them_update_it(place: str) -> None:
    first = view_of(place)
    assert calendar_ics(first) == calendar_ics(view_of(place))
    with open_store(place) as store:
        store.add_records("Brook", [TimerSetting(at=at(20), windows_h=((10.0, 18.0),))])
    second = view_of(place)
    before, after = events(first), events(second)
    assert {one["UID"] for one in before.values()} == {one["UID"] for one in after.values()}
    assert len({one["UID"] for one in after.values()}) == len(after)
    assert after["gas_opens"]["UID"] == before["gas_opens"]["UID"]
    assert after["gas_opens"].start.strftime("%d %H:%M") == "07 10:00"
    assert all(after[kind]["SEQUENCE"] > before[kind]["SEQUENCE"] for kind in before)
    assert all(after[kind]["DTSTAMP"].dt >= before[kind]["DTSTAMP"].dt for kind in before)


def test_what_no_longer_stands_is_withdrawn_once(tmp_path: Path) -> None:
    two = TimerSetting(at=at(20, 11, day=5), windows_h=((9.5, 12.0), (14.0, 18.5)))
    place = make_store(tmp_path / "records.sqlite3", records=[*morning()[:3], two])
    before = view_of(place)
    assert not any(entry.withdrawn for entry in before.entries)
    with open_store(place) as store:
        store.add_records("Brook", [TimerSetting(at=at(20), windows_h=((9.5, 18.5),))])
    after = view_of(place)
    gone = [entry for entry in after.entries if entry.withdrawn]
    assert [entry.kind for entry in gone] == ["gas_opens", "gas_closes"]
    assert {entry.uid for entry in gone} < {entry.uid for entry in before.entries}
    states = {str(one["UID"]): str(one["STATUS"]) for one in events(after).values()}
    assert {uid for uid, state in states.items() if state == "CANCELLED"} == {entry.uid for entry in gone}


def test_two_tanks_share_no_entry(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    first = view_of(make_store(tmp_path / "a" / "records.sqlite3"))
    second = view_of(make_store(tmp_path / "records.sqlite3"))
    assert not {entry.uid for entry in first.entries} & {entry.uid for entry in second.entries}


def test_readings_of_a_tuning_day_lie_where_the_advice_wants_them(place: str) -> None:
    view = view_of(place)
    found = [entry for entry in view.entries if entry.kind == "reading"]
    assert len(found) == brook().reads_per_ramp + 2
    clock = [entry.clock_h or 0.0 for entry in found]
    assert clock == sorted(clock)
    assert 9.5 < clock[0] <= 10.5 + 1 / 60  # no later than an hour after the gas opens
    assert sum(hour < 13.0 for hour in clock) == brook().reads_per_ramp
    assert all(entry.every_days == 1 and entry.remind_min == 0 for entry in found)


def test_readings_are_asked_for_one_week_at_a_time_and_gas_and_lights_for_ever(place: str) -> None:
    first = events(view_of(place))
    readings = [key for key in first if key.startswith("reading")]
    assert readings
    horizon = (date(2026, 1, 1), date(2028, 1, 1))
    for key in readings:
        days = list(moments(first[key], *horizon))
        assert len(days) == 7
        assert at(11, 32) < days[0] < at(11, 32, day=7)  # the latest record was at 11:32 on the sixth
    for key in ("gas_opens", "gas_closes", "lights_on", "lights_off"):
        assert len(list(moments(first[key], *horizon))) > 600
    with open_store(place) as store:
        store.add_records("Brook", [PhReading(at=at(12, day=10), ph=7.1)])
    later = events(view_of(place))
    for key in readings:
        assert later[key]["UID"] == first[key]["UID"]
        assert later[key]["SEQUENCE"] > first[key]["SEQUENCE"]
        assert max(moments(later[key], *horizon)) - max(moments(first[key], *horizon)) >= timedelta(days=4)


def test_an_archive_keeps_the_entries_names_in_an_empty_store_and_in_one_that_went_on(
    place: str, tmp_path: Path
) -> None:
    first = view_of(place)
    with open_store(place) as store:
        data = export_archive(store, ["Brook"])
        store.add_records("Brook", [TimerSetting(at=at(20), windows_h=((10.0, 18.0),))])
    gone_on = view_of(place)
    with open_store(str(tmp_path / "empty.sqlite3")) as empty, open_store(place) as filled:
        for store in (empty, filled):
            import_archive(store, data, "archive.json")
        assert calendar_ics(calendar_view(empty, "Brook")) == calendar_ics(first)
        assert calendar_ics(calendar_view(filled, "Brook")) == calendar_ics(gone_on)
        import_archive(empty, export_archive(filled, ["Brook"]), "archive.json")
        assert calendar_ics(calendar_view(empty, "Brook")) == calendar_ics(gone_on)


def test_a_tank_by_another_name_keeps_its_entries(place: str) -> None:
    before = events(view_of(place))
    with open_store(place) as store:
        store.rename_tank("Brook", "Beck", at(14))
        view = calendar_view(store, "Beck")
    after = events(view)
    assert {kind: one["UID"] for kind, one in after.items()} == {k: one["UID"] for k, one in before.items()}
    assert all(after[kind]["SEQUENCE"] > before[kind]["SEQUENCE"] for kind in before)
    assert after["gas_opens"]["SUMMARY"] == "Beck: gas opens"


def test_nothing_asks_for_a_command_of_whoever_reads_the_calendar(place: str) -> None:
    assert "dawnlevel " not in calendar_ics(view_of(place)).decode().replace("\r\n ", "")


def test_due_dates_are_those_the_records_give(place: str) -> None:
    due = {entry.kind: entry for entry in view_of(place).entries if entry.clock_h is None}
    assert set(due) == {"cylinder", "retest", "buffers", "solution", "kh"}
    assert due["retest"].day == date(2027, 3, 1)  # 3AL: five years, 49 CFR 180.209
    assert due["buffers"].day == date(2026, 6, 3)  # four weeks after the first reading
    assert due["solution"].day == date(2026, 11, 4)
    assert due["cylinder"].day > date(2026, 5, 6)
    alarm = events(view_of(place))["retest"].walk("VALARM")[0]
    assert alarm["TRIGGER"].dt == timedelta(days=-30, hours=9)


def test_lights_over_midnight_and_a_tank_without_records(tmp_path: Path) -> None:
    place = make_store(tmp_path / "records.sqlite3", records=[])
    with open_store(place) as store:
        tank = brook()
        fields = {name: getattr(tank, name) for name in tank.__dataclass_fields__}
        light = Photoperiod(lights_on_h=18.0, lights_off_h=2.5)
        store.update_tank(type(tank)(**(fields | {"photoperiod": light})), at(13))
    view = view_of(place)
    assert [entry.kind for entry in view.entries] == ["lights_on", "lights_off", "weekly"]
    found = {entry.kind: entry for entry in view.entries}
    assert (found["lights_on"].day, found["lights_on"].clock_h) == (date(2026, 5, 6), 18.0)
    assert (found["lights_off"].day, found["lights_off"].clock_h) == (date(2026, 5, 7), 2.5)
    assert found["weekly"].clock_h == 20.0
    nights = list(moments(events(view)["lights_off"], date(2026, 10, 20), date(2026, 11, 1)))
    assert {f"{one.astimezone(ZoneInfo('Europe/Madrid')):%H:%M}" for one in nights} == {"02:30"}


def test_weighings_that_contradict_are_due_now_and_hold_nothing_up(place: str) -> None:
    with open_store(place) as store:
        weighings = [CylinderWeighing(at=at(11), gross_kg=4.0), CylinderWeighing(at=at(11, 30), gross_kg=9.0)]
        store.add_records("Brook", weighings)
    due: dict[str, EntryView] = {one.kind: one for one in view_of(place).entries if one.clock_h is None}
    assert due["cylinder"].day == date(2026, 5, 6)
    assert "weigh" in due["cylinder"].title


def test_the_command_writes_a_file_or_says_what_is_wrong(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys)
    place = make_store(tmp_path / "records.db")
    told = keeper(f"calendar -o {tmp_path / 'brook.ics'}")
    assert (told.code, told.err) == (0, "")
    assert "14 entries" in told.out
    assert (tmp_path / "brook.ics").read_bytes() == calendar_ics(view_of(place))
    asked = keeper("calendar --json")
    validate(json.loads(asked.out), envelope_schema("calendar", CalendarView))
    for wrong, words in (
        (tmp_path / "brook.txt", "does not end in .ics"),
        (tmp_path / "no" / "a.ics", "written"),
    ):
        said = keeper(f"calendar -o {wrong}")
        assert said.code != 0
        assert words in said.err
        assert not wrong.exists()


def test_a_settled_tank_is_checked_every_four_days_and_not_read_daily(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    records = [*morning(), *(PhReading(at=at(12, 45, day=day), ph=7.0) for day in (7, 8))]
    place = make_store(tmp_path / "records.sqlite3", records=records)
    tuned = view_of(place)
    monkeypatch.setattr("dawnlevel.desk.handover.calendar._is_settled", lambda *_: True)
    view = view_of(place)
    (check,) = (entry for entry in view.entries if entry.kind == "check")
    assert (check.day, check.every_days) == (date(2026, 5, 12), 4)
    assert check.clock_h is not None
    assert 9.5 < check.clock_h < 13.0
    gone = {entry.uid for entry in view.entries if entry.withdrawn}
    assert gone == {entry.uid for entry in tuned.entries if entry.kind == "reading"}
