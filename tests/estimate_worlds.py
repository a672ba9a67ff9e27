"""Small worlds for the tests of the estimator: tanks, days of records, values drawn from the model."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from unittest.mock import patch

import numpy as np
import numpy.typing as npt

from dawnlevel.estimate import memory
from dawnlevel.estimate.evidence import CellPh, CupPh, KitKh, TankPh, gather
from dawnlevel.estimate.model import TankModel, build_model
from dawnlevel.estimate.observations import SLIP_SHARE, SLIP_WIDTH_PH
from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    CellColour,
    CellSighting,
    KhTitration,
    Photoperiod,
    PhReading,
    RateSetting,
    Record,
    Tank,
    TimerSetting,
)

Floats = npt.NDArray[np.float64]

DAY_0 = datetime(2026, 3, 2, tzinfo=UTC)
LAST_KH_DKH = 40.0
SLIPS_FROM_PH = 5.0


def when(hour_h: float) -> datetime:
    """The moment `hour_h` hours after midnight of day 0."""
    return DAY_0 + timedelta(hours=hour_h)


def make_tank(**changes: object) -> Tank:
    """A medium tank in UTC, lights 12:00-20:00; `changes` replace its fields."""
    tank = Tank(
        name="test",
        volume_l=120.0,
        depth_cm=42.0,
        surface_cm2=3000.0,
        photoperiod=Photoperiod(lights_on_h=12.0, lights_off_h=20.0),
        kh_step_dkh=1.0,
    )
    return replace(tank, **changes)  # type: ignore[arg-type]  # any field


def gas_days(days: int, reads_h: Sequence[float], rate_bps: float = 1.5) -> list[Record]:
    """`days` days with gas 9:30-18:30 and pH readings at `reads_h` of each day, values yet to be drawn."""
    records: list[Record] = [
        RateSetting(at=when(0.0), bubbles_per_second=rate_bps),
        TimerSetting(at=when(0.0), windows_h=((9.5, 18.5),)),
    ]
    records += [PhReading(at=when(24.0 * day + hour), ph=7.0) for day in range(days) for hour in reads_h]
    return in_order(records)


def kit(hour_h: float) -> KhTitration:
    """A KH count, value yet to be drawn."""
    return KhTitration(at=when(hour_h), kh_dkh=4.0)


def cup(hour_h: float, method: BaselineMethod = BaselineMethod.AERATED, hours: float = 1.0) -> BaselineCup:
    """A baseline cup, value yet to be drawn."""
    return BaselineCup(at=when(hour_h), ph=7.5, method=method, hours=hours)


def look(hour_h: float) -> CellSighting:
    """A look at the cell, value yet to be drawn."""
    return CellSighting(at=when(hour_h), colour=CellColour.GREEN)


def in_order(records: Sequence[Record]) -> list[Record]:
    """Sorted by time, as the store hands them out."""
    return sorted(records, key=lambda record: record.at)


def one_day() -> tuple[Tank, list[Record], datetime]:
    """Six readings on the first gas day, KH, a cup and a look at the cell."""
    records = [*gas_days(1, (9.4, 10.5, 11.2, 12.0, 14.0, 17.0)), kit(0.5), cup(0.5), look(14.0)]
    return make_tank(), in_order(records), when(17.5)


def three_days() -> tuple[Tank, list[Record], datetime]:
    """Three gas days, a still cup filled during the first, three looks at the cell, a change of rate."""
    records: list[Record] = [
        *gas_days(3, (9.5, 11.0, 12.0, 16.0)),
        kit(0.5),
        look(16.0),
        look(40.0),
        look(64.0),
    ]
    records += [cup(30.0, BaselineMethod.STILL_CUP, 24.0), RateSetting(at=when(35.0), bubbles_per_second=1.9)]
    return make_tank(), in_order(records), when(66.0)


def without_kh() -> tuple[Tank, list[Record], datetime]:
    """Six readings and a cup, no KH count, no look at the cell."""
    return make_tank(), in_order([*gas_days(1, (9.4, 10.5, 11.2, 12.0, 14.0, 17.0)), cup(0.5)]), when(17.5)


def true_z(model: TankModel, rng: np.random.Generator) -> Floats:
    """Unknowns from the prior, shape (d, 1); drawn again where a kit or meter could not show them."""
    while True:
        z = rng.standard_normal((model.size, 1))
        shown = [float(predicted.max()) for predicted in model.predicted(z)]
        limits = [LAST_KH_DKH - 2.0 if isinstance(group, KitKh) else 10.5 for group in model.evidence]
        if all(value < limit for value, limit in zip(shown, limits, strict=True)):
            return z


def drawn_records(
    tank: Tank, template: Sequence[Record], end: datetime, rng: np.random.Generator, z: Floats | None = None
) -> tuple[list[Record], TankModel, Floats]:
    """The template with values drawn by the model's own process; the model; the unknowns (d, 1)."""
    with patch.object(memory, "WHOLE_DAYS", 10_000):  # every record gets its value
        model = build_model(tank, template, end)
    z = true_z(model, rng) if z is None else z
    drawn: dict[int, Record] = {}
    for group, predicted in zip(model.evidence, model.predicted(z), strict=True):
        of_kind = [record for record in template if isinstance(record, _KIND[type(group)])]
        shown = np.broadcast_to(predicted, (len(of_kind), 1))[:, 0]
        for record, value in zip(of_kind, shown, strict=True):
            drawn[id(record)] = _observe(model, record, float(value), rng)
    return [drawn.get(id(record), record) for record in template], model, z


_KIND: dict[type, type[Record]] = {
    TankPh: PhReading,
    CupPh: BaselineCup,
    KitKh: KhTitration,
    CellPh: CellSighting,
}


def _observe(model: TankModel, record: Record, value: float, rng: np.random.Generator) -> Record:
    """`record` with what the instrument shows at the predicted number `value`."""
    if isinstance(record, (PhReading, BaselineCup)):
        noise = _noise(model, record)
        ph = value + noise * rng.standard_normal()
        if rng.random() < SLIP_SHARE:
            ph = rng.uniform(SLIPS_FROM_PH, SLIPS_FROM_PH + SLIP_WIDTH_PH)
        step = model.tank.ph_step
        return replace(record, ph=float(np.clip(step * np.round(ph / step), 3.0, 11.0)))
    if isinstance(record, KhTitration):
        counts = np.arange(0.0, LAST_KH_DKH + 1e-9, record.step_dkh or model.tank.kh_step_dkh)
        return _chosen([replace(record, kh_dkh=float(count)) for count in counts], model, value, rng)
    assert isinstance(record, CellSighting)
    return _chosen([replace(record, colour=colour) for colour in CellColour], model, value, rng)


def _noise(model: TankModel, record: PhReading | BaselineCup) -> float:
    """Noise the model gives this kind of reading [pH]."""
    kind = TankPh if isinstance(record, PhReading) else CupPh
    return next(group.observed.sd_ph for group in model.evidence if isinstance(group, kind))


def _chosen(candidates: Sequence[Record], model: TankModel, value: float, rng: np.random.Generator) -> Record:
    """One of all records an instrument could give, with odds in proportion to their likelihood."""
    odds = shares(candidates, model, np.array([[value]]))[:, 0]
    return candidates[int(rng.choice(len(candidates), p=odds / odds.sum()))]


def shares(candidates: Sequence[Record], model: TankModel, value: Floats) -> Floats:
    """Likelihood of each candidate record at the predicted numbers `value` (1, B), shape (n, B)."""
    (group,) = gather(model.tank, candidates, model.timeline, model.pressure_atm, model.gear)
    return np.exp(group.observed.log_likelihood(np.broadcast_to(value, (len(candidates), value.shape[1]))))
