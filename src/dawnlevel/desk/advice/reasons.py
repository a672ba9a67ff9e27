"""The explanation in a keeper's words: one place, so that every face says the same."""

from math import exp, log

from dawnlevel.desk.views import ExplainView, TangleView, UnknownView
from dawnlevel.estimate.identify import TOLD

_UNITS = {
    "_mg_l_h_per_bps": "mg/L an hour",
    "_mg_l_h": "mg/L an hour",
    "_meq_l": "meq/L",
    "_mg_l": "mg/L",
    "_per_h": "per hour",
    "_ppm": "ppm",
    "_ph": "pH",
    "_h": "h",
}
_LEAST_MG_L = 0.1  # below it a logarithmic scale only stretches


def route_scale(view: ExplainView) -> tuple[float, float]:
    """Both ends of the scale the routes share, as natural logarithms of mg/L."""
    found = [route.co2_mg_l for route in view.routes if route.co2_mg_l is not None]
    if not found:
        return 0.0, 1.0
    return (
        log(max(min(i.low_90 for i in found), _LEAST_MG_L)) - 0.05,
        log(max(*(i.high_90 for i in found), 2.0 * _LEAST_MG_L)) + 0.05,
    )


def place_on(scale: tuple[float, float], co2_mg_l: float) -> float:
    """Where a level lies on that scale: 0 at its low end, 1 at its high end, never beyond."""
    share = (log(max(co2_mg_l, _LEAST_MG_L)) - scale[0]) / (scale[1] - scale[0])
    return min(max(share, 0.0), 1.0)


def unknowns_told(view: ExplainView) -> tuple[list[UnknownView], list[UnknownView]]:
    """The unknowns the records have told, and those still mostly guessed."""
    told = [unknown for unknown in view.unknowns if unknown.removed >= TOLD]
    return told, [unknown for unknown in view.unknowns if unknown.removed < TOLD]


def unknown_values(unknown: UnknownView) -> tuple[str, str]:
    """An unknown's 9 in 10 now, with its unit, and what was expected of it before the records."""
    unit = next((text for suffix, text in _UNITS.items() if unknown.name.endswith(suffix)), "")
    values = [unknown.now.low_90, unknown.now.high_90, unknown.prior_median]
    if unknown.name.endswith("_log"):
        values, unit = [exp(value) for value in values], "-fold"
    low, high, before = (f"{value:.2f}" if abs(value) < 10 else f"{value:.0f}" for value in values)
    ending = unit if unit.startswith("-") or not unit else f" {unit}"
    return f"{low} to {high}{ending}", before


def tangle_text(view: ExplainView, tangle: TangleView) -> str:
    """Two unknowns that are not told apart, and the reading that would."""
    labels = {unknown.name: unknown.label for unknown in view.unknowns}
    pair = f"{labels.get(tangle.first, tangle.first)} and {labels.get(tangle.second, tangle.second)}"
    return f"{pair}: {tangle.cure}." if tangle.cure else f"{pair}."


def short_rule_text(view: ExplainView) -> str:
    """How far the short rule is from the estimate."""
    if view.short_rule_mg_l is None or view.short_rule_off_percent is None:
        return "It needs a pH reading and a KH count."
    off = view.short_rule_off_percent
    side = "above" if off >= 0 else "below"
    return (
        f"3 x dKH x 10^(7 - pH) gives {view.short_rule_mg_l:.1f} mg/L at the last reading: "
        f"{abs(off):.0f} % {side} this estimate."
    )
