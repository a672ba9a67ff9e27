"""Where words stand clear of what is drawn: the target's words beside its band, away from curve and rules."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from dawnlevel.desk.views import PictureView
from dawnlevel.report.look import Look

_LETTER_WIDTH, _LINE_HEIGHT = 0.47, 1.35
"""Of the size of letters: the mean width of one, 0.42 measured in a chart drawn and a little more for other
fonts, and a line's height."""

_STEPS = 24
_BESIDE = 3.0
"""How far words stay from what they name [px]; own choice."""

_LINE, _DARK, _LIGHT = 8.0, 2.0, 1.0
"""What it costs to lie across a line, the dark and the light band; own choice."""


@dataclass(frozen=True, slots=True)
class _Box:
    """Words on the picture [h from its start, mg/L]."""

    left_h: float
    right_h: float
    low: float
    high: float

    def share(self, low: float, high: float) -> float:
        """The share of its height that lies between two levels."""
        return max(min(self.high, high) - max(self.low, low), 0.0) / (self.high - self.low)

    def spans(self, hour: float) -> bool:
        """Whether an upright at `hour` crosses it."""
        return self.left_h < hour < self.right_h


def target_place(
    picture: PictureView, lights_on: datetime, words: str, top_mg_l: float, look: Look
) -> tuple[datetime, float]:
    """The right end [moment] and the middle [mg/L] of the target's words where the least lies under them."""
    start, end = picture.curve.at[0], picture.curve.at[-1]
    hours, tall = (end - start) / timedelta(hours=1), top_mg_l / look.height
    wide = hours / look.width * (_LETTER_WIDTH * look.letters * len(words) + 2.0 * _BESIDE)
    box_high = tall * _LINE_HEIGHT * look.letters
    over, under = picture.band_high_mg_l + _BESIDE * tall, picture.band_low_mg_l - _BESIDE * tall - box_high
    boxes = [
        _Box(right - wide, right, low, low + box_high)
        for low in (over, under)
        for right in (hours - (hours - wide) * step / _STEPS for step in range(_STEPS + 1))
        if low >= 0.0 and low + box_high <= top_mg_l
    ]
    if not boxes:
        return end, min(picture.band_high_mg_l, top_mg_l - box_high)
    best = min(boxes, key=lambda box: _cost(box, picture, lights_on))
    return start + timedelta(hours=best.right_h), 0.5 * (best.low + best.high)


def _cost(box: _Box, picture: PictureView, lights_on: datetime) -> float:
    """How much lies under the words."""
    start, curve = picture.curve.at[0], picture.curve
    rules = [(moment - start) / timedelta(hours=1) for moment in (picture.now, lights_on)]
    cost = _LINE * sum(box.spans(hour) for hour in rules)
    cost += _LINE * (box.low < picture.ceiling_mg_l < box.high)
    for point in picture.readings:
        if box.spans((point.at - start) / timedelta(hours=1)):
            cost += _LINE * box.share(point.low_90, point.high_90)
    under = list(_under(box, picture))
    for place in under:
        crossed = _LINE * (box.low < curve.median[place] < box.high)
        dark = _DARK * box.share(curve.low_50[place], curve.high_50[place])
        light = _LIGHT * box.share(curve.low_90[place], curve.high_90[place])
        cost += (crossed + dark + light) / len(under)
    return cost


def _under(box: _Box, picture: PictureView) -> Iterator[int]:
    """The curve's points between the box's ends."""
    start = picture.curve.at[0]
    for place, moment in enumerate(picture.curve.at):
        if box.left_h <= (moment - start) / timedelta(hours=1) <= box.right_h:
            yield place
