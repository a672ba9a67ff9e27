"""Who bends when the routes disagree, and which one measurement would settle it."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate.posterior import Posterior
from dawnlevel.units import MEQ_L_PER_DKH

Array = npt.NDArray[np.float64]

_WIDE = 3.0
"""A culprit is an instrument whose error is three times as large as it should be."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """Something that may be wrong: the unknowns it rests on, how often it is, what it is called."""

    kind: str
    label: str
    unknowns: tuple[str, ...]
    share: float


SUSPECTS = (
    Suspect(
        "cup_not_degassed", "the baseline cup was not degassed", ("cup_velocity_log", "cup_start_mg_l"), 0.30
    ),
    Suspect("kh_kit", "the KH kit", ("kh_kit_log",), 0.20),
    Suspect("meter", "the pH meter", ("meter_offset_ph", "meter_slope_log"), 0.20),
    Suspect("other_alkalinity", "tannins or phosphate counted as KH", ("other_alkalinity_meq_l",), 0.12),
    Suspect("cell_solution", "the cell's solution or its dye", ("cell_solution_log", "cell_eye_ph"), 0.10),
    Suspect("cell_lag", "the cell's lag", ("cell_lag_h", "cell_fall_log"), 0.08),
)
"""In order of how often keepers meet them; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Culprit:
    """A suspect with its odds among all of them, and how far the records push it [sd of its prior]."""

    kind: str
    label: str
    probability: float
    shift_sd: float


@dataclass(frozen=True, slots=True)
class Measurement:
    """One measurement and how much of the doubt about CO2 now it should remove [share of variance]."""

    kind: str
    label: str
    removes: float


def culprits(posterior: Posterior) -> list[Culprit]:
    """Suspects, likeliest first.

    The odds are each suspect's share times its Bayes factor "three times as wrong as it should be"
    against "as it should be": the posterior's mean of the ratio of the two priors, in closed form for
    draws taken as normal in each unknown. It is 1 where the records say nothing.
    """
    order = {parameter.name: position for position, parameter in enumerate(posterior.model.parameters)}
    weights, shifts = [], []
    for suspect in SUSPECTS:
        z = posterior.draws.z[[order[name] for name in suspect.unknowns]]
        weights.append(suspect.share * float(np.exp(_log_bayes_factor(z).sum())))
        shifts.append(float(z.mean(axis=1)[np.argmax(np.abs(z.mean(axis=1)))]))
    total = sum(weights)
    found = [
        Culprit(suspect.kind, suspect.label, weight / total, shift)
        for suspect, weight, shift in zip(SUSPECTS, weights, shifts, strict=True)
    ]
    return sorted(found, key=lambda culprit: -culprit.probability)


def _log_bayes_factor(z: Array) -> Array:
    """Log Bayes factor of a prior three times as wide, for draws z of shape (k, n); shape (k,).

    The mean of N(z; 0, w^2)/N(z; 0, 1) over N(mean, variance), w = 3 (a Gaussian integral).
    """
    excess = 1.0 - _WIDE**-2
    left = 1.0 - excess * np.minimum(z.var(axis=1), 1.0)
    return np.asarray(0.5 * excess * z.mean(axis=1) ** 2 / left - 0.5 * np.log(left) - np.log(_WIDE))


def measurements(
    posterior: Posterior, *, just_read: bool = False, about: Array | None = None
) -> list[Measurement]:
    """What could be measured next, the most telling first; not the tank's pH where it was `just_read`.

    Each is worth the share of the variance of `about` (n,), by default ln CO2 now, that a linear regression
    on its predicted value, with its own noise, would remove.
    """
    unknowns = posterior.unknowns
    level = np.log(posterior.levels[-1]) if about is None else about
    in_air = posterior.meter_ph(unknowns.air_co2_mg_l[None, :])[0]
    titre = (unknowns["alkalinity_meq_l"] + unknowns["other_alkalinity_meq_l"]) / MEQ_L_PER_DKH
    buffer, seen = unknowns["meter_offset_ph"], posterior.model.gear.buffers_ph_sd
    step = posterior.model.tank.kh_step_dkh / 4.0
    bias = titre * np.exp(unknowns["kh_kit_log"])
    table = (
        ("aerated_cup", "aerate a cup of tank water for an hour and read its pH", in_air, 0.03),
        (
            "large_kh_sample",
            "titrate KH with a four-fold sample (a quarter of the step)",
            bias,
            step / 3.46 + 0.05,
        ),
        ("buffers", "check the meter in fresh pH 7 and pH 4 buffer", buffer, seen),
        ("room_air", "measure the room's CO2 while the cup stands", np.log(unknowns["room_co2_ppm"]), 0.05),
        ("tank_ph", "read the tank's pH again", posterior.meter_ph(posterior.levels[-1:])[0], 0.02),
    )
    found = [
        Measurement(kind, label, _removed(level, value, noise))
        for kind, label, value, noise in table
        if not (just_read and kind == "tank_ph")
    ]
    return sorted(found, key=lambda measurement: -measurement.removes)


def _removed(level: Array, value: Array, noise: float) -> float:
    """Share of var(level) that a reading of `value` with sd `noise` removes."""
    covariance = float(np.mean((level - level.mean()) * (value - value.mean())))
    return covariance**2 / (float(value.var()) + noise**2) / max(float(level.var()), 1e-12)
