"""What the pages of watching say of logs whose truth is known: the answer, months, days, before and after."""

import re
from datetime import UTC, date, datetime
from functools import lru_cache
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from watch_tanks import CARD, Course, Floats, levels_of, log

from dawnlevel.chemistry import air_co2_mg_l, degassed_ph
from dawnlevel.desk.steadiness.logfile import ProbeLog
from dawnlevel.desk.steadiness.watch import Watched, watch_probe
from dawnlevel.desk.steadiness.watch_band import band_limits
from dawnlevel.desk.steadiness.watch_overlay import day_page_of, finding_page_of
from dawnlevel.desk.steadiness.watch_pages import found_again, watch_page_of
from dawnlevel.desk.steadiness.watch_views import FindingPageView, LevelMark, WatchPageView
from dawnlevel.desk.steadiness.watch_words import CAUTIONS, NEXT, SAID, next_steps
from dawnlevel.report.look import ON_PAPER
from dawnlevel.report.watch_chart import figures_svg, overlay_svg
from dawnlevel.tank import BaselineCup, BaselineMethod, Photoperiod, Tank, Target, TargetKind
from dawnlevel.watch.days import BIN_H

DAY_0 = date(2026, 5, 4)
"""A Monday."""

SINCE = 15
TANK = Tank(
    name="Brook",
    volume_l=90.0,
    depth_cm=40.0,
    surface_cm2=2200.0,
    photoperiod=Photoperiod(lights_on_h=CARD.lights_on_h, lights_off_h=CARD.lights_off_h),
    target=Target(kind=TargetKind.CO2, low=10.0, high=16.0),
)
COURSES = {
    "steady": Course(),
    "weaker": Course(gain=lambda d: 8.0 if d < SINCE else 6.0),
    "late": Course(late_h=lambda d: 0.0 if d < SINCE else 1.0),
    "step": Course(shift_ph=lambda d: 0.0 if d < SINCE else -0.2),
    "open": Course(stays_open=lambda d: d >= SINCE),
    "short": Course(days=4),
}


@lru_cache
def watched(name: str) -> Watched:
    hours, ph, temp_c = log(COURSES[name])
    day_0 = datetime(DAY_0.year, DAY_0.month, DAY_0.day)  # noqa: DTZ001 - a log's day on the wall
    return watch_probe(ProbeLog(day_0, hours, ph, temp_c, {}, 0, 0), CARD, ZoneInfo("UTC"))


def page_of(name: str) -> WatchPageView:
    return watch_page_of(watched(name), TANK, [])


def finding_of(name: str, place: int = 0) -> FindingPageView:
    return finding_page_of(watched(name), TANK, [], page_of(name).findings[place])


def truth(name: str) -> Floats:
    """True CO2, shape (days, minutes)."""
    return levels_of(COURSES[name], np.random.default_rng(1)).reshape(-1, 1440)


def day(number: int) -> date:
    return date.fromordinal(DAY_0.toordinal() + number)


# --- the answer ---


def test_a_steady_tank_is_called_steady_and_its_days_are_like_the_usual() -> None:
    view = page_of("steady")
    assert view.verdict == "Steady since Mon 4 May 2026, as far as this log can tell."
    assert view.findings == ()
    whole = view.days[2:-1]
    assert sum(bool(one.oddities) for one in whole) <= 0.05 * len(whole)


def test_weaker_gas_is_told_with_its_day_and_size() -> None:
    view = page_of("weaker")
    said = re.fullmatch(
        r"Not steady: since \w+ (\d+) May 2026 less gas dissolves than before, about (\d+) % less\.",
        view.verdict,
    )
    assert said is not None
    assert abs(int(said[1]) - day(SINCE).day) <= 1
    assert 20 <= int(said[2]) <= 30  # the truth is a quarter


def test_too_short_a_log_says_so() -> None:
    assert re.match(r"Too early to say: \d whole gas days", page_of("short").verdict)


def test_a_shift_of_ph_is_water_or_meter_and_the_levels_since_are_not_trusted() -> None:
    view = page_of("step")
    odds = re.search(
        r"pH stands (0\.\d\d) lower: .*changed \((\d+) %\) or the meter has \((\d+) %\)", view.verdict
    )
    assert odds is not None
    assert float(odds[1]) == pytest.approx(0.2, abs=0.04)
    assert 90 <= int(odds[2]) + int(odds[3]) <= 101
    assert any("do not trust levels since then" in text for text in view.more)


# --- months and days ---


def test_the_months_hold_every_day_once_under_its_weekday() -> None:
    view = page_of("weaker")
    placed = [
        (cell.day, column)
        for month in view.months
        for week in month.weeks
        for column, cell in enumerate(week)
        if cell.day is not None and cell.watched is not None
    ]
    assert sorted(at for at, _ in placed) == [one.day for one in view.days]
    assert all(at.weekday() == column for at, column in placed)
    assert [month.first for month in view.months] == sorted(
        (month.first for month in view.months), reverse=True
    )


def test_days_since_the_change_stand_out_and_those_before_do_not() -> None:
    days = {one.day: one for one in page_of("weaker").days}
    before, since = range(2, SINCE - 1), range(SINCE + 1, 23)
    assert sum(bool(days[day(one)].oddities) for one in before) <= 1
    assert all(any("less gas" in odd for odd in days[day(one)].oddities) for one in since)
    assert sum(bool(one.begins) for one in days.values()) == 1


def test_the_mark_of_a_day_is_the_truth_held_against_the_band() -> None:
    """Levels that lie within 5 % of an end of the band may be marked either way."""
    lit = truth("weaker")[:, int(CARD.lights_on_h * 60.0) : int((CARD.lights_on_h + BIN_H) * 60.0)].mean(
        axis=1
    )
    days = {one.day: one for one in page_of("weaker").days}
    seen = set()
    for number, level in enumerate(lit):
        marked = days[day(number)]
        assert marked.co2_lights_on_mg_l == pytest.approx(level, rel=0.06)
        for low, high, mark in ((0, 9.5, "below"), (10.5, 15.2, "inside"), (16.8, 99, "above")):
            if low < level < high:
                seen.add(mark)
                assert marked.level is LevelMark(mark)
    assert seen


def test_a_late_start_shows_on_the_day_and_when_the_gas_opened() -> None:
    view = day_page_of(watched("late"), TANK, [], day(SINCE + 2))
    assert view is not None
    odd = next(text for text in view.watched.oddities if text.startswith("gas opened"))
    assert odd.endswith("late")
    hour, minute = map(int, view.gas_at.split(":"))
    assert hour + minute / 60.0 == pytest.approx(CARD.gas_on_h + 1.0, abs=0.25)
    assert (view.previous, view.following) == (day(SINCE + 1), day(SINCE + 3))
    assert view.overlay.before is not None
    assert view.overlay.before.days == 10


def test_a_day_without_readings_has_no_page() -> None:
    assert day_page_of(watched("late"), TANK, [], date(2027, 1, 1)) is None


# --- before and after ---


def test_both_courses_are_the_true_ones() -> None:
    """Half-hour means of the true levels of the same days, within what a meter's 0.01 pH and noise leave."""
    overlay = finding_of("weaker").overlay
    assert overlay.before is not None
    levels = truth("weaker")
    for course, days in (
        (overlay.before, range(SINCE - 10, SINCE)),
        (overlay.after, range(SINCE, SINCE + 8)),
    ):
        means = np.median(levels[list(days)].reshape(len(days), 48, 30).mean(axis=2), axis=0)
        for hour, middle in zip(overlay.hours, course.median, strict=True):
            if hour < 24.0:  # the night after belongs to the next calendar day
                assert middle == pytest.approx(means[int(hour / BIN_H)], rel=0.08, abs=0.15)
    assert overlay.after.high_90[20] is not None
    assert overlay.before.low_90[20] is not None
    assert overlay.after.high_90[20] < overlay.before.low_90[20]


def test_a_shift_of_ph_is_shown_as_ph_without_a_band() -> None:
    overlay = finding_of("step").overlay
    assert (overlay.quantity, overlay.band) == ("pH", None)
    assert overlay.before is not None
    moved = [
        after - before
        for after, before in zip(overlay.after.median, overlay.before.median, strict=True)
        if after is not None and before is not None
    ]
    assert np.median(moved) == pytest.approx(-0.2, abs=0.03)


def test_gas_at_night_shows_the_nights_it_flowed_and_warns_first() -> None:
    view = finding_of("open")
    assert view.told.finding.kind == "stuck_open"
    assert "aerate" in view.caution
    assert view.overlay.before is not None
    night = int(14.0 / BIN_H)  # 14 h after the gas day's begin: gas has been off since 18:00
    before, after = view.overlay.before.median[night], view.overlay.after.median[night]
    assert before is not None
    assert after is not None
    assert after > 1.5 * before


def test_figures_before_and_after_hold_the_truth() -> None:
    figures = {one.title: one for one in finding_of("weaker").figures}
    gas = figures["Gas that dissolves (mg/L an hour)"]
    ranges = [[float(part) for part in re.findall(r"[\d.]+", text)] for text in (gas.before, gas.after)]
    assert ranges[0][0] == pytest.approx(8.0, rel=0.1)
    assert ranges[1][0] == pytest.approx(6.0, rel=0.1)
    assert all(low <= middle <= high for middle, low, high in ranges)


def test_every_kind_has_words_and_something_to_do() -> None:
    assert {kind.partition("_")[0] for kind in SAID} == set(NEXT)
    assert set(CAUTIONS) <= set(SAID)
    assert all(next_steps(kind) for kind in SAID)


def test_a_change_is_found_again_when_more_readings_move_its_day() -> None:
    findings = page_of("weaker").findings
    told = findings[0]
    assert found_again(findings, told.slug) == told
    assert found_again(findings, "injection_weaker-2026-05-22") == told
    assert found_again(findings, "gas_empty-2026-05-22") is None
    assert found_again(findings, "injection_weaker-soon") is None


# --- the band ---


def test_a_drop_of_one_from_a_cup_at_rest_is_ten_times_the_air() -> None:
    """At one alkalinity CO2 goes as 1/H+, so a drop of 1 is tenfold; carbonate at the cup's pH blurs it."""
    rest = float(degassed_ph(CARD.alkalinity_meq_l, CARD.temp_c, 600.0))
    cup = BaselineCup(
        at=datetime(2026, 5, 4, 8, tzinfo=UTC), ph=rest, method=BaselineMethod.AERATED, hours=1.0
    )
    tank = Tank(
        name="Brook", volume_l=90.0, depth_cm=40.0, surface_cm2=2200.0,
        photoperiod=TANK.photoperiod, room_co2_ppm=600.0,
    )  # fmt: skip
    air = float(air_co2_mg_l(CARD.temp_c, 600.0))
    counted, guessed = band_limits(tank, [cup], CARD), band_limits(tank, [], CARD)
    assert counted.low_mg_l == pytest.approx(10.0 * air, rel=0.04)
    assert counted.high_mg_l / counted.low_mg_l == pytest.approx(10.0**0.2, rel=0.01)
    assert guessed.low_mg_l == pytest.approx(10.0 * air, rel=1e-6)
    assert "4 May" in counted.rests_on
    assert "no cup" in guessed.rests_on
    assert band_limits(TANK, [cup], CARD).low_mg_l == 10.0


# --- pictures ---


def test_the_figures_are_drawn_with_a_dot_for_every_known_value() -> None:
    view = page_of("weaker")
    drawn = ET.fromstring(figures_svg(view, ON_PAPER))  # noqa: S314 - our own drawing
    marks = [one for one in drawn.iter() if one.tag.endswith("}g") and "mark-symbol" in one.get("class", "")]
    dots = sum(len([path for path in group if path.get("opacity") != "0"]) for group in marks)
    assert dots == sum(value is not None for one in view.series for value in one.values)
    text = "".join(drawn.itertext())
    for one in view.series:
        assert one.title in text


def test_the_overlay_is_drawn_with_both_lines_and_its_hours() -> None:
    svg = overlay_svg(finding_of("weaker").overlay, ON_PAPER)
    drawn = ET.fromstring(svg)  # noqa: S314 - our own drawing
    text = " ".join(drawn.itertext())
    assert "gas timer" in text
    assert "band 10 to 16" in text
    assert svg.count('aria-roledescription="line mark container"') == 2
    assert "http://www.w3.org" in svg
    assert not re.search(r'(?:href|src)="http', svg)
