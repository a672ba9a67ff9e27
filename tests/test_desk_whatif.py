"""The view of faults: what each does, what helps, what cannot be asked."""

import math
import re
from pathlib import Path

import pytest
from advice_world import NOW, at, make_store, morning

from dawnlevel.cli.care import FAULTS
from dawnlevel.cli.render_page import Paper
from dawnlevel.cli.render_whatif import whatif_page
from dawnlevel.desk.animals.whatif import whatif_view
from dawnlevel.desk.animals.whatif_given import read_asked
from dawnlevel.desk.animals.whatif_views import WhatIfView
from dawnlevel.errors import DawnlevelError
from dawnlevel.estimate.priors import CELL_EDGES_PH
from dawnlevel.plan.faults import FaultKind
from dawnlevel.store import open_store
from dawnlevel.tank import CellColour, PhReading, RateSetting


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(Path(tmp_path_factory.mktemp("whatif")) / "s.db")


def asked(place: str, *words: str | None) -> WhatIfView:
    kind, from_, by, lasts = (*words, None, None, None, None)[:4]
    with open_store(place) as store:
        return whatif_view(store, "Brook", NOW, read_asked(kind, from_, by, lasts))


def test_every_kind_is_told_and_named_alike_in_the_command(place: str) -> None:
    view = asked(place)
    assert {fault.kind for fault in view.faults} == set(FAULTS) == {kind.value for kind in FaultKind}
    assert not any(fault.guards for fault in view.faults)
    assert view.ceiling_mg_l == 30.0
    text = whatif_page(view, Paper(80, is_unicode=True, is_colour=False))
    assert max(map(len, text.splitlines())) <= 80


def test_a_stuck_valve_is_worst_without_a_guard_and_begins_as_the_gas_should_close(place: str) -> None:
    view = asked(place, "valve")
    (fault,) = view.faults
    assert (fault.begins.hour, fault.begins.minute) == (18, 30)  # the timer's closing, Madrid
    assert fault.outcome.to_ceiling.chance > view.usual.to_ceiling.chance
    assert fault.outcome.to_high.chance <= fault.outcome.to_ceiling.chance
    for guard in fault.guards:
        assert guard.outcome.morning_mg_l.median < fault.outcome.morning_mg_l.median
    assert len(fault.guards) == 3
    text = whatif_page(view, Paper(40, is_unicode=True, is_colour=False))
    assert max(map(len, text.splitlines())) <= 40


@pytest.mark.parametrize("bubbles_per_second", [0.4, 1.8, 6.0])
def test_a_stuck_valve_colours_the_cell_as_the_forecast_level_would(
    tmp_path: Path, bubbles_per_second: float
) -> None:
    """Named by the short rule CO2 = 3 KH 10^(7 - pH) for a 4 dKH cell that had the night to follow."""
    first, *others = [one for one in morning() if not isinstance(one, RateSetting)]
    records = [first, RateSetting(at=at(20, 1, day=5), bubbles_per_second=bubbles_per_second), *others]
    records = [one for one in records if not isinstance(one, PhReading)]
    view = asked(make_store(tmp_path / "s.db", records=records), "valve")
    (fault,) = view.faults
    ph = 7.0 - math.log10(fault.outcome.morning_mg_l.median / (3.0 * 4.0))
    edges = [edge for edge in CELL_EDGES_PH.values() if ph < edge]
    told = re.search(r"the cell ([a-z ]+) in the morning", fault.seen)
    assert told is not None
    assert list(CellColour)[len(edges)].value in told[1].split(" or ")
    assert ("yellow" in told[1]) == (bubbles_per_second == 6.0)


def test_a_power_cut_comes_in_each_combination(place: str) -> None:
    view = asked(place, "power", "20:00", None, "6h")
    assert len({fault.what for fault in view.faults}) == 8
    assert all(fault.begins.hour == 20 for fault in view.faults)
    worst = max(view.faults, key=lambda fault: fault.outcome.morning_mg_l.median)
    assert "stays open, pump stops" in worst.what


def test_a_guard_that_changes_nothing_is_not_offered(place: str) -> None:
    cuts = asked(place, "power", "17:00").faults
    closed, open_ = (
        {guard.guard for fault in cuts if words in fault.what for guard in fault.guards}
        for words in ("valve closes", "valve stays open")
    )
    assert "normally closed valve" not in closed
    assert "normally closed valve" in open_


def test_a_needle_moved_is_caught_by_a_reading_soon_after(place: str) -> None:
    (fault,) = asked(place, "rate", None, "2").faults
    (soon,) = [guard for guard in fault.guards if guard.guard == "reading after an hour"]
    assert soon.outcome.peak_mg_l.median < fault.outcome.peak_mg_l.median - 1.0


def test_more_of_a_fault_does_more(place: str) -> None:
    twice, thrice = (asked(place, "rate", None, by).faults[0].outcome for by in ("2", "3"))
    assert thrice.peak_mg_l.median > twice.peak_mg_l.median
    changed = asked(place, "water", None, "80%").faults[0]
    assert changed.outcome.morning_mg_l.median < asked(place).usual.morning_mg_l.median + 1.0


@pytest.mark.parametrize(
    "words",
    [
        ("flood",),
        ("valve", None, "3"),
        (None, None, "3"),
        ("shifted", None, "20"),
        ("water", None, "150%"),
        ("valve", "25:00"),
        ("power", None, None, "3 days"),
        ("power", None, None, "90h"),
    ],
)
def test_what_cannot_be_asked_is_told(words: tuple[str | None, ...]) -> None:
    with pytest.raises(DawnlevelError) as caught:
        read_asked(*(*words, None, None, None)[:4])
    assert caught.value.cure
