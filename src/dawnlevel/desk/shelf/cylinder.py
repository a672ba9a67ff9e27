"""Use case: what is left in the cylinder, when it runs out, what a bubble holds, where the gas goes."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from dawnlevel.desk.advice.gas_day import gas_day
from dawnlevel.desk.casebook import SEED, open_case
from dawnlevel.desk.cited import cited
from dawnlevel.desk.shelf.cylinder_care import cylinder_retest, fill_kg_l, heat_of, liquid_full_c, retest_text
from dawnlevel.desk.shelf.cylinder_case import SHARES, CylinderCase, as_interval, open_cylinder
from dawnlevel.desk.shelf.shelf_views import CylinderView, GasDayView, GaugeView, RunOutView
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.estimate.posterior import Interval
from dawnlevel.store import Store
from dawnlevel.supply.cylinder import UNKNOWN_TEMP_C
from dawnlevel.supply.gauge import GaugeMeaning, GaugeSays, read_gauge
from dawnlevel.supply.handling import HANDLING, MAX_FILL_KG_L
from dawnlevel.tank import CylinderExchange, GaugeReading

DAYS_PER_MONTH = 365.25 / 12.0

_ODD_BUBBLE = 2.0
"""Times the usual range's upper end beyond which a bubble's gas is odd; own choice."""

_WEIGHED_WELL = 0.10
"""Relative spread (one sd) of the gas per count that is good enough; own choice."""

_SCALE_G = 10.0

_SOURCES = (
    "span_wagner_1996",
    "span_wagner_2003",
    "bubble_prior",
    "cylinder_scale",
    "gum",
    *(rule.source for rule in HANDLING),
)


def cylinder_view(store: Store, name: str, now: datetime, seed: int = SEED) -> CylinderView:
    """The cylinder of tank `name` at `now` (aware).

    Raises NoSuchTankError, NotEnoughRecordsError where no cylinder is recorded, BadInputError where its
    weighings contradict each other.
    """
    now = now.astimezone(UTC)
    tank = store.tank(name)
    records = [stored.record for stored in store.records(name, until=now)]
    case = open_cylinder(tank, records, now)
    if case is None:
        raise NotEnoughRecordsError(
            "No cylinder is recorded.",
            where=f"tank {name}",
            cure="Record the one connected, with its charge: dawnlevel exchange 2kg --at 2026-05-04",
        )
    try:
        day, no_day = gas_day(open_case(store, name, now, seed), case)
    except NotEnoughRecordsError as error:
        day, no_day = None, error.what
    return _view(case, day, no_day)


def _view(case: CylinderCase, day: GasDayView | None, no_day: str) -> CylinderView:
    left, use, found = case.left_kg, case.use_g_per_day, case.found
    runs_out, fill, due = case.runs_out, fill_kg_l(case.exchange), cylinder_retest(case.exchange)
    at = _local(case, case.now)
    return CylinderView(
        tank=case.tank.name,
        timezone=case.tank.timezone,
        at=at,
        fitted=_local(case, case.exchange.at),
        charge_kg=case.exchange.gas_kg,
        counted="bubbles" if case.by_bubbles else "days",
        left_kg=left,
        left_share=_scaled(left, 1.0 / case.exchange.gas_kg),
        use_g_per_day=use,
        mg_per_bubble=as_interval(found.quantiles(1e6 * found.use_kg, SHARES)) if case.by_bubbles else None,
        told=_told(case),
        runs_out=None if runs_out is None else RunOutView(*runs_out),
        exchange_by=None if runs_out is None else runs_out[0],
        fill_kg_l=fill,
        liquid_full_c=liquid_full_c(fill),
        heat=heat_of(fill),
        gauge=None if case.gauge is None else _gauge(case, case.gauge),
        gas_day=day,
        no_gas_day=no_day,
        cost_per_month=_cost(case.exchange, use),
        retest_due=due,
        retest="" if due is None else retest_text(due, at.date()),
        warnings=_warnings(case),
        weigh_next=_weigh_next(case),
        cautions=tuple(rule.text for rule in HANDLING),
        sources=cited(_SOURCES),
    )


def _local(case: CylinderCase, moment: datetime) -> datetime:
    return moment.astimezone(ZoneInfo(case.tank.timezone)).replace(microsecond=0)


def _scaled(value: Interval, factor: float) -> Interval:
    ends = (value.median, value.low_50, value.high_50, value.low_90, value.high_90)
    return Interval(*(factor * end for end in ends))


def _told(case: CylinderCase) -> float:
    """Share of the prior variance of the logarithm of the gas per count that the records removed [-]."""
    logs, weight = np.log(case.found.use_kg), case.found.weight
    middle = float(np.sum(weight * logs))
    variance = float(np.sum(weight * (logs - middle) ** 2))
    return float(np.clip(1.0 - variance / case.prior.log_sd**2, 0.0, 1.0))


def _spread(case: CylinderCase) -> float:
    """Sd of the logarithm of the gas per count [-]."""
    return case.prior.log_sd * float(np.sqrt(1.0 - _told(case)))


def _cost(exchange: CylinderExchange, use_g_per_day: Interval) -> Interval | None:
    if exchange.price is None:
        return None
    return _scaled(use_g_per_day, exchange.price * DAYS_PER_MONTH / (1e3 * exchange.gas_kg))


def _gauge(case: CylinderCase, reading: GaugeReading) -> GaugeView:
    temp_c = UNKNOWN_TEMP_C[0] if reading.temp_c is None else reading.temp_c
    meaning = read_gauge(reading.gauge_bar, temp_c, fill_kg_l(case.exchange))
    return GaugeView(
        at=_local(case, reading.at),
        gauge_bar=reading.gauge_bar,
        temp_c=temp_c,
        says=meaning.says.value,
        flat_bar=meaning.flat_bar,
        falls_from_share=meaning.falls_from_share,
        text=gauge_text(meaning, temp_c),
    )


def gauge_text(meaning: GaugeMeaning, temp_c: float) -> str:
    """What a gauge reading means, in words."""
    if meaning.says is GaugeSays.NO_LIQUID_LEVEL or meaning.flat_bar is None:
        return (
            f"At {temp_c:.0f} °C there is no liquid level: pressure follows the filling. Cool the cylinder's "
            "place, then read it again; weigh it to know what is left."
        )
    flat = f"{meaning.flat_bar:.0f} bar at {temp_c:.0f} °C"
    if meaning.says is GaugeSays.ABOVE:
        return (
            f"More than liquid shows ({flat}): the cylinder is warmer than was read, the gauge is off, or "
            "the cylinder is overfull. Keep it cool and ask your gas supplier."
        )
    if meaning.says is GaugeSays.GAS_ONLY:
        return (
            f"Less than liquid shows ({flat}): the liquid is gone. About {_percent(meaning.left_share)} of "
            "the charge is left as gas, and the needle falls from now on. Have the next cylinder ready; as "
            "this one empties, a single-stage regulator may let the outlet pressure rise."
        )
    return (
        f"Flat: with liquid left it shows {flat} whatever is in it, 1.4 bar more for each degree. It begins "
        f"to fall when {_percent(meaning.falls_from_share)} of the charge is left. Weigh it to know more."
    )


def _percent(share: float | None) -> str:
    return f"{100.0 * (share or 0.0):.0f} %"


def _warnings(case: CylinderCase) -> tuple[str, ...]:
    """What should be looked at."""
    found = []
    fill = case.exchange.gas_kg / case.exchange.capacity_l if case.exchange.capacity_l else None
    if fill is not None and fill > MAX_FILL_KG_L + 0.005:
        found.append(
            f"The charge is {100 * fill:.0f} % of the water capacity, more than the 68 % of 49 CFR 173.304a: "
            "keep it cool and ask your gas supplier."
        )
    per_bubble = float(np.exp(np.sum(case.found.weight * np.log(case.found.use_kg))))
    odd = per_bubble > case.prior.median_kg * float(np.exp(1.645 * case.prior.log_sd)) * _ODD_BUBBLE
    if odd and case.weighings:
        found.append(
            "More gas goes than the counts carry: look for a leak with soapy water, count again, and check "
            "the pressure behind the counter."
        )
    if case.by_bubbles and case.weighings < 2:
        found.append(
            "A bubble's gas is known within a factor of two only: pressure in the counter and the liquid in "
            "it change it up to fourfold. Two weighings some weeks apart tell it."
        )
    return tuple(found)


def _weigh_next(case: CylinderCase) -> str:
    """What would tell more."""
    if _spread(case) <= _WEIGHED_WELL:
        return "Weighing it every month or two is enough."
    use = case.use_g_per_day.median
    if use <= 0.0:
        return "Weigh it now, and again when gas has been used."
    apart_g = _SCALE_G * np.sqrt(2.0 / 3.0)  # sd of the difference of two weighings, each off by up to 10 g
    days = int(np.clip(np.ceil(apart_g / _WEIGHED_WELL / use), 7, 120))
    return (
        f"Weigh it now and again in about {days} days, on the same scale with the same things on it: a scale "
        f"off by up to {_SCALE_G:.0f} g then tells the gas per count within {_percent(_WEIGHED_WELL)}."
    )
