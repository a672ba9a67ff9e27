"""Recipes for reference solutions: what to weigh with the balance at hand, and how far off the result may be.

A balance that cannot tell 0.12 g weighs more into a stock and dilutes it. Every step's error is carried on; a
figure off by up to a counts as an sd of a / sqrt 3 (GUM).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from math import floor, hypot, sqrt

import numpy.typing as npt

from dawnlevel.arguments import Floats, checked
from dawnlevel.errors import BadInputError
from dawnlevel.units import dkh_to_mg_l_nahco3

PURITY_SD = 0.005
"""Relative sd of baking soda's content of NaHCO3; common practice, no source."""

MEASURE_SD, MEASURE_SD_ML = 0.01, 0.1
"""Sd of a measuring cylinder or syringe: 1 % of the volume, and 0.1 mL; common practice, no source."""

LEAST_DIGIT_G = 0.0025
"""A milligram balance is off by 2 to 3 mg however fine its digits; from memory, not checked."""

MOST_STOCK_G_L = 40.0
"""Strongest stock [g/L]: well below the 96 g/L that dissolve at 20 degC (handbook, from memory)."""

MOST_WEIGHED_G = 50.0
GOOD_ENOUGH_PERCENT = 3.0
"""A route as good as this is taken before a longer one: CO2 within 3 %, far below what an eye tells."""

MOST_ERROR_PERCENT = 15.0
"""A solution worse than this is no reference; own choice."""

_STOCKS_ML = (100.0, 250.0, 500.0, 1000.0)
_TAKEN_ML = (5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0)
_BETWEEN_ML = (250.0, 500.0, 1000.0)
_WHERE = "reference solution"


class Route(StrEnum):
    """How a solution is made."""

    DIRECT = "direct"
    STOCK = "stock"
    TWO_STAGE = "two_stage"


@dataclass(frozen=True, slots=True)
class Recipe:
    """How to make a reference solution.

    Attributes:
        route: weighed straight in, from a stock, or from a stock diluted twice.
        mass_g: baking soda to weigh [g].
        stock_ml: volume in which it is dissolved [mL].
        taken_ml: stock taken for each dilution [mL]; empty for the direct route.
        filled_ml: volume to which each is filled up [mL].
        kh_dkh: KH that comes out [dKH].
        error_percent: how far its KH may be off, one sd [%]; CO2 read from the cell is off by the same share.
    """

    route: Route
    mass_g: float
    stock_ml: float
    taken_ml: tuple[float, ...]
    filled_ml: tuple[float, ...]
    kh_dkh: float
    error_percent: float


def balance_error_g(step_g: float) -> float:
    """How far a balance with digits of `step_g` [g] may be off [g]: a digit, and no less than 2.5 mg."""
    return max(step_g, LEAST_DIGIT_G)


def _liquid_sd(volume_ml: float) -> float:
    """Relative sd of a measured volume [mL]."""
    return hypot(MEASURE_SD, MEASURE_SD_ML / volume_ml)


def _recipe(mass_g: float, step_g: float, volumes: tuple[float, ...], taken: tuple[float, ...]) -> Recipe:
    """The recipe for a weighed mass, the volumes filled up to, and what is taken between them."""
    g_l = 1000.0 * mass_g / volumes[0]
    variance = (
        (balance_error_g(step_g) / sqrt(3.0) / mass_g) ** 2 + PURITY_SD**2 + _liquid_sd(volumes[0]) ** 2
    )
    for took, filled in zip(taken, volumes[1:], strict=True):
        g_l *= took / filled
        variance += _liquid_sd(took) ** 2 + _liquid_sd(filled) ** 2
    return Recipe(
        route=(Route.DIRECT, Route.STOCK, Route.TWO_STAGE)[len(taken)],
        mass_g=mass_g,
        stock_ml=volumes[0],
        taken_ml=taken,
        filled_ml=volumes[1:],
        kh_dkh=1000.0 * g_l / dkh_to_mg_l_nahco3(1.0),
        error_percent=100.0 * sqrt(variance),
    )


def _on_the_scale(mass_g: float, step_g: float) -> float:
    """The mass to weigh [g]: the nearest the balance can show, to its digit."""
    return round(floor(mass_g / step_g + 0.5) * float(step_g), 9)


def direct_recipe(kh_dkh: float, volume_l: float, step_g: float) -> Recipe | None:
    """Baking soda weighed straight into the solution; None where the balance shows nothing for it.

    `kh_dkh` [dKH], `volume_l` [L], `step_g` the balance's digit [g], as in `recipe`.
    """
    mass = _on_the_scale(1e-3 * dkh_to_mg_l_nahco3(kh_dkh) * volume_l, step_g)
    return _recipe(mass, step_g, (1000.0 * volume_l,), ()) if mass > 0.0 else None


def _stocks(step_g: float) -> Iterator[tuple[float, float, float]]:
    """Stocks worth making: grams weighed, millilitres, grams a litre; the mass as large as may be."""
    for volume_ml in _STOCKS_ML:
        for strength in (40.0, 20.0, 10.0, 5.0, 2.5, 1.25):
            mass = _on_the_scale(strength * volume_ml / 1000.0, step_g)
            if 0.0 < mass <= MOST_WEIGHED_G and 1000.0 * mass / volume_ml <= MOST_STOCK_G_L:
                yield mass, volume_ml, 1000.0 * mass / volume_ml


def _diluted(kh_dkh: float, volume_l: float, step_g: float) -> Iterator[Recipe]:
    """Every way by one or two dilutions of a stock, the last volume being the one wanted."""
    wanted_g_l, last_ml = 1e-3 * dkh_to_mg_l_nahco3(kh_dkh), 1000.0 * volume_l
    for mass, stock_ml, g_l in _stocks(step_g):
        take = round(last_ml * wanted_g_l / g_l, 1)
        if 2.0 <= take <= min(stock_ml, 0.9 * last_ml):
            yield _recipe(mass, step_g, (stock_ml, last_ml), (take,))
        for first in _TAKEN_ML:
            for between in _BETWEEN_ML:
                second = round(last_ml * wanted_g_l / (g_l * first / between), 1)
                if first <= min(stock_ml, 0.5 * between) and 5.0 <= second <= min(between, 0.9 * last_ml):
                    yield _recipe(mass, step_g, (stock_ml, between, last_ml), (first, second))


def recipe(kh_dkh: float, volume_l: float, step_g: float) -> Recipe:
    """The simplest good recipe for a solution of a KH with a balance of a given digit.

    Args:
        kh_dkh: wanted [dKH], 0.1 to 100.
        volume_l: wanted [L], 0.05 to 20.
        step_g: the balance's digit [g], 0.0001 to 5.

    Weighed straight in where that is within 3 %, else from a stock, else from a stock diluted twice; where
    none is within 3 %, the one that errs least. Raises OutOfRangeError, and BadInputError where none is
    within 15 %. Source: 1 dKH is 29.96 mg/L NaHCO3; error propagation (GUM).
    """
    checked(_WHERE, "KH", kh_dkh, 0.1, 100.0, "dKH")
    checked(_WHERE, "volume", volume_l, 0.05, 20.0, "L")
    checked(_WHERE, "digit of the balance", step_g, 0.0001, 5.0, "g")
    direct = direct_recipe(kh_dkh, volume_l, step_g)
    found = [*([] if direct is None else [direct]), *_diluted(kh_dkh, volume_l, step_g)]
    for route in Route:
        good = [one for one in found if one.route is route and one.error_percent <= GOOD_ENOUGH_PERCENT]
        if good:
            return min(good, key=_burden)
    best = min(found, key=lambda one: one.error_percent, default=None)
    if best is None or best.error_percent > MOST_ERROR_PERCENT:
        raise BadInputError(
            f"A balance of {step_g:g} g cannot make {volume_l:g} L of {kh_dkh:g} dKH within "
            f"{MOST_ERROR_PERCENT:g} %.",
            where=_WHERE,
            cure="Make more of it at once, or use a finer balance.",
        )
    return best


def _burden(one: Recipe) -> tuple[float, float]:
    """What makes one of several good recipes better: a smaller error by half percents, then less to weigh."""
    return round(2.0 * one.error_percent), one.mass_g


def dilution_ml(stock_dkh: float, kh_dkh: float, volume_l: float) -> float:
    """Stock [mL] of `stock_dkh` [dKH] to fill up to `volume_l` [L] for `kh_dkh` [dKH].

    Raises BadInputError where the stock is no stronger than what is wanted, OutOfRangeError. Source: mass
    balance.
    """
    checked(_WHERE, "KH of the stock", stock_dkh, 0.1, 1500.0, "dKH")
    checked(_WHERE, "KH", kh_dkh, 0.1, 100.0, "dKH")
    checked(_WHERE, "volume", volume_l, 0.05, 20.0, "L")
    if stock_dkh <= kh_dkh:
        raise BadInputError(
            f"A stock of {stock_dkh:g} dKH cannot be diluted to {kh_dkh:g} dKH.",
            where=_WHERE,
            cure="Give the stronger solution's KH first.",
        )
    return 1000.0 * volume_l * kh_dkh / stock_dkh


def bicarbonate_mg_per_l(dkh: npt.ArrayLike) -> Floats:
    """Sodium hydrogencarbonate [mg/L] that makes pure water of `dkh` [dKH], 0 to 1000; same shape.

    NaN gives NaN. Raises OutOfRangeError, BadInputError. Source: 1 dKH is 10 mg/L CaO; molar masses.
    """
    return dkh_to_mg_l_nahco3(checked(_WHERE, "KH", dkh, 0.0, 1000.0, "dKH"))[()]
