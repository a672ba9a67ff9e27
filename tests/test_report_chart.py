"""The chart: what its specification holds, that it can be read, and the files it makes."""

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
    bars = [layer for layer in marks(SPEC, "rule") if "y2" in layer["encoding"]]
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


def test_now_and_lights_on_do_not_write_over_each_other() -> None:
    now, lights_on = (
        layer for layer in marks(SPEC, "text") if rows(SPEC, layer)[0]["text"][:3] in {"now", "lig"}
    )
    assert now["mark"]["align"] == "right"
    assert lights_on["mark"]["align"] == "left"
    assert now["encoding"]["y"]["value"] != lights_on["encoding"]["y"]["value"]


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
