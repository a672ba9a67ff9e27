"""The KH drop kit: how much a larger sample helps, and what its end point adds in soft water."""

from dataclasses import dataclass
from math import ceil, sqrt

from dawnlevel.arguments import checked
from dawnlevel.chemistry import kit_alkalinity_meq_l
from dawnlevel.units import dkh_to_meq_l, meq_l_to_dkh

KIT_BIAS_SD = 0.07
"""Relative sd of a kit's standing bias: 5 to 10 %; common practice, no source. No sample size helps against
it; a solution of known KH does."""

MULTIPLES = (1, 2, 4)


@dataclass(frozen=True, slots=True)
class KitPlan:
    """One titration.

    Attributes:
        multiple: how many times the usual sample.
        step_dkh: what one drop stands for then [dKH].
        drops: drops it takes, about.
        counting_percent: sd of KH from counting whole drops [%]; CO2 is off by the same share.
        with_bias_percent: the same with the kit's standing bias [%].
    """

    multiple: int
    step_dkh: float
    drops: int
    counting_percent: float
    with_bias_percent: float


def kit_plans(kh_dkh: float, step_dkh: float, multiples: tuple[int, ...] = MULTIPLES) -> tuple[KitPlan, ...]:
    """What samples of several sizes tell of a KH.

    Args:
        kh_dkh: about what is there [dKH], 0.1 to 40.
        step_dkh: what one drop stands for with the usual sample [dKH], 0.01 to 5.
        multiples: sample sizes, in usual samples.

    The true value lies anywhere within the last drop: sd of one drop over sqrt 12. Raises OutOfRangeError.
    Source: rounding; bias by common practice.
    """
    checked("KH kit", "KH", kh_dkh, 0.1, 40.0, "dKH")
    checked("KH kit", "step", step_dkh, 0.01, 5.0, "dKH")
    plans = []
    for multiple in multiples:
        step = step_dkh / multiple
        counting = step / sqrt(12.0) / kh_dkh
        plans.append(
            KitPlan(
                multiple=multiple,
                step_dkh=step,
                drops=max(ceil(kh_dkh / step - 1e-9), 1),
                counting_percent=100.0 * counting,
                with_bias_percent=100.0 * sqrt(counting**2 + KIT_BIAS_SD**2),
            )
        )
    return tuple(plans)


def end_point_bias_dkh(kh_dkh: float, ph: float = 7.0, temp_c: float = 25.0) -> float:
    """What an ideal kit with an end point at pH 4.5 counts too much in pure carbonate water [dKH].

    `kh_dkh` true [dKH], 0.1 to 40; `ph` of the water as titrated [-]; `temp_c` [degC]. In soft water the acid
    that makes the water so sour counts as KH. Raises OutOfRangeError. Source: `kit_alkalinity_meq_l`.
    """
    checked("KH kit", "KH", kh_dkh, 0.1, 40.0, "dKH")
    return meq_l_to_dkh(float(kit_alkalinity_meq_l(dkh_to_meq_l(kh_dkh), ph, temp_c))) - kh_dkh
