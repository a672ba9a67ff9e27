"""Which instrument limits CO2: draws whose level is made of known parts must give those parts back."""

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from dawnlevel.estimate.instruments import INSTRUMENTS, limits


def made(parts: dict[str, float], noise: float = 0.0) -> Any:
    """A posterior whose ln CO2 is a sum of unknowns, each independent standard normal, and noise."""
    names = [name for one in INSTRUMENTS for name in one.unknowns]
    rng = np.random.default_rng(5)
    z = rng.standard_normal((len(names), 20_000))
    level = sum(weight * z[names.index(name)] for name, weight in parts.items())
    level = level + noise * rng.standard_normal(20_000)
    return SimpleNamespace(
        levels=np.exp(np.vstack((level, level))),
        draws=SimpleNamespace(z=z),
        model=SimpleNamespace(parameters=[SimpleNamespace(name=name) for name in names]),
    )


def test_shares_are_the_parts_of_the_variance() -> None:
    """0.3, 0.4 and 0.5 squared are 9, 16 and 25 of 50; noise has the rest of 100."""
    posterior = made({"meter_offset_ph": 0.3, "kh_kit_log": 0.4, "kla_per_h": 0.5}, noise=50.0**0.5 / 10.0)
    found = {one.kind: one.share for one in limits(posterior)}
    assert found["meter"] == pytest.approx(0.09, abs=0.01)
    assert found["kh_kit"] == pytest.approx(0.16, abs=0.01)
    assert found["balance"] == pytest.approx(0.25, abs=0.01)
    assert found["cell"] == pytest.approx(0.0, abs=0.005)
    assert [one.kind for one in limits(posterior)][:3] == ["balance", "kh_kit", "meter"]


def test_one_instrument_alone_has_it_all() -> None:
    first = limits(made({"meter_offset_ph": 0.2, "meter_slope_log": 0.1}))[0]
    assert first.kind == "meter"
    assert first.share == pytest.approx(1.0, abs=1e-9)
