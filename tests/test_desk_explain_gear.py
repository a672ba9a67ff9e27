"""What explain says of meter and cell: recorded, aged, adjusted."""

from datetime import UTC, datetime, timedelta

import pytest

from dawnlevel.desk.advice.explain import explain_view
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    BufferCheck,
    KhTitration,
    PhReading,
    RateSetting,
    Record,
    SolutionPrepared,
    Tank,
)
from tests.estimate_worlds import make_tank

NOW = datetime(2026, 5, 30, 18, tzinfo=UTC)


def days_ago(days: float) -> datetime:
    return NOW - timedelta(days=days)


def told(*more: Record) -> tuple[str, ...]:
    tank: Tank = make_tank(name="Brook")
    records = [
        KhTitration(at=days_ago(41), kh_dkh=4.0),
        BaselineCup(at=days_ago(40.5), ph=8.05, method=BaselineMethod.AERATED, hours=1.0),
        RateSetting(at=days_ago(40), bubbles_per_second=1.5),
        *(PhReading(at=days_ago(day), ph=6.9) for day in (39.0, 1.0, 0.1)),
        *more,
    ]
    with open_store("sqlite://", clock=lambda: NOW) as store:
        store.add_tank(tank, days_ago(42))
        store.add_records("Brook", sorted(records, key=lambda one: one.at))
        return explain_view(store, "Brook", NOW).gear


def test_nothing_recorded_is_said() -> None:
    meter, cell = told()
    assert "No buffers are recorded" in meter
    assert "within 0.15 pH" in meter  # 1.645 x 0.09
    assert "filled with 4 dKH" in cell


@pytest.mark.parametrize(("days", "counts"), [(0.2, "counts in full"), (28, "37 %"), (14, "61 %")])
def test_an_old_check_counts_less_and_it_is_said(days: float, counts: str) -> None:
    """exp(-1) is 37 %, exp(-1/2) 61 %."""
    words = " ".join(told(BufferCheck(at=days_ago(days), low_ph=4.108, high_ph=6.965, adjusted=False)))
    assert "read 0.10 too high at pH 7; it was left as it was" in words
    assert counts in words


def test_an_adjustment_and_a_solution_are_said() -> None:
    words = " ".join(
        told(
            BufferCheck(at=days_ago(20), low_ph=3.90, high_ph=6.75),
            SolutionPrepared(at=days_ago(10), kh_dkh=3.0, error_percent=2.0),
        )
    )
    assert "too low at pH 7; it was adjusted" in words
    assert "Readings from before it was adjusted are taken as the meter showed then" in words
    assert "counts from the 3 dKH recorded on Wed 20 May 2026" in words
