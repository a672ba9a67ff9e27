"""A tank's stored log judged by its own records: the same findings as from the file with its card."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from cli_keeper import Keeper
from watch_tanks import CARD, Course, log

from dawnlevel.desk.steadiness.logfile import probe_log
from dawnlevel.desk.steadiness.logtime import wall_minutes
from dawnlevel.desk.steadiness.watch import watch_probe
from dawnlevel.desk.steadiness.watching import tank_watch
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.store import Store, open_store
from dawnlevel.tank import KhTitration, Photoperiod, Tank, TimerSetting
from dawnlevel.tank.samples import Samples
from dawnlevel.units import meq_l_to_dkh

BEGIN = datetime(2026, 5, 4, tzinfo=UTC)
NOW = BEGIN + timedelta(days=30)


def logged() -> Samples:
    """A tank whose gas opens an hour late from its 16th day on."""
    hours, ph, temp = log(Course(late_h=lambda d: 0.0 if d < 15 else 1.0))
    return Samples(int(BEGIN.timestamp()) // 60 + np.round(60.0 * hours).astype(np.int64), ph, temp)


def kept(place: str, *, kh: bool = True, timer: bool = True) -> Store:
    store = open_store(place, clock=lambda: NOW)
    lights = Photoperiod(lights_on_h=CARD.lights_on_h, lights_off_h=CARD.lights_off_h)
    tank = Tank(
        name="Brook", volume_l=180.0, depth_cm=45.0, surface_cm2=4000.0, photoperiod=lights, temp_c=24.0
    )
    store.add_tank(tank, BEGIN)
    if kh:
        dkh = float(meq_l_to_dkh(CARD.alkalinity_meq_l))
        store.add_records("Brook", [KhTitration(at=BEGIN, kh_dkh=1.0), KhTitration(at=NOW, kh_dkh=dkh)])
    if timer:
        windows = ((2.0, 2.5), (CARD.gas_on_h, CARD.gas_off_h))
        store.add_records("Brook", [TimerSetting(at=BEGIN, windows_h=windows)])
    return store


def test_a_stored_log_is_judged_as_the_file_is() -> None:
    with kept("sqlite://") as store:
        store.add_samples("Brook", logged(), "log.csv")
        view = tank_watch(store, "Brook", NOW)
    assert view.findings[0].kind == "start_late"
    by_card = watch_probe(probe_log(logged(), ZoneInfo("UTC")), CARD, ZoneInfo("UTC")).view
    assert repr(view) == repr(by_card)  # figures that a day cannot tell are NaN, which equals nothing


def test_what_is_missing_is_told_with_its_cure() -> None:
    with kept("sqlite://", kh=False, timer=False) as store:
        with pytest.raises(NotEnoughRecordsError, match="KH above nought and a gas schedule") as caught:
            tank_watch(store, "Brook", NOW)
        assert "dawnlevel kh 4, dawnlevel timer" in caught.value.cure
    with kept("sqlite://") as store:
        with pytest.raises(NotEnoughRecordsError, match="No probe's log"):
            tank_watch(store, "Brook", NOW)
        store.add_samples("Brook", logged(), "log.csv")
        with pytest.raises(NotEnoughRecordsError, match="No probe's log"):
            tank_watch(store, "Brook", NOW, since=NOW - timedelta(hours=1))


@pytest.mark.parametrize(
    "name", ["Europe/Lisbon", "America/St_Johns", "Australia/Lord_Howe", "Asia/Kathmandu"]
)
def test_the_wall_clock_is_the_zones_own(name: str) -> None:
    zone = ZoneInfo(name)
    minutes = np.sort(np.random.default_rng(3).integers(29_000_000, 29_600_000, 4000))
    told = wall_minutes(minutes, zone)
    for minute, wall in zip(minutes[::7], told[::7], strict=True):
        local = datetime.fromtimestamp(60 * int(minute), zone).replace(tzinfo=UTC)
        assert int(local.timestamp()) // 60 == wall


def test_the_command_without_a_file_judges_the_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    keeper = Keeper(tmp_path, monkeypatch, capsys, NOW)
    with kept(keeper.place) as store:
        store.add_samples("Brook", logged(), "log.csv")
    page = keeper("watch").out
    assert "Since Tue 19 May 2026: the gas opens late" in page
    assert "34560 readings." in page
    assert '"start_late"' in keeper("watch --json").out
    refused = keeper("watch log.csv")
    assert (refused.code, "--card CARD.json" in refused.err) == (2, True)
