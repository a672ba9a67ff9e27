"""The spread survey from records to findings: grouping, places, one moment; command, file and chart."""

import struct
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from advice_world import at, brook, morning
from cli_keeper import DESCRIBE, Keeper

from dawnlevel.desk.evenness.spread import spread_of
from dawnlevel.desk.evenness.spread_views import SpreadView
from dawnlevel.desk.evenness.surveys import position_cm, surveys, water_box
from dawnlevel.errors import BadInputError, NotEnoughRecordsError, OutOfRangeError
from dawnlevel.report.chart import write_chart
from dawnlevel.report.spread_chart import spread_chart
from dawnlevel.tank import PhReading, Record, SurveyReading

PLACES = (
    "front left surface", "front right surface", "back left substrate", "back right substrate",
    "front left substrate", "front right substrate", "back left surface", "back right surface", "middle",
)  # fmt: skip


def survey(
    raised: float = 0.0,
    *,
    seed: int = 1,
    day: int = 6,
    start: tuple[int, int] = (11, 32),
    places: tuple[str, ...] = PLACES,
) -> list[Record]:
    """Read two minutes apart; pH is `raised` in the lower right corner at the back."""
    noise = np.random.default_rng(seed).normal(0.0, 0.015, len(places))
    return [
        SurveyReading(
            at=at(*start, day=day) + timedelta(minutes=2 * number),
            ph=round(6.9 + raised * (place == "back right substrate") + float(noise[number]), 2),
            place=place,
        )
        for number, place in enumerate(places)
    ]


@pytest.fixture(scope="module")
def dead() -> SpreadView:
    return spread_of(brook(), [*morning(), *survey(0.35)])


def test_a_corner_far_above_the_rest_is_named_dead(dead: SpreadView) -> None:
    (zone,) = dead.dead_zones
    assert zone.place == "back right substrate"
    assert zone.shortfall_percent.low_90 > 20.0
    # 10^-0.35 of the others' level is 55 % below it, and somewhat less below a mean of which it is a part
    assert zone.shortfall_percent.low_90 < 48.0 < zone.shortfall_percent.high_90
    assert dead.worst_corner == "back right substrate"
    assert "Dead beyond meter noise: back right substrate" in dead.verdict
    lowest = min(dead.readings, key=lambda one: one.co2_mg_l.median)
    assert lowest.place == "back right substrate"
    others = np.median([one.co2_mg_l.median for one in dead.readings])
    assert lowest.co2_mg_l.median / others == pytest.approx(10**-0.35, rel=0.12)


def test_an_even_tank_has_none() -> None:
    view = spread_of(brook(), [*morning(), *survey()])
    assert view.dead_zones == ()
    assert "No place is shown to lie more than 20 % below the mean." in view.verdict
    assert view.variation_percent.low_90 < 4.0


def test_only_the_last_survey_counts_and_the_tank_estimate_ignores_it() -> None:
    found = surveys([*survey(0.4, day=5), PhReading(at=at(9), ph=7.0), *survey()])
    assert [len(one) for one in found] == [9, 9]
    assert found[1][0].at == at(11, 32)
    with_old = spread_of(brook(), [*morning(), *survey()])
    assert with_old.began == at(11, 32)


def test_coordinates_lie_where_they_say_and_never_outside() -> None:
    box = water_box(brook())
    assert box.length_cm * box.width_cm == pytest.approx(brook().surface_cm2)
    inside = SurveyReading(at=at(11), ph=6.9, x_cm=10.0, y_cm=5.0, z_cm=3.0)
    assert position_cm(inside, box) == pytest.approx([10.0, 5.0, 3.0])
    named = SurveyReading(at=at(11), ph=6.9, place="left")
    assert position_cm(named, box) == pytest.approx(
        [0.1 * box.length_cm, box.width_cm / 2, box.height_cm / 2]
    )
    outside = SurveyReading(at=at(11), ph=6.9, x_cm=999.0, y_cm=5.0, z_cm=3.0)
    with pytest.raises(OutOfRangeError, match="length"):
        position_cm(outside, box)


@pytest.mark.parametrize(
    "place",
    [{}, {"x_cm": 1.0}, {"place": "left", "x_cm": 1.0, "y_cm": 1.0, "z_cm": 1.0}, {"place": "attic"}],
)
def test_a_place_is_given_once_and_whole(place: dict[str, object]) -> None:
    with pytest.raises(BadInputError):
        SurveyReading(at=at(11), ph=6.9, **place)  # type: ignore[arg-type]


def test_what_is_missing_is_said() -> None:
    with pytest.raises(NotEnoughRecordsError, match="no survey yet"):
        spread_of(brook(), morning())
    with pytest.raises(NotEnoughRecordsError, match="3 of the 4"):
        spread_of(brook(), [*morning(), *survey(places=PLACES[:3])])


def test_the_chart_is_drawn_as_png_and_svg(dead: SpreadView, tmp_path: Path) -> None:
    spec = spread_chart(dead)
    for ending in ("png", "svg"):
        write_chart(spec, tmp_path / f"spread.{ending}")
    width, height = struct.unpack(">II", (tmp_path / "spread.png").read_bytes()[16:24])
    assert width > 1000
    assert height > 800
    drawn = (tmp_path / "spread.svg").read_text(encoding="utf-8")
    assert f"{dead.front.percent[0][0]:.0f} ± " in drawn
    assert "From above: back above, front below" in drawn


# --- the commands ---


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys)
    for line in (
        DESCRIBE,
        "kh 4 --at 09:00",
        "timer 10:00-19:00 --at 09:01",
        "rate 2/s --at 09:02",
        "ph 7.1 --at 12:00",
    ):
        assert found(line).code == 0
    return found


def test_a_walk_round_the_tank_by_commands(keeper: Keeper, tmp_path: Path) -> None:
    for number, place in enumerate(PLACES):
        ph = 7.35 if place == "back right substrate" else 7.05
        assert keeper(f"survey {ph} --at 12:{5 + 2 * number:02d} --place", place).code == 0
    told = keeper("spread -o", str(tmp_path / "map.svg"))
    assert told.code == 0
    assert "Dead beyond meter noise: back right substrate" in told.out.replace("\n", " ")
    assert "Where to read next" in told.out
    assert (tmp_path / "map.svg").stat().st_size > 5000
    data = keeper("spread --json").data
    assert [one["place"] for one in data["readings"]] == list(PLACES)
    assert len(data["front"]["percent"]) == 4


def test_readings_in_cm_corrected_and_out_and_in(keeper: Keeper, tmp_path: Path) -> None:
    said = keeper("survey 6.95 --x 12cm --y 4in --z 5").out
    assert "pH 6.95 at 12 cm from the left, 10.16 from the front, 5 up" in said
    number = keeper("log --json").data["records"][-1]["id"]
    assert keeper(f"correct {number} 6.96 --z 6").code == 0
    assert keeper("export", str(tmp_path / "out.csv")).code == 0
    assert "x_cm=12.0;y_cm=10.16;z_cm=6.0" in (tmp_path / "out.csv").read_text(encoding="utf-8")
    assert "recorded already" in keeper("import", str(tmp_path / "out.csv")).out


def test_a_table_of_places_is_taken_whole_or_not_at_all(keeper: Keeper, tmp_path: Path) -> None:
    file = tmp_path / "survey.csv"
    rows = [
        f"2026-05-06T12:{5 + number:02d}:00+02:00,{place},7.0{number}" for number, place in enumerate(PLACES)
    ]
    file.write_text(
        "\n".join(["time,place,ph", *rows, "2026-05-06T12:20:00+02:00,attic,7.0"]), encoding="utf-8"
    )
    told = keeper("import --tank Brook", str(file))
    assert told.code != 0
    assert "'attic' is no place in a tank." in told.err
    file.write_text("\n".join(["time,place,ph", *rows]), encoding="utf-8")
    assert "Imported: 9 to Brook." in keeper("import --tank Brook", str(file)).out
    cm = "time,x_cm,y_cm,z_cm,ph\n2026-05-06T12:25:00+02:00,10,5,3,7.01\n"
    file.write_text(cm, encoding="utf-8")
    assert "Imported: 1 to Brook." in keeper("import --tank Brook", str(file)).out
    assert keeper("spread").code == 0


# --- two surveys ---


def test_a_corner_that_nobody_read_is_named_and_nothing_is_compared_without_it() -> None:
    """The corner that was dead before is left out of the second survey: its map cannot know."""
    rest = tuple(place for place in PLACES if not place.startswith("back right"))
    records = in_order([*morning(), *survey(0.35, start=(10, 32)), *survey(seed=2, places=rest)])
    view = spread_of(brook(), records)
    assert "nobody read near back right substrate or back right surface:" in view.verdict
    assert "across the places read" in view.verdict
    assert view.compared is not None
    assert view.compared.missed == "back right substrate"
    assert "cannot be told: the lowest place, back right substrate" in view.compared.verdict
    turned = in_order([*morning(), *survey(start=(10, 32), places=rest), *survey(0.35, seed=2)])
    told = spread_of(brook(), turned).compared
    assert told is not None
    assert told.missed == "back right substrate"
    middles = ("left", "right", "front", "back", "middle")
    flat = spread_of(brook(), in_order([*morning(), *survey(places=middles)]))
    assert "nobody read in any corner" in flat.verdict


def in_order(records: list[Record]) -> list[Record]:
    return sorted(records, key=lambda one: one.at)


def test_a_second_survey_tells_whether_it_became_more_even() -> None:
    better = spread_of(brook(), in_order([*morning(), *survey(0.35, start=(10, 32)), *survey(0.02, seed=2)]))
    assert better.compared is not None
    assert better.compared.chance_more_even > 0.95
    assert better.compared.verdict.startswith(
        "More even than in the survey of Wed 6 May, 10:48, beyond meter"
    )
    assert better.compared.change_percent.high_90 < 0.0
    same = spread_of(brook(), in_order([*morning(), *survey(0.0, start=(10, 32)), *survey(0.0, seed=2)]))
    assert same.compared is not None
    assert "cannot be told" in same.compared.verdict


def test_a_corner_that_lags_in_the_ramp_is_told_by_its_exchange_time() -> None:
    """Read twice an hour apart; the corner makes up part of its distance: its water is exchanged slowly."""
    view = spread_of(brook(), in_order([*morning(), *survey(0.35, start=(10, 32)), *survey(0.2, seed=2)]))
    (corner,) = [one for one in view.exchange if one.place == "back right substrate"]
    assert corner.exchange_h.high_90 > corner.exchange_h.median > corner.exchange_h.low_90
    others = [one for one in view.exchange if one is not corner]
    assert all(one.exchange_h.median < corner.exchange_h.median for one in others)


def test_surveys_of_different_days_tell_no_exchange_time() -> None:
    view = spread_of(brook(), in_order([*survey(0.0, start=(21, 0), day=5), *morning(), *survey(seed=2)]))
    assert view.exchange == ()
