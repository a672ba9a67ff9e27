"""How hard a practice tank is: every spread that depends on the level, in one place.

The figures are judgements (common practice, no source): what keepers describe of needle valves, pen
meters, mixing and rooms, from a careful keeper's tank (easy) to an awkward one (hard).
"""

from dataclasses import dataclass

Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """Spreads of one level; a `Span` is drawn evenly from its two ends.

    Attributes:
        number: part of the random seed.
        setting_sd: log sd of the flow about the count [-].
        hysteresis: log of flow gained when turning up [-].
        creep_per_day: log sd of the flow's drift in a day [-].
        fade, crowding: loss of gain with CO2 (at 30 mg/L) and with the rate (exponent) [-].
        slow_share, renewal_per_h: the slow zone's volume [-] and mixing [1/h].
        swing_c: the lamp's heat [degC].
        day_to_day: log sd of uptake and of gas exchange from one day to another [-].
        room_rise_ppm: how much CO2 rises in the room once a day [ppm].
        offset_sd_ph, slope_sd, drift_sd_ph, noise_ph: the meter [pH, -, pH/day, pH].
        coarse_meter, coarse_kit: share of keepers with a 0.1 pH meter, with a 1 dKH kit [-].
        kit_bias_sd: relative sd of the KH kit [-].
        phosphate_mg_l, doc_mg_l: alkalinity that is no carbonate, by what makes it [mg/L].
        cup_spread: log sd of a cup's degassing from one cup to the next [-].
        eye_sd_ph: scatter of colours called by eye, as pH in the cell [pH].
        guess_factor: the first rate is off by up to this factor either way [-].
    """

    number: int
    setting_sd: Span
    hysteresis: Span
    creep_per_day: Span
    fade: Span
    crowding: Span
    slow_share: Span
    renewal_per_h: Span
    swing_c: Span
    day_to_day: Span
    room_rise_ppm: Span
    offset_sd_ph: float
    slope_sd: float
    drift_sd_ph: float
    noise_ph: Span
    coarse_meter: float
    coarse_kit: float
    kit_bias_sd: float
    phosphate_mg_l: Span
    doc_mg_l: Span
    cup_spread: float
    eye_sd_ph: Span
    guess_factor: float


EASY = Level(
    number=1,
    setting_sd=(0.015, 0.03),
    hysteresis=(0.0, 0.015),
    creep_per_day=(0.005, 0.015),
    fade=(0.0, 0.08),
    crowding=(0.0, 0.05),
    slow_share=(0.03, 0.10),
    renewal_per_h=(4.0, 10.0),
    swing_c=(0.2, 0.6),
    day_to_day=(0.005, 0.015),
    room_rise_ppm=(0.0, 250.0),
    offset_sd_ph=0.03,
    slope_sd=0.010,
    drift_sd_ph=0.0005,
    noise_ph=(0.004, 0.008),
    coarse_meter=0.0,
    coarse_kit=0.3,
    kit_bias_sd=0.04,
    phosphate_mg_l=(0.0, 1.0),
    doc_mg_l=(0.0, 2.0),
    cup_spread=0.05,
    eye_sd_ph=(0.06, 0.10),
    guess_factor=1.5,
)

MIDDLE = Level(
    number=2,
    setting_sd=(0.03, 0.07),
    hysteresis=(0.01, 0.05),
    creep_per_day=(0.01, 0.035),
    fade=(0.03, 0.15),
    crowding=(0.0, 0.12),
    slow_share=(0.06, 0.22),
    renewal_per_h=(1.5, 6.0),
    swing_c=(0.4, 1.5),
    day_to_day=(0.015, 0.04),
    room_rise_ppm=(0.0, 600.0),
    offset_sd_ph=0.06,
    slope_sd=0.018,
    drift_sd_ph=0.0015,
    noise_ph=(0.007, 0.015),
    coarse_meter=0.1,
    coarse_kit=0.55,
    kit_bias_sd=0.07,
    phosphate_mg_l=(0.0, 3.0),
    doc_mg_l=(0.0, 5.0),
    cup_spread=0.10,
    eye_sd_ph=(0.08, 0.15),
    guess_factor=2.0,
)

HARD = Level(
    number=3,
    setting_sd=(0.06, 0.10),
    hysteresis=(0.03, 0.10),
    creep_per_day=(0.03, 0.06),
    fade=(0.05, 0.25),
    crowding=(0.05, 0.20),
    slow_share=(0.12, 0.38),
    renewal_per_h=(0.7, 3.0),
    swing_c=(0.8, 2.5),
    day_to_day=(0.03, 0.08),
    room_rise_ppm=(200.0, 1200.0),
    offset_sd_ph=0.10,
    slope_sd=0.03,
    drift_sd_ph=0.003,
    noise_ph=(0.012, 0.025),
    coarse_meter=0.2,
    coarse_kit=0.75,
    kit_bias_sd=0.10,
    phosphate_mg_l=(0.0, 8.0),
    doc_mg_l=(0.0, 10.0),
    cup_spread=0.20,
    eye_sd_ph=(0.12, 0.20),
    guess_factor=2.0,
)
