"""A day and a night ahead on every draw of the posterior: CO2 and oxygen under a script of gas and light."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.oxygen import Breath, breath, oxygen_levels
from dawnlevel.balance.trajectory import Steps, levels
from dawnlevel.estimate.posterior import Posterior
from dawnlevel.estimate.priors import HALF_SATURATION_MG_L
from dawnlevel.estimate.timeline import solenoid_events
from dawnlevel.tank import Record, Tank
from dawnlevel.tank.clock import light_spans

Array = npt.NDArray[np.float64]
Spans = Iterable[tuple[float, float]]

STEP_H = 0.1
HOURS_AHEAD = 60.0
DAY_H = 24.0


@dataclass(frozen=True, slots=True)
class Script:
    """What happens in S steps from now on; arrays have shape (S,).

    Attributes:
        edges_h: edges of the steps [h from now], shape (S+1,).
        flow: gas over what flows at the present setting, 0 where the valve is closed [-].
        light: share of full light [-].
        movement: exchange with the air over that of the tank as it is kept [-].
        dissolving: share of what dissolves as the tank is kept [-].
        replaced: share of the water replaced at the step's start [-].
    """

    edges_h: Array
    flow: Array
    light: Array
    movement: Array
    dissolving: Array
    replaced: Array

    @property
    def dt_h(self) -> Array:
        """Length of each step [h], shape (S,)."""
        return np.diff(self.edges_h)

    def is_like(self, other: "Script") -> bool:
        """Whether everything goes as in another script of the same steps, but for one step's length."""
        names = ("flow", "light", "movement", "dissolving")
        apart = (np.abs(getattr(self, name) - getattr(other, name)) for name in names)
        goes_alike = all(float(one @ self.dt_h) <= STEP_H for one in apart)
        return goes_alike and np.allclose(self.replaced, other.replaced)

    def during(self, begins_h: float, ends_h: float = np.inf) -> Array:
        """Share of each step that lies between the two hours [-], shape (S,)."""
        return covered(self.edges_h, [(begins_h, min(ends_h, float(self.edges_h[-1])))])

    def edge(self, hour_h: float) -> int:
        """The edge nearest to an hour."""
        return int(np.argmin(np.abs(self.edges_h - hour_h)))


def covered(edges_h: Array, spans: Spans) -> Array:
    """Share of each step [-] that `spans` [h] cover, shape (S,); spans that overlap count once."""
    low, high = edges_h[:-1], edges_h[1:]
    total = np.zeros(low.size)
    for begins, ends in spans:
        total += np.clip(np.minimum(high, ends) - np.maximum(low, begins), 0.0, None) / (high - low)
    return np.minimum(total, 1.0)


def script_ahead(
    tank: Tank, records: Sequence[Record], now: datetime, hours: float = HOURS_AHEAD
) -> tuple[Script, tuple[tuple[float, float], ...]]:
    """The script as timer, hand and lights stand at `now` (UTC), and its gas windows [h from now]."""
    end = now + timedelta(hours=hours)
    edges = np.linspace(0.0, hours, round(hours / STEP_H) + 1)
    hour = timedelta(hours=1)
    lit = [
        ((on - now) / hour, (off - now) / hour)
        for on, off in light_spans(tank.photoperiod, ZoneInfo(tank.timezone), now, end)
    ]
    windows: list[tuple[float, float]] = []
    opened: float | None = None
    for at, is_open in solenoid_events(tank, list(records), now, end):
        place = max((at - now) / hour, 0.0)
        if is_open and opened is None:
            opened = place
        elif not is_open and opened is not None:
            windows += [(opened, place)] if place > opened else []
            opened = None
    if opened is not None:
        windows.append((opened, hours))
    ones, nought = np.ones(edges.size - 1), np.zeros(edges.size - 1)
    script = Script(edges, covered(edges, windows), covered(edges, lit), ones, ones, nought)
    return script, tuple(windows)


@dataclass(frozen=True, slots=True)
class Waters:
    """n possible tanks as they stand now; arrays have shape (n,).

    Attributes:
        kla_per_h: exchange rate of CO2 [1/h].
        air_mg_l: CO2 in balance with the room's air [mg/L].
        uptake_mg_l_h: uptake in full light and ample CO2 [mg/L/h].
        made_mg_l_h: CO2 made by animals, filter and soil [mg/L/h].
        gas_mg_l_h: CO2 that the gas adds at the present setting, none being dissolved yet [mg/L/h].
        fade: share of it that no longer dissolves at 30 mg/L [-].
        start_mg_l: CO2 now [mg/L].
        breath: oxygen's side.
    """

    kla_per_h: Array
    air_mg_l: Array
    uptake_mg_l_h: Array
    made_mg_l_h: Array
    gas_mg_l_h: Array
    fade: Array
    start_mg_l: Array
    breath: Breath


def waters(posterior: Posterior, rate_bps: float, rng: np.random.Generator) -> Waters:
    """The posterior's draws with the needle at its present setting of `rate_bps` [bubbles/s]."""
    unknowns, tank = posterior.unknowns, posterior.model.tank
    log_gain = unknowns.drift_log[-1]
    if unknowns.setting_log.size:
        log_gain = log_gain + unknowns.setting_log[-1]
    kla, uptake, made = (unknowns[name] for name in ("kla_per_h", "uptake_mg_l_h", "respiration_mg_l_h"))
    pressure = posterior.model.pressure_atm
    return Waters(
        kla_per_h=kla,
        air_mg_l=unknowns.air_co2_mg_l,
        uptake_mg_l_h=uptake,
        made_mg_l_h=made,
        gas_mg_l_h=unknowns["gain_mg_l_h_per_bps"] * np.exp(log_gain) * rate_bps,
        fade=unknowns["gain_fade"],
        start_mg_l=posterior.levels[-1],
        breath=breath(kla, uptake, made, tank.animals, tank.volume_l, tank.temp_c, pressure, rng),
    )


def co2_ahead(water: Waters, script: Script) -> Array:
    """CO2 at the script's edges [mg/L], shape (S+1, n). Source: the balance of balance.trajectory."""
    gas = (script.flow * script.dissolving)[:, None] * water.gas_mg_l_h
    kla = script.movement[:, None] * water.kla_per_h
    steps = Steps(
        dt_h=script.dt_h,
        source_mg_l_h=gas + kla * water.air_mg_l + water.made_mg_l_h,
        loss_per_h=kla + gas * (water.fade / 30.0),
        light=script.light,
        replaced=script.replaced,
        fresh_mg_l=water.air_mg_l,
    )
    return np.maximum(levels(water.start_mg_l, steps, water.uptake_mg_l_h, HALF_SATURATION_MG_L), 0.0)


def oxygen_ahead(water: Waters, script: Script, co2_mg_l: Array, start_mg_l: Array | None = None) -> Array:
    """Oxygen at the script's edges [mg/L], shape (S+1, n), for CO2 [mg/L] of that shape.

    Without `start_mg_l` [mg/L], (n,), it begins in balance with the air: a day later it has forgotten that.
    """
    taken_up = script.light[:, None] * uptake(water, 0.5 * (co2_mg_l[1:] + co2_mg_l[:-1]))
    start = np.full(water.start_mg_l.size, water.breath.saturation_mg_l) if start_mg_l is None else start_mg_l
    return oxygen_levels(start, water.breath, script.dt_h, script.light, taken_up, script.movement)


def uptake(water: Waters, co2_mg_l: Array) -> Array:
    """CO2 that plants take up in full light [mg/L/h] at CO2 [mg/L] of shape (..., n)."""
    return np.asarray(water.uptake_mg_l_h * co2_mg_l / (co2_mg_l + HALF_SATURATION_MG_L))


def moved(script: Script, factor: float, flow: float = 1.0) -> Script:
    """The same with `factor` times the exchange and `flow` times the gas [-]."""
    return replace(script, movement=factor * script.movement, flow=flow * script.flow)


def flow_for_same_level(water: Waters, script: Script, hour_h: float, wanted_mg_l: float) -> float:
    """Gas over the present [-] that brings the median to `wanted_mg_l` [mg/L] at `hour_h`; up to 20.

    Source: bisection, since the level rises with the gas.
    """
    low, high, edge = 0.0, 20.0, script.edge(hour_h)
    for _ in range(24):
        middle = 0.5 * (low + high)
        if float(np.median(co2_ahead(water, moved(script, 1.0, middle))[edge])) < wanted_mg_l:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
