"""Use case: where the last day's gas went - dissolved, bubbled off, taken up, given off to the room."""

from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.arguments import Floats
from dawnlevel.desk.casebook import Case
from dawnlevel.desk.shelf.cylinder_case import CylinderCase
from dawnlevel.desk.shelf.shelf_views import GasDayView
from dawnlevel.estimate.posterior import Posterior, interval
from dawnlevel.estimate.priors import HALF_SATURATION_MG_L
from dawnlevel.estimate.timeline import solenoid_events
from dawnlevel.supply.cylinder import weighted_quantiles
from dawnlevel.supply.ledger import GasLedger, WaterLosses, gas_ledger
from dawnlevel.supply.use import bubbles_counted
from dawnlevel.tank import RateSetting, WaterChange
from dawnlevel.tank.clock import light_spans

_DAY = timedelta(days=1)
_EVERY = timedelta(minutes=15)
_FEWEST = 20


def gas_day(case: Case, cylinder: CylinderCase) -> tuple[GasDayView | None, str]:
    """Where the gas of the last 24 hours went; or None and why it cannot be told."""
    begins, ends = case.now - _DAY, case.now
    posterior = case.found.posterior
    if posterior.model.timeline.origin > begins:
        return None, "It needs a day of records."
    if any(isinstance(one, WaterChange) and begins <= one.at <= ends for one in case.records):
        return None, "Water was changed in the last 24 hours: ask again tomorrow."
    counted = _bubbles(case, begins, ends)
    if not cylinder.by_bubbles or counted <= 0.0:
        return None, "No bubbles were counted in the last 24 hours."
    ledger = _ledger(case, posterior, begins, ends, _injected_g(cylinder, counted, posterior.size))
    possible = (ledger.dissolved_g > 0.0) & (ledger.dissolved_g <= ledger.injected_g)
    if int(possible.sum()) < _FEWEST:
        return None, (
            "More gas seems dissolved than went through the counter: weigh the cylinder, count the bubbles "
            "again, and check the level by another route (dawnlevel explain)."
        )
    return _view(case, ledger, possible, begins, ends), ""


def _bubbles(case: Case, begins: datetime, ends: datetime) -> float:
    rates = [(one.at, one.bubbles_per_second) for one in case.records if isinstance(one, RateSetting)]
    switches = solenoid_events(case.tank, case.records, begins, ends)
    return float(bubbles_counted(begins, [ends], switches, rates)[0])


def _injected_g(cylinder: CylinderCase, counted: float, size: int) -> Floats:
    """Gas through the counter [g], shape (size,): the cylinder's nodes, paired with the draws at random.

    The pairing is a fixed shuffle, so that the same records give the same answer.
    """
    shares = tuple((np.arange(size) + 0.5) / size)
    even = weighted_quantiles(1e3 * cylinder.found.use_kg * counted, cylinder.found.weight, shares)
    return np.asarray(np.random.default_rng(size).permutation(even))


def _ledger(
    case: Case, posterior: Posterior, begins: datetime, ends: datetime, injected_g: Floats
) -> GasLedger:
    count = int(_DAY / _EVERY) + 1
    moments = [begins + _EVERY * place for place in range(count)]
    lights = light_spans(case.tank.photoperiod, case.zone, begins, ends)
    middles = [moment + _EVERY / 2 for moment in moments[:-1]]
    lit = np.array([float(any(on <= moment < off for on, off in lights)) for moment in middles])
    unknowns = posterior.unknowns
    losses = WaterLosses(
        kla_per_h=unknowns["kla_per_h"],
        air_mg_l=unknowns.air_co2_mg_l,
        uptake_mg_l_h=unknowns["uptake_mg_l_h"],
        half_saturation_mg_l=HALF_SATURATION_MG_L,
        made_mg_l_h=unknowns["respiration_mg_l_h"],
    )
    hours = np.arange(count, dtype=np.float64) * (_EVERY / timedelta(hours=1))
    return gas_ledger(hours, posterior.levels_at(moments), lit, losses, case.tank.volume_l, injected_g)


def _view(
    case: Case, ledger: GasLedger, possible: npt.NDArray[np.bool_], begins: datetime, ends: datetime
) -> GasDayView:
    """The ledger of the draws in which no more dissolves than is injected."""

    def of(values: Floats) -> Floats:
        return np.asarray(values[possible])

    return GasDayView(
        begins=case.local(begins),
        ends=case.local(ends),
        injected_g=interval(of(ledger.injected_g)),
        dissolved_share=interval(of(ledger.dissolved_share)),
        bubbled_off_g=interval(of(ledger.bubbled_off_g)),
        taken_up_g=interval(of(ledger.taken_up_g)),
        given_off_g=interval(of(ledger.given_off_g)),
        taken_up_share=interval(of(ledger.taken_up_g / ledger.injected_g)),
    )
