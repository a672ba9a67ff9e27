"""Two probes: the exchange time of simulated two-zone tanks comes back, whichever log is named first."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pytest
from cli_keeper import Keeper
from scipy.linalg import expm
from scipy.stats import binomtest

from dawnlevel.desk.evenness.mixing import mixing_view
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.practice.zones import side_pocket
from dawnlevel.survey.twin import follows

Array = npt.NDArray[np.float64]
STEP_H = 1.0 / 6.0
NOISE_PH = 0.005
UTC_ZONE = ZoneInfo("UTC")
BEGIN = datetime(2026, 5, 4, tzinfo=UTC)


def logged(
    rng: np.random.Generator, exchange_h: float, loss: float = 0.8, offset_ph: float = 0.0
) -> tuple[Array, Array, Array]:
    """Hours and pH of probes in the water and in a pocket of it over a day with nine hours of gas; exact."""
    low, high = (0.0, 0.5, 0.0), (0.35, 1.0, 0.5)
    shut, gas = (side_pocket(exchange_h, low, high, gas_mg_l_h=rate, loss=loss) for rate in (2.0, 24.0))
    moves = expm(shut.rates * STEP_H)
    level = -np.linalg.solve(shut.rates, shut.gas_mg_l_h)
    hours, levels = np.arange(0.0, 24.0, STEP_H), []
    for hour in hours:
        levels.append(level)
        now = gas if 6.0 <= hour < 15.0 else shut
        steady = -np.linalg.solve(now.rates, now.gas_mg_l_h)
        level = steady + moves @ (level - steady)
    ph = 7.0 - np.log10(np.array(levels) / 10.0) + NOISE_PH * rng.standard_normal((hours.size, 2))
    return hours, ph[:, 0], ph[:, 1] + offset_ph


def csv(hours: Array, ph: Array) -> bytes:
    moments = (BEGIN + timedelta(minutes=round(60.0 * float(hour))) for hour in hours)
    rows = (f"{at:%Y-%m-%dT%H:%M:%SZ},{one:.3f}" for at, one in zip(moments, ph, strict=True))
    return ("time,ph\n" + "\n".join(rows) + "\n").encode()


def test_exchange_times_of_two_zone_tanks_come_back() -> None:
    """Sixty tanks of 0.1 to 3 h with losses and offsets drawn: the 90 % interval holds as it says."""
    rng = np.random.default_rng(5)
    inside = offsets = led = 0
    off = []
    for _ in range(60):
        true_h = float(np.exp(rng.uniform(np.log(0.1), np.log(3.0))))
        offset = rng.normal(0.0, 0.05)
        hours, water, pocket = logged(rng, true_h, rng.uniform(0.0, 1.2), offset)
        found, reverse = follows(hours, water, pocket, rng), follows(hours, pocket, water, rng)
        low, middle, high = np.quantile(found.draws_h, (0.05, 0.5, 0.95))
        inside += low <= true_h <= high
        off.append(abs(middle / true_h - 1.0))
        low, high = np.quantile(found.offset_ph, (0.05, 0.95))
        offsets += low <= offset <= high
        led += found.log_evidence > reverse.log_evidence + np.log(9.0)
    assert binomtest(inside, 60, 0.9).pvalue > 0.01
    assert offsets >= 48  # the offset's prior is wider than what was drawn
    assert np.median(off) < 0.15
    assert led == 60


def test_a_gap_between_the_probes_alone_is_an_offset_not_a_lag() -> None:
    rng = np.random.default_rng(8)
    hours, water, _ = logged(rng, 1.0)
    found = follows(hours, water, water + 0.1 + NOISE_PH * rng.standard_normal(hours.size), rng)
    assert np.quantile(found.draws_h, 0.95) < 0.12  # less than a ten-minute bin
    assert np.median(found.offset_ph) == pytest.approx(0.1, abs=0.05)


def test_which_log_is_named_first_does_not_matter() -> None:
    hours, water, pocket = logged(np.random.default_rng(3), 0.7)
    one = mixing_view(csv(hours, water), "a.csv", csv(hours, pocket), "b.csv", UTC_ZONE)
    two = mixing_view(csv(hours, pocket), "b.csv", csv(hours, water), "a.csv", UTC_ZONE)
    assert (one.follower, two.follower) == ("second", "first")
    for view in (one, two):
        assert view.exchange_h.low_90 < 0.7 < view.exchange_h.high_90
        assert view.verdict.startswith("b.csv follows a.csv: water there stays about ")
    assert one.moved_ph > 0.5
    assert one.offset_ph.median == pytest.approx(-two.offset_ph.median, abs=0.05)


def test_water_with_gas_of_its_own_is_not_called_a_follower() -> None:
    """A second place that rises and falls by hours of its own is told as such."""
    hours, water, _ = logged(np.random.default_rng(3), 0.7)
    odd = water + 0.25 * np.sin(2.0 * np.pi * hours / 5.0)
    view = mixing_view(csv(hours, water), "a.csv", csv(hours, odd), "b.csv", UTC_ZONE)
    assert "does not simply follow" in view.verdict


@pytest.mark.parametrize(
    ("part", "words"), [(slice(0, 12), "hours in common"), (slice(0, 34), "pH moves by only")]
)
def test_logs_that_tell_too_little_are_told_so(part: slice, words: str) -> None:
    hours, water, pocket = logged(np.random.default_rng(3), 0.7)
    with pytest.raises(NotEnoughRecordsError, match=words):
        mixing_view(csv(hours[part], water[part]), "a.csv", csv(hours, pocket), "b.csv", UTC_ZONE)
    with pytest.raises(NotEnoughRecordsError, match=r"0\.0 hours in common"):
        mixing_view(csv(hours + 50.0, water), "a.csv", csv(hours, pocket), "b.csv", UTC_ZONE)


def test_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys)
    hours, water, pocket = logged(np.random.default_rng(3), 0.7)
    (tmp_path / "a.csv").write_bytes(csv(hours, water))
    (tmp_path / "b.csv").write_bytes(csv(hours, pocket))
    line = f"mixing {tmp_path}/a.csv {tmp_path}/b.csv"
    assert keeper(line).out.startswith("b.csv follows a.csv: water there stays about ")
    data = keeper(f"{line} --json --timezone Europe/Madrid").data
    assert (data["follower"], data["begin"]) == ("second", "2026-05-04T00:00:00Z")
    assert keeper(f"{line} --timezone Nowhere").code == 2
    assert "cannot be read" in keeper(f"mixing {tmp_path}/a.csv {tmp_path}/none.csv").err
