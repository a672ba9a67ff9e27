"""`today`, `plan`, `explain` and `chart`: what they say, in letters and as JSON."""

import dataclasses
import json
import math
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any

import pytest
from advice_world import NOW, ZONE, at, brook, flat_picture, make_store, morning
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, FormatChecker

from dawnlevel.cli.app import run
from dawnlevel.cli.render_explain import explain_page
from dawnlevel.cli.render_json import schema_of, view_to_json
from dawnlevel.cli.render_page import Paper
from dawnlevel.cli.render_picture import ROWS, draw_picture
from dawnlevel.cli.render_plan import plan_page
from dawnlevel.cli.render_today import today_page
from dawnlevel.desk.advice.acceptance import to_minute
from dawnlevel.desk.advice.explain import explain_view
from dawnlevel.desk.advice.today import today_view
from dawnlevel.desk.advice.tomorrow import plan_view
from dawnlevel.desk.phrases import say_picture, time_left
from dawnlevel.desk.views import ExplainView, PlanView, TodayView
from dawnlevel.desk.wording import percent
from dawnlevel.store import open_store
from dawnlevel.tank import BaselineCup, FishSighting, FishState, RateSetting, TimerSetting

DOCS = Path(__file__).parent.parent / "docs"
WIDE, NARROW = Paper(80, True, False), Paper(60, False, False)


@pytest.fixture(autouse=True)
def noon(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DAWNLEVEL_NOW", NOW.isoformat())
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("DAWNLEVEL_TANK", raising=False)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> str:
    return make_store(tmp_path_factory.mktemp("kept") / "records.db")


@pytest.fixture(scope="module")
def views(place: str) -> tuple[TodayView, PlanView, ExplainView]:
    with open_store(place) as store:
        return tuple(make(store, "Brook", NOW) for make in (today_view, plan_view, explain_view))  # type: ignore[return-value]


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = run(arguments)
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def plain(text: str) -> str:
    """A page with its lines run together, so that wrapping does not matter."""
    return " ".join(text.split())


def refuse(constant: str) -> Any:
    raise AssertionError(constant)


# --- JSON ---


def documented(name: str) -> Draft202012Validator:
    """The schema of a view as docs/json.md shows it."""
    page = (DOCS / "json.md").read_text(encoding="utf-8")
    found = re.search(rf"## Schema of `{name}`\n\n```json\n(.*?)\n```", page, re.DOTALL)
    assert found is not None
    schema = json.loads(found[1])
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema, format_checker=FormatChecker())


@pytest.mark.parametrize("name", ["today", "plan", "explain"])
def test_json_keeps_to_the_schema_in_the_documentation(
    name: str, place: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = answer(capsys, name, "--json", "--store", place)
    assert code == 0
    validator = documented(name)
    data = json.loads(out, parse_constant=refuse)
    validator.validate(data)
    del data["data"]["tank"]
    assert not validator.is_valid(data)


def test_json_says_what_the_view_says(
    place: str, views: tuple[TodayView, PlanView, ExplainView], capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = answer(capsys, "today", "--json", "--store", place)
    data = json.loads(out)["data"]
    assert datetime.fromisoformat(data["lights_on"]) == at(13)
    assert data["lights_on"].endswith("Z")
    assert data["phase"] == "ramp"
    assert data["now"]["co2_mg_l"]["median"] == views[0].now.co2_mg_l.median
    assert [datetime.fromisoformat(moment) for moment in data["picture"]["curve"]["at"]] == list(
        views[0].picture.curve.at
    )


class Mood(StrEnum):
    CALM = "calm"


@dataclasses.dataclass(frozen=True)
class Inner:
    amount: float | None
    count: int


@dataclasses.dataclass(frozen=True)
class Outer:
    mood: Mood
    at: datetime
    inner: tuple[Inner, ...]


@given(
    st.builds(
        Outer,
        st.just(Mood.CALM),
        st.datetimes(timezones=st.just(UTC)),
        st.lists(st.builds(Inner, st.none() | st.floats(), st.integers())).map(tuple),
    )
)
def test_any_view_becomes_json_without_nan_and_keeps_to_its_schema(view: Outer) -> None:
    text = json.dumps(view_to_json(view), allow_nan=False)
    Draft202012Validator(schema_of(Outer)).validate(json.loads(text))
    back = json.loads(text)
    assert datetime.fromisoformat(back["at"]) == view.at
    for item, told in zip(view.inner, back["inner"], strict=True):
        is_number = item.amount is not None and math.isfinite(item.amount)
        assert told["amount"] == (item.amount if is_number else None)


def test_time_left_and_the_picture_count_real_hours_when_the_clocks_change() -> None:
    # Summer time began in Madrid on 29 March 2026 at 02:00: from 23:00 to 13:00 only 13 hours pass.
    evening = datetime(2026, 3, 28, 23, tzinfo=ZONE)
    noon = datetime(2026, 3, 29, 13, tzinfo=ZONE)
    assert time_left(evening, noon) == timedelta(hours=13)
    hours = tuple((evening.astimezone(UTC) + timedelta(hours=h)).astimezone(ZONE) for h in range(14))
    flat = flat_picture(20.0)
    rising = tuple(float(hour) for hour in range(14))
    curve = dataclasses.replace(flat.curve, at=hours, median=rising, low_90=rising, high_90=rising)
    picture = dataclasses.replace(flat, now=evening, curve=curve, readings=(), gas=(), light=())
    assert "13 (13 to 13) at lights-on, 13:00" in say_picture(picture, noon)
    shown = draw_picture(picture, WIDE).plain
    assert shown.index("00:00") < shown.index("04:00") < shown.index("12:00")
    assert "02:00" not in shown


def test_what_no_view_holds_is_refused() -> None:
    with pytest.raises(TypeError):
        view_to_json(object())


# --- pages ---


def test_pages_fit_their_paper_and_plain_terminals(views: tuple[TodayView, PlanView, ExplainView]) -> None:
    for paper in (WIDE, NARROW, Paper(80, False, False), Paper(60, True, False)):
        for text in (
            today_page(views[0], paper),
            plan_page(views[1], paper),
            explain_page(views[2], paper),
        ):
            assert max(map(len, text.splitlines())) <= paper.width
            assert paper.is_unicode or text.isascii()
            assert "\x1b" not in text


def test_a_name_is_shown_as_it_is(views: tuple[TodayView, PlanView, ExplainView]) -> None:
    named = dataclasses.replace(views[0], tank="Brook [left] :fish:", notes=("[bold]",))
    text = today_page(named, WIDE)
    assert text.startswith("Brook [left] :fish:, ")
    assert "- [bold]" in text


def test_a_narrow_terminal_is_asked_for_by_its_columns(
    place: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    for columns, widest in (("60", 60), ("200", 80)):
        monkeypatch.setenv("COLUMNS", columns)
        _, out, _ = answer(capsys, "today", "--store", place)
        assert widest - 15 < max(map(len, out.splitlines())) <= widest


def test_today_says_level_countdown_action_and_reading(
    views: tuple[TodayView, PlanView, ExplainView], place: str, capsys: pytest.CaptureFixture[str]
) -> None:
    view = views[0]
    _, out, _ = answer(capsys, "today", "--store", place)
    text = plain(out)
    level = view.now.co2_mg_l
    assert f"CO2 now {level.median:.1f} mg/L" in text
    assert f"9 in 10: {level.low_90:.1f} to {level.high_90:.1f}" in text
    assert "lights-on in 50 min, at 13:00" in text
    assert plain(view.action.text) in text
    assert plain(view.action.reason) in text
    assert view.next_reading is not None
    assert f"read next {to_minute(view.next_reading.at):%H:%M}" in text
    assert percent(view.action.chance_if_done or 0.0) in text
    assert out.index("CO2 now") < out.index("Next") < out.index("The picture shows")


def test_fish_in_distress_turn_today_into_what_to_do_now(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = make_store(tmp_path / "r.db", FishSighting(at=NOW, state=FishState.DISTRESS))
    code, out, _ = answer(capsys, "today", "--store", place)
    assert code == 0
    lines = out.splitlines()
    assert lines[0].endswith("FISH IN DISTRESS")
    assert out.index("Gas off now. Aerate hard.") < out.index("CO2 now")
    steps = [line for line in lines if re.match(r"\d\. ", line)]
    assert [step[0] for step in steps] == [str(place) for place in range(1, len(steps) + 1)]
    assert len(steps) >= 4
    assert "veterinarian" in plain(out)
    assert "read next" not in out
    code, out, err = answer(capsys, "plan", "--store", place)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert "dawnlevel fish calm" in err


def test_a_drop_without_a_baseline_names_the_record_that_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    records = [one for one in morning() if not isinstance(one, BaselineCup)]
    place = make_store(tmp_path / "r.db", records=records)
    for command in ("today", "plan", "explain"):
        code, out, err = answer(capsys, command, "--store", place)
        assert (code, out, err.count("\n")) == (3, "", 1)
        assert "dawnlevel cup PH --method aerated --hours 1" in err
    code, out, _ = answer(capsys, "today", "--json", "--store", place)
    assert code == 3
    assert json.loads(out)["error"]["slug"] == "not-enough-records"


def test_today_as_it_stood_then(place: str, capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = answer(capsys, "today", "--store", place, "--at", "11:00")
    assert "6 May 2026, 11:00" in out
    assert "in 2 h, at 13:00" in plain(out)
    code, _, err = answer(capsys, "today", "--store", place, "--at", "noonish")
    assert (code, err.count("\n")) == (2, 1)


# --- plan ---


def test_a_plan_is_recorded_only_when_it_is_accepted(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    place = make_store(tmp_path / "r.db")
    with open_store(place) as store:
        before = store.records("Brook")
        view = plan_view(store, "Brook", NOW)
    code, out, _ = answer(capsys, "plan", "--store", place)
    assert code == 0
    assert f"{to_minute(view.windows[0].opens):%H:%M}" in out
    with open_store(place) as store:
        assert store.records("Brook") == before
    code, out, _ = answer(capsys, "plan", "--accept", "--store", place)
    assert code == 0
    assert out.index("gas timer") < out.index("Accepted")
    with open_store(place) as store:
        new = [found for found in store.records("Brook") if found not in before]
    timers = [found.record for found in new if isinstance(found.record, TimerSetting)]
    rates = [found.record for found in new if isinstance(found.record, RateSetting)]
    shown = [
        tuple(moment.hour + moment.minute / 60 for moment in map(to_minute, (span.opens, span.closes)))
        for span in view.windows
    ]
    assert [timer.windows_h for timer in timers] == [tuple(shown)]
    assert [rate.bubbles_per_second for rate in rates] == ([view.rate_bps] if view.needle_changes else [])
    for found in new:
        assert str(found.id) in out.splitlines()[-1]


def test_an_accepted_plan_is_told_in_json_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = make_store(tmp_path / "r.db")
    _, out, _ = answer(capsys, "plan", "--accept", "--json", "--store", place)
    documented("plan").validate(json.loads(out))
    data = json.loads(out)["data"]
    with open_store(place) as store:
        stored = {found.id: found.record for found in store.records("Brook")}
    assert data["accepted"]
    assert all(isinstance(stored[number], RateSetting | TimerSetting) for number in data["accepted"])


# --- explain ---


def test_explain_shows_routes_odds_cures_and_sources(
    views: tuple[TodayView, PlanView, ExplainView],
) -> None:
    view = views[2]
    text = plain(explain_page(view, WIDE))
    for route in view.routes:
        assert route.label in text
        if route.co2_mg_l is not None:
            assert f"{route.co2_mg_l.low_90:.1f} to {route.co2_mg_l.high_90:.1f}" in text
    for name in (view.verdict, *(culprit.label for culprit in view.culprits)):
        assert plain(name) in text
    for unknown in view.unknowns:
        assert unknown.label in text
    for tangle in view.tangles:
        assert plain(tangle.cure) in text
    for source in view.sources:
        assert f"[{source.key}]" in text
    # The short rule is arithmetic: 3 x 4 dKH x 10^(7 - 7.21).
    assert f"gives {12 * 10 ** (7 - 7.21):.1f} mg/L" in text


def test_a_route_without_its_record_says_what_it_needs(
    views: tuple[TodayView, PlanView, ExplainView],
) -> None:
    first, *rest = views[2].routes
    lacking = dataclasses.replace(first, at=None, co2_mg_l=None, missing="a KH count")
    text = explain_page(dataclasses.replace(views[2], routes=(lacking, *rest)), WIDE)
    assert f"{first.label}: needs a KH count." in text


# --- the picture in letters ---


@given(st.floats(1.0, 60.0))
def test_the_picture_puts_a_level_on_its_row(level: float) -> None:
    picture = flat_picture(level)
    rows = draw_picture(picture, WIDE).plain.splitlines()[:ROWS]
    drawn = [place for place, line in enumerate(rows) if "█" in line]
    assert drawn[-1] - drawn[0] <= 1, "a flat level takes one row, or two at their common edge"
    top = _top_of(rows)
    low, high = (ROWS - 1 - drawn[-1]) / ROWS * top, (ROWS - drawn[0]) / ROWS * top
    assert low - 0.6 * top / ROWS <= level <= high + 0.6 * top / ROWS


def _top_of(rows: list[str]) -> float:
    """The upper end of the scale from two printed labels, which stand at the middle of their rows."""
    labels = [(place, float(line[:6])) for place, line in enumerate(rows) if line[:6].strip()]
    place, value = labels[0]
    return value / ((ROWS - 0.5 - place) / ROWS)


def test_the_picture_names_its_marks_and_strips_in_both_alphabets() -> None:
    for paper in (WIDE, Paper(80, False, False)):
        text = draw_picture(flat_picture(20.0), paper).plain
        lines = text.splitlines()
        for word in ("level", "9 in 10", "reading", "target", "ceiling 30", "now"):
            assert word in text
        gas, light = (next(line for line in lines if line.strip().startswith(w)) for w in ("gas", "light"))
        mark = "▄" if paper.is_unicode else "x"
        # 10 of 12 hours of gas, 5 of 12 of light, on 73 columns.
        assert gas.count(mark) == pytest.approx(73 * 10 / 12, abs=1.5)
        assert light.count(mark) == pytest.approx(73 * 5 / 12, abs=1.5)
        assert text.isascii() is not paper.is_unicode


def test_a_ceiling_far_above_is_told_in_words() -> None:
    assert "(ceiling 60 lies above)" in draw_picture(flat_picture(5.0, ceiling=60.0), WIDE).plain


def test_the_sentence_under_the_picture_says_its_figures() -> None:
    said = say_picture(flat_picture(20.0), at(13))
    assert said == (
        "The picture shows about 20 mg/L at 06:00, 20 now (12:00), 20 (16 to 24) at lights-on, 13:00 and 20 "
        "at 18:00; the target lies between 15 and 25, the ceiling at 30."
    )


# --- files, start-up ---


def test_chart_writes_what_its_name_says(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "new" / "day.svg"
    code, said, _ = answer(capsys, "chart", "--out", str(out), "--store", place)
    assert code == 0
    assert str(out) in said
    assert out.read_text(encoding="utf-8").startswith("<svg")
    code, _, err = answer(capsys, "chart", "--out", str(tmp_path / "day.gif"), "--store", place)
    assert (code, err.count("\n")) == (2, 1)
    (tmp_path / "file").write_text("")
    code, _, err = answer(capsys, "chart", "--out", str(tmp_path / "file" / "day.png"), "--store", place)
    assert code == 2
    assert "cannot be written" in err


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["--version"]])
def test_help_imports_neither_science_nor_tables_nor_storage(arguments: list[str]) -> None:
    heavy = ("numpy", "sqlalchemy", "rich", "scipy", "altair", "vl_convert", "alembic")
    code = (
        f"import sys; from dawnlevel.cli.app import run; run({arguments!r});"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_terminal_without_unicode_gets_plain_letters(place: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "dawnlevel.cli", "today", "--store", place],
        capture_output=True,
        check=True,
        env={"PYTHONIOENCODING": "ascii", "COLUMNS": "60", "DAWNLEVEL_NOW": NOW.isoformat()},
    )
    text = done.stdout.decode("ascii")
    assert max(map(len, text.splitlines())) <= 60
    assert brook().name in text


def test_a_picture_of_two_days_names_them() -> None:
    """At noon of one day the plan is for the next: two lights-on, so a bare hour would name either."""
    noon, lights_on = datetime(2026, 5, 6, 12, tzinfo=ZONE), datetime(2026, 5, 7, 13, tzinfo=ZONE)
    curve = dataclasses.replace(
        flat_picture(20.0).curve,
        at=(noon, datetime(2026, 5, 7, 21, tzinfo=ZONE)),
        **dict.fromkeys(("median", "low_50", "high_50", "low_90", "high_90"), (20.0, 20.0)),
    )
    picture = dataclasses.replace(flat_picture(20.0), now=noon, curve=curve)
    assert "at lights-on, Thu 13:00 and 20 at Thu 21:00" in say_picture(picture, lights_on)
