"""What keepers are without: it shows in the card and in what they record, and nowhere else."""

import pytest

from benchmarks import dial_in
from benchmarks._ablations import ABLATIONS, parse, without
from benchmarks._policy_dawnlevel import Keeper
from benchmarks._watched import Watched
from dawnlevel.errors import BadInputError
from dawnlevel.practice import middle
from dawnlevel.tank import BaselineCup, BaselineMethod, CellSighting, KhTitration, PhReading, Record, Target

SEED = 5


def recorded(*names: str) -> tuple[list[Record], Watched]:
    """What the policy writes down in one day of a tank, and the tank as watched."""
    watched = Watched(without(middle(SEED), names))
    keeper = Keeper(watched, Target(), watched.report)
    keeper.begin()
    keeper.play_day(1)
    return [stored.record for stored in keeper.store.records("practice")], watched


def of_kind(records: list[Record], kind: type[Record]) -> list[Record]:
    return [record for record in records if isinstance(record, kind)]


@pytest.fixture(scope="module")
def full() -> list[Record]:
    """The same day with everything at hand."""
    records, _ = recorded()
    assert all(of_kind(records, kind) for kind in (BaselineCup, KhTitration, PhReading, CellSighting))
    return records


def test_without_the_cup_model_cups_are_recorded_as_aerated_for_days() -> None:
    assert middle(SEED).card()["baseline_method"] != "aerated", "a tank on which it makes a difference"
    cups = of_kind(recorded("cup_model")[0], BaselineCup)
    assert {(c.method, c.hours) for c in cups if isinstance(c, BaselineCup)} == {
        (BaselineMethod.AERATED, 48.0)
    }


def test_without_kh_nothing_is_titrated(full: list[Record]) -> None:
    records, _ = recorded("kh")
    assert not of_kind(records, KhTitration)
    assert len(of_kind(records, BaselineCup)) == len(of_kind(full, BaselineCup))


def test_without_a_cell_none_is_looked_at() -> None:
    records, watched = recorded("cell")
    assert not of_kind(records, CellSighting)
    assert len(watched.readings) == len(of_kind(records, PhReading)) + len(of_kind(records, BaselineCup))


@pytest.mark.parametrize("seed", [1, 3])
def test_no_day_has_more_than_eight_readings_the_cell_included(seed: int) -> None:
    watched = Watched(middle(seed))
    keeper = Keeper(watched, Target(), watched.report)
    keeper.begin()
    before = len(watched.readings)
    keeper.play_day(1)
    cells = of_kind([stored.record for stored in keeper.store.records("practice")], CellSighting)
    willing = int(str(watched.card()["reads_per_ramp"]))
    assert len(watched.readings) - before <= 8
    assert bool(cells) == (willing < 6), "six in the ramp and two under light leave none for the cell"


def test_half_the_readings_are_half_the_readings(full: list[Record]) -> None:
    card = middle(SEED).card()
    records, watched = recorded("half_readings")
    assert watched.card()["reads_per_ramp"] == int(str(card["reads_per_ramp"])) // 2
    assert len(watched.readings) - len(of_kind(records, BaselineCup)) <= 4
    assert len(of_kind(records, PhReading)) < len(of_kind(full, PhReading))


def test_a_coarse_meter_shows_one_decimal_and_says_so() -> None:
    records, watched = recorded("coarse_meter")
    assert watched.card()["ph_step"] == 0.1
    shown = [r.ph for r in records if isinstance(r, PhReading | BaselineCup)]
    assert all(round(10.0 * ph, 6) == round(10.0 * ph) for ph in shown)
    last, cups = watched.samples[-1], [r.ph for r in records if isinstance(r, BaselineCup)]
    assert last.drop == pytest.approx(sum(cups) / len(cups) - last.ph), "from the baseline this keeper has"


@pytest.mark.parametrize("names", [*((name,) for name in ABLATIONS), tuple(ABLATIONS)])
def test_the_tank_itself_stays_as_it_is(names: tuple[str, ...]) -> None:
    plain, changed = middle(SEED), without(middle(SEED), names)
    for tank in (plain, changed):
        tank.wait_until(30.0)
        tank.set_gas(2.0)
        tank.wait_until(40.0)
    assert changed.truth()["co2_mg_l"] == plain.truth()["co2_mg_l"]
    assert changed.truth()["ph"] == plain.truth()["ph"]
    assert set(plain.card()) <= set(changed.card())


def test_nothing_left_out_is_the_tank_itself() -> None:
    tank = middle(SEED)
    assert without(tank, ()) is tank


def test_names_are_read_and_unknown_ones_told() -> None:
    assert parse(" kh, cup_model,kh") == ("cup_model", "kh")
    assert parse("") == ()
    with pytest.raises(BadInputError, match="thermometer"):
        parse("kh,thermometer")


def test_help_lists_what_can_be_left_out(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        dial_in.main(["--help"])
    told = capsys.readouterr().out
    assert all(f"  {name} " in told and one.meaning in told for name, one in ABLATIONS.items())


def test_the_recipe_needs_kh_for_a_level(capsys: pytest.CaptureFixture[str]) -> None:
    assert dial_in.main(["--policy", "recipe", "--without", "kh", "--target", "co2:20-30"]) == 2
    assert "KH kit" in capsys.readouterr().err
