"""A small store for tests of advice, and pictures made by hand."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from dawnlevel.desk.views import CurveView, PictureView, PointView, SpanView
from dawnlevel.store import open_store
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    FishSighting,
    FishState,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    Target,
    TimerSetting,
)

ZONE = ZoneInfo("Europe/Madrid")
# Wednesday 6 May 2026, 12:10 in Madrid: the gas flows, the lights come on at 13:00.
NOW = datetime(2026, 5, 6, 10, 10, tzinfo=UTC)


def at(hour: int, minute: int = 0, day: int = 6) -> datetime:
    """A moment of May 2026 on Madrid's wall clock."""
    return datetime(2026, 5, day, hour, minute, tzinfo=ZONE)


def brook(target: Target | None = None) -> Tank:
    return Tank(
        name="Brook",
        volume_l=112.0,
        depth_cm=36.0,
        surface_cm2=3100.0,
        photoperiod=Photoperiod(lights_on_h=13.0, lights_off_h=21.0),
        timezone="Europe/Madrid",
        target=target or Target(),
    )


def morning() -> list[Record]:
    """A morning's records, in order."""
    return [
        KhTitration(at=at(20, day=5), kh_dkh=4.0),
        BaselineCup(at=at(20, 5, day=5), ph=8.1, method=BaselineMethod.AERATED, hours=1.0),
        RateSetting(at=at(20, 10, day=5), bubbles_per_second=1.8),
        TimerSetting(at=at(20, 11, day=5), windows_h=((9.5, 18.5),)),
        PhReading(at=at(10, 30), ph=7.42),
        PhReading(at=at(11, 30), ph=7.21),
        CellSighting(at=at(11, 31), colour=CellColour.BLUE),
        FishSighting(at=at(11, 32), state=FishState.CALM),
    ]


def make_store(path: Path, *more: Record, records: list[Record] | None = None) -> str:
    """A store with the tank, its morning, and what is given besides; its place."""
    with open_store(str(path)) as store:
        store.add_tank(brook(), at(12, day=5))
        store.add_records("Brook", [*(morning() if records is None else records), *more])
    return str(path)


def flat_picture(level: float, *, ceiling: float = 30.0) -> PictureView:
    """A day at one level from 06:00 to 18:00 with now at noon."""
    moments = tuple(at(6) + timedelta(minutes=15) * step for step in range(49))
    return PictureView(
        now=at(12),
        curve=CurveView(
            at=moments,
            median=(level,) * 49,
            low_50=(level * 0.9,) * 49,
            high_50=(level * 1.1,) * 49,
            low_90=(level * 0.8,) * 49,
            high_90=(level * 1.2,) * 49,
        ),
        readings=(PointView(at(9), 7.0, level * 1.5, level * 1.3, level * 1.7),),
        gas=(SpanView(at(7), at(17)),),
        light=(SpanView(at(13), at(18)),),
        band_low_mg_l=15.0,
        band_high_mg_l=25.0,
        ceiling_mg_l=ceiling,
    )
