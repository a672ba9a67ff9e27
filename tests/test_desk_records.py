"""Keeping records at the desk: what is refused, with place, reason and cure, and what is kept."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from store_servers import START, a_tank, one_of_each

from dawnlevel.desk.records import (
    change_tank,
    correct_record,
    describe_tank,
    find_record,
    list_records,
    record,
    withdraw_record,
)
from dawnlevel.errors import BadInputError, NoSuchTankError, TankExistsError
from dawnlevel.store import Store, open_store
from dawnlevel.tank import FishSighting, FishState, PhReading

NOW = START + timedelta(days=3)


@pytest.fixture
def store() -> Iterator[Store]:
    with open_store("sqlite://", clock=lambda: NOW) as opened:
        describe_tank(opened, a_tank(), NOW, since=START)
        yield opened


@pytest.mark.parametrize("new", one_of_each())
def test_what_was_seen_or_done_is_kept(store: Store, new: PhReading) -> None:
    stored = record(store, "Brook", new, NOW)
    assert stored.record == new
    assert stored.recorded_at == NOW
    assert list_records(store, "Brook") == [stored]
    assert find_record(store, stored.id) == ("Brook", stored)


def test_a_time_still_to_come_is_refused_but_a_fast_clock_is_not(store: Store) -> None:
    record(store, "Brook", PhReading(at=NOW + timedelta(minutes=2), ph=7.0), NOW)
    with pytest.raises(BadInputError, match=r"ph record: The time .* is still to come .* Give the time"):
        record(store, "Brook", PhReading(at=NOW + timedelta(minutes=2, microseconds=1), ph=7.0), NOW)
    assert len(list_records(store, "Brook")) == 1


def test_a_reading_before_the_tank_is_refused_and_the_cure_works(store: Store) -> None:
    early = PhReading(at=START - timedelta(days=1), ph=7.0)
    with pytest.raises(
        BadInputError,
        match=r"before the tank 'Brook' existed.*--tank Brook --since 2026-05-03T09:30:00[+]02:00",
    ):
        record(store, "Brook", early, NOW)
    change_tank(store, store.tank("Brook"), NOW, since=datetime(2026, 5, 3, tzinfo=UTC))
    assert record(store, "Brook", early, NOW).record == early


def test_the_first_moment_of_the_tank_is_in(store: Store) -> None:
    record(store, "Brook", PhReading(at=START, ph=7.0), NOW)
    with pytest.raises(BadInputError, match="before the tank"):
        record(store, "Brook", PhReading(at=START - timedelta(microseconds=1), ph=7.0), NOW)


def test_the_same_in_the_same_second_is_refused_unless_forced(store: Store) -> None:
    first = record(store, "Brook", PhReading(at=NOW, ph=7.0), NOW)
    again = PhReading(at=NOW + timedelta(milliseconds=900), ph=7.0, note="again")
    with pytest.raises(BadInputError, match=f"as record {first.id}.*--force"):
        record(store, "Brook", again, NOW)
    record(store, "Brook", again, NOW, force=True)
    record(store, "Brook", PhReading(at=NOW, ph=7.01), NOW)
    record(store, "Brook", PhReading(at=NOW, ph=7.0, temp_c=24.0), NOW)
    record(store, "Brook", PhReading(at=NOW + timedelta(seconds=1), ph=7.0), NOW)
    record(store, "Brook", FishSighting(at=NOW, state=FishState.CALM), NOW)
    assert len(list_records(store, "Brook")) == 6


def test_a_withdrawn_record_may_be_entered_anew(store: Store) -> None:
    first = record(store, "Brook", PhReading(at=NOW, ph=7.0), NOW)
    assert withdraw_record(store, first.id) == ("Brook", first)
    assert list_records(store, "Brook") == []
    assert record(store, "Brook", PhReading(at=NOW, ph=7.0), NOW).id != first.id


def test_a_correction_is_held_to_the_same_rules(store: Store) -> None:
    first = record(store, "Brook", PhReading(at=NOW, ph=7.0), NOW)
    with pytest.raises(BadInputError, match="still to come"):
        correct_record(store, first.id, PhReading(at=NOW + timedelta(hours=1), ph=7.0), NOW)
    with pytest.raises(BadInputError, match="says exactly that already"):
        correct_record(store, first.id, PhReading(at=NOW, ph=7.0), NOW)
    second = correct_record(store, first.id, PhReading(at=NOW - timedelta(hours=1), ph=6.9), NOW)
    assert second.supersedes == first.id
    assert list_records(store, "Brook") == [second]


@pytest.mark.parametrize(
    ("note", "told"),
    [("x" * 2001, "more than 2000"), ("\x1b[2J", "control"), ("\ud800", "control"), ("\x00", "control")],
)
def test_notes_that_no_page_could_show_are_refused(store: Store, note: str, told: str) -> None:
    with pytest.raises(BadInputError, match=told):
        record(store, "Brook", PhReading(at=NOW, ph=7.0, note=note), NOW)


def test_tanks_are_described_once_changed_often_and_never_from_the_future(store: Store) -> None:
    with pytest.raises(TankExistsError):
        describe_tank(store, a_tank(), NOW)
    with pytest.raises(BadInputError, match="still to come"):
        describe_tank(store, a_tank("Pool"), NOW, since=NOW + timedelta(days=1))
    with pytest.raises(NoSuchTankError):
        change_tank(store, a_tank("Pool"), NOW)
    change_tank(store, a_tank(volume_l=150.0), NOW)
    assert store.tank("Brook").volume_l == 150.0
    assert store.tank_described_at("Brook") == START
