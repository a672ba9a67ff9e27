"""A probe's log at the command line: brought in whole or not at all, again without doubling, taken back."""

import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from cli_keeper import DESCRIBE, Keeper

from dawnlevel.store import open_store

NOW = datetime(2026, 5, 6, 10, 30, tzinfo=UTC)
PLAIN = "Zeit;Sonde 1;Sonde 2;Temp (F)\n" + "".join(
    f"04.05.2026 10:{minute:02};7,{minute:02};6,5;75,2\n" for minute in range(40)
)


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys, NOW)
    found(DESCRIBE)
    return found


@pytest.fixture
def file(tmp_path: Path) -> Path:
    found = tmp_path / "may.csv"
    found.write_text(PLAIN, encoding="utf-8")
    return found


def test_columns_are_named_by_hand_and_shown(keeper: Keeper, file: Path) -> None:
    refused = keeper(f"probe import {file}")
    assert (refused.code, "No column is called after the pH" in refused.err) == (2, True)
    done = keeper(f"probe import {file} --column", "ph=sonde 1")
    assert "time: zeit, ph: sonde 1, temp: temp (f)" in done.out
    assert "readings  40 from 2026-05-04 10:00 to 2026-05-04 10:39" in done.out
    assert "24.0 to 24.0 °C" in done.out
    assert "Brook: 40 new." in done.out
    again = keeper(f"probe import {file} --column ph=3 --json").data
    assert (again["new"], again["changed"], again["same"]) == (0, 40, 0)
    assert again["read"]["ph_high"] == 6.5
    assert keeper(f"probe import {file} --column ph=Sonde").err.count("There is no column 'Sonde'") == 1
    assert keeper(f"probe import {file} --column acid=2").err.count("does not say which column") == 1


def test_the_same_file_again_adds_nothing_and_a_longer_one_only_its_end(keeper: Keeper, file: Path) -> None:
    line = f"probe import {file} --column ph=2"
    keeper(line)
    assert "Brook: 0 new, 40 there already." in keeper(line).out
    with file.open("a", encoding="utf-8") as more:
        more.write("04.05.2026 10:40;7,4;6,5;75,2\n04.05.2026 10:40;7,5;6,5;75,2\n04.05.2026 10:41;;;\n")
    told = keeper(line).out
    assert "1 of a minute that was there already" in told
    assert "1 without a pH" in told
    assert "Brook: 1 new, 40 there already." in told
    with open_store(keeper.place) as store:
        assert store.samples("Brook").ph[-1] == 7.5


def test_nothing_is_brought_in_of_a_file_with_bad_lines(keeper: Keeper, file: Path) -> None:
    file.write_text(PLAIN + "x;7;7;7\n04.05.2026 10:50;acid;7;7\n04.05.2027 10:50;7;7;7\n", encoding="utf-8")
    refused = keeper(f"probe import {file} --column ph=2 --json")
    assert refused.code == 2
    assert [line["line"] for line in refused.error["lines"]] == [42, 43, 44]
    assert "nothing of a probe is stored" in keeper("probe list").out


def test_the_probes_clock_may_keep_another_zone(keeper: Keeper, tmp_path: Path) -> None:
    (tmp_path / "night.csv").write_text("time,ph\n2026-03-29 02:30,7.0\n", encoding="utf-8")
    assert "never was" in keeper(f"probe import {tmp_path}/night.csv").err
    assert keeper(f"probe import {tmp_path}/night.csv --zone Nowhere").code == 2
    assert keeper(f"probe import {tmp_path}/night.csv --zone UTC --json").data["new"] == 1
    assert "2026-03-29 04:30 to 2026-03-29 04:30" in keeper("probe list").out


def test_a_part_is_listed_and_taken_back(keeper: Keeper, file: Path) -> None:
    keeper(f"probe import {file} --column ph=2")
    keeper(f"probe import {file} --column ph=3")
    parts = keeper("probe list --json").data["parts"]
    assert [(one["source"], one["readings"]) for one in parts] == [("may.csv", 40), ("may.csv", 40)]
    assert keeper(f"probe withdraw {parts[1]['id']}").out == "Brook: 40 readings of part 2 withdrawn.\n"
    with open_store(keeper.place) as store:
        assert store.samples("Brook").ph[5] == 7.05
    for nothing in (2, 9):
        assert "There is no part" in keeper(f"probe withdraw {nothing}").err


@pytest.mark.parametrize(("answer", "stored"), [(b"n\n", 0), (b"y\n", 40), (b"\n", 40)])
def test_on_a_terminal_it_asks_first(keeper: Keeper, file: Path, answer: bytes, stored: int) -> None:
    ours, theirs = os.openpty()
    command = [sys.executable, "-m", "dawnlevel.cli", "probe", "import", str(file), "--column", "ph=2"]
    with subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs) as child:
        os.close(theirs)
        said = b""
        while b"Is that right?" not in said:
            said += os.read(ours, 4096)
        assert b"sonde 1" in said
        os.write(ours, answer)
        child.wait(timeout=60)
    os.close(ours)
    with open_store(keeper.place) as store:
        assert len(store.samples("Brook")) == stored
