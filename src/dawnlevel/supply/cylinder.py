"""What is left in a cylinder and when it runs out: from weighings, counts and the gauge, with their errors.

Three things are unknown: the charge as filled, what the empty cylinder (and the regulator on it) weighs, and
the gas per count - per bubble where bubbles are counted, per day where they are not. Given the gas per count
the rest is a linear Gaussian problem and is solved exactly; the gas per count itself, lognormal before the
weighings, is laid out on a grid, and there the gauge has its say too. What comes out are weighted nodes:
no random numbers, the same records give the same answer.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import NormalDist

import numpy as np

from dawnlevel.arguments import Floats
from dawnlevel.errors import BadInputError
from dawnlevel.supply.pressure import ATM_BAR, cylinder_pressure_bar

CHARGE_SD = 0.02
"""Relative sd of a charge filled by weight; common practice, no source."""

TARE_SD_KG = 0.01
"""Sd of a stamped empty weight [kg]; common practice, no source."""

REGULATOR_KG = (0.8, 1.0)
"""What regulator, valve and tubing add on the scale: mean and sd [kg] of a normal cut off at nothing, since
they never make it lighter; common practice, no source."""

USUAL_FILL_KG_L = 0.667
"""Charge over water capacity [kg/L] where the capacity is not known: a usual full charge, within 6 % (0.60 to
0.75 is met; the limit of 49 CFR 173.304a is 0.68)."""

FILL_SD = 0.06
GAUGE_SD_BAR = 3.0
"""Sd of a small gauge's reading [bar]; common practice, no source."""

UNKNOWN_TEMP_C = (22.0, 3.0)
"""Cylinder's temperature where nobody read it: mean and sd [degC]; common practice, no source."""

READ_TEMP_SD_C = 1.0
"""Sd of the cylinder's temperature about a thermometer near it [degC]; common practice, no source."""

FUTURE_LOG_SD = 0.08
"""Log sd of the flow at a needle about its count, for the days ahead; common practice, no source."""

_MOST_MISFIT = 40.0
"""Sum of squared deviations [variances] beyond which weighings contradict: a chance of one in 1e9."""

_GRID, _REFINED, _WIDE = 401, 161, 6.0


def _scores(count: int) -> Floats:
    """Normal scores at the middles of `count` equally likely classes."""
    return np.array([NormalDist().inv_cdf((place + 0.5) / count) for place in range(count)])


_SCORES, _ROUGH_SCORES, _AHEAD = _scores(101), _scores(7), _scores(9)
_UNKNOWN_KG2 = 100.0**2
_TEMP_STEP_C = 0.5
_TOP_C = 64.0
_FILLS_KG_L = np.linspace(0.0, 0.85, 426)  # contents at which a gauge is worked out, 2 g/L apart


@dataclass(frozen=True, slots=True)
class CylinderFacts:
    """What is known of a cylinder: charge [kg], stamped empty weight [kg], water capacity [L]."""

    charge_kg: float
    tare_kg: float | None = None
    capacity_l: float | None = None


@dataclass(frozen=True, slots=True)
class UsePrior:
    """Gas per count before the weighings: median [kg] and log sd."""

    median_kg: float
    log_sd: float


def _none() -> Floats:
    return np.empty(0)


@dataclass(frozen=True, slots=True)
class Weighed:
    """Weighings, all of shape (w,): counts until then, weight [kg], how far the scale may be off [kg].

    `has_regulator` is 1 where the regulator stood on the scale too, else 0.
    """

    counts: Floats = field(default_factory=_none)
    gross_kg: Floats = field(default_factory=_none)
    scale_kg: Floats = field(default_factory=_none)
    has_regulator: Floats = field(default_factory=_none)


@dataclass(frozen=True, slots=True)
class Gauged:
    """Gauge readings, all of shape (g,): counts until then, bar above the air, degC (NaN: not read)."""

    counts: Floats = field(default_factory=_none)
    gauge_bar: Floats = field(default_factory=_none)
    temp_c: Floats = field(default_factory=_none)


@dataclass(frozen=True, slots=True)
class Contents:
    """What the records say, as weighted nodes, all of shape (k,).

    Attributes:
        use_kg: gas per count [kg].
        charge_kg: charge as filled [kg].
        weight: weight of each node, sum 1.
    """

    use_kg: Floats
    charge_kg: Floats
    weight: Floats

    def used_kg(self, counts: float) -> Floats:
        """Gas gone after `counts` [kg], shape (k,); never more than the charge."""
        return np.asarray(np.minimum(self.use_kg * counts, self.charge_kg))

    def left_kg(self, counts: float) -> Floats:
        """Gas left after `counts` [kg], shape (k,): the charge less what is gone."""
        return np.asarray(self.charge_kg - self.used_kg(counts))

    def quantiles(self, values: Floats, shares: tuple[float, ...]) -> Floats:
        """Weighted quantiles of node `values` (k,) at `shares` [-], shape of `shares`."""
        return weighted_quantiles(values, self.weight, shares)

    def days_left(self, counts: float, counts_per_day: float, shares: tuple[float, ...]) -> Floats:
        """Quantiles of the days until the cylinder is empty [d]; infinite where nothing is counted.

        `counts` until now, `counts_per_day` from now on, as set; the flow at a needle may be off by 8 %.
        """
        if counts_per_day <= 0.0:
            return np.full(len(shares), np.inf)
        a_day = self.use_kg[:, None] * counts_per_day * np.exp(FUTURE_LOG_SD * _AHEAD)
        days = self.left_kg(counts)[:, None] / a_day
        weight = np.repeat(self.weight, _AHEAD.size) / _AHEAD.size
        return weighted_quantiles(days.ravel(), weight, shares)


def weighted_quantiles(values: Floats, weight: Floats, shares: tuple[float, ...]) -> Floats:
    """Quantiles at `shares` [-] of `values` (k,) with `weight` (k,), linear between nodes."""
    order = np.argsort(values)
    share = np.cumsum(weight[order]) - 0.5 * weight[order]
    return np.asarray(np.interp(shares, share / weight.sum(), values[order]), dtype=np.float64)


def contents(facts: CylinderFacts, prior: UsePrior, weighed: Weighed, gauged: Gauged) -> Contents:
    """What weighings and gauge say of a cylinder's gas, and of the gas per count.

    A scale off by up to a counts as an sd of a / sqrt 3 (GUM). Raises BadInputError where the weighings fit
    no cylinder of that charge at all. Source: Bayes' rule on a linear Gaussian model, and a grid for the gas
    per count; pressure of Span & Wagner 1996 and 2003 for the gauge.
    """
    weigh = _Weigh(facts, weighed)
    coarse = np.linspace(-_WIDE, _WIDE, _GRID)
    _check_fit(coarse, prior, weigh)
    found = _nodes(coarse, _ROUGH_SCORES, facts, prior, weigh, gauged)
    z = np.repeat(coarse, _ROUGH_SCORES.size)
    centre = float(np.sum(z * found.weight))
    spread = float(np.sqrt(np.sum((z - centre) ** 2 * found.weight)))
    spread = max(spread, 0.5 * (coarse[1] - coarse[0]))
    fine = centre + np.linspace(-_WIDE, _WIDE, _REFINED) * spread
    return _nodes(fine, _SCORES, facts, prior, weigh, gauged)


class _Weigh:
    """The linear Gaussian part: what weighings say of the charge once the gas per count is given."""

    def __init__(self, facts: CylinderFacts, weighed: Weighed) -> None:
        tare_var = _UNKNOWN_KG2 if facts.tare_kg is None else TARE_SD_KG**2
        tare = facts.charge_kg if facts.tare_kg is None else facts.tare_kg
        prior = np.diag([(CHARGE_SD * facts.charge_kg) ** 2, tare_var, REGULATOR_KG[1] ** 2])
        count = weighed.counts.size
        design = np.column_stack((np.ones(count), np.ones(count), weighed.has_regulator))
        noise = np.diag(weighed.scale_kg**2 / 3.0)
        self.mean = np.array([facts.charge_kg, tare, REGULATOR_KG[0]])
        self.residual = weighed.gross_kg - design @ self.mean
        self.counts = weighed.counts
        self.precision = np.linalg.inv(design @ prior @ design.T + noise) if count else np.zeros((0, 0))
        gain = prior @ design.T @ self.precision
        left = prior - gain @ design @ prior
        self.charge_gain, self.regulator_gain = gain[0], gain[2]
        self.charge_sd = float(np.sqrt(left[0, 0]))
        self.regulator_by_score = float(left[0, 2]) / self.charge_sd
        self.regulator_sd = float(np.sqrt(max(left[2, 2] - self.regulator_by_score**2, 1e-12)))

    def given(self, use_kg: Floats) -> tuple[Floats, Floats]:
        """Mean of the charge [kg] and log likelihood of the weighings for each gas per count, shape (b,)."""
        off = self.residual + use_kg[:, None] * self.counts
        fit = -0.5 * np.einsum("bi,ij,bj->b", off, self.precision, off)
        return self.mean[0] + off @ self.charge_gain, fit

    def bears(self, use_kg: Floats, scores: Floats) -> Floats:
        """Log chance that the regulator weighs something, (b, s): gas per count (b,), charge scores (s,).

        Given charge and gas per count its weight is normal; cutting that off at nothing multiplies by this.
        """
        from scipy.special import log_ndtr  # noqa: PLC0415 - scipy would slow the start of every command

        off = self.residual + use_kg[:, None] * self.counts
        middle = self.mean[2] + off @ self.regulator_gain
        weighs = middle[:, None] + self.regulator_by_score * scores
        return np.asarray(log_ndtr(weighs / self.regulator_sd))


def _check_fit(z: Floats, prior: UsePrior, weigh: _Weigh) -> None:
    """Raise BadInputError where no gas per count, however odd, explains the weighings."""
    use = prior.median_kg * np.exp(prior.log_sd * z)
    _, fit = weigh.given(use)
    fit = fit + weigh.bears(use, _ROUGH_SCORES).max(axis=1)
    if -2.0 * float(fit.max()) > _MOST_MISFIT + 2.0 * weigh.counts.size:
        raise BadInputError(
            "The weighings fit no cylinder of that charge.",
            where="cylinder",
            cure="Check weights and units, what stood on the scale, and whether an exchange was recorded. If "
            "all is right, it was not full when connected, or gas leaves by a leak: close it, air the room, "
            "look for bubbles with soapy water.",
        )


def _nodes(
    z: Floats, scores: Floats, facts: CylinderFacts, prior: UsePrior, weigh: _Weigh, gauged: Gauged
) -> Contents:
    """Weighted nodes for scores `z` (b,) of the gas per count, with charges at `scores` for each."""
    use = prior.median_kg * np.exp(prior.log_sd * z)
    middle, fit = weigh.given(use)
    charge = np.maximum(middle[:, None] + weigh.charge_sd * scores, 0.0)
    log_weight = ((fit - 0.5 * z * z)[:, None] + weigh.bears(use, scores)).ravel()
    nodes = Contents(np.repeat(use, scores.size), charge.ravel(), np.ones(log_weight.size))
    capacity = facts.capacity_l or facts.charge_kg / USUAL_FILL_KG_L
    doubt = 0.0 if facts.capacity_l else FILL_SD
    for count, bar, temp in zip(gauged.counts, gauged.gauge_bar, gauged.temp_c, strict=True):
        log_weight = log_weight + _gauge_fit(nodes.left_kg(count) / capacity, float(bar), float(temp), doubt)
    weight = np.exp(log_weight - log_weight.max())
    return Contents(nodes.use_kg, nodes.charge_kg, weight / weight.sum())


def _gauge_fit(fill: Floats, gauge_bar: float, temp_c: float, fill_doubt: float) -> Floats:
    """Log likelihood of one gauge reading for contents over capacity `fill` [kg/L], shape (k,)."""
    temp, temp_sd = UNKNOWN_TEMP_C if np.isnan(temp_c) else (temp_c, READ_TEMP_SD_C)
    temp = min(temp, _TOP_C)
    shown = _shown(_FILLS_KG_L)
    expected = shown(0.0, temp)
    by_temp = (shown(0.0, temp + _TEMP_STEP_C) - expected) / _TEMP_STEP_C * temp_sd
    by_fill = shown(fill_doubt, temp) - expected
    variance = GAUGE_SD_BAR**2 + by_temp**2 + by_fill**2
    fit = -0.5 * (gauge_bar - expected) ** 2 / variance - 0.5 * np.log(variance)
    return np.interp(fill, _FILLS_KG_L, fit)


def _shown(fill: Floats) -> Callable[[float, float], Floats]:
    """What a gauge shows [bar above air] for contents a share more than `fill`, at a temperature [degC]."""

    def at(more: float, temp_c: float) -> Floats:
        inside = np.clip(fill * (1.0 + more), 0.0, _FILLS_KG_L[-1])
        return np.asarray(np.maximum(cylinder_pressure_bar(temp_c, inside) - ATM_BAR, 0.0))

    return at
