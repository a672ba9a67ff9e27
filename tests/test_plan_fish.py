"""What the fish ask for: distress stands until calm is recorded, uneasy for half a day."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dawnlevel.plan.fish import UNEASY_HOURS, standing_state
from dawnlevel.tank import FishSighting, FishState, PhReading, Record
from tests.estimate_worlds import when

CALM, UNEASY, DISTRESS = FishState.CALM, FishState.UNEASY, FishState.DISTRESS
LATER_H = UNEASY_HOURS / timedelta(hours=1) + 1.0


def _state(now_h: float, *seen: tuple[float, FishState]) -> FishState:
    records: list[Record] = [FishSighting(at=when(hour), state=state) for hour, state in seen]
    return standing_state([PhReading(at=when(-1.0), ph=6.5), *records], when(now_h))


@pytest.mark.parametrize(
    ("now_h", "seen", "stands"),
    [
        (1.0, [], CALM),
        (1.0, [(0.0, UNEASY)], UNEASY),
        (LATER_H, [(0.0, UNEASY)], CALM),
        (1.0, [(0.0, UNEASY), (0.5, CALM)], CALM),
        (1.0, [(0.0, CALM), (0.5, UNEASY)], UNEASY),
        (1.0, [(0.0, DISTRESS)], DISTRESS),
        (24.0 * 30, [(0.0, DISTRESS)], DISTRESS),
        (2.0, [(0.0, DISTRESS), (1.0, UNEASY)], DISTRESS),
        (LATER_H + 1.0, [(0.0, DISTRESS), (1.0, UNEASY)], DISTRESS),
        (3.0, [(0.0, DISTRESS), (1.0, UNEASY), (2.0, UNEASY)], DISTRESS),
        (3.0, [(0.0, DISTRESS), (1.0, CALM), (2.0, UNEASY)], UNEASY),
        (3.0, [(0.0, DISTRESS), (1.0, UNEASY), (2.0, CALM)], CALM),
        (1.0, [(0.0, CALM), (2.0, DISTRESS)], CALM),
    ],
)
def test_the_state_that_counts(now_h: float, seen: list[tuple[float, FishState]], stands: FishState) -> None:
    assert _state(now_h, *seen) is stands


@given(st.lists(st.sampled_from(list(FishState)), max_size=8), st.floats(0.0, 100.0))
def test_only_calm_unlocks_distress(states: list[FishState], wait_h: float) -> None:
    """After a first distress any history without calm ends in distress, whenever it is asked."""
    seen = [(float(hour), state) for hour, state in enumerate([DISTRESS, *states])]
    calm_since = CALM in states
    found = _state(seen[-1][0] + wait_h, *seen)
    if not calm_since:
        assert found is DISTRESS
    elif states[-1] is CALM:
        assert found is CALM


def test_two_sightings_in_one_moment_count_as_the_worse_until_calm() -> None:
    assert _state(1.0, (0.0, DISTRESS), (0.0, UNEASY)) is DISTRESS
    assert _state(1.0, (0.0, UNEASY), (0.0, DISTRESS)) is DISTRESS
