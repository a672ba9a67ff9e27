"""Practice tanks of quite another build than the house's own, as modules from outside would bring them.

Both keep the contract and nothing more. `linear`: one zone, first-order loss, no plants to speak of, ints for
figures, few optional keys. `pulsed`: uptake in the light, a timer of two windows, a meter of one decimal,
numpy scalars throughout, a clock that adds up minutes, fish of thin skin, and no way to copy it.
"""

import math
from typing import Any

import numpy as np

_CO2_AT_PH_7 = 3.0  # mg/L per dKH, the trade's short rule


class LinearTank:
    """dC/dt = gain x rate - loss x (C - C_air), solved exactly between settings."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng([seed, 1])
        self.gain = float(self.rng.uniform(2.0, 5.0))
        self.loss = float(self.rng.uniform(0.15, 0.35))
        self.kh = 4
        self.air = 0.7
        self.now: float = 18
        self.level = 2.0
        self.rate = 0.0
        self.cups: list[float] = []

    def card(self) -> dict[str, Any]:
        return {
            "volume_l": 120,
            "surface_cm2": 3000,
            "depth_cm": 40,
            "temp_c": 24,
            "kh_dkh": self.kh,
            "kh_step_dkh": 1,
            "ph_step": 0.01,
            "room_co2_ppm": None,
            "lights_on_h": 12,
            "lights_off_h": 20,
            "planting": "sparse",
            "surface": "rippled",
            "diffuser": "inline",
            "baseline_method": "aerated",
            "baseline_hours": 1,
            "co2_limit_mg_l": 40,
            "first_rate_bps": 1,
            "reads_per_ramp": 5,
            "earliest_start_h": 7,
        }

    def clock(self) -> float:
        return self.now

    def wait_until(self, hour: float) -> None:
        assert hour >= self.now - 1e-9, "time cannot go back"
        rest = self.air + self.gain * self.rate / self.loss
        self.level = rest + (self.level - rest) * math.exp(-self.loss * max(hour - self.now, 0.0))
        self.now = hour

    def set_gas(self, bubbles_per_second: float) -> None:
        self.rate = bubbles_per_second

    def true_ph(self, level: float) -> float:
        return 7.0 + math.log10(_CO2_AT_PH_7 * self.kh / level)

    def shown(self, level: float) -> float:
        return round(self.true_ph(level) + 0.01 * float(self.rng.standard_normal()), 2)

    def read_ph(self) -> float:
        return self.shown(self.level)

    def read_degassed_ph(self) -> float:
        self.cups.append(self.shown(1.1 * self.air))
        return self.cups[-1]

    def read_cell(self) -> str:
        return "green" if self.level > 15 else "blue"

    def watch_fish(self) -> str:
        return "calm"

    def truth(self) -> dict[str, float]:
        ph = self.true_ph(self.level)
        drop = sum(self.cups) / len(self.cups) - ph if self.cups else math.nan
        return {"co2_mg_l": self.level, "ph": ph, "drop": drop}


class PulsedTank(LinearTank):
    """Steps of a minute; everything it says is a numpy scalar."""

    uneasy_at, distress_at = 1.0, 1.3

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.minutes = round(60 * self.now)
        self.uptake = float(self.rng.uniform(0.3, 1.0))
        self.uncopyable = (part for part in "no generator can be copied")

    def card(self) -> dict[str, Any]:
        card = super().card()
        for key in ("temp_c", "room_co2_ppm", "diffuser", "reads_per_ramp", "earliest_start_h"):
            del card[key]
        exact = {key: np.float32(value) for key, value in card.items() if isinstance(value, int)}
        return card | exact | {"ph_step": np.float64(0.1), "timer_windows": np.int64(2)}

    def clock(self) -> Any:
        return np.float64(self.minutes) / 60

    def wait_until(self, hour: float) -> None:
        while (self.minutes + 1) / 60.0 <= hour + 1e-9:
            lit = 12.0 <= (self.minutes / 60.0) % 24.0 < 20.0
            eaten = self.uptake * lit * self.level / (self.level + 4.0)
            change = self.gain * self.rate - self.loss * (self.level - self.air) - eaten
            self.level = max(self.level + change / 60.0, 0.1)
            self.minutes += 1

    def shown(self, level: float) -> Any:
        return np.float32(round(self.true_ph(level) + 0.01 * float(self.rng.standard_normal()), 1))

    def read_cell(self) -> Any:
        return np.str_(super().read_cell())

    def watch_fish(self) -> str:
        strain = self.level / 40.0
        return "distress" if strain > self.distress_at else "uneasy" if strain > self.uneasy_at else "calm"

    def truth(self) -> dict[str, Any]:
        return {key: np.float64(value) for key, value in super().truth().items()}


class TouchyTank(PulsedTank):
    """Its fish are in distress from 8 mg/L on, long before any band is reached."""

    uneasy_at, distress_at = 0.15, 0.2


class EarlyTank(LinearTank):
    """Handed over at one in the night of day 0, with a whole day to come before the play."""

    def __init__(self, seed: int) -> None:
        super().__init__(seed)
        self.now = 1


class BreakingTank(LinearTank):
    """Breaks down in the afternoon of day 2."""

    def wait_until(self, hour: float) -> None:
        if hour > 63.0:
            raise ConnectionError("the pump's plug fell out")
        super().wait_until(hour)


def linear(seed: int) -> LinearTank:
    return LinearTank(seed)


def pulsed(seed: int) -> PulsedTank:
    return PulsedTank(seed)


def touchy(seed: int) -> TouchyTank:
    return TouchyTank(seed)


def early(seed: int) -> EarlyTank:
    return EarlyTank(seed)


def breaking(seed: int) -> BreakingTank:
    return BreakingTank(seed)
