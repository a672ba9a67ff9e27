"""What the gas brings and what the plants take: priors before any reading, per litre of tank."""

from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.prior import Prior, SharePrior
from dawnlevel.tank import Diffuser, Planting

_PRACTICE = "common practice, no source; beside the computed uptake of a rising bubble"
_UPTAKE = (
    "judgement between three routes (computed): light 0.04 mol CO2/mol (from memory), a river stand's "
    "7.5 g O2/m2/d (Potamogeton pectinatus, River Susa, abstract), growth 0.03 /d "
    "(Nielsen & Sand-Jensen 1991, Aquat. Bot. 39, 109)"
)

#: CO2 in one bubble of the counter, mg: 0.10, a factor 2 either way. Computed from Harkins-Brown volumes
#: of bores of 1-4 mm (0.035-0.169 mg at 22 degC, 1 atm); pressure in the counter is the largest error.
BUBBLE_MG = Prior(
    0.10, 0.05, 0.20, "mg", "computed: drop-weight law with Harkins-Brown factors (from memory)"
)

#: Share of the gas that dissolves, by diffuser.
DISSOLVED_SHARE: dict[Diffuser, SharePrior] = {
    Diffuser.COARSE: SharePrior(0.30, 0.10, 0.50, _PRACTICE),
    Diffuser.FINE: SharePrior(0.60, 0.30, 0.85, _PRACTICE),
    Diffuser.INLINE: SharePrior(0.80, 0.60, 0.95, _PRACTICE),
    # The upper end is "all of it"; 0.99 stands for it, since log-odds have no 1.
    Diffuser.REACTOR: SharePrior(0.95, 0.85, 0.99, _PRACTICE),
}

#: Net CO2 uptake in full light, mg/L/h, by planting. For sparse planting only the median is given; it
#: takes the factor of medium planting (judgement, no source).
UPTAKE_MG_L_H: dict[Planting, Prior] = {
    Planting.SPARSE: Prior(0.2, 0.075, 0.5, "mg/L/h", _UPTAKE),
    Planting.MEDIUM: Prior(0.8, 0.3, 2.0, "mg/L/h", _UPTAKE),
    Planting.DENSE: Prior(2.0, 0.7, 5.0, "mg/L/h", _UPTAKE),
}

_SECONDS_PER_HOUR = 3600.0
# Normal scores at the middles of 200 equally likely classes.
_SCORES = np.array([NormalDist().inv_cdf((i + 0.5) / 200) for i in range(200)])


def injected_mg_l_h_per_bps(volume_l: float, diffuser: Diffuser) -> Prior:
    """CO2 dissolved per bubble a second, mg/L/h, in `volume_l` [L]: median and 90 % span.

    Bubble and share are taken as independent. The quantiles of their product are read from an even grid
    of both; within 0.5 % of endless draws. The bubble's factor 2 rules.
    """
    share = DISSOLVED_SHARE[diffuser]
    product = BUBBLE_MG.from_normal(_SCORES) * share.from_normal(_SCORES[:, np.newaxis])
    low, median, high = np.quantile(product, [0.05, 0.5, 0.95]) * (_SECONDS_PER_HOUR / volume_l)
    return Prior(float(median), float(low), float(high), "mg/L/h per bubble/s", share.source)


def injected_mg_l_h(
    bubbles_per_second: npt.ArrayLike, gain_mg_l_h_per_bps: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    """CO2 that the gas adds [mg/L/h] at a bubble rate [1/s] and a gain [mg/L/h per 1/s]; broadcast."""
    added: npt.NDArray[np.float64] = np.asarray(bubbles_per_second, dtype=np.float64) * np.asarray(
        gain_mg_l_h_per_bps, dtype=np.float64
    )
    return added
