"""The demonstration's tank: an invented keeper's tank in an invented home, and what its keeper does when.

Every figure here is our own invention, within what `dawnlevel.practice.draw` gives an easy tank; none is
drawn, so the story stays the same when the drawing of practice tanks changes.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.chemistry import air_co2_mg_l, buffer_ph
from dawnlevel.practice import instruments
from dawnlevel.practice.draw import Card
from dawnlevel.practice.dynamics import temp_c
from dawnlevel.practice.levels import EASY
from dawnlevel.practice.tank import PracticeTank
from dawnlevel.practice.truth import (
    Air,
    Cup,
    Fish,
    Gas,
    Instruments,
    Life,
    Light,
    TrueTank,
    Wander,
    Zones,
)
from dawnlevel.practice.water import make_water
from dawnlevel.tank import (
    BaselineMethod,
    Buffer,
    Diffuser,
    Photoperiod,
    Planting,
    Surface,
    Tank,
)
from dawnlevel.tank.clock import wall_clock
from dawnlevel.tank.layout import Layout
from dawnlevel.tank.livestock import AnimalKind, Animals
from dawnlevel.tank.places import place_shares
from dawnlevel.units import dkh_to_meq_l

ZONE = ZoneInfo("Europe/Lisbon")
DAY_0 = date(2026, 5, 3)
"""The Sunday on which the story begins, in the evening."""

TUNING_DAYS = 3
SEED = 112

KH_COUNT_DKH = 4.0
"""What the keeper's drop kit shows [dKH]."""

STILL_CUP_HOURS = 12.0
AERATED_CUP_HOURS = 1.0
MORNING_H = 8.0
"""When the keeper reads the cup that stood overnight [h of the day]."""

CELL_AFTER_LIGHTS_H = 3.0
"""When the keeper looks at the indicator cell, after the lights are on [h]."""

EVENING_H = 21.5
"""When the keeper asks for tomorrow's plan [h of the day]."""

CYLINDER_KG, CYLINDER_TESTED = 2.0, "2021-09"
CYLINDER_TARE_KG, CYLINDER_CAPACITY_L = 4.9, 2.67
WEIGHED_DAY, WEIGHED_KG = 3, (7.78, 7.75)
"""The cylinder's charge, stamps, and weight with its regulator on the first evening and on
that of `WEIGHED_DAY` [kg]."""

CELL_SOLUTION_DKH, CELL_SOLUTION_ERROR_PERCENT = 4.0, 3.0
"""What the bottle of solution for the indicator cell says."""

BUFFERS_DAY, BUFFERS_C = 2, 22.0
SURVEY_DAY, SURVEY_AFTER_LIGHTS_H = 2, 3.25
"""On which day the meter is held in two buffers, and when pH is read across the tank [h after lights-on]."""

SURVEY_STEP_MIN = 2.0
SURVEY_PLACES = (
    "middle",
    *(f"{depth} {side} {layer}" for layer in ("surface", "substrate") for depth, side in (
        ("front", "left"), ("front", "right"), ("back", "right"), ("back", "left"),
    )),
)  # fmt: skip
"""Where the probe is held, in turn."""

_SHELTERED = "back right substrate"
_SHELTER_LACKS, _SHELTER_REACH = 0.35, 0.35
"""Behind the stones water hardly moves: the share of CO2 that lacks there, and how far it reaches, as a share
of the sides. The corner is too small to count in the tank's balance."""

_MEAN_C = 24.2
_CUPS = {
    BaselineMethod.STILL_CUP: Cup(velocity_per_h=0.13, spread=0.05, hours=STILL_CUP_HOURS, temp_c=21.5),
    BaselineMethod.AERATED: Cup(velocity_per_h=3.2, spread=0.05, hours=AERATED_CUP_HOURS, temp_c=22.5),
}


def keepers_tank() -> Tank:
    """The tank as its keeper describes it."""
    return Tank(
        name="Fernbrook",
        volume_l=112.0,
        depth_cm=36.0,
        surface_cm2=3110.0,
        photoperiod=Photoperiod(lights_on_h=13.0, lights_off_h=21.0),
        timezone=ZONE.key,
        temp_c=24.0,
        planting=Planting.DENSE,
        surface=Surface.RIPPLED,
        diffuser=Diffuser.FINE,
        kh_step_dkh=1.0,
        ph_step=0.01,
        co2_limit_mg_l=30.0,
        first_rate_bps=1.5,
        reads_per_ramp=4,
        earliest_start_h=9.0,
        animals=(Animals(AnimalKind.FISH, 16, 0.8),),
        layout=Layout(
            outflow="back left surface",
            intake="front left substrate",
            diffuser="back left substrate",
            hardscape=("back right substrate",),
            rated_l_h=700.0,
            length_cm=80.0,
        ),
    )


def tank_of_card(card: Card, name: str) -> Tank:
    """The tank as its keeper would describe it from a practice tank's `card`."""

    def number(key: str) -> float:
        return float(str(card[key]))

    room = card["room_co2_ppm"]
    return Tank(
        name=name,
        volume_l=number("volume_l"),
        depth_cm=number("depth_cm"),
        surface_cm2=number("surface_cm2"),
        photoperiod=Photoperiod(
            lights_on_h=number("lights_on_h") % 24.0, lights_off_h=number("lights_off_h") % 24.0
        ),
        timezone=ZONE.key,
        temp_c=number("temp_c"),
        planting=Planting(str(card["planting"])),
        surface=Surface(str(card["surface"])),
        diffuser=Diffuser(str(card["diffuser"])),
        room_co2_ppm=None if room is None else float(room),
        kh_step_dkh=number("kh_step_dkh"),
        ph_step=number("ph_step"),
        co2_limit_mg_l=number("co2_limit_mg_l"),
        first_rate_bps=number("first_rate_bps"),
        reads_per_ramp=int(number("reads_per_ramp")),
        earliest_start_h=number("earliest_start_h") % 24.0,
        timer_windows=int(number("timer_windows")),
    )


def moment(hour: float) -> datetime:
    """The moment (UTC) at which the practice tank's clock shows `hour` [h since midnight of day 0]."""
    return wall_clock(DAY_0, 0.0, ZONE) + timedelta(seconds=round(hour * 3600.0))


def hour_of(at: datetime) -> float:
    """The practice tank's clock [h since midnight of day 0] at a moment (aware)."""
    return (at.astimezone(UTC) - wall_clock(DAY_0, 0.0, ZONE)) / timedelta(hours=1)


class StoryTank(PracticeTank):
    """The demonstration's practice tank.

    Besides the contract its keeper can prepare two kinds of cup, hold the meter in buffers and at a place.
    Those two looks have a noise of their own, so that they change nothing of the tank's course as it is read.
    """

    def __init__(self) -> None:
        super().__init__(SEED, EASY)
        self._aside = np.random.default_rng(SEED)
        self._true, self._card = _truth(), _card(keepers_tank())
        self._live_the_past()

    def read_cup(self, method: BaselineMethod) -> float:
        """One reading [pH] of a cup filled as long ago as this story's keeper leaves it for `method`."""
        self._true = replace(self._true, cup=_CUPS[method])
        return self.read_degassed_ph()

    def read_buffer(self, buffer: Buffer) -> float:
        """What the meter shows in a fresh buffer [pH] of `BUFFERS_C`."""
        true_ph = float(buffer_ph(buffer, BUFFERS_C))
        return instruments.shown_ph(self._true.instruments, true_ph, self.clock(), self._aside)

    def read_ph_at(self, place: str) -> float:
        """What the meter shows at a place in the tank [pH]."""
        away = np.subtract(place_shares(place), place_shares(_SHELTERED)) / _SHELTER_REACH
        level = self._level() * (1.0 - _SHELTER_LACKS * float(np.exp(-0.5 * away @ away)))
        true_ph = self._true.water.ph(level, temp_c(self._true, self.clock()))
        return instruments.shown_ph(self._true.instruments, true_ph, self.clock(), self._aside)


def _card(tank: Tank) -> Card:
    """What the keeper knows, as practice tanks tell it."""
    return {
        "volume_l": tank.volume_l,
        "depth_cm": tank.depth_cm,
        "surface_cm2": tank.surface_cm2,
        "temp_c": tank.temp_c,
        "lights_on_h": tank.photoperiod.lights_on_h,
        "lights_off_h": tank.photoperiod.lights_off_h,
        "earliest_start_h": tank.earliest_start_h,
        "timer_windows": tank.timer_windows,
        "planting": tank.planting.value,
        "surface": tank.surface.value,
        "diffuser": tank.diffuser.value,
        "baseline_method": BaselineMethod.STILL_CUP.value,
        "baseline_hours": STILL_CUP_HOURS,
        "co2_limit_mg_l": tank.co2_limit_mg_l,
        "reads_per_ramp": tank.reads_per_ramp,
        "ph_step": tank.ph_step,
        "kh_step_dkh": tank.kh_step_dkh,
        "kh_dkh": KH_COUNT_DKH,
        "first_rate_bps": tank.first_rate_bps,
        "room_co2_ppm": tank.room_co2_ppm,
    }


def _truth() -> TrueTank:
    """What is true of the tank; its keeper never learns it."""
    alkalinity = float(dkh_to_meq_l(3.7))
    cell = float(dkh_to_meq_l(4.1))
    return TrueTank(
        water=make_water(alkalinity, 2.9e-3, 0.8, 1.5, _MEAN_C),
        light=Light(on_h=13.0, off_h=21.0, ramp_h=0.25),
        zones=Zones(slow_share=0.06, renewal_per_h=6.0, slow_surface_share=0.03, slow_plant_share=0.1),
        gas=Gas(
            gain_mg_l_h_per_bps=2.3,
            fade=0.05,
            crowding=0.03,
            usual_bps=1.5,
            opening_h=0.06,
            setting_sd=0.025,
            hysteresis=0.01,
            creep=Wander(24.0, (0.0, 0.005, -0.004, 0.008, 0.003)),
        ),
        life=Life(
            uptake_mg_l_h=2.7,
            half_saturation_mg_l=4.5,
            respiration_mg_l_h=0.15,
            vigour=Wander(24.0, (1.0, 1.01, 0.99, 1.015, 1.0)),
        ),
        air=Air(
            kla_per_h=0.23,
            surface=Wander(24.0, (1.0, 0.99, 1.01, 1.0, 0.995)),
            kla_per_k=0.014,
            mean_c=_MEAN_C,
            swing_c=0.5,
            warming_h=2.5,
            air_mg_l_per_ppm=float(air_co2_mg_l(_MEAN_C, 1000.0)) / 1000.0,
            air_per_k=-0.027,
            low_ppm=480.0,
            high_ppm=720.0,
            high_at_h=21.0,
        ),
        cup=_CUPS[BaselineMethod.STILL_CUP],
        instruments=Instruments(
            offset_ph=0.02,
            slope=0.985,
            drift_ph_per_day=0.0005,
            noise_ph=0.006,
            step_ph=0.01,
            rise_h=1.8,
            fall_h=2.6,
            cell_water=make_water(cell, 1e-3 * cell, 0.0, 0.0, 24.5),
            eye_ph=0.03,
            eye_sd_ph=0.07,
        ),
        fish=Fish(uneasy_at=1.05, distress_at=1.4, weight_of_rise=0.25, eye_sd=0.05),
        limit_mg_l=30.0,
        past_rate_bps=0.7,
    )
