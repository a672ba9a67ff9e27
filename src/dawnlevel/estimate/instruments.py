"""Which instrument limits the CO2 figure most: the share of its doubt each leaves, by regression."""

from dataclasses import dataclass

import numpy as np

from dawnlevel.estimate.posterior import Posterior


@dataclass(frozen=True, slots=True)
class Instrument:
    """What a keeper measures with, and the unknowns that its errors are."""

    kind: str
    label: str
    unknowns: tuple[str, ...]


INSTRUMENTS = (
    Instrument("meter", "the pH meter: offset and slope", ("meter_offset_ph", "meter_slope_log")),
    Instrument(
        "kh_kit",
        "the KH kit and what it counts",
        ("alkalinity_meq_l", "kh_kit_log", "other_alkalinity_meq_l"),
    ),
    Instrument(
        "cup", "the baseline cup and the room's air", ("cup_velocity_log", "cup_start_mg_l", "room_co2_ppm")
    ),
    Instrument(
        "cell",
        "the indicator cell: solution, dye, lag",
        ("cell_solution_log", "cell_eye_ph", "cell_lag_h", "cell_fall_log"),
    ),
    Instrument(
        "balance",
        "what only more readings tell: gas exchange, gain, plants",
        (
            "kla_per_h",
            "gain_mg_l_h_per_bps",
            "uptake_mg_l_h",
            "respiration_mg_l_h",
            "gain_fade",
            "start_mg_l",
        ),
    ),
)


@dataclass(frozen=True, slots=True)
class Limit:
    """An instrument and the share of the doubt about ln CO2 now that would go if its errors were known."""

    kind: str
    label: str
    share: float


def limits(posterior: Posterior) -> list[Limit]:
    """Instruments, the most limiting first.

    Each share is the R2 of a linear regression of ln CO2 now on that instrument's unknowns. Errors that the
    records have tied to one another count for each of them, so the shares need not add up to one.
    """
    level = np.log(posterior.levels[-1])
    order = {parameter.name: place for place, parameter in enumerate(posterior.model.parameters)}
    off = level - level.mean()
    found = []
    for one in INSTRUMENTS:
        z = posterior.draws.z[[order[name] for name in one.unknowns]]
        z = z - z.mean(axis=1, keepdims=True)
        factors, *_ = np.linalg.lstsq(z.T, off, rcond=None)
        left = float(np.mean((off - factors @ z) ** 2))
        share = 1.0 - left / max(float(np.mean(off**2)), 1e-12)
        found.append(Limit(one.kind, one.label, float(np.clip(share, 0.0, 1.0))))
    return sorted(found, key=lambda limit: -limit.share)
