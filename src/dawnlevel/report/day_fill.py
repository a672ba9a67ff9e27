"""What a picture puts into its chart's template: rows, scales and words. No drawing library is loaded."""

import json
from datetime import datetime

from dawnlevel.desk.views import PictureView
from dawnlevel.report.chart_rows import rows_of, top_mg_l, wall
from dawnlevel.report.look import Look, Spec

START, END, TOP = "@start", "@end", 987654.25
"""Where a template's scales take the picture's own ends."""


def filled(
    template: str, picture: PictureView, title: str, subtitle: str, lights_on: datetime, look: Look
) -> Spec:
    """The whole chart: `template`, that of the picture's shape, with its rows, scales and words."""
    ends = {START: wall(picture.curve.at[0]), END: wall(picture.curve.at[-1])}
    text = template.replace(repr(TOP), repr(top_mg_l(picture)))
    for place, moment in ends.items():
        text = text.replace(place, moment)
    spec: Spec = json.loads(text)
    spec["datasets"] = rows_of(picture, lights_on, look)
    spec["description"] = _said(picture, title)
    if look.is_titled:
        spec["title"] = {"text": title, "subtitle": _caption(subtitle)}
    return spec


def _said(picture: PictureView, title: str) -> str:
    """The chart in one sentence, for those who do not see it."""
    ahead = [
        level for at, level in zip(picture.curve.at, picture.curve.median, strict=True) if at >= picture.now
    ]
    low, high = picture.band_low_mg_l, picture.band_high_mg_l
    return (
        f"{title}: CO2 is about {ahead[0]:.0f} mg/L now, between {min(ahead):.0f} and {max(ahead):.0f} in "
        f"the hours ahead; the target is {low:.0f} to {high:.0f}, the ceiling {picture.ceiling_mg_l:g}."
    )


def _caption(subtitle: str) -> list[str]:
    return [
        f"Dissolved CO2 in mg/L, {subtitle}.",
        "Line: median. Dark band: even odds. Light band: 9 in 10. Points: pH readings as CO2, with 9 in 10.",
    ]
