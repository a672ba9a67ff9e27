"""Control charts against the published run lengths, and false alarms counted on simulated tank-years."""

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.watch.charts import Cusum, Ewma, cusum_for, ewma_for
from dawnlevel.watch.limits import days_between_alarms, watch_average
from dawnlevel.watch.standard import self_starting

# As quoted by the R package spc (S. Knoth, 0.7.2) from the papers' tables: second-hand.
LUCAS_SACCUCCI_SHIFTS = (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 3.5, 4, 5)
LUCAS_SACCUCCI_1990_TABLE_3 = {
    (0.5, 3.071): (500, 255, 88.8, 35.9, 17.5, 6.53, 3.63, 2.50, 1.93, 1.58, 1.34, 1.07),
    (0.03, 2.437): (500, 76.7, 29.3, 17.6, 12.6, 8.07, 5.99, 4.80, 4.03, 3.49, 3.11, 2.55),
}
CROWDER_1987_TABLE_1 = {0.5: (26.45, 11.89, 4.91, 1.94), 0.05: (127.53, 18.97, 8.38, 4.04)}
LUCAS_CROSIER_1982 = dict(
    zip(
        (0, 0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4, 5),
        (168, 74.2, 26.6, 13.3, 8.38, 4.75, 3.34, 2.62, 2.19, 1.71, 1.31),
        strict=True,
    )
)
VANCE_1986 = dict(
    zip(
        (-0.25, -0.125, 0, 0.125, 0.25, 0.5, 0.75, 1),
        (2071.51, 400.28, 124.66, 59.30, 36.71, 20.37, 14.06, 10.75),
        strict=True,
    )
)


@pytest.mark.parametrize("chart", LUCAS_SACCUCCI_1990_TABLE_3)
def test_two_sided_ewma_runs_as_lucas_and_saccucci_print(chart: tuple[float, float]) -> None:
    found = [Ewma(*chart).run_length(shift) for shift in LUCAS_SACCUCCI_SHIFTS]
    assert found == pytest.approx(LUCAS_SACCUCCI_1990_TABLE_3[chart], rel=0.005)


@pytest.mark.parametrize("weight", CROWDER_1987_TABLE_1)
def test_two_sided_ewma_runs_as_crowder_prints(weight: float) -> None:
    found = [Ewma(weight, 2.0).run_length(shift) for shift in (0.0, 0.5, 1.0, 2.0)]
    assert found == pytest.approx(CROWDER_1987_TABLE_1[weight], rel=0.005)


def test_one_sided_cusum_runs_as_brook_and_evans_and_vance_print() -> None:
    brook_evans = [Cusum(0.5, 3.0, two_sided=False).run_length(shift) for shift in (0.0, 1.5)]
    assert brook_evans == pytest.approx([117.59, 3.75], rel=0.005)
    vance = [Cusum(0.0, 10.0, two_sided=False).run_length(shift) for shift in VANCE_1986]
    assert vance == pytest.approx(list(VANCE_1986.values()), rel=0.005)


def test_two_sided_cusum_runs_as_lucas_and_crosier_print() -> None:
    found = [Cusum(0.5, 4.0).run_length(shift) for shift in LUCAS_CROSIER_1982]
    assert found == pytest.approx(list(LUCAS_CROSIER_1982.values()), rel=0.005)
    # Montgomery's textbook, from memory
    assert [Cusum(0.5, 5.0).run_length(shift) for shift in (0.0, 1.0)] == pytest.approx(
        [465, 10.4], rel=0.005
    )


def simulated_mean(chart: Ewma | Cusum, shift: float, runs: int = 20_000) -> tuple[float, float]:
    """Mean run length and its standard error, by playing the chart's recursion."""
    rng = np.random.default_rng(11)
    up, down, length = np.zeros(runs), np.zeros(runs), np.zeros(runs)
    running = np.ones(runs, dtype=bool)
    while running.any():
        x = rng.standard_normal(runs) + shift
        if isinstance(chart, Ewma):
            up = (1.0 - chart.weight) * up + chart.weight * x
            up = up if chart.two_sided else np.maximum(up, 0.0)
            out = np.abs(up) > chart.edge
        else:
            up = np.maximum(up + x - chart.reference, 0.0)
            down = np.maximum(down - x - chart.reference, 0.0)
            out = (up > chart.decision) | (chart.two_sided & (down > chart.decision))
        length += running
        running &= ~out
    return float(length.mean()), float(length.std() / np.sqrt(runs))


@pytest.mark.parametrize(
    "chart",
    [ewma_for(60.0, 0.2, two_sided=False), ewma_for(60.0, 0.1), cusum_for(60.0), cusum_for(60.0, 1.0)],
)
def test_limits_chosen_for_a_run_length_give_it_in_simulation(chart: Ewma | Cusum) -> None:
    mean, error = simulated_mean(chart, 0.0)
    assert abs(mean - 60.0) < 3.0 * error
    mean, error = simulated_mean(chart, 1.0)
    assert abs(mean - chart.run_length(1.0)) < 3.0 * error


@settings(max_examples=10, deadline=None)
@given(st.floats(0.02, 1.0), st.floats(5.0, 2000.0), st.booleans())
def test_a_wanted_run_length_is_met_for_every_weight(weight: float, wanted: float, two_sided: bool) -> None:
    assert ewma_for(wanted, weight, two_sided=two_sided).run_length() == pytest.approx(wanted, rel=1e-3)


def test_a_weight_of_one_is_the_chart_of_single_figures() -> None:
    """Shewhart's: beyond 3 sd one in 370.4 (normal table)."""
    assert Ewma(1.0, 3.0).run_length() == pytest.approx(1.0 / (2.0 * stats.norm.sf(3.0)), rel=1e-6)


def test_paths_follow_their_recursions_and_pass_over_gaps() -> None:
    figures = np.array([1.0, np.nan, 2.0, -3.0])
    assert Ewma(0.5, 3.0).path(figures) == pytest.approx([0.5, 0.5, 1.25, -0.875])
    assert Ewma(0.5, 3.0, two_sided=False).path(figures) == pytest.approx([0.5, 0.5, 1.25, 0.0])
    assert Cusum(0.5, 4.0).path(figures) == pytest.approx(np.array([[0.5, 0.5, 2, 0], [0, 0, 0, 2.5]]))
    assert not Cusum(0.5, 4.0, two_sided=False).path(figures)[1].any()


@pytest.mark.parametrize(
    "ask",
    [
        lambda: ewma_for(1.0, 0.2),
        lambda: ewma_for(500.0, 0.0),
        lambda: cusum_for(500.0, 0.0),
        lambda: days_between_alarms(1, 0.0),
        lambda: days_between_alarms(0),
        lambda: watch_average([0.0, 1.0], [3.0, 2.0], 100.0),
    ],
)
def test_what_makes_no_sense_is_refused(ask: Callable[[], object]) -> None:
    with pytest.raises((OutOfRangeError, BadInputError)):
        ask()


def times(kind: str, count: int, rng: np.random.Generator) -> np.ndarray:
    """A keeper's times [d]: daily, weekly, or as it comes."""
    if kind == "irregular":
        return np.cumsum(rng.exponential(3.0, count))
    return np.arange(count) * (1.0 if kind == "daily" else 7.0)


@pytest.mark.parametrize(
    ("kind", "count", "tanks"), [("daily", 365, 40), ("weekly", 104, 20), ("irregular", 100, 14)]
)
def test_false_alarms_keep_to_one_a_tank_year_however_often_the_keeper_reads(
    kind: str, count: int, tanks: int
) -> None:
    """Five figures of a tank, one of them there twice; their level and scatter are unknown beforehand."""
    rng = np.random.default_rng(5)
    apart, alarms, years = days_between_alarms(5), 0, 0.0
    for _ in range(tanks):
        days = times(kind, count, rng)
        figures = 7.0 + 3.0 * rng.standard_normal((4, count))
        for row in (*figures, figures[0]):
            alarms += int(watch_average(self_starting(row), days, apart).alarms.sum())
        years += days[-1] / 365.25
    assert alarms / years < 1.0 + 3.0 / np.sqrt(years)
    assert alarms / years > 1.0 - 3.0 / np.sqrt(years)  # nor bought by never alarming


def test_a_lasting_shift_is_found_soon_by_daily_and_by_weekly_keepers() -> None:
    rng = np.random.default_rng(6)
    apart = days_between_alarms(5)
    for days_apart, within in ((1.0, 7.0), (7.0, 28.0)):
        waits = []
        for _ in range(15):
            figures = rng.standard_normal(60)
            figures[30:] += 2.5
            found = watch_average(self_starting(figures), np.arange(60) * days_apart, apart).alarms
            after = np.flatnonzero(found[30:])
            waits.append(after[0] * days_apart if after.size else np.inf)
        assert np.median(waits) <= within


def test_self_started_figures_are_standard_normal_whatever_the_scale() -> None:
    rng = np.random.default_rng(7)
    errors = rng.uniform(0.5, 4.0, (4000, 8))
    figures = -40.0 + 9.0 * errors * rng.standard_normal((4000, 8))
    found = np.array([self_starting(row, error) for row, error in zip(figures, errors, strict=True)])
    assert np.isnan(found[:, :3]).all()
    for column in found[:, 3:].T:
        assert stats.kstest(column, "norm").pvalue > 1e-3
    assert np.max(np.abs(np.corrcoef(found[:, 3:].T) - np.eye(5))) < 5.0 / np.sqrt(4000)


def test_self_started_figures_by_the_plain_t_statistic() -> None:
    """The last figure against the rest: a two-sample t test with one figure on one side (scipy)."""
    figures = np.array([3.0, 4.5, 2.0, np.nan, 3.6, 8.0])
    expected = stats.ttest_ind([8.0], [3.0, 4.5, 2.0, 3.6]).pvalue / 2.0
    assert self_starting(figures)[-1] == pytest.approx(stats.norm.isf(expected))
    assert np.isnan(self_starting([np.nan, np.nan])).all()
