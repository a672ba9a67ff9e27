"""The chart: what its specification holds, that it can be read, and the files it makes."""

import dataclasses
import json
import struct
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from advice_world import at, flat_picture

from dawnlevel.errors import BadInputError
from dawnlevel.report import chart, look
from dawnlevel.report.chart import write_chart
from dawnlevel.report.look import HEIGHT, WIDTH

SPEC = chart._spec(flat_picture(20.0), "Brook, Wednesday 6 May 2026", "as it stands, and ahead", at(13))


def layers(spec: dict[str, Any]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = spec["vconcat"][0]["layer"]
    return found


def rows(spec: dict[str, Any], layer: dict[str, Any]) -> list[dict[str, Any]]:
    data = layer["data"]
    found: list[dict[str, Any]] = spec["datasets"][data["name"]] if "name" in data else data["values"]
    return found


def marks(spec: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [layer for layer in layers(spec) if layer["mark"]["type"] == kind]


def words(spec: dict[str, Any]) -> list[str]:
    return [row["text"] for layer in marks(spec, "text") for row in rows(spec, layer)]


def words_of(spec: dict[str, Any], layer: dict[str, Any]) -> str:
    return str(rows(spec, layer)[0]["text"])


def test_the_curve_and_its_bands_are_the_pictures() -> None:
    picture = flat_picture(20.0)
    (line,) = marks(SPEC, "line")
    assert [row["level"] for row in rows(SPEC, line)] == list(picture.curve.median)
    outer, inner = marks(SPEC, "area")
    assert [row["high"] for row in rows(SPEC, outer)] == list(picture.curve.high_90)
    assert [row["level"] for row in rows(SPEC, inner)] == list(picture.curve.low_50)
    # Wall-clock hours are shown as they are: the tank's noon is noon on the axis.
    first = datetime.fromisoformat(rows(SPEC, line)[0]["at"])
    assert (first.hour, first.minute, first.utcoffset()) == (6, 0, timedelta(0))
    assert SPEC["vconcat"][0]["layer"][0]["encoding"]["x"]["scale"]["type"] == "utc"


def test_readings_carry_their_intervals() -> None:
    (points,) = marks(SPEC, "point")
    assert rows(SPEC, points) == [{"at": "2026-05-06T09:00:00Z", "level": 30.0, "low": 26.0, "high": 34.0}]
    bars = [layer for layer in marks(SPEC, "rule") if layer["data"].get("name") == "readings"]
    assert len(bars) == 1


def test_everything_is_named_in_words() -> None:
    assert set(words(SPEC)) == {"target 15 to 25", "ceiling 30", "now 12:00", "lights on 13:00"}
    strips = SPEC["vconcat"][1]
    assert [row["what"] for row in rows(SPEC, strips)] == ["gas open", "lights on"]
    title = SPEC["title"]
    assert title["text"] == "Brook, Wednesday 6 May 2026"
    told = " ".join(title["subtitle"])
    for word in ("median", "even odds", "9 in 10", "pH readings"):
        assert word in told


def test_it_is_described_for_those_who_do_not_see_it() -> None:
    assert SPEC["description"] == (
        "Brook, Wednesday 6 May 2026: CO2 is about 20 mg/L now, between 20 and 20 in the hours ahead; "
        "the target is 15 to 25, the ceiling 30."
    )


def test_a_ceiling_far_above_is_told_and_squashes_nothing() -> None:
    spec = chart._spec(flat_picture(5.0, ceiling=60.0), "Brook", "ahead", at(13))
    assert "the ceiling, 60 mg/L, lies above this picture" in words(spec)
    top = layers(spec)[0]["encoding"]["y"]["scale"]["domain"][1]
    assert 25.0 < top < 35.0


@pytest.mark.parametrize(
    ("now_h", "lights_h"), [(7, 8), (8, 7), (7, 17), (17, 7), (12, 17), (17, 16), (16, 17)]
)
def test_the_moments_words_stand_above_the_curves_and_clear_of_each_other(now_h: int, lights_h: int) -> None:
    picture = dataclasses.replace(flat_picture(20.0), now=at(now_h))
    spec = chart._spec(picture, "Brook", "ahead", at(lights_h))
    named = {rows(spec, layer)[0]["text"][:3]: layer for layer in marks(spec, "text")}
    rules = [layer for layer in marks(spec, "rule") if "value" in layer["encoding"].get("y2", {})]
    tops = {rows(spec, rule)[0]["text"][:3]: rule["encoding"]["y"]["value"] for rule in rules}
    width, letters = 480, 13  # a narrow picture: forty pixels an hour, seven a letter
    boxes = {}
    for name, hour in (("now", now_h), ("lig", lights_h)):
        y = named[name]["encoding"]["y"]["value"]
        assert y + 0.5 * letters <= 0  # above the plot, where no curve is
        wide = 7 * len(rows(spec, named[name])[0]["text"])
        right = (hour - 6) * 40 + (0 if named[name]["mark"]["align"] == "right" else wide)
        assert right - wide >= 0
        assert right <= width
        boxes[name] = (right - wide, right, y)
    for name, hour in (("now", lights_h), ("lig", now_h)):  # the words against the other's rule
        left, right, y = boxes[name]
        other = "lig" if name == "now" else "now"
        assert not (left < (hour - 6) * 40 < right) or tops[other] > y
    assert abs(boxes["now"][2] - boxes["lig"][2]) > letters


def test_the_targets_words_stand_beside_its_band_where_the_curve_leaves_room() -> None:
    flat = flat_picture(20.0)
    rising = [10.0 + 20.0 * step / 48 for step in range(49)]  # through the band, above it late in the day
    curve = dataclasses.replace(
        flat.curve,
        median=tuple(rising),
        low_50=tuple(one - 1 for one in rising),
        high_50=tuple(one + 1 for one in rising),
        low_90=tuple(one - 2 for one in rising),
        high_90=tuple(one + 2 for one in rising),
    )
    picture = dataclasses.replace(flat, curve=curve, readings=(), ceiling_mg_l=40.0)
    spec = chart._spec(picture, "Brook", "ahead", at(13))
    (place,) = rows(spec, next(layer for layer in marks(spec, "text") if "target" in words_of(spec, layer)))
    ends = datetime.fromisoformat(place["at"]).replace(tzinfo=None)
    begins = ends - timedelta(hours=12 * 15 * 0.42 * 15 / WIDTH)  # 15 letters of 15 px, 0.42 wide as drawn
    wall = [one.replace(tzinfo=None) for one in curve.at]
    half = 0.6 * 15 * 48.0 / HEIGHT  # the axis ends below 48 mg/L
    under = [level for one, level in zip(wall, rising, strict=True) if begins <= one <= ends]
    assert under
    assert all(abs(level - place["level"]) > half + 1.0 for level in under)  # clear of the dark band
    assert not begins < at(12).replace(tzinfo=None) < ends
    assert not begins < at(13).replace(tzinfo=None) < ends
    assert place["level"] - half > 25.0 or place["level"] + half < 15.0  # beside the band, not on it


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2, https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    """Contrast ratio, WCAG 2.2."""
    light, dark = sorted((luminance(first), luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_letters_and_lines_have_contrast_and_differ_in_lightness() -> None:
    for letters in (look.INK, look.QUIET, look.CEILING):
        assert contrast(letters, look.PAPER) >= 4.5  # WCAG 1.4.3
    assert contrast(look.ACCENT, look.PAPER) >= 3.0  # WCAG 1.4.11
    assert contrast(look.ACCENT, look.BAND) >= 3.0
    assert luminance(look.PAPER) > 0.9


def test_a_png_is_twice_its_size_in_points_and_an_svg_holds_its_words(tmp_path: Path) -> None:
    write_chart(SPEC, tmp_path / "day.png")
    content = (tmp_path / "day.png").read_bytes()
    assert content.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = struct.unpack(">II", content[16:24])
    assert width > 2 * WIDTH
    assert height > 2 * HEIGHT
    write_chart(SPEC, tmp_path / "day.svg")
    text = " ".join(ET.parse(tmp_path / "day.svg").getroot().itertext())  # noqa: S314 - our own file
    for word in ("target 15 to 25", "ceiling 30", "now 12:00", "gas open", "CO2, mg/L", "06:00", "15:00"):
        assert word in text


def test_another_ending_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match=r"day\.gif"):
        write_chart(SPEC, tmp_path / "day.gif")


def test_the_specification_is_plain_json() -> None:
    assert json.loads(json.dumps(SPEC, allow_nan=False)) == SPEC
