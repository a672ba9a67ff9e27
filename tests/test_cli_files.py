"""Packages and archives at the command line: written as a whole, brought back without duplicates."""

import os
import shutil
from pathlib import Path

import pytest
from cli_keeper import DESCRIBE, Keeper
from frictionless import Package


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys)
    for line in (DESCRIBE, "ph 6.9 --at 09:30", "kh 4 --at 09:40", "correct 1 6.95", "void 2"):
        assert found(line).code == 0
    return found


def test_a_package_is_checked_from_outside_and_comes_back(keeper: Keeper, tmp_path: Path) -> None:
    folder, other = tmp_path / "kept", tmp_path / "other.db"
    told = keeper(f"export --package {folder}")
    assert (told.code, told.out, told.err) == (0, "", f"Exported Brook to {folder}.\n")
    assert Package(str(folder / "datapackage.json")).validate().valid
    assert keeper(f"import {folder} --store {other}").out == "Restored: Brook.\n"
    assert keeper(f"import {folder}/datapackage.json --store {other}").out == "Restored: nothing new.\n"
    assert keeper(f"export --json --store {other}").data == keeper("export --json").data
    keeper("fish calm")
    keeper(f"export --package {folder}")
    assert keeper(f"import {folder} --store {other}").out == "Restored: 1 record to Brook.\n"


def test_an_archive_merges_into_a_store_that_went_on(keeper: Keeper, tmp_path: Path) -> None:
    archive, other = tmp_path / "kept.json", tmp_path / "other.db"
    assert keeper(f"export --archive {archive}").code == 0
    assert keeper(f"import {archive} --store {other}").out == "Restored: Brook.\n"
    keeper(f"cell green --at 10:00 --store {other}")
    keeper("fish calm --at 11:00")
    keeper("tank change --temp 26C")
    keeper(f"export --archive {archive}")
    assert keeper(f"import {archive} --store {other} --json").data == {
        "tanks": [],
        "added": {"Brook": 1},
        "descriptions": {"Brook": 1},
        "duplicates": 4,
    }
    assert [one["record"]["kind"] for one in keeper(f"log --json --store {other}").data["records"]] == [
        "ph",
        "cell",
        "fish",
    ]


def test_a_folder_of_something_else_is_left_alone(keeper: Keeper, tmp_path: Path) -> None:
    folder = tmp_path / "letters"
    folder.mkdir()
    (folder / "to_mother.txt").write_text("Dear mother")
    told = keeper(f"export --package {folder}")
    assert told.code == 2
    assert "was not written by this command" in told.err
    assert [one.name for one in folder.iterdir()] == ["to_mother.txt"]
    assert keeper(f"import {folder}").code == 2


def test_a_package_that_cannot_be_written_leaves_the_last_one(
    keeper: Keeper, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "kept"
    keeper(f"export --package {folder}")
    before = {one.name: one.read_bytes() for one in folder.iterdir()}
    keeper("fish calm")
    real = os.fsync

    def full_at_the_tenth(handle: int, left: list[int] = [10]) -> None:  # noqa: B006 - counts over its calls
        left[0] -= 1
        if not left[0]:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr("os.fsync", full_at_the_tenth)
    told = keeper(f"export --package {folder}")
    assert (told.code, "No space left" in told.err) == (2, True)
    assert {one.name: one.read_bytes() for one in folder.iterdir()} == before
    assert sorted(one.name for one in tmp_path.iterdir() if one.name.startswith("kept")) == ["kept"]


def test_bad_rows_are_told_by_table_and_line_in_text_and_json(keeper: Keeper, tmp_path: Path) -> None:
    folder = tmp_path / "kept"
    keeper(f"export --package {folder}")
    for table, old, new in (("ph", "6.9,", "74,"), ("kh", "4.0,", "four,")):
        file = folder / f"{table}.csv"
        file.write_text(file.read_text().replace(old, new, 1))
    told = keeper(f"import {folder} --store {tmp_path}/other.db")
    assert told.code == 2
    assert "2 rows of 5 cannot be taken; nothing was imported." in told.err
    assert "\n  ph.csv, line 2: " in told.err
    assert "\n  kh.csv, line 2: kh_dkh: 'four' is no number with a decimal point." in told.err
    lines = keeper(f"import {folder} --store {tmp_path}/other.db --json").error["lines"]
    assert [line["place"] for line in lines] == ["ph.csv, line 2", "kh.csv, line 2"]


def test_a_file_and_a_package_at_once_are_refused(keeper: Keeper, tmp_path: Path) -> None:
    assert "one of them at a time" in keeper(f"export a.csv --package {tmp_path}/kept").err
    shutil.rmtree(tmp_path / "kept", ignore_errors=True)


def test_a_tank_renamed_keeps_its_records_and_is_known_in_older_files(keeper: Keeper, tmp_path: Path) -> None:
    archive, other = tmp_path / "kept.json", tmp_path / "other.db"
    keeper(f"export --archive {archive}")
    assert keeper("tank rename Brook", "Brook, left").out == "Brook is called Brook, left now.\n"
    assert [one["name"] for one in keeper("tanks --json").data["tanks"]] == ["Brook, left"]
    assert len(keeper("log --json").data["records"]) == 1
    assert keeper("log --tank Brook").code == 2
    assert keeper(f"import {archive}").out == "Restored: nothing new.\n"
    keeper(f"import {archive} --store {other}")
    assert keeper(f"export --archive {archive}").code == 0
    assert keeper(f"import {archive} --store {other}").out == "Restored: the description of Brook, left.\n"
    assert keeper(f"export --json --store {other}").data == keeper("export --json").data


def test_a_tank_is_not_renamed_to_what_is_taken_or_cannot_be_shown(keeper: Keeper) -> None:
    keeper(DESCRIBE.replace("Brook", "Pool"))
    for name, told in (("Pool", "exists already"), ("Brook", "already"), ("", "plain letters")):
        refused = keeper("tank rename Brook", name)
        assert (refused.code, told in refused.err) == (2, True)
    assert "There is no tank" in keeper("tank rename Creek Lake").err
    assert len(keeper("tanks").out.splitlines()) == 2
