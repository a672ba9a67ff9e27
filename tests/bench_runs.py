"""Details of invented runs, as the benchmark would write them, small enough to be worked out by hand."""

from typing import Any

Day = dict[str, Any]
Tank = dict[str, Any]

BOUNDS = [1.0, 1.08, 1.1, 1.12, 1.2]
CO2_BOUNDS = [15.0, 18.0, 20.0, 22.0, 30.0]
PH_BOUNDS = [6.4, 6.48, 6.5, 6.52, 6.6]


def forecast() -> dict[str, Any]:
    return {"co2_mg_l": CO2_BOUNDS, "ph": PH_BOUNDS, "quantity": BOUNDS, "chance_in_band": 0.9}


def look(hour: float, chance: float) -> dict[str, Any]:
    return {"hour": hour, "chance_if_done": chance, "breach_if_done": 0.0}


def day(number: int, *, good: bool, drop: float = 1.1, co2: float = 20.0, chance: float = 0.9) -> Day:
    lights_on = 24.0 * number + 12.0
    cause = {
        "cause": "odds",
        "went_wrong_h": lights_on,
        "side": "low",
        "stated": chance,
        "said_so": chance < 0.5,
    }
    return {
        "day": number,
        "hit": good,
        "dialled_in": good,
        "lights_on_h": lights_on,
        "at_lights_on": {"hour": lights_on, "co2_mg_l": co2, "ph": 7.6 - drop, "drop": drop},
        "gas_closed_h": lights_on + 6.5,
        "left_band_h": None,
        "said": {
            "planned": {"chance_held": 0.6, "chance_breach": 0.01},
            "looks": [look(lights_on - 0.2, chance), look(lights_on + 3.0, 1.0)],
        },
        "last_forecast": forecast(),
        "cause": None if good else cause,
    }


def tank(days: list[Day], readings: list[int], *, breach: dict[str, Any] | None = None) -> Tank:
    return {
        "hit": [d["hit"] for d in days],
        "dialled_in": [d["dialled_in"] for d in days],
        "breach": breach is not None,
        "readings": readings,
        "readings_before": 2,
        "rate_changes": [1] * len(days),
        "forecasts_held": [
            d["last_forecast"]["ph"][0] <= d["at_lights_on"]["ph"] <= d["last_forecast"]["ph"][4]
            for d in days
        ],
        "seconds": 2.0,
        "cpu_seconds": 1.0,
        "failure": "",
        "detail": {"card": {}, "quantity": "drop", "days": days, "breach": breach},
    }


def run(
    tanks: dict[str, Tank], *, left_out: list[str] | None = None, target: str = "drop:1.0-1.2"
) -> dict[str, Any]:
    first = next(iter(tanks.values()))
    return {
        "command": "python -m benchmarks.dial_in --tanks 2",
        "target": target,
        "level": "middle",
        "left_out": left_out or [],
        "days": len(first["hit"]),
        "seed": 1,
        "finished": True,
        "source": "0",
        "machine": {},
        "lost": {},
        "tanks": {seed: {"dawnlevel": one} for seed, one in tanks.items()},
    }
