"""What buffers and recipes tell the estimate: wandering meters of known truth, simulated apart from it."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from dawnlevel.chemistry import buffer_ph
from dawnlevel.estimate.gear import Gear, gear_of
from dawnlevel.estimate.posterior import Posterior, posterior, recorded_baseline
from dawnlevel.estimate.routes import RouteName, routes
from dawnlevel.tank import (
    BaselineCup,
    Buffer,
    BufferCheck,
    PhReading,
    Record,
    SolutionPrepared,
)
from tests.estimate_worlds import Floats, cup, drawn_records, gas_days, in_order, kit, look, make_tank, when

DAY_H = 24.0
LOW, HIGH = (float(buffer_ph(kind, 25.0)) for kind in (Buffer.PHTHALATE, Buffer.PHOSPHATE))


def check(
    hour_h: float,
    offset_ph: float,
    slope: float = 1.0,
    *,
    adjusted: bool = False,
    noise: Floats | None = None,
) -> BufferCheck:
    """A meter that shows 7 + offset + slope (true - 7), in the two usual buffers."""
    off = np.zeros(2) if noise is None else noise
    low, high = (
        7.0 + offset_ph + slope * (true - 7.0) + error for true, error in zip((LOW, HIGH), off, strict=True)
    )
    return BufferCheck(at=when(hour_h), low_ph=float(low), high_ph=float(high), adjusted=adjusted)


def gear(*records: Record, end_h: float) -> Gear:
    return gear_of(in_order(records), when(end_h))


def wandered(rng: np.random.Generator, days: int) -> tuple[list[Record], Floats]:
    """A meter followed for `days`: its checks, and its true offset in tank water at each day's noon.

    In buffers it wanders day by day, an AR(1) of sd 0.078 that falls to 1/e in 28 days; tank water adds 0.045
    for good. Buffers are read to 0.02 each. An adjustment leaves what that reading was off by.
    """
    keep = float(np.exp(-1.0 / 28.0))
    wander, junction = 0.0779 * rng.standard_normal(), 0.045 * rng.standard_normal()
    records: list[Record] = []
    truth = np.zeros(days)
    for day in range(days):
        truth[day] = wander + junction
        if rng.random() < 0.02:
            adjusted, noise = bool(rng.random() < 0.5), 0.02 * rng.standard_normal(2)
            records.append(check(DAY_H * day + 12.0, wander, adjusted=adjusted, noise=noise))
            if adjusted:
                share = (HIGH - 7.0) / (HIGH - LOW)  # the line through both buffers, at pH 7
                left = 0.02 * rng.standard_normal(2)
                wander = float((1.0 + share) * left[1] - share * left[0])
                truth[day] = wander + junction
        wander = keep * wander + 0.0779 * (1.0 - keep**2) ** 0.5 * rng.standard_normal()
    return records, truth


def test_a_wandering_meter_lies_where_its_checks_say() -> None:
    """600 meters of 150 days: no bias, spread as stated, nine in ten within nine in ten."""
    rng = np.random.default_rng(11)
    scores, sds = [], []
    for _ in range(600):
        records, truth = wandered(rng, 150)
        day = int(rng.integers(150))
        known = gear_of(records, when(DAY_H * 150)).offset(when(DAY_H * day + 12.0))
        scores.append((truth[day] - known.mean) / known.sd)
        sds.append(known.sd)
    found = np.array(scores)
    assert abs(found.mean()) < 3.0 / 600**0.5
    assert found.std() == pytest.approx(1.0, abs=0.09)
    assert np.mean(np.abs(found) < 1.645) == pytest.approx(0.90, abs=0.037)  # three standard errors
    assert np.quantile(sds, 0.1) < 0.065
    assert np.quantile(sds, 0.9) > 0.085


def test_an_old_check_counts_less_until_it_says_nothing() -> None:
    seen = [gear(check(0.0, 0.15), end_h=DAY_H * 400).offset(when(DAY_H * day)) for day in (0, 14, 60, 399)]
    assert [one.sd for one in seen] == sorted(one.sd for one in seen)
    assert [one.mean for one in seen] == sorted((one.mean for one in seen), reverse=True)
    assert seen[0].mean == pytest.approx(0.15, abs=0.015)
    assert seen[-1].mean == pytest.approx(0.0, abs=1e-3)
    assert seen[-1].sd == pytest.approx(0.09, abs=1e-3)


def test_without_checks_nothing_changes() -> None:
    """One meter, one solution: what it shows now is what it showed."""
    readings = [PhReading(at=when(hour), ph=7.0) for hour in (1.0, 30.0)]
    bare = gear(*readings, end_h=40.0)
    then = bare.meter_then(readings)
    for mean, share, own in (then.offset, then.slope):
        assert not mean.any()
        assert np.all(share == 1.0)
        assert not own.any()
    assert bare.n_earlier == 0
    assert bare.offset(when(1.0)).sd == pytest.approx(0.09, abs=1e-9)


def test_buffers_no_electrode_shows_are_no_look_at_it() -> None:
    odd = gear(replace(check(0.0, 0.0), low_ph=3.0, high_ph=8.5), end_h=2.0)
    assert odd.offset(when(1.0)) == gear(end_h=2.0).offset(when(1.0))


# --- the whole estimate ---


def world(number: int) -> tuple[list[Record], list[Record], float]:
    """Records without and with a check, and the true CO2: every value drawn, the meter as its prior says."""
    rng = np.random.default_rng(400 + number)
    template = in_order([*gas_days(1, (9.4, 10.5, 11.2, 12.0, 14.0, 17.0)), kit(0.5)])
    records, model, z = drawn_records(make_tank(kh_step_dkh=0.25), template, when(17.5), rng)
    unknowns = model.unknowns(z)
    offset, slope = (float(unknowns[name][0]) for name in ("meter_offset_ph", "meter_slope_log"))
    in_water = 0.25 * offset + 0.045 * 0.866 * rng.standard_normal()  # its share of 0.09, given the whole
    found = check(
        8.0, offset - in_water, float(np.exp(slope)), noise=0.02 * rng.standard_normal(2), adjusted=False
    )
    return records, in_order([*records, found]), float(np.log(model.levels(unknowns)[-1, 0]))


def logs(records: Sequence[Record], end_h: float = 17.5) -> Floats:
    tank = make_tank(kh_step_dkh=0.25)
    found: Posterior = posterior(tank, records, when(end_h), np.random.default_rng(2))
    return np.asarray(np.log(found.levels[-1]))


def test_a_check_narrows_co2_and_the_truth_stays_inside() -> None:
    """30 tanks told by pH and KH: with a check the error shrinks, the stated spread too, and still covers."""
    inside, off, spread = [], [], []
    for number in range(30):
        bare, checked, truth = world(number)
        without, having = logs(bare), logs(checked)
        low, high = np.quantile(having, (0.05, 0.95))
        inside.append(low <= truth <= high)
        off.append((without.mean() - truth, having.mean() - truth))
        spread.append((without.std(), having.std()))
    errors = np.sqrt(np.mean(np.square(off), axis=0))
    assert sum(inside) >= 23  # 27 expected; fewer than 23 in 1 of 50 honest runs
    assert errors[1] < errors[0]
    assert abs(np.mean(off, axis=0)[1]) < 3.0 * errors[1] / 30**0.5
    assert np.mean(spread, axis=0)[1] < 0.85 * np.mean(spread, axis=0)[0]


def test_a_meter_found_far_off_is_put_right() -> None:
    """0.3 pH too high reads CO2 a factor 2 too low; its check gives back what the true meter tells."""
    bare, _, _ = world(3)
    high = [replace(one, ph=round(one.ph + 0.3, 2)) if isinstance(one, PhReading) else one for one in bare]
    right, wrong = logs([*bare, check(17.2, 0.0)]).mean(), logs(high).mean()
    told = logs([*high, check(17.2, 0.3)]).mean()
    assert told == pytest.approx(right, abs=0.08)
    assert wrong < right - 0.15


def test_a_cup_read_before_an_adjustment_counts_as_the_meter_shows_it_now() -> None:
    """The meter read 0.2 high in the cup and was then adjusted: the drop is no 0.2 larger for it."""
    honest = in_order([*gas_days(1, (9.4, 12.0, 14.0, 17.0)), cup(0.5), kit(0.5)])
    records = drawn_records(make_tank(), honest, when(17.5), np.random.default_rng(8))[0]
    high = [
        replace(one, ph=round(one.ph + 0.2, 2)) if isinstance(one, BaselineCup) else one for one in records
    ]
    adjusted = in_order([*high, check(2.0, 0.2, adjusted=True)])
    plain = in_order([*records, check(2.0, 0.0, adjusted=True)])
    baselines = [recorded_baseline(one, gear_of(one, when(17.5))) for one in (plain, adjusted)]
    assert baselines[1] == pytest.approx(baselines[0], abs=0.015)
    drops = [_route(one, RouteName.DROP) for one in (plain, adjusted)]
    assert drops[1] == pytest.approx(drops[0], abs=0.05)
    assert _route(high, RouteName.DROP) > drops[0] + 0.3  # ln 10 times 0.2 is 0.46


def test_a_reading_before_an_adjustment_is_drawn_where_the_meter_then_put_it() -> None:
    """It read 0.2 high until it was adjusted at two o'clock: 7.00 then is 6.80 since."""
    records = in_order([*gas_days(1, (1.0, 17.0)), kit(0.5), check(2.0, 0.2, adjusted=True)])
    found = posterior(make_tank(), records, when(17.5), np.random.default_rng(2))
    then, since = (np.log(found.co2_of_reading(ph, when(at))) for ph, at in ((7.0, 1.0), (6.8, 17.0)))
    assert then.mean() == pytest.approx(since.mean(), abs=0.05)
    assert then.mean() > np.log(found.co2_of_reading(7.0)).mean() + 0.3


def _route(records: Sequence[Record], name: RouteName) -> float:
    found = posterior(make_tank(), records, when(17.5), np.random.default_rng(2))
    (route,) = (one for one in routes(found, records, np.random.default_rng(3)) if one.name is name)
    return route.log_mean


# --- the cell's solution ---


def test_the_recorded_solution_is_what_the_cell_counts_from() -> None:
    """At one pH inside, CO2 goes with KH (CO2 = H x alkalinity / K1): 2 dKH tell half of 4."""
    records = in_order([*gas_days(1, (12.0, 17.0)), kit(0.5), look(17.0)])  # green
    usual = _route(records, RouteName.CELL)
    half = _route(in_order([SolutionPrepared(at=when(0.1), kh_dkh=2.0), *records]), RouteName.CELL)
    assert half - usual == pytest.approx(np.log(0.5), abs=0.08)  # and a little by ionic strength


def test_a_solution_is_as_good_as_its_recipe_and_grows_old() -> None:
    made = SolutionPrepared(at=when(0.0), kh_dkh=4.0, error_percent=3.0)
    known = gear(made, end_h=DAY_H * 400)
    fresh, old = known.solution_log_sd(when(1.0)), known.solution_log_sd(when(DAY_H * 399))
    assert fresh == pytest.approx((0.03**2 + 0.02**2) ** 0.5, rel=0.01)
    assert old == pytest.approx((0.03**2 + 0.08**2) ** 0.5, rel=0.01)
    poor = gear(replace(made, error_percent=20.0), end_h=2.0)
    assert poor.solution_log_sd(when(1.0)) > 0.2 > gear(end_h=2.0).solution_log_sd(when(1.0))


def test_a_look_at_the_old_solution_is_read_by_the_old_one() -> None:
    before, after = SolutionPrepared(at=when(0.0), kh_dkh=3.0), SolutionPrepared(at=when(30.0), kh_dkh=5.0)
    looks = [look(20.0), look(40.0)]
    known = gear_of(in_order([before, after, *looks]), when(50.0))
    then = known.solution_then(looks)
    assert then.alkalinity_meq_l[1, 0] / then.alkalinity_meq_l[0, 0] == pytest.approx(5.0 / 3.0)
    assert known.n_earlier == 1
    assert timedelta(0) < looks[1].at - after.at


def test_buffers_are_worth_what_they_leave() -> None:
    """Bayes' rule: a look at the part of the offset that buffers show leaves the rest and its own noise."""
    known = gear(end_h=1.0)
    whole, seen = 0.09**2, 0.09**2 - 0.045**2
    left_by_part = whole - seen**2 / (seen + 0.02**2)
    left_by_whole = whole - whole**2 / (whole + known.buffers_ph_sd**2)
    assert left_by_whole == pytest.approx(left_by_part, rel=1e-6)
    assert gear(check(0.9, 0.0), end_h=1.0).buffers_ph_sd > 2.0 * known.buffers_ph_sd
