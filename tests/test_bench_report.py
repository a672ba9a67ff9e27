"""The report: its statistics against others' programs, its figures against a run worked out by hand."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import bench_runs as invented
import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint

from benchmarks import _figures, report
from benchmarks._ablations import ABLATIONS
from benchmarks._charts import charts
from benchmarks._goals import goals
from benchmarks._instruments import change_words, order_words, plain_table
from benchmarks._runs import DROP, FULL, LEVEL, QUICK, Run, Size, ablation_name, runs
from benchmarks._shares import difference, pooled, share, wilson
from benchmarks._tables import ablation_table, percent, plain, table
from benchmarks._tanks import aerated


@pytest.mark.parametrize(("hits", "n"), [(0, 8), (8, 8), (1, 8), (170, 200), (199, 200), (3, 60)])
def test_intervals_of_shares_are_wilsons(hits: int, n: int) -> None:
    low, high = proportion_confint(hits, n, alpha=0.05, method="wilson")
    found = wilson(hits, n)
    assert found["value"] == pytest.approx(hits / n, abs=1e-6)
    assert (found["low"], found["high"]) == (pytest.approx(low, abs=2e-6), pytest.approx(high, abs=2e-6))


def test_a_mean_over_tanks_has_the_normal_interval_where_there_are_many() -> None:
    values = np.random.default_rng(3).normal(2.0, 1.0, 300)
    found = pooled([[float(v)] for v in values])
    half = 1.96 * values.std(ddof=1) / np.sqrt(values.size)
    assert found["value"] == pytest.approx(values.mean(), abs=1e-6)
    assert found["high"] - found["value"] == pytest.approx(half, rel=0.12)  # 2000 resamples: 3 % at the tails
    assert found["value"] - found["low"] == pytest.approx(half, rel=0.12)


def test_days_of_one_tank_are_not_taken_as_independent() -> None:
    alike = [[True] * 10 if number % 2 else [False] * 10 for number in range(40)]
    found, tanks = share(alike), wilson(20, 40)
    assert found["n"] == 400
    assert found["low"] == pytest.approx(tanks["low"], abs=0.003), "40 tanks, not 400 days"
    assert found["high"] == pytest.approx(tanks["high"], abs=0.003)
    assert pooled([[float(v) for v in tank] for tank in alike])["low"] == pytest.approx(
        found["low"], abs=0.02
    )


def test_independent_days_count_each() -> None:
    drawn = np.random.default_rng(5).random((200, 10)) < 0.9
    found, days = share(drawn.tolist()), wilson(int(drawn.sum()), 2000)
    assert found["value"] == days["value"]
    assert found["high"] - found["low"] == pytest.approx(days["high"] - days["low"], rel=0.15)


def test_days_that_are_all_alike_leave_the_doubt_of_as_many_tanks() -> None:
    assert share([[True] * 9] * 3)["low"] == wilson(3, 3)["low"]
    assert share([[False] * 9] * 3)["high"] == wilson(0, 3)["high"]


def test_a_difference_on_the_same_tanks_does_not_carry_the_tanks_own_spread() -> None:
    tanks = [[1.0, 1.0] if number % 2 else [0.0, 0.0] for number in range(40)]
    found = difference(tanks, tanks)
    unseen = wilson(0, 40)["high"]
    assert (found["value"], found["low"], found["high"]) == (0.0, -unseen, unseen)
    worse = [[0.0, 0.0] if number < 8 else values for number, values in enumerate(tanks)]
    assert difference(worse, tanks)["value"] == pytest.approx(-0.1)
    assert difference(worse, tanks)["high"] < 0.0


def test_nothing_has_no_figure() -> None:
    assert wilson(0, 0)["value"] is None
    assert pooled([])["value"] is None
    assert pooled([[], []])["value"] is None
    assert share([[], []])["value"] is None
    assert difference([], [])["value"] is None
    assert percent(wilson(0, 0)) == plain(pooled([])) == "-"


def week() -> dict[str, Any]:
    """Two tanks, six days: one all good, one that fails on days 2 and 5, and once reads ten times a day."""
    good = invented.tank([invented.day(n, good=True) for n in range(1, 7)], [8, 7, 7, 7, 0, 0])
    bad = invented.tank(
        [
            invented.day(1, good=True),
            invented.day(2, good=False, drop=0.9, chance=0.3),
            invented.day(3, good=True),
            invented.day(4, good=True),
            invented.day(5, good=False, drop=0.95, chance=0.97),
            invented.day(6, good=True),
        ],
        [10, 7, 7, 7, 4, 0],
        breach={"day": 5, "hour": 130.0, "co2_mg_l": 41.0, "what": "ceiling", "stated": 0.01},
    )
    return invented.run({"1": good, "2": bad})


def test_figures_of_a_run_worked_out_by_hand() -> None:
    found = _figures.play_figures(week())["policies"]["dawnlevel"]
    assert [day["value"] for day in found["dialled_in_by_day"]] == [1.0, 0.5, 1.0, 1.0, 0.5, 1.0]
    assert found["quiet"]["dialled_in"]["value"] == 0.75
    assert found["quiet"]["readings"]["value"] == 1.0
    assert found["tuning"]["readings"]["value"] == pytest.approx((8 + 7 + 7 + 7 + 10 + 7 + 7 + 7) / 8)
    assert found["tuning"]["most_readings"] == 10
    assert found["tuning"]["days_over_most"]["value"] == pytest.approx(1 / 8)
    assert found["breach"]["value"] == 0.5
    assert found["cpu_seconds_per_day"]["value"] == pytest.approx(1 / 6, abs=1e-6)


def test_coverage_is_counted_at_every_bound() -> None:
    held = _figures.coverage(_figures.tanks_of(week(), "dawnlevel"))
    assert held["quantity"]["held_90"]["value"] == pytest.approx(10 / 12, abs=1e-6)
    assert held["ph"]["held_90"]["value"] == pytest.approx(10 / 12, abs=1e-6)
    assert held["co2_mg_l"]["held_50"]["value"] == 1.0
    assert [row["value"] for row in held["quantity"]["below"]] == pytest.approx(
        [2 / 12, 2 / 12, 1, 1, 1], abs=1e-6
    )
    assert held["co2_mg_l"]["factor_90"]["value"] == pytest.approx(2.0)


def test_chances_are_those_stated_last_before_the_lights() -> None:
    rows = _figures.chances(_figures.tanks_of(week(), "dawnlevel"))
    counted = {(row["from"], row["to"]): (row["came"]["n"], row["came"]["value"]) for row in rows}
    assert counted == {
        (0.0, 0.5): (1, 0.0),
        (0.5, 0.8): (0, None),
        (0.8, 0.95): (10, 1.0),
        (0.95, 1.0): (1, 0.0),
    }
    planned = {"said": {"planned": {"chance_held": 0.6}, "looks": []}, "lights_on_h": 36.0}
    assert _figures.last_chance(planned) == 0.6
    assert _figures.last_chance({"said": None, "lights_on_h": 36.0}) is None


def test_failures_are_counted_by_cause_with_what_was_said() -> None:
    tanks = {seed: scores["dawnlevel"] for seed, scores in week()["tanks"].items()}
    found = _figures.failures(tanks)
    assert (found["tank_days"], found["failed"], found["said_so"]) == (12, 2, 1)
    (cause,) = found["causes"]
    assert (cause["days"], cause["tanks"], cause["tuning_days"], cause["low"]) == (2, 1, 1, 2)
    assert [(row["tank"], row["day"]) for row in found["days"]] == [(2, 2), (2, 5)]
    assert found["breaches"][0]["tank"] == 2


def ablated() -> dict[str, Any]:
    """The week with everything and without KH: the good tank then fails on day 1."""
    full = week()
    without = week()
    first = without["tanks"]["1"]["dawnlevel"]
    days = [invented.day(1, good=False, chance=0.4), *first["detail"]["days"][1:]]
    without["tanks"]["1"]["dawnlevel"] = invented.tank(days, first["readings"])
    return {"tuning": full, ablation_name("kh", DROP): without}


def test_what_going_without_costs_is_counted_on_the_same_tanks_and_days() -> None:
    size = Size((2, 6), (1, 1), (1, 1), ablations=(2, 4), ablations_level=(1, 1))
    found = _figures.ablation_figures(ablated(), size)
    assert set(found) == {DROP}, "the other target was not played"
    full, kh = found[DROP]["rows"]
    assert (full["left_out"], kh["left_out"]) == ("", "kh")
    assert full["dialled_in"]["value"] == pytest.approx(7 / 8)
    assert kh["dialled_in_change"]["value"] == pytest.approx(-1 / 8)
    assert full["breach"]["value"] == 0.0, "a breach on day 5 is none of the first four days"


def test_words_say_no_more_than_the_figures() -> None:
    def change(value: float, low: float, high: float) -> dict[str, float]:
        return {"value": value, "low": low, "high": high, "n": 9}

    assert change_words(change(-0.12, -0.2, -0.05)) == "12 days in a hundred fewer (5 to 20)"
    assert change_words(change(-0.02, -0.05, 0.01)) == "no difference seen (-5 to +1)"
    assert change_words(change(0.1, 0.04, 0.2)) == "10 days in a hundred more (4 to 20)"
    assert percent(change(-0.02, -0.05, 0.01), signed=True) == "-2 % (-5 to +1)"
    row = {"left_out": "kh", "dialled_in_change": change(-0.12, -0.2, -0.05), "co2_factor_90": {"value": 3.0}}
    cell = {"left_out": "cell", "dialled_in_change": change(0.0, -0.1, 0.1), "co2_factor_90": {"value": 2.1}}
    full = {"left_out": "", "co2_factor_90": {"value": 2.0}}
    figures = {"ablations": {LEVEL: {"tanks": 9, "rows": [full, row, cell]}}}
    assert "3.0 times instead of 2.0" in plain_table(figures)
    told = order_words(figures)
    assert "a KH drop kit (12 days in a hundred, steering by mg/L)" in told
    assert "an indicator cell" in told.partition("showed no difference")[0]


def test_tables_are_tables() -> None:
    made = table(["a", "b"], [["1", "2"], ["3", "4"]])
    assert made == "| a | b |\n| --- | --- |\n| 1 | 2 |\n| 3 | 4 |"
    size = Size((2, 6), (1, 1), (1, 1), ablations=(2, 4), ablations_level=(1, 1))
    found = ablation_table(_figures.ablation_figures(ablated(), size)[DROP])
    assert ABLATIONS["kh"].meaning in found


def assembled(folder: Path) -> dict[str, Any]:
    """The report's figures from the invented runs, written to files and read again."""
    for name, found in ablated().items():
        (folder / f"{name}.detail.json").write_text(json.dumps(found), encoding="utf-8")
    size = Size((2, 6), (1, 1), (1, 1), ablations=(2, 4), ablations_level=(1, 1))
    made = {
        "on": "2026-03-02", "setting": "quick", "command": "make bench", "complete": False, "source": "0",
        "machine": {
            "processor": "p", "cores": 2, "load_1_min": 0.1, "system": "s", "python": "3",
            "versions": {"numpy": "2"},
        },
    }  # fmt: skip
    return report.assemble(folder, runs(size), size, made)


def test_a_report_is_made_from_whatever_runs_there_are(tmp_path: Path) -> None:
    (tmp_path / "advice.json").write_text("{ not whole", encoding="utf-8")
    figures = assembled(tmp_path)
    report.write(figures, tmp_path)
    text = (tmp_path / "report.md").read_text(encoding="utf-8")
    assert "some runs are missing or short" in text
    assert "| 2 | 5 | odds | low |" in text, "every failing day is listed"
    assert json.loads((tmp_path / "bench.json").read_text(encoding="utf-8")) == figures
    for name in charts(figures):
        drawn = (tmp_path / f"{name}.svg").read_text(encoding="utf-8")
        assert drawn.startswith("<svg"), name
        assert f"]({name}.svg)" in text
    assert {"dialled-in-by-day", "quiet-days", "coverage", "ablations"} == set(charts(figures))


def test_a_report_can_be_made_again_without_running_anything(tmp_path: Path) -> None:
    (tmp_path / "tuning.detail.json").write_text(json.dumps(week()), encoding="utf-8")
    assert report.main(["--report-only", "--folder", str(tmp_path)]) == 0
    text = (tmp_path / "report.md").read_text(encoding="utf-8")
    assert "some runs are missing or short" in text
    assert "made from an earlier source" in text, "the invented run's source is not the present one"
    assert "| tuning | `python -m benchmarks.dial_in --tanks 2` | 0 | 2 |" in text


def test_goals_are_held_against_figures_and_what_was_not_played_is_no_goal_met(tmp_path: Path) -> None:
    rows = {goal["what"]: goal for goal in assembled(tmp_path)["goals"]}
    assert rows["dialled in on day 1"]["met"] is True
    assert rows["dialled in on day 2"]["met"] is False
    assert rows["tanks with any breach"]["met"] is False
    assert rows["readings a day from day 5 on"]["met"] is True
    assert not any("mg/L" in what for what in rows)
    assert goals({"runs": {}}) == []


def test_a_run_is_kept_only_if_whole_and_of_the_same_command_and_source(tmp_path: Path) -> None:
    run = Run("tuning", "benchmarks.dial_in", ("--tanks", "2"), has_detail=True)
    path = tmp_path / "tuning.detail.json"

    def kept(**changes: Any) -> bool:
        path.write_text(json.dumps(week() | changes), encoding="utf-8")
        return report.is_done(run, tmp_path, "0")

    assert kept()
    assert not kept(source="1")
    assert not kept(finished=False)
    assert not kept(lost={"1": "why"})
    assert not kept(command="python -m benchmarks.dial_in --tanks 3")
    path.unlink()
    assert not report.is_done(run, tmp_path, "0")


def test_full_and_quick_run_the_same_commands_but_for_their_size() -> None:
    full, quick = runs(FULL), runs(QUICK)
    assert [run.name for run in full] == [run.name for run in quick]
    assert len({run.name for run in full}) == len(full)
    tuning = next(run for run in full if run.name == "tuning")
    assert tuning.arguments[:6] == ("--tanks", "200", "--days", "14", "--seed", "1")
    for left_out in ABLATIONS:
        for target in (DROP, LEVEL):
            assert ablation_name(left_out, target) in {run.name for run in full}
    assert FULL.ablations[0] <= FULL.tuning[0], "the run with everything at hand is part of the tuning run"


def test_tanks_with_an_aerated_cup_have_one_and_differ() -> None:
    tanks = [aerated(seed) for seed in range(1, 6)]
    assert {tank.card()["baseline_method"] for tank in tanks} == {"aerated"}
    assert len({json.dumps(tank.card()) for tank in tanks}) == 5


def test_ctrl_c_leaves_a_report_on_what_is_done(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "benchmarks.report", "--quick", "--jobs", "1", "--folder", str(tmp_path)]
    with subprocess.Popen(
        command, cwd=report.ROOT, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True,
        start_new_session=True,
    ) as process:  # fmt: skip
        assert process.stderr is not None
        first = process.stderr.readline()
        os.killpg(process.pid, signal.SIGINT)
        _, rest = process.communicate(timeout=120)
    assert "chemistry" in first
    assert process.returncode == 130, rest
    assert "made from what is done" in rest
    assert "some runs are missing" in (tmp_path / "report.md").read_text(encoding="utf-8")
