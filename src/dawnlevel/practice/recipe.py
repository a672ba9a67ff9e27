"""The trade's plain rule for dialling in, without any model; common practice, no source.

Start two hours before the lights at a moderate rate, read every 25 minutes, turn the rate up a fifth
while a straight line through the last two readings misses the target by lights-on and down when it
overshoots. Next day start half an hour earlier if the drop came late, later if it came early; nudge the
rate if the level at midday is off.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import log10

from dawnlevel.practice.draw import Card
from dawnlevel.practice.tank import PlayableTank

Report = Callable[[int, float, float], None]

LEAD_H = 2.0
SPACING_H = 25.0 / 60.0
TURN = 1.2
NUDGE = 1.1
SHIFT_H = 0.5
STOP_BEFORE_H = 1.0


@dataclass(frozen=True, slots=True)
class _Band:
    """The target as pH on the keeper's meter: more gas is needed above `high`, less below `low`."""

    low: float
    high: float

    def verdict(self, ph: float) -> int:
        """1 for too little CO2, -1 for too much, 0 for right."""
        return 1 if ph > self.high else -1 if ph < self.low else 0


def _number(card: Card, key: str) -> float:
    """A figure [in the unit of its key] of the card."""
    return float(str(card[key]))


def _band(tank: PlayableTank, target: Mapping[str, Sequence[float]]) -> _Band:
    """The pH band: below the cup for a drop, by 3 x KH x 10^(7 - pH) for mg/L."""
    if "drop" in target:
        low, high = target["drop"]
        baseline = tank.read_degassed_ph()
        return _Band(baseline - high, baseline - low)
    low, high = target["co2_mg_l"]
    kh = max(_number(tank.card(), "kh_dkh"), 0.1)
    return _Band(7.0 + log10(3.0 * kh / high), 7.0 + log10(3.0 * kh / low))


def play(
    tank: PlayableTank, target: Mapping[str, Sequence[float]], days: int, report: Report | None = None
) -> None:
    """Dial in `tank` towards `target` (`drop` [pH] or `co2_mg_l` [mg/L]: low, high) for `days` days.

    `report` is not used: the rule makes no forecast with an interval.
    """
    del report
    card = tank.card()
    lights_on, lights_off = _number(card, "lights_on_h"), _number(card, "lights_off_h")
    if lights_off <= lights_on:
        lights_off += 24.0
    longest_h = lights_on - _number(card, "earliest_start_h")
    band = _band(tank, target)
    rate, lead_h = _number(card, "first_rate_bps"), min(LEAD_H, longest_h)
    for day in range(1, days + 1):
        lights = 24.0 * day + lights_on
        if lights < tank.clock():
            continue
        rate, verdict = _ramp(tank, band, rate, max(lights - lead_h, tank.clock()), lights)
        lead_h = min(max(lead_h + SHIFT_H * verdict, SHIFT_H), longest_h)
        tank.wait_until(24.0 * day + 0.5 * (lights_on + lights_off))
        midday = band.verdict(tank.read_ph())
        if midday:
            rate *= NUDGE**midday
            tank.set_gas(rate)
        tank.wait_until(24.0 * day + lights_off - STOP_BEFORE_H)
        tank.set_gas(0.0)


def _ramp(tank: PlayableTank, band: _Band, rate: float, opens: float, lights: float) -> tuple[float, int]:
    """Open the gas and steer to `lights` [h]; the rate [1/s] at the end and the verdict at lights-on."""
    tank.wait_until(opens)
    tank.set_gas(rate)
    count = int(_number(tank.card(), "reads_per_ramp"))
    moments = [lights - SPACING_H * k for k in range(count - 1, -1, -1)]
    last: tuple[float, float] | None = None
    verdict = 0
    for moment in moments:
        if moment <= opens:
            continue
        tank.wait_until(moment)
        ph = tank.read_ph()
        verdict = band.verdict(ph)
        if last is not None and moment < lights:
            slope = (ph - last[1]) / (moment - last[0])
            turn = band.verdict(ph + slope * (lights - moment))
            if turn:
                rate *= TURN**turn
                tank.set_gas(rate)
        last = (moment, ph)
    return rate, verdict
