"""Record files: nothing is lost on the way out and back, nothing is half-imported, twice changes nothing."""

import csv
import io
import json
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from record_strategies import FIELDS, any_record
from store_servers import START, a_log, a_tank, one_of_each

from dawnlevel.desk.exchange.archive import export_archive, import_archive
from dawnlevel.desk.exchange.exchange import export_table, import_table
from dawnlevel.desk.exchange.longtable import COLUMNS
from dawnlevel.errors import BadInputError, BadLinesError
from dawnlevel.store import Store, open_store
from dawnlevel.tank import (
    RECORD_KINDS,
    BaselineCup,
    GasSwitch,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
    WaterChange,
)

NOW = START + timedelta(days=400)
HEAD = ",".join(COLUMNS) + "\r\n"


def new_store() -> Store:
    store = open_store("sqlite://", clock=lambda: NOW)
    store.add_tank(a_tank(), START)
    return store


@pytest.fixture
def store() -> Iterator[Store]:
    with new_store() as opened:
        yield opened


def table(*lines: str) -> bytes:
    return (HEAD + "".join(f"{line}\r\n" for line in lines)).encode()


def records_of(store: Store, name: str = "Brook") -> list[Record]:
    return [one.record for one in store.records(name)]


# --- any record there and back ---


def test_every_kind_is_drawn() -> None:
    assert set(FIELDS) == set(RECORD_KINDS.values())


@given(st.lists(any_record, max_size=12))
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_out_and_back_loses_nothing_and_twice_changes_nothing(records: list[Record]) -> None:
    with new_store() as store, new_store() as other:
        store.add_records("Brook", records)
        text = export_table(store, ["Brook"])
        report = import_table(other, text.encode(), "kept.csv", NOW)
        assert report.added_total == len(records)
        assert records_of(other) == records_of(store)
        assert export_table(other, ["Brook"]) == text
        again = import_table(other, text.encode(), "kept.csv", NOW)
        assert (again.added_total, again.duplicates) == (0, len(records))
        assert records_of(other) == records_of(store)


@given(st.lists(any_record, min_size=1, max_size=8), st.data())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_an_archive_restores_corrections_and_withdrawals_too(
    records: list[Record], data: st.DataObject
) -> None:
    with new_store() as store, open_store("sqlite://") as other:
        ids = store.add_records("Brook", records)
        for record_id in ids:
            if data.draw(st.booleans()):
                store.correct(record_id, data.draw(any_record))
            elif data.draw(st.booleans()):
                store.withdraw(record_id)
        archive = json.loads(json.dumps(export_archive(store, ["Brook"])))
        assert import_archive(other, archive, "archive.json").tanks == ("Brook",)
        assert records_of(other) == records_of(store)
        assert export_archive(other, ["Brook"]) == archive
        assert import_archive(other, archive, "archive.json").touched == []


# --- the format itself ---


def test_the_file_is_what_the_standard_asks(store: Store) -> None:
    store.add_records("Brook", one_of_each())
    text = export_table(store, ["Brook"])
    assert text.startswith(HEAD)
    rows = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert [row["quantity"] for row in rows] == [
        "ph", "temp", "kh", "baseline", "cell", "rate", "gas", "timer", "timer", "fish", "water_change",
    ]  # fmt: skip
    moments = [datetime.fromisoformat(row["time"]) for row in rows]
    assert moments[0] == START
    assert {moment.utcoffset() for moment in moments} == {timedelta(hours=2)}  # Madrid in May
    assert rows[3]["method"] == "aerated;hours=1.5;room_co2_ppm=640.0"
    assert rows[7]["value"] == "10:30-12:00;22:00-01:15"
    assert (rows[10]["value"], rows[10]["unit"]) == ("30", "%")


def test_times_of_the_doubled_hour_keep_their_moment() -> None:
    madrid = ZoneInfo("Europe/Madrid")
    first = datetime(2026, 10, 25, 2, 30, tzinfo=madrid).astimezone(UTC)
    readings = [PhReading(at=first, ph=7.0), PhReading(at=first + timedelta(hours=1), ph=7.1)]
    with new_store() as store, new_store() as other:
        store.add_records("Brook", readings)
        text = export_table(store, ["Brook"])
        assert text.count("2026-10-25T02:30:00") == 2
        import_table(other, text.encode(), "kept.csv", NOW)
        assert records_of(other) == readings


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("kh,10,mg/L", 10.0 / 17.848),  # 17.8 mg/L CaCO3 a degree, as every table of hardness has it
        ("kh,10,mg/L CaCO3", 10.0 / 17.848),
        ("kh,1,meq/L", 2.804),  # 0.3566 meq/L a degree
        ("kh,4,dKH", 4.0),
        ("kh,4,", 4.0),
    ],
)
def test_hardness_comes_in_in_any_usual_unit(store: Store, line: str, wanted: float) -> None:
    import_table(store, table(f"2026-05-04T10:00:00Z,Brook,{line},,"), "kh.csv", NOW)
    (found,) = records_of(store)
    assert isinstance(found, KhTitration)
    assert found.kh_dkh == pytest.approx(wanted, rel=2e-4)


@pytest.mark.parametrize(
    ("cells", "wanted"),
    [
        ("rate,90,/min,,", RateSetting(at=START, bubbles_per_second=1.5)),
        ("rate,1.5,/s,,", RateSetting(at=START, bubbles_per_second=1.5)),
        ("water_change,40,%,,", WaterChange(at=START, fraction=0.4)),
        ("water_change,0.4,1,,", WaterChange(at=START, fraction=0.4)),
        ("gas,closed,,,by hand", GasSwitch(at=START, is_open=False, note="by hand")),
        ("timer,never,,,", TimerSetting(at=START, windows_h=())),
        ("timer,10:30-19:00,,,", TimerSetting(at=START, windows_h=((10.5, 19.0),))),
        ("baseline,7.9,,still cup; hours=20,", BaselineCup(at=START, ph=7.9, hours=20.0)),
        ("PH, 6.85 ,[pH],,", PhReading(at=START, ph=6.85)),
    ],
)
def test_cells_are_read_as_people_write_them(store: Store, cells: str, wanted: Record) -> None:
    import_table(store, table(f"2026-05-04T09:30:00+02:00,Brook,{cells}"), "some.csv", NOW)
    assert records_of(store) == [wanted]


def test_a_temperature_in_fahrenheit_joins_the_ph_of_its_time(store: Store) -> None:
    lines = ["2026-05-04T09:30:00+02:00,Brook,temp,77,[degF],,", "2026-05-04T07:30:00Z,Brook,ph,6.85,,,"]
    import_table(store, table(*lines), "some.csv", NOW)
    assert records_of(store) == [PhReading(at=START, ph=6.85, temp_c=25.0)]


def test_columns_may_stand_in_any_order_and_optional_ones_be_left_out(store: Store) -> None:
    text = "\ufeffvalue,time,quantity,tank\n6.85,2026-05-04T07:30:00Z,ph,\n\n"
    import_table(store, text.encode(), "some.csv", NOW, default_tank="Brook")
    assert records_of(store) == [PhReading(at=START, ph=6.85)]


# --- what cannot be taken ---

BAD = [
    ("2026-05-04T10:00:00,Brook,ph,7,,,", "offset"),
    ("2026-02-30T10:00:00Z,Brook,ph,7,,,", "no time"),
    ("2036-05-04T10:00:00Z,Brook,ph,7,,,", "still to come"),
    ("2025-05-04T10:00:00Z,Brook,ph,7,,,", "before the tank"),
    ("2026-05-04T10:00:00Z,Creek,ph,7,,,", "no tank called 'Creek'"),
    ("2026-05-04T10:00:00Z,Brook,hp,7,,,", "'hp' is no quantity"),
    ("2026-05-04T10:00:00Z,Brook,ph,74,,,", "outside 3 to 11"),
    ("2026-05-04T10:00:00Z,Brook,kh,-1,dKH,,", "outside 0 to 40"),
    ('2026-05-04T10:00:00Z,Brook,ph,"6,8",,,', "decimal point"),
    ("2026-05-04T10:00:00Z,Brook,ph,6,8,,,", "cells"),
    ("2026-05-04T10:00:00Z,Brook,ph,nan,,,", "no number"),
    ("2026-05-04T10:00:00Z,Brook,kh,4,fathoms,,", "'fathoms' is no unit"),
    ("2026-05-04T10:00:00Z,Brook,cell,pink,,,", "none of blue"),
    ("2026-05-04T10:00:00Z,Brook,cell,lime,dKH,,", "no unit"),
    ("2026-05-04T10:00:00Z,Brook,gas,ajar,,,", "neither open nor closed"),
    ("2026-05-04T10:00:00Z,Brook,timer,10:30-10:30,,,", "same time"),
    ("2026-05-04T10:00:00Z,Brook,timer,10:75-11:00,,,", "no time of day"),
    ("2026-05-04T10:00:00Z,Brook,ph,7,,quickly,", "nothing that can be said of ph"),
    ("2026-05-04T10:07:00Z,Brook,temp,25,Cel,,", "no pH reading of that time"),
    ("2026-05-04T10:00:00Z,Brook,ph,7,,,\x1b[2J", "control"),
]


@pytest.mark.parametrize(("line", "told"), BAD)
def test_a_bad_line_is_told_with_its_number_and_cure(store: Store, line: str, told: str) -> None:
    good = "2026-05-04T11:00:00Z,Brook,ph,7,,,"
    with pytest.raises(BadLinesError) as caught:
        import_table(store, table(good, line, good), "some.csv", NOW)
    (bad,) = caught.value.lines
    assert bad.line == 3
    assert told in f"{bad.problem} {bad.cure}"
    assert bad.cure
    assert records_of(store) == []


def test_all_bad_lines_are_told_together(store: Store) -> None:
    with pytest.raises(BadLinesError) as caught:
        import_table(store, table(*(line for line, _ in BAD)), "some.csv", NOW)
    assert [bad.line for bad in caught.value.lines] == list(range(2, len(BAD) + 2))
    assert caught.value.total == len(BAD)


def test_line_numbers_count_the_lines_inside_quoted_notes(store: Store) -> None:
    noted = '2026-05-04T11:00:00Z,Brook,ph,7,,,"one\ntwo\nthree"'
    with pytest.raises(BadLinesError) as caught:
        import_table(store, table(noted, BAD[0][0]), "some.csv", NOW)
    assert [bad.line for bad in caught.value.lines] == [5]


@pytest.mark.parametrize(
    ("content", "line", "told"),
    [
        (b"", 1, "missing"),
        (b"time;tank;quantity;value\n", 1, "separate cells with commas"),
        (b"time,tank,quantity,value,colour\n", 1, "colour"),
        (b"time,tank,quantity,value,value\n", 1, "twice"),
        (HEAD.encode() + b"2026-05-04T11:00:00Z,Brook,ph,7,,,caf\xe9\n", 2, "UTF-8"),
        (HEAD.encode() + b'2026-05-04T11:00:00Z,Brook,ph,7,,,"open\n', 2, "quotes"),
    ],
)
def test_a_file_that_is_no_record_file_is_told(store: Store, content: bytes, line: int, told: str) -> None:
    with pytest.raises(BadLinesError) as caught:
        import_table(store, content, "some.csv", NOW)
    (bad,) = caught.value.lines
    assert bad.line == line
    assert told in f"{bad.problem} {bad.cure}"


def test_a_record_corrected_or_withdrawn_since_does_not_come_back(store: Store) -> None:
    lines = [f"2026-05-04T1{hour}:00:00Z,Brook,ph,7,,," for hour in range(3)]
    import_table(store, table(*lines), "some.csv", NOW)
    first, second, _ = store.records("Brook")
    store.withdraw(first.id)
    store.correct(second.id, PhReading(at=second.record.at, ph=6.9))
    before = store.records("Brook")
    report = import_table(store, table(*lines), "some.csv", NOW)
    assert (report.added_total, report.duplicates, report.superseded) == (0, 1, 2)
    assert store.records("Brook") == before


def test_ten_thousand_lines_with_three_bad_ones(store: Store) -> None:
    lines = [
        f"{(START + timedelta(minutes=number)).isoformat()},Brook,ph,{6.5 + number % 100 / 100:.2f},[pH],,"
        for number in range(10_000)
    ]
    bad = list(lines)
    for number in (17, 5_000, 9_999):
        bad[number] = f"yesterday,Brook,ph,7,,,{number}"
    begun = time.process_time()  # so that a busy machine does not decide
    with pytest.raises(BadLinesError) as caught:
        import_table(store, table(*bad), "log.csv", NOW)
    assert [one.line for one in caught.value.lines] == [19, 5_002, 10_001]
    assert caught.value.total == 10_000
    assert records_of(store) == []
    assert import_table(store, table(*lines), "log.csv", NOW).added_total == 10_000
    assert import_table(store, table(*lines), "log.csv", NOW).duplicates == 10_000
    assert time.process_time() - begun < 9.0  # three passes; each "well under a few seconds"


@pytest.mark.parametrize(
    "spoil",
    [
        lambda archive: archive.pop("tanks"),
        lambda archive: archive["tanks"][0].pop("versions"),
        lambda archive: archive["tanks"][0]["versions"].clear(),
        lambda archive: archive["tanks"][0].update(name="Creek"),
        lambda archive: archive["tanks"][0]["versions"][0]["tank"].update(shade="deep"),
        lambda archive: archive["tanks"][0]["entries"][0]["record"].update(kind="song"),
        lambda archive: archive["tanks"][0]["entries"][0]["record"].update(ph="high"),
        lambda archive: archive["tanks"][0]["entries"][0].update(supersedes=99),
        lambda archive: archive["tanks"][0]["entries"][0].update(record=None),
        lambda archive: archive["tanks"][0]["entries"][1].update(id=1),
        lambda archive: archive["tanks"][0]["probe_batches"][0].update(packed="eJw="),
        lambda archive: archive["tanks"][0]["probe_batches"][0].update(source="another"),
        lambda archive: archive["tanks"][0]["probe_batches"][1].update(withdraws=7),
    ],
)
def test_a_spoilt_archive_is_refused_whole(spoil: object) -> None:
    with new_store() as store, open_store("sqlite://") as other:
        store.add_records("Brook", one_of_each())
        store.add_samples("Brook", a_log(9), "may.csv")
        store.withdraw_samples(1)
        archive = json.loads(json.dumps(export_archive(store, ["Brook"])))
        spoil(archive)  # type: ignore[operator]
        with pytest.raises((BadInputError, BadLinesError)):
            import_archive(other, archive, "archive.json")
        assert other.tank_names() == []
