"""Owners: what is handed to one shows nothing of another's tanks, in whatever form it goes out."""

import csv
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from unittest.mock import patch

import pytest
from cli_keeper import DESCRIBE, Keeper
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from icalendar import Calendar
from record_strategies import FIELDS
from store_servers import START, a_tank, one_of_each

from dawnlevel.desk.exchange.archive import export_archive, import_archive
from dawnlevel.desk.exchange.exchange import export_table
from dawnlevel.desk.exchange.package import DESCRIPTOR, write_package
from dawnlevel.desk.exchange.package_read import import_package
from dawnlevel.desk.handover.calendar import owner_calendar_view
from dawnlevel.desk.handover.owners import all_by_owner, by_owner, tanks_of
from dawnlevel.errors import BadInputError, NoSuchOwnerError
from dawnlevel.report.ical import calendars_ics
from dawnlevel.store import Store, open_store
from dawnlevel.store.codec import tank_from_dict, tank_to_dict
from dawnlevel.tank import CylinderWeighing, PhReading, Record

NOW = START + timedelta(days=400)


def new_store() -> Store:
    return open_store("sqlite://", clock=lambda: NOW)


@pytest.fixture
def store() -> Iterator[Store]:
    with new_store() as opened:
        yield opened


# --- whose tanks ---


def test_a_description_from_before_there_were_owners_names_none() -> None:
    data = tank_to_dict(a_tank(owner="Lower School"))
    assert tank_from_dict(data).owner == "Lower School"
    del data["owner"]
    assert tank_from_dict(data) == a_tank()


@pytest.mark.parametrize("name", ["two\nlines", " led", "x" * 81, "bell\a"])
def test_a_name_that_would_break_a_page_is_refused(name: str) -> None:
    with pytest.raises(BadInputError, match="no single line"):
        a_tank(owner=name)


def test_capitals_and_spaces_do_not_make_two_owners() -> None:
    groups = by_owner([a_tank("A", owner="Lower School"), a_tank("B"), a_tank("C", owner="lower  SCHOOL")])
    assert [(one.owner, [tank.name for tank in one.tanks]) for one in groups] == [
        ("", ["B"]),
        ("Lower School", ["A", "C"]),
    ]


def test_an_owner_nobody_has_is_told_with_those_there_are(store: Store) -> None:
    store.add_tank(a_tank(owner="Lower School"), START)
    store.add_tank(a_tank("Own"), START)
    with pytest.raises(NoSuchOwnerError, match=r"'Upper' \(owners: Lower School\)"):
        tanks_of(store, "Upper")
    with pytest.raises(NoSuchOwnerError):
        tanks_of(store, "")  # the keeper's own tanks are nobody's to be handed out


# --- a tank that changed hands ---


def sold() -> Store:
    """A tank of the school's that went to the clinic, with a record before and after."""
    store = new_store()
    store.add_tank(a_tank(owner="Lower School"), START)
    store.add_records("Brook", one_of_each())
    store.update_tank(a_tank(owner="Dr Vale"), START + timedelta(days=3))
    store.update_tank(a_tank(owner="Dr Vale", volume_l=170.0), START + timedelta(days=5))
    return store


def test_the_next_owner_gets_the_past_without_the_last_owners_name() -> None:
    with sold() as store:
        archive = json.dumps(export_archive(store, ["Brook"], "dr vale"))
        package = b"".join(write_package(store, ["Brook"], "dr vale").values()).decode()
        assert "School" not in archive + package
        assert archive.count("Dr Vale") == 2
        assert "School" in json.dumps(export_archive(store, ["Brook"]))  # the keeper's own copy has it all


def test_what_was_handed_out_comes_back_without_doubling_anything() -> None:
    with sold() as store:
        before = export_archive(store, ["Brook"])
        for merged in (
            import_archive(store, export_archive(store, ["Brook"], "Dr Vale"), "kept"),
            import_package(store, write_package(store, ["Brook"], "Dr Vale"), "kept"),
        ):
            assert merged.touched == []
        assert export_archive(store, ["Brook"]) == before
        with new_store() as other:
            import_archive(other, export_archive(store, ["Brook"], "Dr Vale"), "kept")
            assert len(other.tank_versions("Brook")) == 3
            assert other.tank("Brook").owner == "Dr Vale"


# --- nothing of another's, whatever was recorded ---


def _marked(kind: type[Record], mark: str) -> st.SearchStrategy[Record]:
    moments = st.integers(0, 10**6).map(lambda s: START + timedelta(seconds=s))
    return st.builds(kind, at=moments, note=st.just(f"{mark}note"), **FIELDS[kind])


@st.composite
def _households(draw: st.DrawFn) -> list[tuple[str, list[Record]]]:
    """(owner, records) for three to five tanks of up to three owners, each tank's words marked as its own."""
    kinds = sorted(set(FIELDS) - {CylinderWeighing}, key=lambda kind: kind.__name__)  # which may contradict
    owners = draw(st.lists(st.sampled_from(["Aa", "Bb", "Cc"]), min_size=3, max_size=5))
    return [
        (
            owner,
            draw(st.lists(st.sampled_from(kinds).flatmap(lambda k, n=n: _marked(k, f"#{n}#")), max_size=6)),
        )
        for n, owner in enumerate(owners)
    ]


def _housed(households: list[tuple[str, list[Record]]]) -> Store:
    """The tanks, each with a reason, a correction and a withdrawal, and in other hands before."""
    store = new_store()
    for number, (owner, records) in enumerate(households):
        mark = f"#{number}#"
        name = f"{mark}tank"
        tank = a_tank(name, owner=f"{mark}before", limit_reason=f"{mark}why")
        store.add_tank(tank, START - timedelta(days=1))
        ids = store.add_records(name, [*records, PhReading(at=START, ph=7.0 + number / 100, note=mark)])
        store.withdraw(store.correct(ids[-1], PhReading(at=START, ph=6.5, note=f"{mark}mend")), f"{mark}slip")
        store.update_tank(replace(tank, owner=f"Owner{owner}"), START + timedelta(days=1))
    return store


def _check_words(owner: str, households: list[tuple[str, list[Record]]], whole: str, table: str) -> None:
    """All of the owner's tanks speak in `whole`, and nobody else does, there or in `table`."""
    for number, (whose, _) in enumerate(households):
        mark, is_mine = f"#{number}#", f"Owner{whose}" == owner
        assert (mark in whole) == is_mine
        assert is_mine or mark not in table
        assert f"{mark}before" not in whole + table
        assert is_mine or f"Owner{whose}" not in whole + table


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_households())
def test_what_goes_to_an_owner_holds_no_word_and_no_record_of_another(
    households: list[tuple[str, list[Record]]],
) -> None:
    with _housed(households) as store:
        for group in all_by_owner(store):
            names = [tank.name for tank in group.tanks]
            package = write_package(store, names, group.owner)
            archive = export_archive(store, names, group.owner)
            table = export_table(store, names)
            _check_words(group.owner, households, json.dumps(archive), table)
            _check_words(group.owner, households, b"".join(package.values()).decode(), table)
            _check_records(store, names, archive, package)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_households(), st.booleans())
def test_an_owners_calendar_holds_no_word_of_anothers_tank(
    households: list[tuple[str, list[Record]]], settled: bool
) -> None:
    """Whether a tank is settled is drawn, not estimated: only which entries there are depends on it."""
    with (
        _housed(households) as store,
        patch("dawnlevel.desk.handover.calendar._is_settled", return_value=settled),
    ):
        for group in all_by_owner(store):
            views = owner_calendar_view(store, group.owner).calendars
            found = Calendar.from_ical(calendars_ics(views, group.owner))
            words = "".join(f"{event['SUMMARY']} {event['DESCRIPTION']}\n" for event in found.events)
            _check_words(group.owner, households, words, str(found["X-WR-CALNAME"]))


def _check_records(
    store: Store, names: list[str], archive: dict[str, object], package: dict[str, bytes]
) -> None:
    """Every record of these tanks is there once, and no other."""
    wanted = sorted(entry.id for name in names for entry in store.history(name))
    tanks = archive["tanks"]
    assert isinstance(tanks, list)
    assert sorted(entry["id"] for tank in tanks for entry in tank["entries"]) == wanted
    tables = [file for name, file in package.items() if name not in {DESCRIPTOR, "tanks.csv"}]
    rows = [row for file in tables for row in csv.DictReader(io.StringIO(file.decode(), newline=""))]
    assert sorted(int(row["id"]) for row in rows) == wanted


# --- at the command line ---


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys)
    assert found(DESCRIBE, "--owner", "Lower School").code == 0
    assert found(DESCRIBE.replace("Brook", "Fen"), "--owner", "Dr Vale").code == 0
    assert found(DESCRIBE.replace("Brook", "Pond"), "--owner", "lower school").code == 0
    assert found(DESCRIBE.replace("Brook", "Own")).code == 0
    for tank in ("Brook", "Fen", "Pond", "Own"):
        assert found(f"ph 6.9 --at 09:30 --tank {tank} --note seen-at-{tank}").code == 0
    return found


def test_tanks_are_listed_by_owner(keeper: Keeper) -> None:
    assert keeper("tanks").out.splitlines() == [
        "No owner named:",
        "  Own: 180 L",
        "Dr Vale:",
        "  Fen: 180 L",
        "Lower School:",
        "  Brook: 180 L",
        "  Pond: 180 L",
    ]
    assert keeper("tanks --owner", "DR VALE").out == "Dr Vale:\n  Fen: 180 L\n"
    assert keeper("tanks --json").data["tanks"][1]["owner"] == "Dr Vale"
    told = keeper("tanks --owner Nobody --json")
    assert (told.code, told.error["slug"]) == (2, "no-such-owner")


def test_exports_of_an_owner_are_theirs_alone(keeper: Keeper, tmp_path: Path) -> None:
    table = keeper("export --owner", "Lower School").out
    assert ("seen-at-Brook" in table, "seen-at-Pond" in table) == (True, True)
    assert not {"Fen", "Own", "Vale"} & set(table.replace("-", " ").split())
    archive = tmp_path / "vale.json"
    told = keeper(f"export --archive {archive} --owner", "Dr Vale")
    assert told.err == f"Exported Fen to {archive}.\n"
    assert "Brook" not in archive.read_text(encoding="utf-8")
    told = keeper("export --tank Brook --owner", "Dr Vale")
    assert (told.code, told.out) == (2, "")
    assert "is not one of 'Dr Vale'" in told.err


def test_the_calendar_of_an_owner_is_one_file(keeper: Keeper, tmp_path: Path) -> None:
    file = tmp_path / "school.ics"
    told = keeper(f"calendar -o {file} --owner", "Lower School")
    assert told.out.startswith(f"Calendar of Brook, Pond written to {file}: ")
    found = Calendar.from_ical(file.read_bytes())
    assert {str(event["SUMMARY"]).partition(":")[0] for event in found.events} == {"Brook", "Pond"}
    assert [zone.tz_name for zone in found.timezones] == ["Europe/Madrid"]
    assert found["X-WR-CALNAME"] == "Tanks of Lower School"
    data = keeper("calendar --json --owner", "Lower School").data
    assert (data["owner"], [one["tank"] for one in data["calendars"]]) == ("Lower School", ["Brook", "Pond"])
    assert keeper("calendar --tank Fen --owner", "Lower School").code == 2


def test_a_tank_can_change_hands(keeper: Keeper) -> None:
    assert "owner:              Dr Vale" in keeper("tank show --tank Fen").out
    assert keeper("tank change --tank Fen --owner none").code == 0
    assert "owner:              not said" in keeper("tank show --tank Fen").out
    assert keeper("tanks --owner", "Dr Vale").code == 2
