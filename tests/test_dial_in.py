"""The dial-in benchmark as a command: foreign tanks and policies, the JSON file, Ctrl-C, the oracle."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from benchmarks import _oracle, dial_in
from benchmarks._goal import Goal
from benchmarks._scoring import score
from benchmarks._watched import Watched
from dawnlevel.practice import middle

POLICY_KEYS = {
    "dialled_in_by_day",
    "lights_on_hit_by_day",
    "breach_share",
    "readings_per_day",
    "rate_changes_per_day_after_3",
    "quiet",
    "interval_coverage_90",
    "seconds_per_tank",
}
ROOT = Path(__file__).parents[1]


@pytest.fixture
def foreign(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """A module of somebody else's, with a factory and policies."""
    module = ModuleType("somebody_elses")
    module.seeds = []  # type: ignore[attr-defined]

    def factory(seed: int) -> Any:
        module.seeds.append(seed)
        return middle(seed)

    def idle(tank: Any, target: Any, days: int, report: Any) -> None:
        assert set(target) == {"co2_mg_l"}
        tank.wait_until(24.0 * days)
        report(1, 0.0, 14.0)

    def broken(tank: Any, *_: Any) -> None:
        tank.set_gas(1.0)
        raise RuntimeError("lost")

    def stopped(*_: Any) -> None:
        if len(module.seeds) == 3:
            raise KeyboardInterrupt

    module.factory, module.idle, module.broken, module.stopped = factory, idle, broken, stopped  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "somebody_elses", module)
    return module


def run(tmp_path: Path, *arguments: str) -> tuple[int, dict[str, Any]]:
    out = tmp_path / "new" / "out.json"
    code = dial_in.main([*arguments, "--jobs", "1", "--json", str(out)])
    return code, json.loads(out.read_text(encoding="utf-8"))


def test_the_file_has_the_agreed_keys(tmp_path: Path) -> None:
    code, report = run(tmp_path, "--tanks", "2", "--days", "7", "--seed", "3", "--policy", "recipe")
    assert code == 0
    assert set(report) == {"policies", "tanks", "days", "seed"}
    assert (report["tanks"], report["days"], report["seed"]) == (2, 7, 3)
    figures = report["policies"]["recipe"]
    assert set(figures) == POLICY_KEYS
    assert len(figures["dialled_in_by_day"]) == len(figures["lights_on_hit_by_day"]) == 7
    assert set(figures["quiet"]) == {"dialled_in_share", "readings_per_day", "rate_changes_per_day"}
    assert all(
        hit >= dialled
        for hit, dialled in zip(figures["lights_on_hit_by_day"], figures["dialled_in_by_day"], strict=True)
    )


def test_a_foreign_factory_and_policy_plug_in(tmp_path: Path, foreign: ModuleType) -> None:
    code, report = run(
        tmp_path, "--tank", "somebody_elses:factory", "--policy", "somebody_elses:idle", "--tanks", "2",
        "--days", "2", "--seed", "40", "--target", "co2:20-30",
    )  # fmt: skip
    assert code == 0
    assert foreign.seeds == [40, 41]
    figures = report["policies"]["somebody_elses:idle"]
    assert figures["dialled_in_by_day"] == [0.0, 0.0]
    assert figures["interval_coverage_90"] == 1.0
    assert figures["quiet"] is None


def test_a_policy_that_fails_is_shown_and_scored(
    tmp_path: Path, foreign: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    assert foreign.seeds == []
    code, report = run(tmp_path, "--tanks", "2", "--days", "1", "--policy", "somebody_elses:broken,recipe")
    assert code == 1
    assert report["tanks"] == 2
    assert "RuntimeError: lost" in capsys.readouterr().err


def test_ctrl_c_keeps_the_tanks_that_are_done(tmp_path: Path, foreign: ModuleType) -> None:
    assert foreign.seeds == []
    code, report = run(
        tmp_path, "--tank", "somebody_elses:factory", "--policy", "somebody_elses:stopped", "--tanks", "9",
        "--days", "1",
    )  # fmt: skip
    assert code == 130
    assert report["tanks"] == 2


def test_ctrl_c_keeps_the_tanks_that_are_done_with_several_processes(tmp_path: Path) -> None:
    (tmp_path / "slow_policy.py").write_text(
        "import time\n\ndef play(tank, target, days, report):\n    time.sleep(0.4)\n", encoding="utf-8"
    )
    out = tmp_path / "out.json"
    environment = os.environ | {"PYTHONPATH": os.pathsep.join([str(tmp_path), str(ROOT / "src")])}
    command = [sys.executable, "-m", "benchmarks.dial_in", "--tanks", "400", "--days", "1", "--jobs", "2"]
    with subprocess.Popen(
        [*command, "--policy", "slow_policy:play", "--json", str(out)],
        cwd=ROOT, env=environment, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True,
        start_new_session=True,
    ) as process:  # fmt: skip
        assert process.stderr is not None
        seen = process.stderr.readline() + process.stderr.readline()
        os.killpg(process.pid, signal.SIGINT)  # as a terminal does: the whole group
        _, rest = process.communicate(timeout=60)
    assert process.returncode == 130, seen + rest
    assert 2 <= json.loads(out.read_text(encoding="utf-8"))["tanks"] < 400


@pytest.mark.parametrize(
    "arguments",
    [
        ["--policy", "nobody"],
        ["--policy", ""],
        ["--policy", "no_such_module:play"],
        ["--policy", "benchmarks.dial_in:POLICIES"],
        ["--tank", "dawnlevel.practice:nowhere"],
        ["--tank", "middle"],
        ["--target", "drop:2-1"],
        ["--tanks", "0"],
        ["--seed", "-1"],
    ],
)
def test_mistakes_on_the_command_line_are_told(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert dial_in.main(["--policy", "recipe", *arguments]) == 2
    assert capsys.readouterr().err.strip()


def test_the_recorded_command_is_what_was_played_not_where_it_was_written(tmp_path: Path) -> None:
    detail = tmp_path / "detail.json"
    played = ["--tanks", "1", "--days", "1", "--policy", "recipe"]
    assert dial_in.main([*played[:2], "--jobs", "1", *played[2:], f"--detail={detail}"]) == 0
    found = json.loads(detail.read_text(encoding="utf-8"))
    assert found["command"] == "python -m benchmarks.dial_in " + " ".join(played)
    assert found["tanks"]["1"]["recipe"]["detail"]["days"][0]["cause"] is None, "the recipe says nothing"


def test_a_policy_that_is_not_there_yet_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "benchmarks._policy_dawnlevel", None)
    assert dial_in.main(["--policy", "dawnlevel"]) == 2
    assert "_policy_dawnlevel" in capsys.readouterr().err


@pytest.mark.parametrize(("seed", "text"), [(3, "drop:1.0-1.2"), (4, "co2:20-30")])
def test_the_oracle_dials_in_what_it_foresees(seed: int, text: str) -> None:
    goal = Goal.parse(text)
    watched = Watched(middle(seed))
    _oracle.play(watched, goal.as_dict(), 2)
    watched.wait_until(72.0)
    result = score(watched, goal, 2)
    assert result.dialled_in == [True, True]
    assert not result.breach


def test_the_oracles_windows_keep_to_the_timer() -> None:
    tank = next(t for t in map(middle, range(40)) if int(str(t.card()["timer_windows"])) > 2)
    watched = Watched(tank)
    watched.read_degassed_ph()
    day = _oracle.look_ahead(watched, Goal("drop", 1.0, 1.2), 1)
    pulses = _oracle._pulses(day, 1.0, 0.4, day.lights_off - 1.0)
    hours = [hour for hour, _ in pulses]
    assert hours == sorted(hours)
    assert sum(rate > 0.0 for _, rate in pulses) == day.windows - 1
    assert pulses[-1] == (day.lights_off - 1.0, 0.0)
