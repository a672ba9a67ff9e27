"""The demonstration's second tank: six weeks on a timer with a probe that logs, and one thing that changes.

As with the first tank every figure is our own invention, and what happens to it is told here alone: on a
Friday evening the diffuser clogs, and from then on only part of the gas dissolves. Nobody touches anything.
"""

from datetime import date, datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.chemistry import air_co2_mg_l
from dawnlevel.practice.dynamics import GRID_PER_H, State, advance, air_level_mg_l, temp_c
from dawnlevel.practice.scenario import ZONE
from dawnlevel.practice.truth import Air, Cup, Fish, Gas, Instruments, Life, Light, TrueTank, Wander, Zones
from dawnlevel.practice.water import make_water
from dawnlevel.tank import Diffuser, Photoperiod, Planting, Surface, Tank, Target
from dawnlevel.tank.clock import wall_clock
from dawnlevel.units import dkh_to_meq_l

Floats = npt.NDArray[np.float64]

BEGIN = date(2026, 3, 26)
"""The Thursday on which the probe begins to log, at midnight."""

DAYS = 42
LAST_H = 21.0
"""When the log is brought in on the last day [h of the day]."""

GAS_ON_H, GAS_OFF_H = 9.0, 19.5
RATE_BPS = 2.0
KH_COUNT_DKH = 5.0
CUP_PH = 8.24
CLOGS_H = 24.0 * 29 + 19.0
"""When the diffuser clogs [h since midnight of the first day]."""

LEFT = 0.72
"""Share of the gas that still dissolves then [-]."""

WATER_CHANGE_H = 17.0
WATER_CHANGED = 0.3
"""Every Sunday at that hour [h of the day] that share of the water [-] is changed."""

_MEAN_C = 24.6
_TAP_MG_L = 4.0
_MISSING = 0.002
_SEED = 61


def logged_tank() -> Tank:
    """The tank as its keeper describes it."""
    return Tank(
        name="Alderpool",
        volume_l=63.0,
        depth_cm=31.0,
        surface_cm2=2030.0,
        photoperiod=Photoperiod(lights_on_h=12.0, lights_off_h=20.0),
        timezone=ZONE.key,
        temp_c=24.5,
        planting=Planting.MEDIUM,
        surface=Surface.RIPPLED,
        diffuser=Diffuser.FINE,
        kh_step_dkh=1.0,
        ph_step=0.01,
        co2_limit_mg_l=30.0,
        first_rate_bps=RATE_BPS,
        target=Target(low=1.2, high=1.4),
    )


def logged_minutes() -> tuple[list[datetime], Floats, Floats]:
    """What the probe wrote: moments (UTC), pH and temperature [degC], shape (n,), a reading a minute."""
    tank = _truth()
    hours, ph = _lived(tank)
    made, rng = tank.instruments, np.random.default_rng(_SEED)
    moments, minutes = _moments(rng)
    noise = made.noise_ph * rng.standard_normal(minutes.size)
    shown = 7.0 + made.slope * (np.interp(minutes, hours, ph) - 7.0) + made.offset_ph + noise
    warm = np.interp(
        minutes % 24.0, hours[: 24 * GRID_PER_H], [temp_c(tank, h) for h in hours[: 24 * GRID_PER_H]]
    )
    return moments, np.round(shown, 2), np.round(warm, 1)


def _moments(rng: np.random.Generator) -> tuple[list[datetime], Floats]:
    """The minutes that were logged, as moments and on the wall clock [h since the first midnight].

    Timer, lamp and keeper follow the wall clock; the hour that it skips in spring was never logged, and
    single readings are missing.
    """
    moments, minutes = [], []
    for hour in range(24 * (DAYS - 1) + int(LAST_H)):
        begin = wall_clock(BEGIN, float(hour), ZONE)
        if begin.astimezone(ZONE).hour != hour % 24:
            continue
        for minute in np.flatnonzero(rng.random(60) > _MISSING).tolist():
            moments.append(begin + timedelta(minutes=minute))
            minutes.append(hour + minute / 60.0)
    return moments, np.array(minutes)


def _lived(tank: TrueTank) -> tuple[Floats, Floats]:
    """True pH on the grid, by the wall clock [h since the first midnight]."""
    rest = 1.3 * air_level_mg_l(tank.air, 0.0, tank.air.mean_c)
    excess = tank.water.excess(rest)
    state = State(0.0, excess, excess, 0.0, rest)
    hours = np.arange(DAYS * 24 * GRID_PER_H) / GRID_PER_H
    ph = np.empty_like(hours)
    for place, hour in enumerate(hours.tolist()):
        if place:
            advance(tank, state, hour, _flow(tank, hour - 0.5 / GRID_PER_H))
        sunday = (hour - 24.0 * (6 - BEGIN.weekday())) % 168.0
        if abs(sunday - WATER_CHANGE_H) < 0.5 / GRID_PER_H:
            for zone in ("open_mg_l", "slow_mg_l"):
                level = tank.water.co2(getattr(state, zone))
                setattr(state, zone, tank.water.excess(level + WATER_CHANGED * (_TAP_MG_L - level)))
        ph[place] = tank.water.ph(tank.water.co2(state.open_mg_l), temp_c(tank, hour))
    return hours, ph


def _flow(tank: TrueTank, hour: float) -> float:
    """Flow that timer and needle let through and the diffuser dissolves [1/s]."""
    if not GAS_ON_H <= hour % 24.0 < GAS_OFF_H:
        return 0.0
    left = LEFT if hour >= CLOGS_H else 1.0
    return RATE_BPS * left * float(np.exp(tank.gas.creep.at(hour)))


def _truth() -> TrueTank:
    """What is true of the tank; days differ a little, as real ones do."""
    rng = np.random.default_rng(_SEED + 1)

    def wander(sd: float) -> Wander:
        return Wander(24.0, tuple(np.exp(sd * rng.standard_normal(DAYS + 1)).tolist()))

    alkalinity = float(dkh_to_meq_l(4.8))
    creep = Wander(24.0, tuple((0.02 * rng.standard_normal(DAYS + 1)).tolist()))
    return TrueTank(
        water=make_water(alkalinity, 2.2e-3, 0.5, 1.2, _MEAN_C),
        light=Light(on_h=12.0, off_h=20.0, ramp_h=0.25),
        zones=Zones(slow_share=0.05, renewal_per_h=7.0, slow_surface_share=0.03, slow_plant_share=0.1),
        gas=Gas(
            gain_mg_l_h_per_bps=4.9, fade=0.05, crowding=0.03, usual_bps=RATE_BPS, opening_h=0.05,
            setting_sd=0.02, hysteresis=0.01, creep=creep,
        ),
        life=Life(
            uptake_mg_l_h=2.1, half_saturation_mg_l=4.5, respiration_mg_l_h=0.15, vigour=wander(0.04)
        ),
        air=Air(
            kla_per_h=0.38, surface=wander(0.03), kla_per_k=0.014, mean_c=_MEAN_C, swing_c=0.5,
            warming_h=2.5, air_mg_l_per_ppm=float(air_co2_mg_l(_MEAN_C, 1000.0)) / 1000.0,
            air_per_k=-0.027, low_ppm=470.0, high_ppm=700.0, high_at_h=21.0,
        ),
        cup=Cup(velocity_per_h=3.2, spread=0.05, hours=1.0, temp_c=22.5),
        instruments=Instruments(
            offset_ph=0.01, slope=0.99, drift_ph_per_day=0.0, noise_ph=0.01, step_ph=0.01, rise_h=1.8,
            fall_h=2.6, cell_water=make_water(alkalinity, 1e-3, 0.0, 0.0, 24.5), eye_ph=0.03, eye_sd_ph=0.07,
        ),
        fish=Fish(uneasy_at=1.05, distress_at=1.4, weight_of_rise=0.25, eye_sd=0.05),
        limit_mg_l=30.0,
        past_rate_bps=RATE_BPS,
    )  # fmt: skip
