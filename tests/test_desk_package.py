"""Data packages: checked by the standard's own library, and nothing lost or doubled there and back."""

import csv
import io
import json
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from frictionless import Package
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from record_strategies import any_record
from store_servers import START, a_log, a_tank, is_same_log, one_of_each
from ucumvert import get_ucum_parser

from dawnlevel.desk.exchange.archive import export_archive, import_archive
from dawnlevel.desk.exchange.columns import RECORD_COLUMNS, TANK_COLUMNS, Column, nested, write_cell
from dawnlevel.desk.exchange.package import write_package
from dawnlevel.desk.exchange.package_log import LOG_TABLES
from dawnlevel.desk.exchange.package_read import import_package
from dawnlevel.desk.limits import LIMITS
from dawnlevel.errors import BadInputError, BadLinesError, DawnlevelError, TankExistsError
from dawnlevel.store import Store, open_store
from dawnlevel.store.codec import decode, encode
from dawnlevel.tank import RECORD_KINDS, PhReading, Tank

NOW = START + timedelta(days=400)
Files = dict[str, bytes]
TABLES = {"tank": Tank, **RECORD_KINDS}


def new_store() -> Store:
    return open_store("sqlite://", clock=lambda: NOW)


def lived_in() -> Store:
    """Two tanks with every kind of record, corrections, a withdrawal and a second description."""
    store = new_store()
    store.add_tank(a_tank(), START)
    store.add_tank(a_tank("Pool, the 2nd", room_co2_ppm=640.0, earliest_start_h=6.5), START)
    ids = store.add_records("Brook", one_of_each())
    store.add_records("Pool, the 2nd", one_of_each())
    store.correct(store.correct(ids[0], PhReading(at=START, ph=6.9, note=" é\n")), one_of_each()[1])
    store.withdraw(ids[3], 'spilt, "twice"\nit was')
    store.update_tank(a_tank(volume_l=170.5), START + timedelta(days=3))
    store.add_samples("Brook", a_log(50), 'may, "first".csv')
    store.add_samples("Brook", a_log(30, seed=8), "again.csv")
    store.withdraw_samples(store.sample_batches("Brook")[-1].id)
    return store


def past(store: Store) -> dict[str, object]:
    """Everything a store holds."""
    return export_archive(store, store.tank_names())


def exported(store: Store) -> Files:
    return write_package(store, store.tank_names())


def written(files: Files, folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return folder / "datapackage.json"


@pytest.fixture
def store() -> Iterator[Store]:
    with lived_in() as opened:
        yield opened


# --- what others see of it ---


def test_the_standards_own_library_finds_nothing_wrong(store: Store, tmp_path: Path) -> None:
    report = Package(str(written(exported(store), tmp_path))).validate()
    logged = 3 + len(a_log(50)) + len(a_log(30, seed=8))  # batches, one a withdrawal, and their readings
    assert report.valid, report.flatten(["name", "rowNumber", "message"])
    assert {task.name for task in report.tasks} == {"tanks", "withdrawals", *LOG_TABLES, *RECORD_KINDS}
    assert sum(task.stats.get("rows", 0) for task in report.tasks) == 3 + 2 * 10 + 2 + 1 + logged


def test_an_empty_store_is_a_package_too(tmp_path: Path) -> None:
    with new_store() as empty, new_store() as other:
        assert Package(str(written(exported(empty), tmp_path))).validate().valid
        assert import_package(other, exported(empty), "kept").touched == []


@pytest.mark.parametrize(
    ("spoil", "kind"),
    [
        (lambda text: text.replace("6.85", "14.85"), "constraint-error"),
        (lambda text: text.replace("6.85", "high"), "type-error"),
        (lambda text: text.replace(",Brook,", ",Creek,", 1), "foreign-key"),
    ],
)
def test_the_description_is_strict_enough_to_find_what_is_wrong(
    store: Store, tmp_path: Path, spoil: Callable[[str], str], kind: str
) -> None:
    descriptor = written(exported(store), tmp_path)
    table = tmp_path / "ph.csv"
    table.write_bytes(spoil(table.read_text(encoding="utf-8")).encode())
    found = {kind for (kind,) in Package(str(descriptor)).validate().flatten(["type"])}
    assert kind in found


def test_the_library_reads_the_values_that_were_recorded(store: Store, tmp_path: Path) -> None:
    package = Package(str(written(exported(store), tmp_path)))
    rows: list[dict[str, Any]] = [row.to_dict() for row in package.get_resource("timer").read_rows()]
    assert [row["windows_h"] for row in rows[:2]] == [[[10.5, 12.0], [22.0, 1.25]], []]
    (cup, _) = package.get_resource("baseline").read_rows()
    assert (cup["at"], cup["method"], float(cup["room_co2_ppm"])) == (
        START + timedelta(minutes=20, microseconds=2),
        "aerated",
        640.0,
    )
    stands = [row["stands"] for row in package.get_resource("ph").read_rows()]
    assert stands == [False, False, True]  # the correction was corrected in its turn


def test_every_unit_is_a_code_of_ucum() -> None:
    parser = get_ucum_parser()
    codes = {column.unit for columns in (TANK_COLUMNS, *RECORD_COLUMNS.values()) for column in columns}
    assert {"[pH]", "Cel", "mg/L", "{bubble}/s", "uS/cm"} <= codes
    for code in codes - {""}:
        parser.parse(code)


UNITLESS = {"price", "target_low", "target_high"}


@pytest.mark.parametrize("table", TABLES)
def test_every_figure_has_a_unit_and_its_limits_are_those_of_the_noun(table: str) -> None:
    columns = TANK_COLUMNS if table == "tank" else RECORD_COLUMNS[table]
    assert not [
        one.name for one in columns if one.type == "number" and not one.unit and one.name not in UNITLESS
    ]
    assert set(LIMITS.get(table, {})) <= {column.name for column in columns}
    for column in columns:
        if column.limits is not None:
            _check_limits(TABLES[table], columns, column, column.limits)


def _an_example(kind: type) -> dict[str, Any]:
    if kind is Tank:
        return encode(a_tank())
    examples = {type(one): encode(one) for one in one_of_each()}
    bare: dict[str, Any] = {
        "at": "2026-05-04T10:00:00Z",
        "gas_kg": 2.0,
        "gross_kg": 5.0,
        "gauge_bar": 50.0,
        "low_ph": 4.0,
        "high_ph": 7.0,
        "kh_dkh": 4.0,
        "ph": 6.9,
        "oxygen_mg_l": 7.0,
        "x_cm": 20.0,
        "y_cm": 10.0,
        "z_cm": 5.0,
    }
    names = {column.name for column in RECORD_COLUMNS[next(k for k, v in RECORD_KINDS.items() if v is kind)]}
    return examples.get(kind) or {name: value for name, value in bare.items() if name in names}


def _check_limits(
    kind: type, columns: tuple[Column, ...], column: Column, limits: tuple[float, float]
) -> None:
    example = _an_example(kind)
    cells = {one.name: write_cell(one, example) for one in columns if one.path[0] in example}

    def taken(value: float) -> str:
        text = str(int(value)) if column.type == "integer" else repr(value)
        given = {**cells, column.name: text}
        if column.name == "low_ph":  # the two must stay apart, whichever end is tried
            given["high_ph"] = "14.0"
        if column.name == "high_ph":
            given["low_ph"] = "0.0"
        try:
            decode(kind, nested(columns, given), "example")
        except DawnlevelError as error:
            return error.slug
        return "taken"

    step = 1 if column.type == "integer" else 1e-6 * max(1.0, abs(limits[0]), abs(limits[1]))
    low, high = limits
    assert taken(low - step) == "out-of-range", column
    assert taken(high + step) == "out-of-range", column
    apart = column.name in {
        "low_ph",
        "high_ph",
        "gas_kg",
        "capacity_l",
    }  # held by what they are read with too
    assert apart or (taken(low), taken(high)) == ("taken", "taken"), column


def test_the_same_records_give_the_same_letters(store: Store) -> None:
    with lived_in() as twin:
        assert exported(twin) == exported(store)
    assert b"\r\n" in exported(store)["ph.csv"]


# --- there and back ---


def test_a_package_restores_everything_and_again_changes_nothing(store: Store) -> None:
    files = exported(store)
    with new_store() as other:
        report = import_package(other, files, "kept")
        assert report.tanks == ("Brook", "Pool, the 2nd")
        assert past(other) == past(store)
        assert exported(other) == files
        again = import_package(other, files, "kept")
        assert (again.touched, again.present) == ([], 23)
        assert past(other) == past(store)


@given(st.data())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_store_comes_back_whole_by_package_and_by_archive(data: st.DataObject) -> None:
    with new_store() as store, new_store() as by_package, new_store() as by_archive:
        for name in data.draw(st.lists(st.sampled_from(["Brook", "Pöl; x", '"Q"']), unique=True)):
            store.add_tank(a_tank(name, volume_l=data.draw(st.floats(1.0, 20000.0))), START)
            ids = store.add_records(name, data.draw(st.lists(any_record, max_size=6)))
            for record_id in ids:
                fate = data.draw(st.sampled_from(["stays", "corrected", "withdrawn"]))
                if fate == "corrected":
                    store.correct(record_id, data.draw(any_record))
                elif fate == "withdrawn":
                    store.withdraw(record_id, data.draw(st.sampled_from(["", "a slip"])))
        files, archive = exported(store), json.loads(json.dumps(past(store)))
        import_package(by_package, files, "kept")
        import_archive(by_archive, archive, "kept.json")
        assert past(by_package) == past(by_archive) == past(store)
        assert import_archive(by_package, archive, "kept.json").touched == []
        assert import_package(by_archive, files, "kept").touched == []
        assert exported(by_archive) == files


@given(st.lists(any_record, max_size=5), st.lists(any_record, max_size=5), st.data())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_two_stores_that_went_on_apart_hold_the_same_after_an_exchange(
    first: list[Any], second: list[Any], data: st.DataObject
) -> None:
    with new_store() as one, new_store() as two:
        one.add_tank(a_tank(), START)
        common = one.add_records("Brook", data.draw(st.lists(any_record, max_size=4)))
        import_package(two, exported(one), "kept")
        one.add_records("Brook", first)
        two.add_records("Brook", second)
        if common and data.draw(st.booleans()):
            one.withdraw(common[0], "a slip")
        import_package(two, exported(one), "kept")
        import_package(one, exported(two), "kept")
        assert [record.record for record in one.records("Brook")] == sorted(
            [record.record for record in one.records("Brook")], key=lambda record: record.at
        )
        assert _standing(one) == _standing(two)
        assert len(one.history("Brook")) == len(two.history("Brook"))


def _standing(store: Store) -> list[str]:
    return sorted(repr(stored.record) for stored in store.records("Brook"))


def test_what_was_imported_as_a_table_of_readings_is_known_again(store: Store) -> None:
    with new_store() as other:
        other.add_tank(a_tank(), START)
        other.add_records("Brook", [stored.record for stored in store.records("Brook")])
        before = _standing(other)
        import_package(other, write_package(store, ["Brook"]), "kept")
        assert _standing(other) == before


def test_another_tank_of_the_same_name_is_not_mixed_in(store: Store) -> None:
    with new_store() as other:
        other.add_tank(a_tank(volume_l=60.0), START)
        with pytest.raises(TankExistsError, match=r"another tank called 'Brook'.*tank rename"):
            import_package(other, exported(store), "kept")
        assert other.tank_names() == ["Brook"]
        assert other.history("Brook") == []


def test_corrections_that_contradict_each_other_are_told_together_and_nothing_is_imported(
    store: Store,
) -> None:
    with new_store() as other:
        import_package(other, exported(store), "kept")
        for stored in other.records("Pool, the 2nd")[:2]:
            other.withdraw(stored.id)
        for stored in store.records("Pool, the 2nd")[:2]:
            store.correct(stored.id, PhReading(at=START, ph=7.7))
        store.add_records("Brook", [PhReading(at=START, ph=7.1)])
        before = past(other)
        with pytest.raises(
            BadLinesError, match=r"(?s)2 records of 26.*corrects a record that is withdrawn"
        ) as caught:
            import_package(other, exported(store), "kept")
        assert len(caught.value.lines) == 2
        assert past(other) == before


# --- what cannot be taken ---


def test_all_bad_rows_of_all_tables_come_together_and_nothing_is_imported(store: Store) -> None:
    files = exported(store)
    files["ph.csv"] = files["ph.csv"].replace(b",6.85,", b",74,").replace(b",6.9,", b",high,")
    files["kh.csv"] = files["kh.csv"].replace(b"2026-05-04T", b"4 May ", 1)
    files["cell.csv"] = files["cell.csv"].replace(b"lime", b"pink", 1).replace(b"Pool", b"Pond", 1)
    files["rate.csv"] = b"id,tank\r\n" + files["rate.csv"].partition(b"\r\n")[2]
    files["tanks.csv"] = files["tanks.csv"].replace(b"Europe/Madrid", b"Atlantis", 1)
    del files["fish.csv"]
    with new_store() as other:
        with pytest.raises(BadLinesError) as caught:
            import_package(other, files, "kept")
        assert other.tank_names() == []
    places = [line.place for line in caught.value.lines]
    assert places == [
        "tanks.csv, line 2",
        "ph.csv, line 2",
        "ph.csv, line 3",
        "ph.csv, line 5",
        "kh.csv, line 2",
        "cell.csv, line 2",
        "cell.csv, line 3",
        "rate.csv, line 1",
        "fish.csv",
    ]
    told = str(caught.value)
    for word in ("74", "'high' is no number", "4 May", "pink", "Pond", "tank,at", "missing", "Atlantis"):
        assert word in told


@pytest.mark.parametrize("descriptor", [b"", b"[]", b'{"format": "dawnlevel/package/9"}', b"{"])
def test_a_folder_that_is_no_package_is_told(store: Store, descriptor: bytes) -> None:
    with pytest.raises(BadInputError, match="no package this version reads"):
        import_package(store, {"datapackage.json": descriptor}, "kept")


def test_a_table_older_than_a_field_takes_its_default(store: Store) -> None:
    files = exported(store)
    rows = list(csv.DictReader(io.StringIO(files["tanks.csv"].decode(), newline="")))
    out = io.StringIO(newline="")
    names = [name for name in rows[0] if name != "timer_windows"]
    writer = csv.DictWriter(out, names, extrasaction="ignore")
    writer.writeheader()
    writer.writerows(rows)
    files["tanks.csv"] = out.getvalue().encode()
    with new_store() as other:
        import_package(other, files, "kept")
        assert other.tank("Brook") == store.tank("Brook")


def test_an_archive_tells_all_its_bad_entries_together(store: Store) -> None:
    archive: Any = json.loads(json.dumps(past(store)))
    entries = archive["tanks"][1]["entries"]
    entries[0]["record"]["ph"] = 74
    entries[2]["record"]["method"] = "boiled"
    entries[4]["supersedes"] = 9999
    with new_store() as other:
        with pytest.raises(BadLinesError) as caught:
            import_archive(other, archive, "kept.json")
        assert [line.place for line in caught.value.lines] == [
            f"tank Pool, the 2nd, entry {number}" for number in (1, 3)
        ]
        assert other.tank_names() == []
        del entries[2], entries[0]
        with pytest.raises(BadLinesError, match="9999"):
            import_archive(other, archive, "kept.json")


@pytest.mark.parametrize(
    ("table", "old", "new"),
    [
        ("probe_log", ",6.", ",7."),
        ("probe_log", ",6.", ",acid"),
        ("probe_log", ":00Z", ":00+02:00"),
        ("probe_batches", "again.csv", "another.csv"),
        ("probe_batches", "Brook", "Creek"),
        ("probe_batches", ",1,", ",10,"),
    ],
)
def test_a_log_that_was_tampered_with_is_refused_whole(store: Store, table: str, old: str, new: str) -> None:
    files = exported(store)
    files[f"{table}.csv"] = files[f"{table}.csv"].decode().replace(old, new, 1).encode()
    with new_store() as other:
        with pytest.raises(BadLinesError, match=r"probe_.*\.csv, line"):
            import_package(other, files, "folder")
        assert other.tank_names() == []


def test_what_was_thinned_is_told_in_a_package_too(store: Store) -> None:
    done = store.thin_samples("Brook", NOW.replace(hour=0, minute=0), 10, lambda log: log)
    with new_store() as other:
        import_package(other, exported(store), "kept")
        assert other.thinnings("Brook") == store.thinnings("Brook") == [done]
        assert is_same_log(other.samples("Brook"), store.samples("Brook"))


def test_a_package_older_than_probe_logs_is_taken(store: Store) -> None:
    files = {name: content for name, content in exported(store).items() if not name.startswith("probe_")}
    with new_store() as other:
        import_package(other, files, "folder")
        assert other.records("Brook") == store.records("Brook")
        assert len(other.samples("Brook")) == 0
