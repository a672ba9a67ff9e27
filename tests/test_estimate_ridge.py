"""Draws about a peak whose ridge leads astray: they must stay where the posterior is."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import numpy as np
import pytest

from dawnlevel.estimate.laplace import Peak, find_peak
from dawnlevel.estimate.model import TankModel, build_model
from dawnlevel.estimate.sampler import draw
from dawnlevel.tank import Record, Tank
from tests.estimate_worlds import Floats, drawn_records, one_day, three_days


def astray(peak: Peak) -> Peak:
    """The peak with a ridge that bends the wrong way, and far."""
    assert peak.ridge is not None
    return replace(peak, ridge=replace(peak.ridge, jacobian=-4.0 * peak.ridge.jacobian))


@pytest.mark.parametrize("world", [one_day, three_days], ids=["one_day", "three_days"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_ridge_that_leads_astray_is_left(
    world: Callable[[], tuple[Tank, list[Record], datetime]], seed: int
) -> None:
    """Against draws from the sound ridge; straight axes reach less far into the tails, so not closer."""
    tank, template, end = world()
    records, _, _ = drawn_records(tank, template, end, np.random.default_rng([3, seed]))
    peak, model = find_peak(build_model(tank, records, end))
    sound, left = (
        draw(model, one, np.random.default_rng(seed), 1024, 2048, 40).z for one in (peak, astray(peak))
    )
    for ours, theirs in zip(_told(model, left), _told(model, sound), strict=True):
        assert abs(ours.mean() - theirs.mean()) < 0.5 * theirs.std()
        assert 0.6 < ours.std() / theirs.std() < 1.5


def _told(model: TankModel, z: Floats) -> tuple[Floats, Floats]:
    unknowns = model.unknowns(z)
    return np.log(model.levels(unknowns)[-1]), np.log(unknowns["alkalinity_meq_l"])
