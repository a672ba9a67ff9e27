"""The strip under the level: where it lies between nothing and the ceiling, with interval and band."""

from dataclasses import dataclass

from dawnlevel.desk.views import TodayView
from dawnlevel.estimate.posterior import Interval

WIDTH = 1000.0  # units of the drawing's own; the page stretches it


@dataclass(frozen=True, slots=True)
class Scale:
    """Places along the strip, 0 to 1000; `top_mg_l` is what its right end stands for."""

    top_mg_l: float
    now: float
    low_50: float
    high_50: float
    low_90: float
    high_90: float
    band_low: float
    band_high: float
    ceiling: float


def scale_of(view: TodayView) -> Scale:
    """The strip for a view."""
    level: Interval = view.now.co2_mg_l
    top = max(1.12 * view.picture.ceiling_mg_l, 1.05 * level.high_90, 1.05 * view.picture.band_high_mg_l)

    def place(level_mg_l: float) -> float:
        return round(WIDTH * min(max(level_mg_l / top, 0.0), 1.0), 1)

    return Scale(
        top_mg_l=top,
        now=place(level.median),
        low_50=place(level.low_50),
        high_50=place(level.high_50),
        low_90=place(level.low_90),
        high_90=place(level.high_90),
        band_low=place(view.picture.band_low_mg_l),
        band_high=place(view.picture.band_high_mg_l),
        ceiling=place(view.picture.ceiling_mg_l),
    )
