"""Whether the gas that is recorded seems to reach the water."""

import numpy as np

from dawnlevel.estimate.posterior import Posterior

_GAIN = "gain_mg_l_h_per_bps"

FAR_BELOW_SD = 2.0
"""How far below what is expected of a bubble its gain must lie to be told [sd of the prior]; own choice."""


def gas_arriving(posterior: Posterior) -> float | None:
    """What a bubble brings over what was expected of it [-], where that is far too little; else None.

    A count recorded while the cylinder is empty, the hose off or the diffuser clogged looks so.
    """
    expected = next(one for one in posterior.model.parameters if one.name == _GAIN)
    log_gain = np.log(posterior.unknowns[_GAIN]) + posterior.unknowns.drift_log[-1]
    below = (np.log(expected.centre) - float(np.median(log_gain))) / expected.spread
    return float(np.exp(np.median(log_gain)) / expected.centre) if below > FAR_BELOW_SD else None
