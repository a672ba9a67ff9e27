"""What every store promises, on SQLite in memory, SQLite in a file and a real PostgreSQL server."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import numpy as np
import pytest
from sqlalchemy import Engine, create_engine, delete, insert, inspect, text
from sqlalchemy.exc import DBAPIError, IntegrityError
from store_servers import START, a_log, a_tank, is_same_log, one_of_each, postgresql_server

from dawnlevel.desk.exchange.doctor import Health, examine
from dawnlevel.errors import (
    BadInputError,
    NoSuchTankError,
    StoreLockedError,
    StoreUnreachableError,
    TankExistsError,
)
from dawnlevel.store import (
    Patience,
    SamplesAdded,
    Store,
    TankArchive,
    TankVersion,
    gathering,
    open_store,
    rows,
)
from dawnlevel.store.schema import metadata, sample_batches, sample_gatherings
from dawnlevel.tank import PhReading
from dawnlevel.tank.samples import Samples

WRITTEN = datetime(2026, 5, 5, 12, 0, 0, 123456, tzinfo=UTC)
MIDNIGHT = datetime(2026, 5, 6, tzinfo=UTC)
SHARED = pytest.mark.parametrize("address", ["file", "postgresql"], indirect=True)
"""Only these two can be opened by a second program."""


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    with postgresql_server() as address:
        yield address


def _fresh_database(server: str) -> str:
    name = f"d{uuid4().hex}"
    admin = create_engine(server.replace("postgresql:", "postgresql+psycopg:"), isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    admin.dispose()
    return server.rsplit("/", 1)[0] + f"/{name}"


@pytest.fixture(params=["memory", "file", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    if request.param == "memory":
        return "sqlite://"
    if request.param == "file":
        return str(tmp_path / "records.db")
    return _fresh_database(request.getfixturevalue("server"))


@pytest.fixture
def store(address: str) -> Iterator[Store]:
    with open_store(address, clock=lambda: WRITTEN) as opened:
        opened.add_tank(a_tank(), START)
        yield opened


def _engine(store: Store) -> Engine:
    return store._engine


def test_a_tank_comes_back_as_described(store: Store) -> None:
    other = a_tank("Pool", room_co2_ppm=640.0, earliest_start_h=6.5, gh_dgh=7.0, reads_per_ramp=3)
    store.add_tank(other, START + timedelta(days=1))
    assert store.tank("Brook") == a_tank()
    assert store.tank("Pool") == other
    assert store.tank_names() == ["Brook", "Pool"]
    assert store.tank_described_at("Pool") == START + timedelta(days=1)


def test_a_change_is_a_new_version_and_the_old_one_stays(store: Store) -> None:
    changed = a_tank(volume_l=170.0)
    store.update_tank(changed, START + timedelta(days=2))
    assert store.tank("Brook") == changed
    assert store.tank_versions("Brook") == [
        TankVersion(a_tank(), START, WRITTEN),
        TankVersion(changed, START + timedelta(days=2), WRITTEN),
    ]
    assert store.tank_described_at("Brook") == START


def test_a_version_valid_earlier_lets_the_tank_begin_earlier(store: Store) -> None:
    store.update_tank(a_tank(), START - timedelta(days=9))
    assert store.tank_described_at("Brook") == START - timedelta(days=9)


def test_names_are_taken_once_and_unknown_ones_told_with_the_known(store: Store) -> None:
    with pytest.raises(TankExistsError, match="Brook"):
        store.add_tank(a_tank(), START)
    with pytest.raises(NoSuchTankError, match="tanks: Brook"):
        store.tank("Creek")
    with pytest.raises(NoSuchTankError):
        store.add_records("Creek", one_of_each())
    with pytest.raises(NoSuchTankError):
        store.update_tank(a_tank("Creek"), START)


def test_every_kind_of_record_comes_back_exactly(store: Store) -> None:
    ids = store.add_records("Brook", one_of_each())
    found = store.records("Brook")
    assert [one.record for one in found] == one_of_each()
    assert [one.id for one in found] == ids
    assert {one.recorded_at for one in found} == {WRITTEN}


def test_ids_follow_the_order_given_and_records_come_by_time(store: Store) -> None:
    backwards = one_of_each()[::-1]
    ids = store.add_records("Brook", backwards)
    assert ids == sorted(ids)
    assert [one.id for one in store.records("Brook")] == ids[::-1]


def test_since_and_until_are_inclusive_to_the_microsecond(store: Store) -> None:
    readings = [PhReading(at=START + timedelta(microseconds=number), ph=7.0) for number in range(5)]
    store.add_records("Brook", readings)
    found = store.records("Brook", readings[1].at, readings[3].at)
    assert [one.record for one in found] == readings[1:4]


def test_nothing_to_add_is_no_record(store: Store) -> None:
    assert store.add_records("Brook", []) == []
    assert store.records("Brook") == []


def test_a_correction_takes_the_place_of_the_record_and_both_stay_in_the_history(store: Store) -> None:
    (first,) = store.add_records("Brook", [PhReading(at=START, ph=6.85)])
    right = PhReading(at=START, ph=6.58)
    second = store.correct(first, right)
    (stands,) = store.records("Brook")
    assert (stands.id, stands.record, stands.supersedes) == (second, right, first)
    assert [(one.id, one.superseded_by, one.stands) for one in store.history("Brook")] == [
        (first, second, False),
        (second, None, True),
    ]


def test_a_record_is_superseded_at_most_once(store: Store) -> None:
    (first,) = store.add_records("Brook", [PhReading(at=START, ph=6.85)])
    second = store.correct(first, PhReading(at=START, ph=6.58))
    with pytest.raises(BadInputError, match=f"corrected by record {second}"):
        store.correct(first, PhReading(at=START, ph=6.6))
    with pytest.raises(BadInputError, match=f"corrected by record {second}"):
        store.withdraw(first)
    void = store.withdraw(second)
    assert store.records("Brook") == []
    with pytest.raises(BadInputError, match="withdrawn already"):
        store.correct(second, PhReading(at=START, ph=6.6))
    for nothing in (void, void + 1000):
        with pytest.raises(BadInputError, match=f"no record {nothing}"):
            store.withdraw(nothing)
    assert store.history("Brook")[-1].record is None


def test_of_two_corrections_at_once_the_database_takes_one(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    (first,) = store.add_records("Brook", [PhReading(at=START, ph=6.85)])
    looked = store.standing(first)
    store.correct(first, PhReading(at=START, ph=6.58))
    # The second program looked before the first one wrote.
    monkeypatch.setattr("dawnlevel.store.rows.standing_row", lambda *_: looked)
    with pytest.raises(BadInputError, match="just been corrected or withdrawn elsewhere"):
        store.correct(first, PhReading(at=START, ph=6.6))
    assert [one.record for one in store.records("Brook")] == [PhReading(at=START, ph=6.58)]


def one_by_one(store: Store, log: Samples, source: str = "live") -> None:
    """As a live probe is stored: reading by reading."""
    for minute, ph, temp in zip(log.minute_utc, log.ph, log.temp_c, strict=True):
        one = Samples(np.array([minute]), np.array([ph]), np.array([temp]))
        assert store.add_samples("Brook", one, source) == SamplesAdded(1, 0, 0)


@pytest.mark.parametrize(
    "table", ["records", "tank_versions", "sample_batches", "sample_thinnings", "sample_gatherings"]
)
@pytest.mark.parametrize("change", ["UPDATE {} SET recorded_at_us = 0", "DELETE FROM {}"])
def test_the_database_itself_refuses_to_change_a_fact(store: Store, table: str, change: str) -> None:
    store.add_records("Brook", one_of_each())
    store.add_samples("Brook", a_log(10), "probe")
    store.thin_samples("Brook", MIDNIGHT, 10, fewer)
    one_by_one(store, a_log(26, first=START - timedelta(days=1)))
    one_by_one(store, a_log(1, first=START + timedelta(days=2)))
    with _engine(store).begin() as connection, pytest.raises(DBAPIError, match="never changed or deleted"):
        connection.execute(text(change.format(table)))


def test_records_of_several_tanks_go_in_together_or_not_at_all(store: Store) -> None:
    with pytest.raises(NoSuchTankError):
        store.add_records_of_tanks({"Brook": one_of_each(), "Creek": one_of_each()})
    assert store.records("Brook") == []


def test_a_tanks_past_restores_under_a_new_store(store: Store) -> None:
    ids = store.add_records("Brook", one_of_each())
    store.correct(ids[0], PhReading(at=START, ph=6.9))
    store.withdraw(ids[3])
    store.add_samples("Brook", a_log(), "probe")
    batches = store.sample_batches("Brook")
    archive = TankArchive("Brook", store.tank_versions("Brook"), store.history("Brook"), batches)
    with open_store("sqlite://") as other:
        other.add_tank(a_tank("Pool"), START)
        other.add_records("Pool", one_of_each())  # so that ids differ
        other.add_samples("Pool", a_log(10, seed=6), "probe")
        other.merge([archive], "archive")
        assert other.tank_versions("Brook") == store.tank_versions("Brook")
        assert [one.record for one in other.records("Brook")] == [
            one.record for one in store.records("Brook")
        ]
        assert len(other.history("Brook")) == len(store.history("Brook"))
        assert is_same_log(other.samples("Brook"), store.samples("Brook"))
        assert other.merge([archive], "archive").touched == []
        assert is_same_log(other.samples("Brook"), store.samples("Brook"))
        assert len(other.history("Brook")) == len(store.history("Brook"))


def test_the_migrations_make_the_tables_the_program_reads(store: Store) -> None:
    found = inspect(_engine(store))
    for table in metadata.sorted_tables:
        columns = {column["name"]: column for column in found.get_columns(table.name)}
        assert set(columns) == set(table.columns.keys())
        for column in table.columns:
            assert columns[column.name]["nullable"] == column.nullable
            assert columns[column.name]["type"].python_type is column.type.python_type
        made = {tuple(index["column_names"]) for index in found.get_indexes(table.name)}
        assert {tuple(column.name for column in index.columns) for index in table.indexes} <= made
        unique = {tuple(one["column_names"]) for one in found.get_unique_constraints(table.name)}
        assert {(column.name,) for column in table.columns if column.unique} == unique
        keys = {tuple(key["constrained_columns"]) for key in found.get_foreign_keys(table.name)}
        assert {(column.name,) for column in table.columns if column.foreign_keys} == keys


@SHARED
def test_a_store_of_a_newer_version_is_refused_unchanged(store: Store, address: str) -> None:
    with _engine(store).begin() as connection:
        connection.execute(text("UPDATE dawnlevel_schema SET version_num = '9999'"))
    with pytest.raises(StoreUnreachableError, match=r"newer Dawnlevel.*9999"):
        open_store(address)
    with _engine(store).begin() as connection:
        assert connection.scalar(text("SELECT version_num FROM dawnlevel_schema")) == "9999"


@SHARED
def test_an_open_store_is_opened_again_by_another_program(store: Store, address: str) -> None:
    store.add_records("Brook", one_of_each())
    with open_store(address) as second:
        assert second.records("Brook") == store.records("Brook")
        second.add_records("Brook", [PhReading(at=START, ph=7.0)])
    assert len(store.records("Brook")) == len(one_of_each()) + 1


@SHARED
def test_a_store_that_another_program_writes_to_is_told_as_locked(store: Store, address: str) -> None:
    lock = "LOCK TABLE records" if address.startswith("postgresql") else "UPDATE tanks SET name = name"
    with _engine(store).connect() as holder:
        holder.execute(text(lock))
        with open_store(address, patience=Patience(wait_s=0.5)) as second:
            with pytest.raises(StoreLockedError, match=r"nothing was changed.*Close the other program"):
                second.add_records("Brook", one_of_each())
            if not address.startswith("postgresql"):
                assert second.records("Brook") == []  # readers are not kept waiting
        holder.rollback()
    assert store.records("Brook") == []


@SHARED
def test_the_doctor_finds_the_store_well(store: Store, address: str) -> None:
    store.add_records("Brook", one_of_each())
    found = examine(address, WRITTEN)
    assert {one.name: one.health for one in found.findings if one.health is not Health.WELL} == {}
    assert {"database", "version", "guards", "records", "clock"} <= {one.name for one in found.findings}


def test_many_records_go_in_at_once_and_are_undone_as_one(store: Store) -> None:
    many = [
        PhReading(at=START + timedelta(seconds=number), ph=7.0, note="\\t\t\n\\N") for number in range(200)
    ]
    ids = store.add_records("Brook", many)
    assert [(one.id, one.record) for one in store.records("Brook")] == list(zip(ids, many, strict=True))
    with store._writing() as connection:
        row = rows.tank_id(connection, "Brook")
        with pytest.raises(IntegrityError):  # only one may supersede it
            rows.insert_records(connection, row, many, WRITTEN, supersedes=ids[0])
        connection.rollback()
    assert len(store.records("Brook")) == 200


# --- probe logs ---


def test_a_probes_log_comes_back_as_it_was_logged(store: Store) -> None:
    log = a_log()
    assert store.samples_revision("Brook") == 0
    assert store.samples_span("Brook") is None
    assert store.add_samples("Brook", log, "log.csv") == SamplesAdded(len(log), 0, 0)
    assert is_same_log(store.samples("Brook"), log)
    assert store.samples_revision("Brook") > 0
    with pytest.raises(NoSuchTankError):
        store.add_samples("Creek", log, "log.csv")


def test_since_and_until_hold_for_a_log_too(store: Store) -> None:
    log = a_log()
    store.add_samples("Brook", log, "log.csv")
    first, last = (datetime.fromtimestamp(60 * int(log.minute_utc[place]), UTC) for place in (100, 200))
    found = store.samples("Brook", first, last + timedelta(seconds=59))
    assert is_same_log(found, Samples(log.minute_utc[100:201], log.ph[100:201], log.temp_c[100:201]))
    assert len(store.samples("Brook", first + timedelta(seconds=1), last)) == 100
    assert len(store.samples("Brook", until=START - timedelta(days=1))) == 0
    ends = [datetime.fromtimestamp(60 * int(log.minute_utc[place]), UTC) for place in (0, -1)]
    assert store.samples_span("Brook") == tuple(ends)


def test_the_same_log_again_and_one_that_overlaps_add_only_what_is_new(store: Store) -> None:
    log = a_log()
    half = Samples(log.minute_utc[:1500], log.ph[:1500], log.temp_c[:1500])
    rest = Samples(log.minute_utc[1000:], log.ph[1000:], log.temp_c[1000:])
    assert store.add_samples("Brook", half, "may.csv").new == 1500
    before = store.samples_revision("Brook")
    assert store.add_samples("Brook", half, "may.csv") == SamplesAdded(0, 0, 1500)
    assert store.samples_revision("Brook") == before
    assert store.add_samples("Brook", rest, "june.csv") == SamplesAdded(len(log) - 1500, 0, 500)
    assert is_same_log(store.samples("Brook"), log)
    assert sum(batch.readings for batch in store.sample_batches("Brook")) == len(log)


def test_of_a_minute_with_two_values_the_one_written_down_last_counts(store: Store) -> None:
    log = a_log(100)
    store.add_samples("Brook", log, "log.csv")
    other = Samples(log.minute_utc[:5], log.ph[:5] + 0.1, log.temp_c[:5])
    assert store.add_samples("Brook", other, "again.csv") == SamplesAdded(0, 5, 0)
    assert store.samples("Brook").ph[:5] == pytest.approx(other.ph)
    assert store.add_samples("Brook", log, "log.csv") == SamplesAdded(0, 5, len(log) - 5)
    assert is_same_log(store.samples("Brook"), log)


def test_an_import_is_withdrawn_as_a_whole_and_what_it_hid_counts_again(store: Store) -> None:
    log = a_log()
    store.add_samples("Brook", log, "log.csv")
    wrong = Samples(log.minute_utc, np.full(len(log), 5.5), log.temp_c)
    store.add_samples("Brook", wrong, "another tank's.csv")
    assert [(one.source, one.readings) for one in store.sample_imports("Brook")] == [
        ("log.csv", len(log)),
        ("another tank's.csv", len(log)),
    ]
    last = store.sample_batches("Brook")[-1].id
    assert store.withdraw_samples(last) == len(log)
    assert is_same_log(store.samples("Brook"), log)
    for nothing in (last, last + 1, 10_000):
        with pytest.raises(BadInputError, match="no import"):
            store.withdraw_samples(nothing)
    assert store.add_samples("Brook", wrong, "again.csv").changed == len(log)


def test_a_merged_log_lets_the_batch_written_down_last_count(store: Store) -> None:
    log = a_log(500)
    with open_store("sqlite://", clock=lambda: WRITTEN + timedelta(days=1)) as other:
        other.add_tank(a_tank(), START)
        later = Samples(log.minute_utc, log.ph + 0.1, log.temp_c)
        other.add_samples("Brook", later, "elsewhere")
        wrong = a_log(50, seed=9, first=START + timedelta(days=9))
        other.add_samples("Brook", wrong, "wrong")
        other.withdraw_samples(other.sample_batches("Brook")[-1].id)
        versions = [TankVersion(a_tank(), START, WRITTEN)]
        archive = TankArchive("Brook", versions, [], other.sample_batches("Brook"))
    store.add_samples("Brook", log, "here")
    assert store.merge([archive], "archive").readings == {"Brook": len(log) + len(wrong)}
    assert is_same_log(store.samples("Brook"), Samples(later.minute_utc, np.round(later.ph, 3), later.temp_c))
    assert store.merge([archive], "archive").touched == []


def fewer(log: Samples) -> Samples:
    """The first reading of every ten minutes."""
    first = np.unique(log.minute_utc // 10, return_index=True)[1]
    return Samples(log.minute_utc[first], log.ph[first], log.temp_c[first])


def test_thinned_readings_take_the_place_of_finer_ones_and_it_is_written_down(store: Store) -> None:
    log = a_log(5000)
    early = log.minute_utc < int(MIDNIGHT.timestamp()) // 60
    old = Samples(log.minute_utc[early], log.ph[early], log.temp_c[early])
    later = Samples(log.minute_utc[~early], log.ph[~early], log.temp_c[~early])
    store.add_samples("Brook", log, "log.csv")
    store.add_samples("Brook", Samples(old.minute_utc, np.full(len(old), 5.5), old.temp_c), "wrong.csv")
    store.withdraw_samples(store.sample_imports("Brook")[-1].id)
    assert store.finer_samples("Brook", MIDNIGHT, 10).stored == 2 * len(old)
    done = store.thin_samples("Brook", MIDNIGHT, 10, fewer)
    assert done is not None
    assert (done.readings_before, done.readings_after) == (len(old), len(fewer(old)))
    assert store.thinnings("Brook") == [done]
    found = store.samples("Brook")
    assert is_same_log(found, together(fewer(old), later))
    assert store.thin_samples("Brook", MIDNIGHT, 10, fewer) is None
    with _engine(store).begin() as connection, pytest.raises(DBAPIError, match="never changed or deleted"):
        connection.execute(text("DELETE FROM sample_batches"))
    assert is_same_log(store.samples("Brook"), found)


def together(*logs: Samples) -> Samples:
    minutes, ph, temp = (
        np.concatenate([getattr(log, name) for log in logs]) for name in ("minute_utc", "ph", "temp_c")
    )
    return Samples(minutes, ph, temp)


def test_what_was_thinned_does_not_come_back_by_itself(store: Store) -> None:
    log = a_log()
    store.add_samples("Brook", log, "log.csv")
    before = TankArchive(
        "Brook", store.tank_versions("Brook"), [], store.sample_batches("Brook"), store.thinnings("Brook")
    )
    store.thin_samples("Brook", MIDNIGHT + timedelta(days=9), 10, fewer)
    after = TankArchive(
        "Brook", store.tank_versions("Brook"), [], store.sample_batches("Brook"), store.thinnings("Brook")
    )
    assert store.add_samples("Brook", log, "log.csv") == SamplesAdded(0, 0, 0, len(log))
    assert store.merge([before], "kept").touched == []
    assert is_same_log(store.samples("Brook"), fewer(log))
    with open_store("sqlite://") as other:
        other.merge([after], "kept")
        assert is_same_log(other.samples("Brook"), fewer(log))
        assert other.thinnings("Brook") == store.thinnings("Brook")
    with open_store("sqlite://") as other:
        other.merge([before], "kept")
        assert other.merge([after], "kept").readings == {}
        assert is_same_log(other.samples("Brook"), log)  # what is here stays
        assert other.merge([after], "kept").touched == []
        assert len(other.thinnings("Brook")) == 1


def test_readings_that_come_one_by_one_are_gathered(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gathering, "_MOST_TODAY", 12)
    monkeypatch.setattr(gathering, "_MOST_BEFORE", 4)
    day, next_day = a_log(90), a_log(4, seed=6, first=START + timedelta(days=1))
    one_by_one(store, day)
    assert len(store.sample_batches("Brook")) <= 12
    revision = store.samples_revision("Brook")
    one_by_one(store, next_day)
    assert store.samples_revision("Brook") > revision
    whole = Samples(*(np.append(getattr(day, name), getattr(next_day, name)) for name in LOG_FIELDS))
    assert is_same_log(store.samples("Brook"), whole)
    imports = store.sample_imports("Brook")
    assert [one.readings for one in imports[1:]] == [1] * len(next_day)
    assert (imports[0].source, imports[0].readings) == ("live", len(day))
    assert store.add_samples("Brook", whole, "live") == SamplesAdded(0, 0, len(whole))
    assert store.withdraw_samples(imports[0].id) == len(day)
    assert is_same_log(store.samples("Brook"), next_day)


LOG_FIELDS = ("minute_utc", "ph", "temp_c")


@pytest.mark.parametrize("seed", range(4))
def test_gathering_changes_nothing_that_counts(
    store: Store, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """Two probes that correct each other: the same adds without gathering, and with one of them withdrawn."""
    rng = np.random.default_rng(seed)
    adds = []
    for _ in range(60):
        minutes = np.unique(rng.integers(0, 3 * 1440, 3)) // 20 + int(START.timestamp()) // 60
        ph = np.round(rng.uniform(6.0, 7.0, minutes.size), 2)
        source = str(rng.choice(["left", "right"], p=[0.8, 0.2]))
        adds.append((Samples.gathered(minutes, ph, np.full(minutes.size, np.nan)), source))
    with open_store("sqlite://", clock=lambda: WRITTEN) as plain:
        plain.add_tank(a_tank(), START)
        for log, source in adds:
            plain.add_samples("Brook", log, source)
        monkeypatch.setattr(gathering, "_MOST_TODAY", 3)
        monkeypatch.setattr(gathering, "_MOST_BEFORE", 2)
        for log, source in adds:
            store.add_samples("Brook", log, source)
        assert len(store.sample_batches("Brook")) < len(plain.sample_batches("Brook"))
        assert is_same_log(store.samples("Brook"), plain.samples("Brook"))
        for kept in (plain, store):
            for one in kept.sample_imports("Brook"):
                if one.source == "right":
                    kept.withdraw_samples(one.id)
        assert is_same_log(store.samples("Brook"), plain.samples("Brook"))


def test_a_log_gathered_here_and_not_there_is_known_again(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = a_log(40)
    with open_store("sqlite://", clock=lambda: WRITTEN) as other:
        other.add_tank(a_tank(), START)
        one_by_one(other, log)
        monkeypatch.setattr(gathering, "_MOST_TODAY", 5)
        one_by_one(store, log)
        for one, more in ((store, other), (other, store)):
            versions = one.tank_versions("Brook")
            archive = TankArchive("Brook", versions, [], more.sample_batches("Brook"))
            count = len(one.sample_batches("Brook"))
            assert one.merge([archive], "archive").readings == {}
            assert len(one.sample_batches("Brook")) == count
            assert is_same_log(one.samples("Brook"), log)


def test_what_was_gathered_and_withdrawn_does_not_come_back_from_an_older_copy(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = a_log(40)
    one_by_one(store, log)
    copy = TankArchive("Brook", store.tank_versions("Brook"), [], store.sample_batches("Brook"))
    monkeypatch.setattr(gathering, "_MOST_TODAY", 5)
    after = a_log(1, seed=7, first=START + timedelta(hours=5))
    one_by_one(store, after)
    assert store.withdraw_samples(store.sample_imports("Brook")[0].id) == len(log) + 1
    assert store.merge([copy], "archive").readings == {}
    assert len(store.samples("Brook")) == 0


def test_small_batches_go_only_where_a_whole_one_holds_them(store: Store) -> None:
    """A note alone lets nothing go: the batch it names must hold the source and the time."""
    one_by_one(store, a_log(5))
    store.add_samples("Brook", a_log(5, first=START + timedelta(hours=2)), "elsewhere")
    ids = [one.id for one in store.sample_batches("Brook")]
    note = {"tank_id": 1, "from_batch": ids[0], "up_to_batch": ids[-2], "batches": 5, "recorded_at_us": 0}
    gone = delete(sample_batches).where(sample_batches.c.id == ids[1])
    for whole in (ids[-1], ids[-1] + 1, ids[0]):
        with _engine(store).begin() as connection:
            connection.execute(insert(sample_gatherings), note | {"into_batch": whole})
        with (
            _engine(store).begin() as connection,
            pytest.raises(DBAPIError, match="never changed or deleted"),
        ):
            connection.execute(gone)
