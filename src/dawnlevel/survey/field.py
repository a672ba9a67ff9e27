"""The map: CO2 in every cell relative to the tank's mean, with everything unsure averaged over."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.errors import BadInputError
from dawnlevel.survey.box import Box
from dawnlevel.survey.moment import Brought
from dawnlevel.survey.process import distances, log_evidence, matern, predict, root

Array = npt.NDArray[np.float64]
Counts = npt.NDArray[np.int64]

FEWEST = 4
"""Readings below which nothing can be told of the places between; own choice."""

UNEVEN_SD = 0.25
"""Prior scale of the unevenness (sd of ln CO2 across a tank), half normal; common practice, no source."""

REACH_SHARE, REACH_LOG_SD = 0.5, 0.5
"""Prior of the way over which CO2 changes, as a share of the longest side, lognormal; own choice: a current
runs along a side, a hardscape's shadow is a fraction of it."""

NOISE_LOG_SD = 0.35
"""How far the noise of readings at places (a probe held by hand, not waited for) may differ from that of a
settled reading, lognormal; common practice, no source."""

MEAN_SD = 1.0
"""Prior sd of the tank's mean about that of the readings [ln]: wide enough to say nothing."""

DRAWS = 400

_SDS = np.geomspace(0.004, 1.0, 12)
_NODES = np.array([-1.6, -0.8, 0.0, 0.8, 1.6])


@dataclass(frozen=True, slots=True)
class Setting:
    """One choice of what shapes the map: unevenness (sd), reach [cm], factor on the reading noise."""

    sd: float
    reach_cm: float
    noise: float


@dataclass(frozen=True, slots=True)
class Field:
    """What a survey says of G cells.

    Attributes:
        box: the water.
        places_cm: the cells' middles, shape (G, 3).
        logs: natural logarithm of CO2 in the cells over the readings' geometric mean, draws of shape (G, n).
        covariance: of the same, within the settings, averaged over them, shape (G, G).
        noise_sd: reading noise, averaged over the settings.
        co2_mg_l: CO2 in the cells, draws of shape (G, n): the water's and the meter's doubt included.
    """

    box: Box
    places_cm: Array
    logs: Array
    covariance: Array
    noise_sd: float
    co2_mg_l: Array

    @property
    def relative(self) -> Array:
        """CO2 in the cells over the tank's mean, draws of shape (G, n)."""
        level = np.exp(self.logs)
        return np.asarray(level / level.mean(axis=0))


def settings(box: Box) -> tuple[list[Setting], Array]:
    """Every choice that is weighed, and the logarithm of its prior weight, shape (k,)."""
    longest_cm = float(box.sides_cm.max())
    found, weights = [], []
    for sd in _SDS:
        for reach in _NODES:
            for noise in _NODES[1:-1]:
                reach_cm = REACH_SHARE * longest_cm * np.exp(REACH_LOG_SD * reach)
                found.append(Setting(float(sd), float(reach_cm), float(np.exp(NOISE_LOG_SD * noise))))
                # steps of sd are even in its logarithm: the half normal's density times sd
                half_normal = np.log(sd) - 0.5 * (sd / UNEVEN_SD) ** 2
                weights.append(half_normal - 0.5 * reach**2 - 0.5 * noise**2)
    return found, np.array(weights)


def noise_covariance(brought: Brought, setting: Setting) -> Array:
    """Covariance of the readings' errors under a setting, shape (n, n)."""
    extra = (setting.noise**2 - 1.0) * brought.noise_sd**2
    return np.asarray(brought.covariance + extra * np.eye(brought.relative.size))


def noisy_covariance(brought: Brought, setting: Setting) -> Array:
    """Covariance of the readings under a setting, mean and noise included, shape (n, n)."""
    apart = distances(brought.positions_cm, brought.positions_cm)
    signal = matern(apart, setting.sd, setting.reach_cm) + MEAN_SD**2
    return np.asarray(signal + noise_covariance(brought, setting))


def map_field(brought: Brought, box: Box, rng: np.random.Generator, count: int = DRAWS) -> Field:
    """The map of `box` from readings brought to one moment; BadInputError below FEWEST readings."""
    if brought.relative.size < FEWEST:
        raise BadInputError(
            f"A survey of {brought.relative.size} readings tells nothing of the places between.",
            where="survey",
            cure=f"Read at least {FEWEST} places, better eight: every corner, at the substrate and above.",
        )
    choices, log_prior = settings(box)
    log_weight = log_prior + np.array(
        [log_evidence(brought.relative, noisy_covariance(brought, one)) for one in choices]
    )
    weight = np.exp(log_weight - log_weight.max())
    shares = rng.multinomial(count, weight / weight.sum())
    return _drawn(brought, box, choices, shares, rng)


def _drawn(
    brought: Brought, box: Box, choices: Sequence[Setting], shares: Counts, rng: np.random.Generator
) -> Field:
    """The map by `shares[k]` draws under each setting: draws of what is believed, moved to the readings.

    Source: conditioning by kriging, `journel_huijbregts_1978`; one root of a covariance serves all settings
    of one reach.
    """
    cells, count = box.cells(), int(shares.sum())
    places = np.vstack([cells, brought.positions_cm])
    apart = distances(places, places)
    units = {reach: matern(apart, 1.0, reach) for reach in {one.reach_cm for one in choices}}
    roots = {reach: root(unit) for reach, unit in units.items()}
    parts, covariance, noise = [], np.zeros((len(cells), len(cells))), 0.0
    for one, share in zip(choices, shares.tolist(), strict=True):
        if not share:
            continue
        parts.append(_draws(brought, one, roots[one.reach_cm], share, rng))
        signal = one.sd**2 * units[one.reach_cm] + MEAN_SD**2
        noisy = noisy_covariance(brought, one)
        inside = slice(len(cells))
        spread = predict(brought.relative, noisy, signal[inside, len(cells) :], signal[inside, inside])[1]
        covariance += share / count * spread
        noise += share / count * one.noise * brought.noise_sd
    logs = np.concatenate(parts, axis=1)[:, rng.permutation(count)]
    return Field(box, cells, logs, covariance, noise, np.exp(logs + rng.choice(brought.common, count)))


def _draws(
    brought: Brought, setting: Setting, unit_root: Array, count: int, rng: np.random.Generator
) -> Array:
    """Draws of the cells, shape (G, count); `unit_root` is that of cells and readings for an sd of 1."""
    n = brought.relative.size
    prior = setting.sd * unit_root @ rng.standard_normal((len(unit_root), count))
    prior += MEAN_SD * rng.standard_normal(count)
    noise = root(noise_covariance(brought, setting)) @ rng.standard_normal((n, count))
    covariance = setting.sd**2 * unit_root @ unit_root[-n:].T + MEAN_SD**2
    off = brought.relative[:, None] - prior[-n:] - noise
    return np.asarray(prior[:-n] + covariance[:-n] @ np.linalg.solve(noisy_covariance(brought, setting), off))


def predict_cells(brought: Brought, setting: Setting, places_cm: Array) -> tuple[Array, Array]:
    """Mean (m,) and covariance (m, m) of `relative` at places (m, 3) [cm] under one setting."""
    cross = matern(distances(places_cm, brought.positions_cm), setting.sd, setting.reach_cm)
    prior = matern(distances(places_cm, places_cm), setting.sd, setting.reach_cm)
    return predict(
        brought.relative, noisy_covariance(brought, setting), cross + MEAN_SD**2, prior + MEAN_SD**2
    )
