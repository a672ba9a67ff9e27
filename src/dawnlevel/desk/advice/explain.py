"""Use case: why - the three routes, what bends when they disagree, what is not told yet, the sources."""

from datetime import datetime, timedelta

import numpy as np

from dawnlevel.chemistry import short_rule_co2_mg_l
from dawnlevel.desk.advice.explain_gear import gear_words
from dawnlevel.desk.casebook import SEED, Case, band_view, now_view, open_case
from dawnlevel.desk.views import (
    CulpritView,
    ExplainView,
    MeasurementView,
    RouteView,
    SourceView,
    TangleView,
    UnknownView,
)
from dawnlevel.errors import OutOfRangeError
from dawnlevel.estimate.culprits import Culprit, Measurement, culprits, measurements
from dawnlevel.estimate.identify import tangles, told
from dawnlevel.estimate.routes import Route, RouteName, disagreeing, routes
from dawnlevel.sources import SOURCES
from dawnlevel.store import Store
from dawnlevel.tank import KhTitration, PhReading

ROUTE_LABELS = {
    RouteName.PH_KH: "pH with KH",
    RouteName.DROP: "drop from the baseline cup",
    RouteName.CELL: "indicator cell",
}

_NO_NEWS = timedelta(hours=6)

_ALWAYS = ("plummer_busenberg_1982", "davies", "weiss_price_1980", "kh_kit_error", "still_cup_model")


def explain_view(store: Store, name: str, now: datetime, seed: int = SEED) -> ExplainView:
    """Why the advice is what it is, for tank `name` at `now` (aware)."""
    return explain_of(open_case(store, name, now, seed))


def explain_of(case: Case) -> ExplainView:
    """The explanation of an opened case."""
    posterior = case.found.posterior
    found = routes(posterior, case.records, np.random.default_rng(SEED))
    apart = disagreeing(found)
    suspects, next_best = culprits(posterior), measurements(posterior, just_read=_just_read(case))
    unknowns = told(posterior)
    by_rule, off_percent = _short_rule(case)
    keys = dict.fromkeys([*_ALWAYS, "meter_drift", "ph_pen_error", *(row.source for row in unknowns)])
    return ExplainView(
        tank=case.tank.name,
        timezone=case.tank.timezone,
        now=now_view(case),
        routes=tuple(_route(case, route) for route in found),
        agree=not apart,
        verdict=_verdict(found, apart, suspects, next_best),
        culprits=tuple(CulpritView(c.kind, c.label, c.probability, c.shift_sd) for c in suspects),
        measurements=tuple(MeasurementView(m.kind, m.label, m.removes) for m in next_best),
        unknowns=tuple(
            UnknownView(row.name, row.label, row.prior_median, row.now, row.removed, row.source)
            for row in unknowns
        ),
        tangles=tuple(TangleView(t.first, t.second, t.correlation, t.cure) for t in tangles(posterior)),
        gear=gear_words(case),
        short_rule_mg_l=by_rule,
        short_rule_off_percent=off_percent,
        band=band_view(case),
        draws_efficiency=posterior.draws.efficiency,
        sources=tuple(
            SourceView(key, SOURCES[key].text, SOURCES[key].doi, SOURCES[key].status.value)
            for key in keys
            if key in SOURCES
        ),
    )


def _route(case: Case, route: Route) -> RouteView:
    at = None if route.at is None else case.local(route.at)
    return RouteView(route.name.value, ROUTE_LABELS[route.name], at, route.co2_mg_l, route.missing)


def _verdict(
    found: tuple[Route, ...],
    apart: list[tuple[Route, Route]],
    suspects: list[Culprit],
    next_best: list[Measurement],
) -> str:
    """Whether the routes agree, who is suspected, what would settle it; in sentences."""
    answered = [route for route in found if route.co2_mg_l is not None]
    settle = f"To settle it: {next_best[0].label}."
    if len(answered) < 2:
        missing = "; ".join(route.missing for route in found if route.missing)
        return f"Fewer than two routes have an answer, so nothing can be compared. Missing: {missing}."
    if not apart:
        return f"The {len(answered)} routes that have an answer agree, as far as each can tell."
    first, second = apart[0]
    return (
        f"{ROUTE_LABELS[first.name]} and {ROUTE_LABELS[second.name]} disagree by more than their "
        f"intervals allow. Likeliest: {suspects[0].label} ({100 * suspects[0].probability:.0f} %), then "
        f"{suspects[1].label} ({100 * suspects[1].probability:.0f} %). {settle}"
    )


def _just_read(case: Case) -> bool:
    """Whether the tank's pH was read so lately that reading it again would be no news."""
    readings = [record.at for record in case.records if isinstance(record, PhReading)]
    return bool(readings) and case.now - readings[-1] < _NO_NEWS


def _short_rule(case: Case) -> tuple[float | None, float | None]:
    """CO2 by 3 x dKH x 10^(7 - pH) at the latest pH and KH [mg/L], and how far off it is [%]."""
    readings = [record for record in case.records if isinstance(record, PhReading)]
    counts = [record.kh_dkh for record in case.records if isinstance(record, KhTitration)]
    if not readings or not counts:
        return None, None
    try:
        by_rule = float(short_rule_co2_mg_l(readings[-1].ph, counts[-1]))
    except OutOfRangeError:  # a count of no drops, or a pH that only a slip gives
        return None, None
    level = float(np.median(case.found.posterior.co2_of_reading(readings[-1].ph, readings[-1].at)))
    return by_rule, 100.0 * (by_rule / level - 1.0)
