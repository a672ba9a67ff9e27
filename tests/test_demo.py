"""The demonstration and the practice game. One whole story is played (about ten seconds), once."""

import io
import json
import re
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from dawnlevel.cli import demo as demo_module
from dawnlevel.cli.app import run
from dawnlevel.cli.demo import CHART_FILE, STORE_FILE, demo_folder, play_story
from dawnlevel.cli.play import KEPT_FILE
from dawnlevel.cli.story import Event, Story, Tell, end_of_story
from dawnlevel.desk.evenness.spread import spread_view
from dawnlevel.desk.shelf.due_dates import due_dates
from dawnlevel.desk.steadiness.watching import tank_watched
from dawnlevel.practice import logged, scenario
from dawnlevel.practice.scenario import StoryTank, hour_of, keepers_tank, moment
from dawnlevel.rehearsal.keeper import Keeper
from dawnlevel.store import open_store
from dawnlevel.store.engine import STORE_FILE as OWN_FILE
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    BufferCheck,
    GasSwitch,
    PhReading,
    RateSetting,
    Record,
    TimerSetting,
)
from dawnlevel.tank.clock import wall_clock
from dawnlevel.tank.places import place_shares


@dataclass
class Played:
    """The story as it was told, and what it left."""

    folder: Path
    events: list[Event]
    records: list[Record]
    history: int


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    folder = tmp_path_factory.mktemp("demo")
    events: list[Event] = []
    play_story(folder / STORE_FILE, events.append)
    with open_store(str(folder / STORE_FILE)) as store:
        records = [found.record for found in store.records(keepers_tank().name)]
        return Played(folder, events, records, len(store.history(keepers_tank().name)))


@pytest.fixture
def at_home(played: Played, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DAWNLEVEL_DATA", str(played.folder))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("DAWNLEVEL_STORE", raising=False)
    return played.folder


# --- the story ---


def test_the_story_runs_for_its_days_in_order(played: Played) -> None:
    moments = [event.at for event in played.events]
    assert moments == sorted(moments)
    days = sorted({moment.date() for moment in moments})
    assert days == [scenario.DAY_0 + timedelta(days=day) for day in range(scenario.TUNING_DAYS + 1)]
    assert sum("LIGHTS ON" in event.text for event in played.events) == scenario.TUNING_DAYS


def test_readings_told_are_those_recorded(played: Played) -> None:
    told = [
        (event.at, float(found[1]))
        for event in played.events
        if (found := re.match(r"pH (\d+\.\d+), fish", event.text))
    ]
    recorded = [(record.at, record.ph) for record in played.records if isinstance(record, PhReading)]
    assert told == recorded
    by_day = [sum(at.date() == day for at, _ in told) for day in sorted({at.date() for at, _ in told})]
    assert len(by_day) == scenario.TUNING_DAYS
    assert all(count >= keepers_tank().reads_per_ramp for count in by_day)


def test_the_keeper_did_what_the_advice_said(played: Played) -> None:
    set_at = {r.at: r.bubbles_per_second for r in played.records if isinstance(r, RateSetting)}
    told = {
        event.at: float(found[1])
        for event in played.events
        if (found := re.search(r"(?:Raise to|Lower to|Plan for .*,) ([\d.]+) bubbles/s", event.text))
    }
    assert told
    for at, rate in told.items():
        assert set_at[at] == pytest.approx(rate, abs=0.005)


def test_on_the_last_day_the_tank_is_dialled_in_by_its_truth(played: Played) -> None:
    last = [event for event in played.events if "LIGHTS ON" in event.text][-1]
    drop = re.search(r"drop ([\d.]+)", last.text)
    assert drop is not None
    target = keepers_tank().target
    assert target.low - 0.02 <= float(drop[1]) <= target.high + 0.02  # the benchmark's width of a hit


def test_the_truth_told_follows_from_the_records_alone(played: Played) -> None:
    """The recorded needle and timer, played on a fresh tank, lead to the levels the story tells."""
    tank = StoryTank()
    with open_store("sqlite://") as store:
        keeper = Keeper(tank, store, keepers_tank())
        store.add_tank(keepers_tank(), keeper.now)
        settings = [r for r in played.records if isinstance(r, RateSetting | TimerSetting)]
        lights = [event for event in played.events if "LIGHTS ON" in event.text]
        for event in lights:
            while settings and settings[0].at < event.at:
                keeper.wait_until(settings[0].at)
                keeper.note(settings.pop(0))
            keeper.wait_until(event.at)
            told = re.search(r"([\d.]+) mg/L\.", event.text)
            assert told is not None
            assert tank.truth()["co2_mg_l"] == pytest.approx(float(told[1]), abs=0.051)


def test_the_better_cup_takes_the_place_of_the_one_that_only_stood(played: Played) -> None:
    (cup,) = [record for record in played.records if isinstance(record, BaselineCup)]
    assert cup.method is BaselineMethod.AERATED
    assert played.history == len(played.records) + 2  # the first cup and its withdrawal are kept
    still = StoryTank()
    still.wait_until(24.0 + scenario.MORNING_H)
    twin = StoryTank()
    twin.wait_until(24.0 + scenario.MORNING_H)
    # A still cup keeps CO2, so it shows less pH than an aerated one (more CO2, lower pH).
    assert still.read_cup(BaselineMethod.STILL_CUP) < twin.read_cup(BaselineMethod.AERATED)


def test_the_same_story_is_told_again(
    played: Played, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(scenario, "TUNING_DAYS", 1)
    events: list[Event] = []
    play_story(tmp_path / STORE_FILE, events.append)
    assert events == played.events[: len(events)]
    assert len(events) > 8


def test_records_are_written_down_when_they_were_made(played: Played) -> None:
    with open_store(str(played.folder / STORE_FILE)) as store:
        for found in store.records(keepers_tank().name):
            assert abs(found.recorded_at - found.record.at) < timedelta(seconds=5)


def test_a_story_that_breaks_off_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = tmp_path / STORE_FILE
    kept.write_bytes(b"the old story")

    def break_off(_: Story) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Story, "play", break_off)
    with pytest.raises(KeyboardInterrupt):
        play_story(kept, lambda _: None)
    assert kept.read_bytes() == b"the old story"


def test_the_clock_of_the_scenario_is_a_round_trip() -> None:
    for hour in (0.0, 20.0, 31.25, 93.5):
        assert hour_of(moment(hour)) == pytest.approx(hour, abs=1e-9)
    assert moment(24.0 + 13.0).astimezone(scenario.ZONE).strftime("%d %H:%M") == "04 13:00"


# --- what stands around the tank ---


def test_the_survey_finds_the_corner_that_is_sheltered_in_truth(played: Played) -> None:
    with open_store(str(played.folder / STORE_FILE)) as store:
        view = spread_view(store, keepers_tank().name, end_of_story())
    assert len(view.readings) == len(scenario.SURVEY_PLACES)
    assert [zone.place for zone in view.dead_zones] == [scenario._SHELTERED]
    assert view.worst_corner == scenario._SHELTERED
    shares = (
        np.arange(20) + 0.5
    ) / 20  # the truth on a lattice: what lacks there, below the mean of the water
    away = np.stack(np.meshgrid(shares, shares, shares, indexing="ij"), axis=-1)
    away = (away - place_shares(scenario._SHELTERED)) / scenario._SHELTER_REACH
    mean = float(np.mean(1.0 - scenario._SHELTER_LACKS * np.exp(-0.5 * (away**2).sum(axis=-1))))
    truth = 100.0 * (1.0 - (1.0 - scenario._SHELTER_LACKS) / mean)
    assert view.worst_corner_percent.low_90 <= truth <= view.worst_corner_percent.high_90


def test_the_buffers_show_the_meter_as_it_is(played: Played) -> None:
    (check,) = [one for one in played.records if isinstance(one, BufferCheck)]
    true = scenario._truth().instruments
    for shown, ph in ((check.low_ph, 4.0), (check.high_ph, 6.88)):  # NIST at 22 degC: 4.00 and 6.88
        expected = 7.0 + true.slope * (ph - 7.0) + true.offset_ph
        assert shown == pytest.approx(expected, abs=0.025)  # the meter's noise and step


def test_gas_cell_and_meter_have_their_dates(played: Played) -> None:
    dues = {one.kind: one.day for one in due_dates(keepers_tank(), played.records, end_of_story())}
    assert set(dues) == {"cylinder", "retest", "buffers", "solution", "kh"}
    assert dues["retest"] == date(2031, 9, 1)  # ADR: ten years after the stamp
    assert all(day > scenario.DAY_0 + timedelta(days=scenario.TUNING_DAYS) for day in dues.values())


# --- the tank beside it ---


def test_the_second_tank_s_log_tells_what_happened_to_it_and_when(played: Played) -> None:
    """The diffuser clogs on the 30th evening and 0.72 of the gas is left; the log itself is not told."""
    with open_store(str(played.folder / STORE_FILE)) as store:
        watched = tank_watched(store, logged.logged_tank().name, end_of_story())
        assert len(store.samples(logged.logged_tank().name)) > 0.99 * 60 * 24 * (logged.DAYS - 1)
        assert store.tank_names() == [keepers_tank().name, logged.logged_tank().name]
    (found,) = watched.view.findings
    clogged = wall_clock(logged.BEGIN, logged.CLOGS_H, scenario.ZONE)
    assert found.kind == "injection_weaker"
    assert timedelta(0) <= found.since - clogged <= timedelta(days=1)
    assert found.since_earliest <= clogged <= found.since_latest
    assert 1.0 + found.size == pytest.approx(logged.LEFT, abs=0.05)


def test_the_second_tank_s_keeper_writes_down_what_the_probe_shows(played: Played) -> None:
    name = logged.logged_tank().name
    with open_store(str(played.folder / STORE_FILE)) as store:
        records = [found.record for found in store.records(name)]
        readings = [one for one in records if isinstance(one, PhReading)]
        assert len(readings) == logged.DAYS // 7
        for one in readings:
            shown = store.samples(name, one.at, one.at + timedelta(minutes=3))
            assert shown.ph[0] == pytest.approx(one.ph, abs=0.001)
    assert all(one.at <= end_of_story() for one in records)


# --- the command ---


def test_demo_tells_the_end_and_leaves_the_own_store_alone(
    at_home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    own = at_home / OWN_FILE
    own.write_bytes(b"a keeper's own records")
    assert run(["demo"]) == 0
    out = capsys.readouterr().out
    assert own.read_bytes() == b"a keeper's own records"
    own.unlink()
    assert "--fresh plays and tells it anew" in out
    for words in ("Where Fernbrook stands", "Three routes", "indicator cell", "gas timer", "Try next"):
        assert words in out
    assert (at_home / CHART_FILE).read_bytes().startswith(b"\x89PNG")
    page, _, commands = out.partition("Try next:")
    assert max(map(len, page.splitlines())) <= max(80, len(str(at_home / CHART_FILE)) + 40)
    assert f"dawnlevel today --tank {keepers_tank().name} --store" in commands


@pytest.mark.usefixtures("at_home")
def test_the_commands_it_names_work(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["demo", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)["data"]
    assert data["today"]["tank"] == data["plan"]["tank"] == keepers_tank().name
    store = data["store"]
    named = ["--tank", data["today"]["tank"], "--store", store]
    assert run(["explain", *named, "--at", "2026-05-06 21:30"]) == 0
    assert "Three routes" in capsys.readouterr().out


def test_without_a_folder_of_its_own_it_takes_one_in_the_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DAWNLEVEL_DATA", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere")
    assert demo_folder().name == "demo"
    assert demo_folder().parent.name == "dawnlevel"


def test_a_folder_that_cannot_be_made_is_one_message(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("DAWNLEVEL_DATA", str(tmp_path / "file"))
    assert run(["demo"]) == 4
    assert capsys.readouterr().err.count("\n") == 1


def test_fresh_tells_the_story_as_it_happens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], played: Played
) -> None:
    def short(store: Path, tell: Tell) -> None:
        store.write_bytes((played.folder / STORE_FILE).read_bytes())
        for event in played.events:
            tell(event)

    monkeypatch.setattr(demo_module, "play_story", short)
    monkeypatch.setenv("DAWNLEVEL_DATA", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "80")
    assert run(["demo", "--fresh"]) == 0
    out = capsys.readouterr().out.partition("Where Fernbrook stands")[0]
    assert max(map(len, out.splitlines())) <= 80
    for day in ("Sun 3 May", "Mon 4 May", "Tue 5 May", "Wed 6 May"):
        assert out.count(f"\n{day} 2026\n") == 1
    assert " safe" not in out.lower()


# --- the game ---


def game(
    lines: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *options: str
) -> str:
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    assert run(["play", *options]) == 0
    return capsys.readouterr().out


@pytest.fixture(autouse=True)
def _not_the_users_store(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DAWNLEVEL_STORE", raising=False)
    monkeypatch.delenv("DAWNLEVEL_NOW", raising=False)
    monkeypatch.delenv("DAWNLEVEL_TANK", raising=False)


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("DAWNLEVEL_DATA", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "80")
    return tmp_path


def test_a_game_is_played_left_and_taken_up(
    table: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    first = game(
        "until 07:00\nkh\ncup\nneedle 2/s\ntimer 09:00-18:00\nuntil 10:30\nph\nfish\ncell\n",
        monkeypatch,
        capsys,
    )
    assert "simulated" in first
    assert "Mon 4 May 2026, 10:30" in first
    shown = re.search(r"The meter shows pH ([\d.]+)", first)
    assert shown is not None
    again = game("truth\nuntil 23:00\ntruth\nquit\nph\n", monkeypatch, capsys)
    assert "Taken up after 9 lines" in again
    assert "told after lights-off" in again
    assert re.search(r"Lights-on of Mon 4 May 2026: [\d.]+ mg/L, drop [-\d.]+", again)
    assert again.count("The meter shows") == 0
    kept = json.loads((table / KEPT_FILE).read_text(encoding="utf-8"))
    assert kept["lines"][-1] == "until 23:00"


@pytest.mark.usefixtures("table")
def test_a_game_in_two_sittings_is_the_game_in_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = [
        "until 07:00",
        "kh",
        "cup",
        "needle 2/s",
        "timer 09:00-18:00",
        "until 11:00",
        "ph",
        "wait 30",
        "ph",
    ]
    whole = game("\n".join(lines) + "\n", monkeypatch, capsys)
    game("\n".join(lines[:6]) + "\n", monkeypatch, capsys, "--fresh")
    parts = game("\n".join(lines[6:]) + "\n", monkeypatch, capsys)
    found = re.findall(r"The meter shows .*", whole)
    assert len(found) == 2
    assert re.findall(r"The meter shows .*", parts) == found


def test_advice_in_the_game_is_asked_accepted_and_kept_as_settings(
    table: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = game("until 07:00\nkh\ncup\nplan\naccept\nuntil 11:00\nph\ntoday\nfollow\n", monkeypatch, capsys)
    assert "Practice, plan for Mon 4 May 2026" in out
    assert "CO2 now" in out
    kept = json.loads((table / KEPT_FILE).read_text(encoding="utf-8"))["lines"]
    assert any(line.startswith("timer ") for line in kept)
    assert not {"plan", "accept", "today", "follow"} & set(kept)


def test_a_slip_in_the_game_is_told_and_changes_nothing(
    table: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    slips = ["bogus", "wait", "wait -5", "wait soon", "needle -1", "timer 9", "until noon", "ph 7", "plan"]
    out = game("\n".join(slips) + "\n", monkeypatch, capsys)
    assert out.count("Not done: ") == len(slips)
    assert not (table / KEPT_FILE).exists()


def test_a_hand_on_the_gas_holds_until_the_timer_switches() -> None:
    tank = StoryTank()
    with open_store("sqlite://") as store:
        keeper = Keeper(tank, store, keepers_tank())
        store.add_tank(keepers_tank(), keeper.now)
        keeper.note(RateSetting(at=keeper.now, bubbles_per_second=3.0))
        keeper.note(TimerSetting(at=keeper.now, windows_h=((9.0, 11.0), (12.0, 13.0))))
        keeper.wait_until(moment(24.0 + 10.0))
        keeper.note(GasSwitch(at=keeper.now, is_open=False))
        shut = tank.truth()["co2_mg_l"]
        keeper.wait_until(moment(24.0 + 11.9))
        assert tank.truth()["co2_mg_l"] < shut
        keeper.wait_until(moment(24.0 + 12.0))
        reopened = tank.truth()["co2_mg_l"]
        keeper.wait_until(moment(24.0 + 12.9))
        assert tank.truth()["co2_mg_l"] > reopened


def test_a_kept_game_that_cannot_be_read_says_so(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for content in ("no json", "[]", '{"level": "odd", "seed": 1, "lines": []}'):
        (table / KEPT_FILE).write_text(content, encoding="utf-8")
        assert run(["play"]) == 2
        assert "dawnlevel play --fresh" in capsys.readouterr().err
