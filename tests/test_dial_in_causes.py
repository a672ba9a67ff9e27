"""The tree of causes: every question on a tank made so that its answer is known."""

import math
from collections.abc import Callable

import outside_tanks
import pytest

from benchmarks._causes import TREE, Failed, find_cause
from benchmarks._detail import detail
from benchmarks._goal import Goal
from benchmarks._said import Bounds, DaySaid, Forecast, Look, Planned
from benchmarks._scoring import gas_day
from benchmarks._watched import Watched

DROP = Goal("drop", 1.0, 1.2)
ON, OFF = 36.0, 44.0  # lights of day 1

WIDE: Bounds = (0.0, 0.5, 1.0, 1.5, 2.0)
TIGHT: Bounds = (1.05, 1.08, 1.1, 1.12, 1.15)


def forecast(quantity: Bounds) -> Forecast:
    return Forecast((0.0, 10.0, 20.0, 30.0, 90.0), WIDE, quantity, 0.9)


def look(
    hour: float,
    *,
    action: str = "hold",
    chance: float = 0.8,
    now: Bounds = (-9.0, 0.0, 1.0, 2.0, 9.0),
    lights_on: Bounds | None = WIDE,
) -> Look:
    ahead = forecast(lights_on) if lights_on is not None and hour < ON else None
    return Look(hour, action, 1.0, chance, chance, 0.0, False, now, now, ahead, ())


class Flat(outside_tanks.LinearTank):
    """A tank whose drop follows `course` whatever is done."""

    def __init__(self, course: Callable[[float], float]) -> None:
        super().__init__(1)
        self.course = course
        self.error = 0.0

    def truth(self) -> dict[str, float]:
        drop = self.course(self.now)
        return {"co2_mg_l": 2.0 * 10.0**drop, "ph": 7.6 - drop, "drop": drop}

    def read_ph(self) -> float:
        return self.truth()["ph"] + self.error


def played(
    course: Callable[[float], float],
    *,
    reads: tuple[float, ...] = (35.0,),
    settings: tuple[tuple[float, float], ...] = ((32.0, 1.0), (42.5, 0.0)),
    error: float = 0.0,
) -> Watched:
    """Day 1 with readings and settings at these hours."""
    tank = Flat(course)
    tank.error = error
    watched = Watched(tank)
    acts = [(hour, None) for hour in reads] + list(settings)
    for hour, rate in sorted(acts, key=lambda act: act[0]):
        watched.wait_until(hour)
        if rate is None:
            watched.read_ph()
        else:
            watched.set_gas(rate)
    watched.wait_until(48.0)
    return watched


def cause(watched: Watched, *looks: Look, planned: Planned | None = None, unplanned: str = "") -> str:
    watched.report.days[1] = DaySaid(planned, unplanned, list(looks))
    return find_cause(watched, DROP, gas_day(watched, DROP, 1)).cause


def low(_: float) -> float:
    return 0.9


def sags(hour: float) -> float:
    return 1.1 if hour < 40.0 else 0.9


def good(_: float) -> float:
    return 1.1


def test_a_band_above_the_ceiling() -> None:
    # 2 mg/L x 10^0.95, the lowest that counts, is 17.8 mg/L; the card's ceiling is 40
    assert cause(played(low), look(35.0)) != "above_ceiling"
    tank = Flat(low)
    card = tank.card() | {"co2_limit_mg_l": 17}
    tank.card = lambda: card  # type: ignore[method-assign]
    watched = Watched(tank)
    watched.wait_until(48.0)
    assert cause(watched, look(35.0)) == "above_ceiling"


def test_the_fish_come_before_instruments() -> None:
    assert cause(played(low), look(34.0, action="lower_and_aerate"), look(35.0)) == "fish"
    assert cause(played(low, reads=()), unplanned="the fish were in distress") == "fish"
    late = look(37.0, action="close_gas")
    assert cause(played(low), look(35.0), late) != "fish", "what came after it went wrong is not its cause"


def test_gas_that_closes_at_the_wrong_time() -> None:
    watched = played(good, settings=((32.0, 1.0), (43.8, 0.0)))
    assert cause(watched, look(35.0)) == "gas_hours"


def test_a_reading_that_was_off() -> None:
    assert cause(played(low, error=0.06), look(35.0)) == "reading_off"
    assert cause(played(low, error=0.04), look(35.0)) != "reading_off"


def test_a_level_outside_what_was_believed_of_it() -> None:
    assert cause(played(low), look(35.0, now=TIGHT)) == "level_misjudged"


def test_a_day_that_the_advice_itself_had_given_up() -> None:
    assert cause(played(low), look(35.0, chance=0.3)) == "no_remedy"
    assert cause(played(low), look(34.0, chance=0.3), look(35.0, chance=0.6)) != "no_remedy"


def test_a_day_without_a_reading() -> None:
    planned = Planned(0.97, 0.0, False, forecast(TIGHT), "")
    assert cause(played(low, reads=(30.0 - 12.0,)), planned=planned) == "unread"


def test_a_setting_after_the_last_reading() -> None:
    new = ((32.0, 1.0), (35.0, 1.4), (42.5, 0.0))
    missed = look(35.0, action="raise", lights_on=TIGHT)
    assert cause(played(low, settings=new), missed) == "new_setting"
    assert cause(played(low), missed) == "forecast_missed"


def test_a_hold_that_was_sure_and_failed() -> None:
    assert cause(played(sags), look(35.0, chance=0.95)) == "forecast_missed"
    assert cause(played(sags), look(35.0, chance=0.85)) == "odds"


def test_within_what_was_said() -> None:
    assert cause(played(low), look(35.0)) == "odds"


def test_a_program_that_stopped() -> None:
    watched = played(low)
    found = find_cause(watched, DROP, gas_day(watched, DROP, 1), stopped_h=34.0)
    assert (found.cause, found.said_so) == ("policy_failed", False)
    assert find_cause(watched, DROP, gas_day(watched, DROP, 1), stopped_h=40.0).cause != "policy_failed"


def test_when_it_went_wrong_which_way_and_what_had_been_stated() -> None:
    watched = played(sags)
    watched.report.days[1] = DaySaid(None, "", [look(35.0, chance=0.4), look(41.0, chance=0.1)])
    found = find_cause(watched, DROP, gas_day(watched, DROP, 1))
    assert (found.went_wrong_h, found.side, found.stated, found.said_so) == (40.0, "low", 0.4, True)


@pytest.mark.parametrize(
    ("gain", "loss", "earliest_h", "needed"),
    [
        (3.0, 0.25, 7, "one_setting"),
        (3.0, 0.25, 11, "earlier"),  # what climbs in an hour has not levelled off at noon
        (3.0, 0.02, 11, "two_settings"),  # what rises within hours keeps rising for hours
        (0.01, 0.25, 7, "nothing"),
    ],
)
def test_what_it_would_have_taken(gain: float, loss: float, earliest_h: int, needed: str) -> None:
    tank = outside_tanks.linear(1)
    tank.gain, tank.loss, tank.level = gain, loss, 1.0
    card = tank.card() | {"earliest_start_h": earliest_h}
    tank.card = lambda: card  # type: ignore[method-assign]
    watched = Watched(tank, keep_twins=True)
    watched.read_degassed_ph()
    watched.wait_until(48.0)
    day = gas_day(watched, DROP, 1)
    assert Failed(watched, DROP, day, DaySaid(), math.inf).reach == needed


def test_the_tree_ends_and_has_each_cause_once() -> None:
    keys = [question.key for question in TREE]
    assert len(set(keys)) == len(keys)
    assert keys[-1] == "odds"


def test_details_name_the_first_breach_and_the_chance_stated_for_it() -> None:
    watched = played(lambda hour: 1.5 if hour > 40.0 else 1.1)
    watched.report.days[1] = DaySaid(None, "", [look(35.0)])
    found = detail(watched, DROP, 1, math.inf)
    assert found["breach"]["what"] == "ceiling"  # 2 mg/L x 10^1.5 is above 40
    assert found["breach"]["day"] == 1
    assert found["breach"]["stated"] == 0.0
    (day,) = found["days"]
    assert day["cause"]["side"] == "high"
