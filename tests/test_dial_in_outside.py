"""Tanks and failures from outside the house: other builds, loose cards, broken modules, dead workers."""

import json
import math
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import outside_tanks
import pytest

from benchmarks import _crew, dial_in
from benchmarks._card import hours_of, plain_card
from benchmarks._goal import Goal
from benchmarks._policy_dawnlevel import play
from benchmarks._scoring import end_of_play, score
from benchmarks._watched import Watched
from dawnlevel.errors import BadInputError

ROOT = Path(__file__).parents[1]


def run(tmp_path: Path, *arguments: str) -> tuple[int, dict[str, Any], dict[str, Any]]:
    """Exit code, figures and details of one run."""
    out, detail = tmp_path / "out.json", tmp_path / "detail.json"
    code = dial_in.main([*arguments, "--jobs", "1", "--json", str(out), "--detail", str(detail)])
    return code, json.loads(out.read_text("utf-8")), json.loads(detail.read_text("utf-8"))


@pytest.mark.parametrize("factory", ["linear", "pulsed", "early"])
def test_tanks_of_another_build_are_dialled_in(tmp_path: Path, factory: str) -> None:
    # an ideal meter and no wandering: easier than the house's own, so nothing should be missed for long
    code, figures, detail = run(
        tmp_path, "--tank", f"outside_tanks:{factory}", "--tanks", "1", "--days", "3", "--policy", "dawnlevel"
    )
    assert code == 0
    assert figures["policies"]["dawnlevel"]["dialled_in_by_day"][1:] == [1.0, 1.0]
    assert figures["policies"]["dawnlevel"]["breach_share"] == 0.0
    said = detail["tanks"]["1"]["dawnlevel"]["detail"]["days"][0]["said"]
    assert len(said["looks"]) >= 3
    assert 0.0 <= said["planned"]["chance_held"] <= 1.0


def test_a_level_in_mg_l_lies_within_what_the_keepers_kit_cup_and_meter_can_tell(tmp_path: Path) -> None:
    code, figures, detail = run(
        tmp_path, "--tank", "outside_tanks:linear", "--tanks", "1", "--days", "3", "--target", "co2:20-30",
        "--policy", "dawnlevel",
    )  # fmt: skip
    assert code == 0
    assert figures["policies"]["dawnlevel"]["interval_coverage_90"] is not None
    days = detail["tanks"]["1"]["dawnlevel"]["detail"]["days"]
    held = [
        day["last_forecast"]["co2_mg_l"][0]
        <= day["at_lights_on"]["co2_mg_l"]
        <= day["last_forecast"]["co2_mg_l"][-1]
        for day in days
    ]
    assert sum(held) >= 2, "90 % intervals, one of three may miss"


def test_fish_in_early_distress_stop_the_gas_and_the_plan_waits_for_calm(tmp_path: Path) -> None:
    code, figures, detail = run(
        tmp_path, "--tank", "outside_tanks:touchy", "--tanks", "1", "--days", "2", "--seed", "2",
        "--policy", "dawnlevel",
    )  # fmt: skip
    assert code == 0, "distress is no failure of the policy"
    assert figures["policies"]["dawnlevel"]["dialled_in_by_day"] == [0.0, 0.0]
    days = detail["tanks"]["2"]["dawnlevel"]["detail"]["days"]
    kinds = [look["action"] for day in days for look in day["said"]["looks"]]
    assert "close_gas" in kinds
    assert {day["cause"]["cause"] for day in days} == {"fish"}
    assert all(day["cause"]["said_so"] for day in days)


def test_fish_that_stay_in_distress_cost_the_day_not_the_run() -> None:
    tank = outside_tanks.TouchyTank(2)
    tank.watch_fish = lambda: "distress"  # type: ignore[method-assign]
    watched = Watched(tank)
    play(watched, {"drop": [1.0, 1.2]}, 3, watched.report)
    watched.wait_until(end_of_play(watched.card(), 3))
    assert watched.report.days[2].unplanned
    assert watched.report.days[3].unplanned
    assert watched.settings[-1] == (watched.meter[0].hour, 0.0), "closed at the first look, and never opened"
    assert score(watched, Goal("drop", 1.0, 1.2), 3).readings[1:] == [0, 0]


def test_a_tank_that_breaks_keeps_what_was_done_and_says_where_it_broke(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, figures, detail = run(
        tmp_path, "--tank", "outside_tanks:breaking", "--tanks", "1", "--days", "3", "--policy", "dawnlevel"
    )
    assert code == 1
    told = capsys.readouterr().err
    assert "dawnlevel stopped on tank 1 with ConnectionError: the pump's plug fell out" in told
    assert "outside_tanks.py, line" in told
    assert figures["policies"]["dawnlevel"]["lights_on_hit_by_day"] == [1.0, 1.0, 0.0]
    causes = [day["cause"] for day in detail["tanks"]["1"]["dawnlevel"]["detail"]["days"]]
    assert causes[0] is None
    assert causes[2]["cause"] == "policy_failed"


def test_a_factory_that_fails_for_one_seed_loses_that_tank_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def factory(seed: int) -> outside_tanks.LinearTank:
        if seed == 5:
            raise KeyError("no such preset")
        return outside_tanks.linear(seed)

    monkeypatch.setattr(outside_tanks, "fickle", factory, raising=False)
    code, figures, detail = run(
        tmp_path, "--tank", "outside_tanks:fickle", "--tanks", "3", "--days", "1", "--seed", "4",
        "--policy", "recipe",
    )  # fmt: skip
    assert code == 1
    assert figures["tanks"] == 2
    assert list(detail["tanks"]) == ["4", "6"]
    told = capsys.readouterr().err
    assert "tank 5 could not be played: KeyError: 'no such preset'" in told
    assert "1 of 3 tanks are not in the figures: 5" in told
    assert "KeyError" in detail["lost"]["5"]


@pytest.mark.parametrize(("key", "value"), [("lights_on_h", None), ("co2_limit_mg_l", "a lot")])
def test_a_card_without_what_scoring_needs_is_told_by_its_key(key: str, value: object) -> None:
    tank = outside_tanks.linear(1)
    card = tank.card() | {key: value}
    tank.card = lambda: card  # type: ignore[method-assign]
    with pytest.raises(BadInputError, match=key):
        Watched(tank)


def test_a_card_without_volume_is_told_by_its_key() -> None:
    tank = outside_tanks.linear(1)
    card = {name: value for name, value in tank.card().items() if name != "volume_l"}
    tank.card = lambda: card  # type: ignore[method-assign]
    with pytest.raises(BadInputError, match="volume_l"):
        play(Watched(tank), {"drop": [1.0, 1.2]}, 1)


def test_a_card_of_numpy_scalars_and_gaps_becomes_plain_figures() -> None:
    card = plain_card(outside_tanks.pulsed(1).card())
    assert all(type(value) in {float, int, str, type(None)} for value in card.values())
    assert (card["timer_windows"], card["reads_per_ramp"], card["room_co2_ppm"]) == (2, 5, None)
    assert card["ph_step"] == 0.1
    assert hours_of(card) == (8.0, 12.0, 20.0)
    assert plain_card(card) == card


def test_hours_over_midnight_are_in_order() -> None:
    late = {"lights_on_h": 16, "lights_off_h": 1, "co2_limit_mg_l": 30, "earliest_start_h": 22}
    assert hours_of(plain_card(late)) == (-2.0, 16.0, 25.0)


def test_every_lights_on_is_sampled_whatever_the_tanks_clock_adds_up_to() -> None:
    class Drifting(outside_tanks.LinearTank):
        def clock(self) -> float:
            return self.now + 3e-6 * math.sin(self.now)

    watched = Watched(Drifting(1))
    watched.read_degassed_ph()
    watched.wait_until(96.0)
    assert [s.hour for s in watched.samples if s.hour % 24.0 == 12.0] == [36.0, 60.0, 84.0]


def test_an_oracle_on_a_tank_that_cannot_be_copied_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, _ = run(
        tmp_path, "--tank", "outside_tanks:pulsed", "--tanks", "1", "--days", "1", "--policy", "oracle"
    )
    assert code == 1
    told = capsys.readouterr().err
    assert "cannot be copied" in told
    assert "Traceback" not in told


def test_a_module_that_cannot_even_be_imported_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "raises_at_once.py").write_text("raise RuntimeError('no licence')\n", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    assert dial_in.main(["--tank", "raises_at_once:tank", "--policy", "recipe"]) == 2
    assert "no licence" in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_told_before_the_play(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "taken").write_text("a file, no folder", encoding="utf-8")
    assert dial_in.main(["--policy", "recipe", "--json", str(tmp_path / "taken" / "out.json")]) == 2
    assert "cannot be written" in capsys.readouterr().err


def _job(seed: int) -> int:
    """Stands in for a tank: one kills its worker, one raises, the others do their work."""
    if seed == 3:
        os.kill(os.getpid(), signal.SIGKILL)
    if seed == 4:
        raise ValueError("four")
    return seed * seed


def test_a_worker_that_dies_costs_one_tank() -> None:
    found = dict(_crew.results(_job, range(9), 2))
    assert sorted(found) == list(range(9))
    lost = {seed: result.why for seed, result in found.items() if isinstance(result, _crew.Lost)}
    assert sorted(lost) == [3, 4]
    assert "worker process died" in lost[3]
    assert "ValueError: four" in lost[4]
    assert all(found[seed] == seed * seed for seed in range(9) if seed not in lost)


def test_a_dead_worker_is_told_and_the_rest_is_written(tmp_path: Path) -> None:
    (tmp_path / "deadly.py").write_text(
        "import os, signal\nfrom dawnlevel.practice import middle\n\n"
        "def tank(seed):\n"
        "    if seed == 2:\n        os.kill(os.getpid(), signal.SIGKILL)\n"
        "    return middle(seed)\n",
        encoding="utf-8",
    )
    out = tmp_path / "out.json"
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(tmp_path), str(ROOT / "src")])}
    found = subprocess.run(
        [
            *(sys.executable, "-m", "benchmarks.dial_in", "--tank", "deadly:tank", "--tanks", "4"),
            *("--days", "1", "--jobs", "2", "--policy", "recipe", "--json", str(out)),
        ],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    assert found.returncode == 1
    assert "tank 2 could not be played: its worker process died" in found.stderr
    assert json.loads(out.read_text("utf-8"))["tanks"] == 3
