"""Two probes in one tank: how long the water at one of them stays, from how late it follows the other.

Both are in water of one KH and temperature, so CO2 at one over that at the other is 10 to the difference of
their pH. A place that follows obeys dC2/dt = (C1 - C2) / tau - loss C2, as in `survey.exchange`; the meters'
offset, drift and noise are averaged over.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from dawnlevel.survey.exchange import LONGEST_H, MOST_LOSS_PER_H, SHORTEST_H, lagged

Array = npt.NDArray[np.float64]

OFFSET_SD_PH = 0.1
"""Doubt of the difference between two calibrated probes [pH]; common practice, no source."""

DRIFT_OVER_NOISE, DRIFT_H = 2.0, 12.0
"""Slow wandering of a probe, over its noise, and the time within which it wanders [h]; own choice."""

NOISES_PH = (0.003, 0.006, 0.012, 0.025, 0.05)
"""Noise of a ten-minute mean that is weighed [pH]: from a fine probe to water that does not simply follow."""

BAD_FIT_PH = 0.02
"""Noise from which on the second place does not simply follow the first [pH]; own choice."""

_TAUS = np.geomspace(SHORTEST_H, LONGEST_H, 70)
_LOSSES = np.linspace(0.0, MOST_LOSS_PER_H, 7)
_LEFT_OUT = 0.1  # of the hours: what the place held at their beginning is known up to the offset only


@dataclass(frozen=True, slots=True)
class Follows:
    """How one probe's place follows the other's.

    Attributes:
        draws_h: draws of its exchange time [h], shape (n,).
        offset_ph: draws of the second probe's offset against the first [pH], shape (n,).
        noise_ph: noise that suits best [pH].
        told: share of the prior's width (in the logarithm) that the logs took away, 0 to 1.
        log_evidence: how well it suits, for comparing which of two follows.
    """

    draws_h: Array
    offset_ph: Array
    noise_ph: float
    told: float
    log_evidence: float


def follows(
    hours: Array, first_ph: Array, second_ph: Array, rng: np.random.Generator, count: int = 400
) -> Follows:
    """How the second probe's place follows the first's; all of shape (m,), hours [h] rising, m 12 or more."""
    level, seen = 10.0 ** (first_ph.mean() - first_ph), 10.0 ** (first_ph.mean() - second_ph)
    tau, loss = np.meshgrid(_TAUS, _LOSSES, indexing="ij")
    rate = 1.0 / tau + loss
    left = seen[0] * np.exp(-(hours[:, None, None] - hours[0]) * rate)
    model = lagged(level, hours, tau, loss) + left
    used = hours >= hours[0] + _LEFT_OUT * (hours[-1] - hours[0])
    off = (np.log10(model) - np.log10(seen)[:, None, None])[used].reshape(int(used.sum()), -1)
    weights = np.empty((len(NOISES_PH), off.shape[1]))
    offsets = np.empty_like(weights)
    spreads = np.empty(len(NOISES_PH))
    for number, noise_ph in enumerate(NOISES_PH):
        weights[number], offsets[number], spreads[number] = _likelihood(hours[used], off, noise_ph)
    top = float(weights.max())
    likely = np.exp(weights - top)
    drawn = rng.choice(likely.size, count, p=likely.ravel() / likely.sum())
    noise, cell = np.divmod(drawn, off.shape[1])
    step = np.log(_TAUS[1] / _TAUS[0])
    logs = np.log(tau.ravel()[cell]) + step * rng.uniform(-0.5, 0.5, count)
    return Follows(
        draws_h=np.exp(logs),
        offset_ph=offsets[noise, cell] + spreads[noise] * rng.standard_normal(count),
        noise_ph=NOISES_PH[int(np.argmax(likely.sum(axis=1)))],
        told=max(0.0, 1.0 - float(np.std(logs)) / float(np.std(np.log(_TAUS)))),
        log_evidence=top + float(np.log(likely.mean())),
    )


def _likelihood(hours: Array, off_ph: Array, noise_ph: float) -> tuple[Array, Array, float]:
    """Log-likelihood of residuals (m, c) [pH] with the offset averaged over, its mean and sd given each."""
    apart = np.abs(hours[:, None] - hours[None, :])
    drift = (DRIFT_OVER_NOISE * noise_ph) ** 2 * np.exp(-apart / DRIFT_H)
    root = np.linalg.cholesky(drift + noise_ph**2 * np.eye(hours.size))
    white, ones = np.linalg.solve(root, off_ph), np.linalg.solve(root, np.ones(hours.size))
    sure = float(ones @ ones) + 1.0 / OFFSET_SD_PH**2
    pull = ones @ white
    fit = -0.5 * ((white**2).sum(axis=0) - pull**2 / sure)
    sizes = float(np.log(np.diag(root)).sum()) + 0.5 * np.log(sure * OFFSET_SD_PH**2)
    return fit - sizes, pull / sure, float(sure**-0.5)
