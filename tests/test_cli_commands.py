"""The command line in one process: what each command stores, says and prints as JSON."""

import csv
import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from jsonschema import validate
from store_servers import one_of_each

from dawnlevel.cli.app import SECTIONS, cli, run
from dawnlevel.desk.exchange.longtable import write_moment
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    Diffuser,
    FishSighting,
    FishState,
    GasSwitch,
    KhTitration,
    Photoperiod,
    PhReading,
    Planting,
    RateSetting,
    Record,
    Surface,
    Tank,
    Target,
    TargetKind,
    TimerSetting,
    WaterChange,
)

# Wednesday 6 May 2026, 12:30 in Madrid.
NOW = datetime(2026, 5, 6, 10, 30, tzinfo=UTC)
DESCRIBE = "tank describe Brook --volume 180L --depth 45cm --lights 13:00-21:00 --timezone Europe/Madrid"
SUCCESS = {
    "type": "object",
    "required": ["schema", "data"],
    "additionalProperties": False,
    "properties": {"schema": {"pattern": r"^dawnlevel/[a-z]+/\d+$"}, "data": {"type": "object"}},
}
FAILURE = {
    "type": "object",
    "required": ["error"],
    "additionalProperties": False,
    "properties": {
        "error": {
            "type": "object",
            "required": ["slug", "message", "where", "cure"],
            "additionalProperties": False,
            "properties": {
                "slug": {"pattern": "^[a-z-]+$"},
                "message": {"minLength": 1},
                "where": {"type": "string"},
                "cure": {"minLength": 1},
                "lines": {
                    "type": "array",
                    "items": {"required": ["line", "problem", "cure"]},
                },
            },
        }
    },
}


@dataclass
class Outcome:
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        found = json.loads(self.out)
        validate(found, SUCCESS)
        return found["data"]

    @property
    def error(self) -> Any:
        found = json.loads(self.out)
        validate(found, FAILURE)
        return found["error"]


Keeper = Callable[..., Outcome]


@pytest.fixture
def place(tmp_path: Path) -> str:
    return str(tmp_path / "records.db")


@pytest.fixture
def keeper(place: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    """Types a command: a line split at blanks, then arguments taken whole."""
    monkeypatch.setenv("DAWNLEVEL_NOW", NOW.isoformat())
    monkeypatch.setenv("DAWNLEVEL_STORE", place)
    monkeypatch.delenv("DAWNLEVEL_TANK", raising=False)

    def type_line(line: str, *whole: str) -> Outcome:
        capsys.readouterr()
        code = run([*line.split(), *whole])
        said = capsys.readouterr()
        return Outcome(code, said.out, said.err)

    return type_line


@pytest.fixture
def tank(keeper: Keeper) -> Keeper:
    """The same keeper with a tank described since the first of May."""
    assert keeper(f"{DESCRIBE} --since 2026-05-01").code == 0
    return keeper


def standing(place: str) -> list[Record]:
    with open_store(place) as store:
        return [stored.record for stored in store.records("Brook")]


# --- tanks ---


def test_a_tank_is_described_in_the_keepers_units(keeper: Keeper, place: str) -> None:
    told = keeper(
        "tank describe Brook --volume 48gal --depth 18in --footprint 36x18in --lights 13:30-21:00 --temp 77F "
        "--planting dense --surface rippled --diffuser inline --gh 8dGH --conductivity 350uS/cm "
        "--altitude 300m --room-co2 600ppm --kh-step 0.5dKH --ph-step 0.01 --limit 28mg/L --target 20-26mg/L "
        "--first-rate 90/min --readings 4 --earliest-gas 06:15 --timer-windows 2 --timezone Europe/Madrid"
    )
    assert told.code == 0, told.err
    with open_store(place) as store:
        found = store.tank("Brook")
        assert store.tank_described_at("Brook") == datetime(2026, 5, 5, 22, tzinfo=UTC)  # Madrid's midnight
    assert found.volume_l == pytest.approx(48 * 3.785411784)  # the US gallon by definition
    assert found.depth_cm == pytest.approx(18 * 2.54)
    assert found.surface_cm2 == pytest.approx(36 * 18 * 2.54**2)
    assert found.temp_c == pytest.approx(25.0)
    assert found == Tank(
        name="Brook",
        volume_l=found.volume_l,
        depth_cm=found.depth_cm,
        surface_cm2=found.surface_cm2,
        photoperiod=Photoperiod(lights_on_h=13.5, lights_off_h=21.0),
        timezone="Europe/Madrid",
        temp_c=found.temp_c,
        planting=Planting.DENSE,
        surface=Surface.RIPPLED,
        diffuser=Diffuser.INLINE,
        gh_dgh=8.0,
        conductivity_us_cm=350.0,
        altitude_m=300.0,
        room_co2_ppm=600.0,
        kh_step_dkh=0.5,
        ph_step=0.01,
        co2_limit_mg_l=28.0,
        first_rate_bps=1.5,
        reads_per_ramp=4,
        earliest_start_h=6.25,
        timer_windows=2,
        target=Target(kind=TargetKind.CO2, low=20.0, high=26.0),
    )


def test_a_straight_walled_tank_needs_no_footprint(tank: Keeper) -> None:
    assert tank("tank show --json").data["tank"]["surface_cm2"] == pytest.approx(180_000 / 45)


def test_a_tank_is_changed_and_what_is_not_given_stays(tank: Keeper) -> None:
    assert tank("tank change --volume 170L --room-co2 700ppm --json").code == 0
    assert tank("tank change --room-co2 none --target 0.9-1.1").code == 0
    shown = tank("tank show --json").data["tank"]
    assert (shown["volume_l"], shown["room_co2_ppm"], shown["depth_cm"]) == (170.0, None, 45.0)
    assert shown["target"] == {"kind": "drop", "low": 0.9, "high": 1.1}
    assert "nothing to change" in tank("tank change").err.lower()


def test_showing_a_tank_tells_every_field(tank: Keeper) -> None:
    told = tank("tank show").out
    for words in ("180 L", "13:00-21:00", "1 to 1.2 pH", "Europe/Madrid", "2026-05-01 00:00", "30 mg/L"):
        assert words in told


def test_several_tanks_are_listed_and_must_be_named(tank: Keeper, monkeypatch: pytest.MonkeyPatch) -> None:
    tank(DESCRIBE.replace("Brook", "Pool"))
    assert [one["name"] for one in tank("tanks --json").data["tanks"]] == ["Brook", "Pool"]
    assert tank("tanks").out == "Brook: 180 L\nPool: 180 L\n"
    refused = tank("ph 7 --json")
    assert (refused.code, refused.error["slug"]) == (2, "bad-input")
    assert "Brook, Pool" in refused.error["message"]
    assert tank("ph 7 --tank Pool --json").data["tank"] == "Pool"
    monkeypatch.setenv("DAWNLEVEL_TANK", "Brook")
    assert tank("ph 7 --json").data["tank"] == "Brook"
    assert tank("ph 7 --tank Creek --json").error["slug"] == "no-such-tank"


def test_before_the_first_tank_the_cure_is_how_to_describe_one(keeper: Keeper) -> None:
    assert "dawnlevel tank describe" in keeper("ph 7 --json").error["cure"]
    assert keeper("tanks").out == "No tank yet.\n"
    assert keeper("export").out.splitlines() == ["time,tank,quantity,value,unit,method,note"]


# --- entries ---

ENTRIES: list[tuple[str, Record]] = [
    ("ph 6.85", PhReading(at=NOW, ph=6.85)),
    ("ph 6.85 --temp 77F", PhReading(at=NOW, ph=6.85, temp_c=25.0)),
    ("kh 4", KhTitration(at=NOW, kh_dkh=4.0)),
    ("kh 4dKH --step 0.5", KhTitration(at=NOW, kh_dkh=4.0, step_dkh=0.5)),
    ("cup 7.92 --hours 24h", BaselineCup(at=NOW, ph=7.92, hours=24.0)),
    (
        "cup 7.92 --hours 45min --method aerated --room-co2 640ppm",
        BaselineCup(at=NOW, ph=7.92, hours=0.75, method=BaselineMethod.AERATED, room_co2_ppm=640.0),
    ),
    ("cell lime", CellSighting(at=NOW, colour=CellColour.LIME)),
    ("rate 90/min", RateSetting(at=NOW, bubbles_per_second=1.5)),
    ("rate 1.5", RateSetting(at=NOW, bubbles_per_second=1.5)),
    ("timer 10:30-19:00", TimerSetting(at=NOW, windows_h=((10.5, 19.0),))),
    ("timer 10:30-12:00 22:00-01:15", TimerSetting(at=NOW, windows_h=((10.5, 12.0), (22.0, 1.25)))),
    ("timer never", TimerSetting(at=NOW, windows_h=())),
    ("gas open", GasSwitch(at=NOW, is_open=True)),
    ("gas close", GasSwitch(at=NOW, is_open=False)),
    ("fish uneasy", FishSighting(at=NOW, state=FishState.UNEASY)),
    ("change 30%", WaterChange(at=NOW, fraction=0.3)),
    ("change 45L", WaterChange(at=NOW, fraction=0.25)),
]


@pytest.mark.parametrize(("line", "wanted"), ENTRIES)
def test_an_entry_is_stored_said_and_told_how_to_correct(
    tank: Keeper, place: str, line: str, wanted: Record
) -> None:
    said = tank(line)
    assert said.code == 0, said.err
    assert standing(place) == [wanted]
    assert said.out.count("\n") == 1
    assert said.out.startswith("Brook: ")
    assert "2026-05-06 12:30, stored as record 1. To correct it: dawnlevel correct 1" in said.out


@pytest.mark.parametrize(
    ("at", "wanted"),
    [
        ("09:05", datetime(2026, 5, 6, 7, 5, tzinfo=UTC)),
        ("9:05", datetime(2026, 5, 6, 7, 5, tzinfo=UTC)),
        ("today 09:05:30", datetime(2026, 5, 6, 7, 5, 30, tzinfo=UTC)),
        ("yesterday 21:30", datetime(2026, 5, 5, 19, 30, tzinfo=UTC)),
        ("Yesterday 21:30", datetime(2026, 5, 5, 19, 30, tzinfo=UTC)),
        ("2026-05-02 08:00", datetime(2026, 5, 2, 6, 0, tzinfo=UTC)),
        ("2026-05-02T08:00:00-03:00", datetime(2026, 5, 2, 11, 0, tzinfo=UTC)),
        ("2026-05-02T08:00:00.123456Z", datetime(2026, 5, 2, 8, 0, 0, 123456, tzinfo=UTC)),
    ],
)
def test_times_are_the_tanks_wall_clock_unless_they_say_otherwise(
    tank: Keeper, place: str, at: str, wanted: datetime
) -> None:
    assert tank("ph 7 --at", at).code == 0
    assert [record.at for record in standing(place)] == [wanted]


def test_a_time_that_the_clocks_show_twice_or_never_is_asked_for_with_its_offset(
    keeper: Keeper, monkeypatch: pytest.MonkeyPatch
) -> None:
    keeper(f"{DESCRIBE} --since 2026-03-01")
    monkeypatch.setenv("DAWNLEVEL_NOW", "2026-12-01T00:00:00Z")
    for night in ("2026-03-29 02:30", "2026-10-25 02:30"):  # Madrid's changes of 2026
        refused = keeper("ph 7 --json --at", night)
        assert "clocks change" in refused.error["message"]
        assert keeper("ph 7 --at", refused.error["cure"].split()[-1].rstrip(".")).code == 0


def test_a_note_is_kept_and_shown_as_it_is(tank: Keeper, place: str) -> None:
    tank("ph 7 --note", "[red]after[/red] feeding")
    assert standing(place)[0].note == "[red]after[/red] feeding"
    assert "[red]after[/red] feeding" in tank("log").out


# --- what is recorded ---


def test_the_log_lists_what_stands_by_time_with_its_numbers(tank: Keeper) -> None:
    assert tank("log").out == "Brook: nothing recorded.\n"
    for line in ("ph 6.9 --at 11:00", "ph 7.3 --at 09:00", "cell green --at 10:00"):
        tank(line)
    lines = tank("log").out.splitlines()
    assert [line.split()[0] for line in lines[2:]] == ["2", "3", "1"]
    assert [one["id"] for one in tank("log --last 1 --json").data["records"]] == [1]
    assert [one["id"] for one in tank("log --json --since 09:30 --until 10:30").data["records"]] == [3]
    assert [one["id"] for one in tank("log --json --since today").data["records"]] == [2, 3, 1]
    assert tank("log --json --until", "yesterday 23:00").data["records"] == []


def test_a_correction_keeps_what_is_not_given(tank: Keeper, place: str) -> None:
    tank("cup 7.2 --hours 24h --note first --at 09:00")
    assert tank("correct 1 7.9").code == 0
    assert tank("correct 2 --method aerated --hours 1h --at 10:00").code == 0
    assert standing(place) == [
        BaselineCup(
            at=datetime(2026, 5, 6, 8, tzinfo=UTC),
            note="first",
            ph=7.9,
            hours=1.0,
            method=BaselineMethod.AERATED,
        )
    ]
    assert tank("correct 3 --json --note", "").data["record"]["note"] == ""
    refused = tank("correct 1 7.8 --json")
    assert "Correct record 2 instead" in refused.error["cure"]
    assert "no temp" in tank("correct 4 --temp 25C --json").error["message"]


def test_a_withdrawn_record_is_only_in_the_whole_log(tank: Keeper, place: str) -> None:
    tank("ph 7")
    withdrawn = tank("void 1 --json")
    assert withdrawn.data["record"]["ph"] == 7.0
    assert standing(place) == []
    entries = tank("log --all --json").data["records"]
    assert [(one["id"], one["supersedes"], one["superseded_by"]) for one in entries] == [
        (1, None, 2),
        (2, 1, None),
    ]
    assert "superseded by 2" in tank("log --all").out
    assert tank("void 1").code == 2


def test_a_timer_and_a_water_change_are_corrected_as_they_were_entered(tank: Keeper, place: str) -> None:
    tank("timer 10:30-19:00")
    tank("correct 1 09:00-10:00 11:00-12:00")
    tank("change 30%")
    tank("correct 3 90L")
    assert standing(place) == [
        TimerSetting(at=NOW, windows_h=((9.0, 10.0), (11.0, 12.0))),
        WaterChange(at=NOW, fraction=0.5),
    ]


# --- files ---


def test_records_go_out_and_into_another_store(tank: Keeper, place: str, tmp_path: Path) -> None:
    with open_store(place) as store:
        store.add_records("Brook", one_of_each())
    file, other = str(tmp_path / "kept.csv"), str(tmp_path / "other.db")
    assert tank(f"export {file}").code == 0
    assert tank("export").out == Path(file).read_bytes().decode().replace("\r\n", "\r\n")
    tank(f"{DESCRIBE} --since 2026-05-01 --store {other}")
    report = tank(f"import {file} --store {other} --json").data
    assert report == {"added": {"Brook": 10}, "duplicates": 0, "superseded": 0}
    assert "10 recorded already" in tank(f"import {file} --store {other}").out
    assert standing(other) == one_of_each()


def test_an_archive_restores_into_an_empty_store(tank: Keeper, place: str, tmp_path: Path) -> None:
    tank("ph 7")
    tank("correct 1 7.1")
    file, other = str(tmp_path / "all.json"), str(tmp_path / "other.db")
    tank(f"export {file} --json")
    assert json.loads(Path(file).read_text())["schema"] == "dawnlevel/archive/1"
    assert tank(f"import {file} --store {other}").out == "Restored: Brook.\n"
    assert tank(f"import {file} --store {other} --json").data["tanks"] == []
    assert tank(f"export --json --store {other}").data == tank("export --json").data
    assert standing(other) == standing(place)


def test_a_tank_named_on_the_line_takes_lines_without_one(tank: Keeper, place: str, tmp_path: Path) -> None:
    file = tmp_path / "meter.csv"
    file.write_text("time,tank,quantity,value\n2026-05-04T08:00:00Z,,ph,7\n")
    refused = tank(f"import {file} --json").error
    assert refused["slug"] == "bad-lines"
    assert "--tank" in refused["lines"][0]["cure"]
    assert tank(f"import {file} --tank Brook").out == "Imported: 1 to Brook.\n"
    assert len(standing(place)) == 1


def test_all_bad_lines_come_together_and_nothing_is_imported(
    tank: Keeper, place: str, tmp_path: Path
) -> None:
    good = [
        f"{write_moment(NOW - timedelta(minutes=number), UTC)},Brook,ph,7"  # type: ignore[arg-type]
        for number in range(50)
    ]
    lines = ["time,tank,quantity,value", *good]
    lines[10], lines[20], lines[30] = "x,Brook,ph,7", lines[20] + "4", "2026-05-04T08:00:00Z,Creek,ph,7"
    file = tmp_path / "meter.csv"
    file.write_text("\n".join(lines))
    told = tank(f"import {file}")
    assert told.code == 2
    assert [one["line"] for one in tank(f"import {file} --json").error["lines"]] == [11, 21, 31]
    assert [line.split(":")[0].strip() for line in told.err.splitlines()[1:-1]] == [
        "line 11",
        "line 21",
        "line 31",
    ]
    assert standing(place) == []


def test_the_exported_table_reads_as_csv(tank: Keeper) -> None:
    tank("ph 6.85 --temp 25C --note", 'a "quoted", note')
    rows = list(csv.DictReader(io.StringIO(tank("export").out, newline="")))
    assert [(row["quantity"], row["value"], row["note"]) for row in rows] == [
        ("ph", "6.85", 'a "quoted", note'),
        ("temp", "25.0", ""),
    ]


# --- help and errors ---


def test_the_list_of_commands_is_what_each_says_of_itself() -> None:
    for commands in SECTIONS.values():
        for name, subcommand in commands.items():
            command = cli.get_command(None, name)  # type: ignore[arg-type]
            assert command is not None
            assert command.name == name
            assert command.get_short_help_str(limit=200) == subcommand.summary


BAD: list[tuple[str, str, str]] = [
    ("ph 74", "out-of-range", "outside 3 to 11"),
    ("kh -1", "out-of-range", "outside 0 to 40"),
    ("ph acid", "bad-input", "no number"),
    ("ph 6,85", "bad-input", "decimal point"),
    ("kh 4floz", "bad-input", "no unit"),
    ("ph 7 --temp 250C", "out-of-range", "outside 5 to 40"),
    ("cell pink", "bad-input", "none of blue"),
    ("fish gone", "bad-input", "none of calm"),
    ("gas ajar", "bad-input", "neither open nor closed"),
    ("rate 100/s", "out-of-range", "outside 0 to 60"),
    ("timer 10:30", "bad-input", "no pair of times"),
    ("timer 10:30-25:00", "bad-input", "no time of day"),
    ("timer 10:30-10:30", "bad-input", "same time"),
    ("change 200L", "out-of-range", "outside 0 to 1"),
    ("change some", "bad-input", "no number"),
    ("ph 7 --at 23:30", "bad-input", "still to come today"),
    ("ph 7 --at 2036-01-01T00:00:00Z", "bad-input", "still to come"),
    ("ph 7 --at 2026-04-30T12:00:00Z", "bad-input", "before the tank"),
    ("ph 7 --at 2026-02-30T12:00:00Z", "bad-input", "no time"),
    ("ph 7 --at 25:00", "bad-input", "no time"),
    ("ph 7 --at noon", "bad-input", "no time"),
    ("tank change --lights 13:00-13:00", "bad-input", "same time"),
    ("tank change --target 1.2-1.0", "bad-input", "no width"),
    ("tank change --target lots", "bad-input", "no target"),
    ("tank change --volume -5L", "out-of-range", "outside 1 to"),
    ("tank change --footprint 90", "bad-input", "no length by width"),
    ("tank change --timezone Atlantis/Deep", "bad-input", "no time zone"),
    ("tank change --readings 2.5", "bad-input", "no whole number"),
    ("tank change --since 2036-01-01", "bad-input", "still to come"),
    (DESCRIBE, "tank-exists", "exists already"),
    ("tank describe Pool --volume 10L", "usage", "Missing option"),
    ("correct 99 7", "bad-input", "no record 99"),
    ("void 99", "bad-input", "no record 99"),
    ("import nowhere.csv", "bad-input", "cannot be read"),
    ("export nowhere/kept.csv", "bad-input", "cannot be written"),
    ("ph", "usage", "Missing argument"),
    ("cup 7.9", "usage", "--hours"),
    ("dance", "usage", "No such command"),
    ("log --last 0", "usage", "0"),
]


@pytest.mark.parametrize(("line", "slug", "told"), BAD)
def test_bad_input_is_one_clear_message_and_changes_nothing(
    tank: Keeper, place: str, line: str, slug: str, told: str
) -> None:
    with open_store(place) as store:
        before = store.tank_versions("Brook")
    plain = tank(line)
    assert plain.code == 2
    assert plain.out == ""
    assert told in plain.err
    assert plain.err.startswith("dawnlevel: ")
    assert plain.err.count("\n") == 1
    as_json = tank(f"{line} --json")
    assert as_json.code == 2
    assert as_json.err == ""
    assert as_json.error["slug"] == slug
    with open_store(place) as store:
        assert store.history("Brook") == []
        assert store.tank_versions("Brook") == before


def test_the_same_twice_is_refused_unless_forced(tank: Keeper, place: str) -> None:
    tank("ph 7")
    assert "--force" in tank("ph 7").err
    assert tank("ph 7 --force").code == 0
    assert len(standing(place)) == 2


def test_an_argument_that_is_no_text_is_refused_in_json_too(tank: Keeper) -> None:
    assert "control" in tank("ph 7 --json --note", "\udc80").error["message"]
    assert tank("ph --json", "\udc80").error["slug"] == "bad-input"
    assert tank("tank describe --volume 9L --depth 9cm --lights 1:00-2:00 --json", "a\x1b[2J").code == 2


def test_a_clock_that_cannot_be_read_is_told(tank: Keeper, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DAWNLEVEL_NOW", "noon")
    assert "offset" in tank("ph 7 --json").error["message"]
