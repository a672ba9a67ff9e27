"""Gas schedules: windows laid on a grid, boosts and pulses, counts an eye can follow."""

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.plan.schedule import FASTEST_BPS, Schedule, countable, open_share, pulsed

_hours = st.floats(min_value=-5.0, max_value=30.0)


@st.composite
def _schedules(draw: st.DrawFn) -> Schedule:
    count = draw(st.integers(1, 4))
    edges = sorted(draw(st.lists(_hours, min_size=2 * count, max_size=2 * count)))
    return Schedule(tuple(zip(edges[::2], edges[1::2], strict=True)), 1.0, is_new=False)


@st.composite
def _grids(draw: st.DrawFn) -> list[float]:
    steps = draw(st.lists(st.floats(min_value=0.01, max_value=3.0), min_size=1, max_size=40))
    return [0.0, *np.cumsum(steps).tolist()]


@given(_grids(), st.lists(_schedules(), min_size=1, max_size=4))
def test_the_shares_of_a_grid_add_up_to_the_windows_within_it(
    edges: list[float], schedules: list[Schedule]
) -> None:
    grid = np.array(edges)
    share = open_share(grid, schedules)
    assert share.shape == (grid.size - 1, len(schedules))
    assert share.min() >= 0.0
    assert share.max() <= 1.0 + 1e-9
    for column, schedule in zip(share.T, schedules, strict=True):
        open_h = sum(max(min(b, grid[-1]) - max(a, 0.0), 0.0) for a, b in schedule.windows_h)
        np.testing.assert_allclose(column @ np.diff(grid), open_h, atol=1e-9)


@given(_grids(), _schedules())
def test_a_step_is_open_exactly_where_a_window_covers_it(edges: list[float], schedule: Schedule) -> None:
    grid = np.array(edges)
    share = open_share(grid, [schedule])[:, 0]
    for left, right, got in zip(grid, grid[1:], share, strict=False):
        inside = any(a <= left and right <= b for a, b in schedule.windows_h)
        apart = all(b <= left or right <= a for a, b in schedule.windows_h)
        if inside:
            np.testing.assert_allclose(got, 1.0, atol=1e-9)
        if apart:
            assert got == 0.0


@given(
    st.floats(0.0, 10.0),
    st.floats(0.25, 8.0),
    st.floats(0.5, 12.0),
    st.floats(0.02, 0.99),
    st.integers(1, 11),
)
def test_a_boost_and_its_pulses_lie_in_order_within_the_day(
    start: float, boost: float, rest: float, duty: float, pulses: int
) -> None:
    found = pulsed(start, start + boost, start + boost + rest, duty, pulses, 1.0, is_new=True)
    assert len(found.windows_h) == pulses + 1
    flat = [edge for window in found.windows_h for edge in window]
    assert all(a <= b + 1e-9 for a, b in itertools.pairwise(flat))
    assert found.start_h == start
    np.testing.assert_allclose(found.close_h, start + boost + rest)
    open_h = sum(b - a for a, b in found.windows_h)
    np.testing.assert_allclose(open_h, boost + duty * rest, rtol=1e-9)


def test_full_duty_or_no_pulses_is_one_window() -> None:
    for duty, pulses in ((1.0, 3), (0.5, 0)):
        assert pulsed(1.0, 3.0, 9.0, duty, pulses, 1.0, is_new=False).windows_h == ((1.0, 9.0),)


@given(st.floats(min_value=0.02, max_value=FASTEST_BPS))
def test_a_countable_rate_is_near_never_nought_and_stays_what_it_is(rate: float) -> None:
    found = countable(rate)
    assert found > 0.0
    assert abs(found - rate) <= (0.025 if rate < 6.0 else 0.125) + 1e-9
    assert countable(found) == found


def test_no_rate_is_faster_than_can_be_counted() -> None:
    assert countable(68.0) == FASTEST_BPS
    assert countable(0.001) > 0.0
