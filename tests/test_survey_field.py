"""Maps of simulated tanks: intervals cover, dead zones are found, even tanks are left in peace."""

import numpy as np
import pytest
from scipy.stats import binom
from survey_tanks import BOX, NAMES, NOISE, SHARES, pocket_tank, steady, survey, truth

from dawnlevel.errors import BadInputError
from dawnlevel.practice.zones import Zones
from dawnlevel.survey.box import corners, front_view, top_view
from dawnlevel.survey.evenness import dead_zones, variation, worst_corner
from dawnlevel.survey.field import MEAN_SD, REACH_LOG_SD, REACH_SHARE, UNEVEN_SD, map_field
from dawnlevel.survey.process import distances, matern, root
from dawnlevel.survey.where_next import where_next
from dawnlevel.tank.places import name_of_shares, place_name, place_shares


def within(values: np.ndarray, true: float, share: float = 0.9) -> bool:
    low, high = np.quantile(values, (0.5 - share / 2, 0.5 + share / 2))
    return bool(low <= true <= high)


def test_intervals_cover_tanks_drawn_from_the_prior() -> None:
    """Tanks as the map believes them to be: the 90 and 50 % intervals hold as often as they say."""
    rng = np.random.default_rng(20)
    tanks = 80
    where = np.vstack([SHARES * BOX.sides_cm, BOX.cells()])
    hits = np.zeros((tanks, 4), dtype=bool)
    for number in range(tanks):
        sd = UNEVEN_SD * abs(rng.standard_normal())
        reach = REACH_SHARE * 90.0 * np.exp(REACH_LOG_SD * np.clip(rng.standard_normal(), -1.6, 1.6))
        logs = sd * root(matern(distances(where, where), 1.0, reach)) @ rng.standard_normal(len(where))
        level = np.exp(logs[len(SHARES) :])
        field = map_field(survey(25.0 * np.exp(logs[: len(SHARES)]), rng), BOX, rng, 200)
        cv, shortfall = variation(field), worst_corner(field)[0]
        true = level.std() / level.mean(), 1.0 - level[corners()].min() / level.mean()
        hits[number] = [
            within(drawn, value, share)
            for share in (0.9, 0.5)
            for drawn, value in zip((cv, shortfall), true, strict=True)
        ]
    for share, column in ((0.9, 0), (0.9, 1), (0.5, 2), (0.5, 3)):
        low, high = binom.interval(0.998, tanks, share)
        assert low <= hits[:, column].sum() <= high, (share, hits.mean(axis=0))


def test_even_tanks_have_no_dead_zones_and_little_variation() -> None:
    rng = np.random.default_rng(21)
    alarms, medians = 0, []
    for _ in range(60):
        field = map_field(survey(np.full(len(SHARES), 25.0), rng), BOX, rng, 200)
        alarms += bool(dead_zones(field))
        medians.append(np.median(variation(field)))
    assert alarms == 0  # at the stated threshold one alarm in a hundred even tanks would be too many
    assert np.median(medians) < NOISE


def test_dead_zones_of_two_zone_tanks_are_found_where_they_are() -> None:
    rng = np.random.default_rng(22)
    covered, found, deep, wrong = [], 0, 0, 0
    for _ in range(60):
        zones = pocket_tank(rng)
        levels = steady(zones)
        cv, shortfall = truth(zones, levels)
        field = map_field(survey(levels[zones.zone_of(SHARES)], rng), BOX, rng, 200)
        covered.append(within(variation(field), cv))
        named = dead_zones(field)
        is_deep = shortfall > 0.35
        deep += is_deep
        found += is_deep and bool(named) and zones.zone_of(named[0].centre[None, :])[0] == 1
        wrong += any(zones.zone_of(one.centre[None, :])[0] == 0 for one in named)
    assert deep >= 10
    assert found / deep >= 0.8
    assert wrong <= 1
    assert np.mean(covered) >= 0.8


def test_a_tank_of_three_zones() -> None:
    rng = np.random.default_rng(23)
    zones = Zones(
        low=np.array([[0.0, 0, 0], [0.65, 0, 0], [0.0, 0.55, 0]]),
        high=np.array([[1.0, 1, 1], [1.0, 1, 1], [0.35, 1, 0.5]]),
        gas_mg_l_h=np.array([30.0, 0.0, 0.0]),
        loss_per_h=np.full(3, 0.8),
        flow_per_h=np.array([[0.0, 3.0, 0.05], [3.0, 0.0, 0.0], [0.05, 0.0, 0.0]]),
    )
    levels = steady(zones)
    field = map_field(survey(levels[zones.zone_of(SHARES)], rng), BOX, rng)
    zone = dead_zones(field)[0]
    assert name_of_shares(*zone.centre) == "back left substrate"
    assert within(zone.shortfall, 1.0 - levels[2] / zones.mean(levels))
    assert name_of_shares(*field.box.shares()[worst_corner(field)[1]]) == "back left substrate"


def test_a_moving_level_is_taken_out() -> None:
    """An even tank read while the level rises by half looks even; read as it stands it would not."""
    rng = np.random.default_rng(24)
    rise = np.linspace(0.65, 1.0, len(SHARES))
    moved = map_field(survey(25.0 * rise, rng, shift=rise), BOX, rng)
    asis = map_field(survey(25.0 * rise, rng), BOX, rng)
    low, high = np.quantile(variation(moved), (0.05, 0.95))
    assert low < 0.03 < high
    assert np.quantile(variation(asis), 0.05) > 0.05


def test_the_next_reading_is_far_from_those_made() -> None:
    rng = np.random.default_rng(25)
    levels = np.where(SHARES[:, 0] > 0.5, 20.0, 26.0)
    left = SHARES[:, 0] < 0.6
    field = map_field(survey(levels[left], rng, SHARES[left]), BOX, rng)
    places = where_next(field)
    assert all(field.box.shares()[one.cell][0] > 0.6 for one in places)
    assert 1.0 > places[0].removes > places[1].removes > places[2].removes > 0.0


def test_views_look_from_the_front_and_from_above() -> None:
    shares = BOX.shares()
    front, top = front_view(shares.T), top_view(shares.T)
    assert front.shape == (3, 4, 7)
    assert top.shape == (3, 4, 7)
    assert front[0, 0] == pytest.approx((np.arange(7) + 0.5) / 7)  # left to right
    assert front[2, :, 0] == pytest.approx([0.875, 0.625, 0.375, 0.125])  # the surface first
    assert top[1, :, 0] == pytest.approx([0.875, 0.625, 0.375, 0.125])  # the back first


def test_the_tank_mean_is_known_as_well_as_the_readings_tell() -> None:
    rng = np.random.default_rng(26)
    field = map_field(survey(np.full(len(SHARES), 25.0), rng), BOX, rng)
    assert np.median(field.co2_mg_l) == pytest.approx(25.0, rel=0.04)
    assert field.logs.std() < MEAN_SD / 10


def test_too_few_readings_are_refused() -> None:
    rng = np.random.default_rng(27)
    with pytest.raises(BadInputError, match="3 readings"):
        map_field(survey(np.full(3, 25.0), rng, SHARES[:3]), BOX, rng)


@pytest.mark.parametrize("name", NAMES)
def test_names_lie_where_they_say(name: str) -> None:
    assert name_of_shares(*place_shares(name)) == name


def test_names_are_read_as_people_write_them() -> None:
    assert place_name("Left-back, bottom") == "back left substrate"
    assert place_name("centre") == "middle"
    assert place_name("front front middle") == "front"
    for wrong in ("attic", "", "left right", "front rear"):
        with pytest.raises(BadInputError):
            place_name(wrong)
