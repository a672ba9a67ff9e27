"""The hand-over in words, in the order it is read: paper and page lay out the same sheet."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from dawnlevel.desk.evenness.spread_views import SpreadView
from dawnlevel.desk.handover.handover_views import EvidenceView, HandoverPack, HandoverView, Units
from dawnlevel.desk.handover.handover_words import moment_text
from dawnlevel.desk.phrases import band_in_other, date_text, quantity_text, say_picture
from dawnlevel.desk.views import RouteView, SourceView
from dawnlevel.desk.wording import percent
from dawnlevel.report.brand import NO_BRAND, Brand
from dawnlevel.report.chart import picture_svg
from dawnlevel.report.look import FONT, Look
from dawnlevel.report.spread_chart import say_spread, spread_svg

Sheet = dict[str, Any]

_NOW = "latest record"
_LOOK = Look(
    width=640,
    height=300,
    letters=14,
    hours=9,
    padding=4,
    is_titled=False,
    now_word=_NOW,
    paper="#ffffff",
)


def make_pack(pack: HandoverPack, brand: Brand = NO_BRAND, font: str = FONT) -> Sheet:
    """Every word of a hand-over of one or more tanks; `font` letters the pictures.

    Several tanks, or tanks left out, ask for a first page: `lead` is what it says, else empty.
    """
    sheets = [make_sheet(view, font) for view in pack.tanks]
    is_plain = len(sheets) == 1 and not pack.left_out
    missing = ", ".join(one.tank for one in pack.left_out)
    return {
        "title": sheets[0]["title"] if is_plain else f"CO2 plans for the tanks of {pack.owner}",
        "paper": "us-letter" if pack.tanks[0].units is Units.US else "a4",
        "brand": brand.text,
        "lead": "" if is_plain else "For each tank a page for the cabinet's door, and the rest behind it.",
        "missing": f"Not in this pack: {missing}. Please ask about it." if missing else "",
        "sheets": sheets,
    }


def make_sheet(view: HandoverView, font: str = FONT) -> Sheet:
    """Every word of a tank's hand-over, as text, lists and tables; `font` letters the picture."""
    title = f"CO2 plan for the tank {view.tank}"
    drawn = picture_svg(view.picture, title, view.lights_on, _LOOK).replace(FONT, font)
    return {
        "title": title,
        "tank": view.tank,
        "as_of": f"As recorded up to {_when(view.as_of, view.units)}",
        "door": _door(view),
        "weekly": list(view.weekly),
        "dates": [[date_text(one.day), one.title, one.text] for one in view.dates],
        "no_dates": "No date is due by the records: no cylinder, buffers or solution are recorded.",
        "cautions": list(view.cautions),
        "facts": [[one.name, one.value] for one in view.facts],
        "expected": _expected(view),
        "notes": [note for note in (view.over_ceiling, view.other_plan) if note],
        "picture": drawn,
        "picture_words": say_picture(view.picture, view.lights_on, f"at the {_NOW}"),
        "picture_key": "Line: the middle. Dark band: even odds. Light band: nine in ten. Rings: pH readings "
        "as CO2. Times on a 24-hour clock.",
        "days": [
            [
                date_text(day.day),
                quantity_text(day.quantity.median, view.band),
                f"{day.co2_mg_l.low_90:.0f} to {day.co2_mg_l.high_90:.0f} mg/L",
                percent(day.dialled_in),
            ]
            for day in view.days
        ],
        "steady": _steady(view),
        "seen": [*view.evidence.steady, *view.evidence.probe],
        "spread": _spread(view.evidence, font),
        "animals": [[one.name, one.value] for one in view.evidence.animals],
        "oxygen": [[one.name, one.value] for one in view.evidence.oxygen],
        "care": list(view.evidence.care),
        "gear": [[one.name, one.value] for one in view.evidence.gear],
        "faults": [[one.name, one.value] for one in view.evidence.faults],
        "routes": [_route(route, view.units) for route in view.routes],
        "verdict": view.verdict,
        "assumptions": list(view.assumptions),
        "sources": [_source(one) for one in view.sources],
    }


def _door(view: HandoverView) -> Sheet:
    """What hangs in the cabinet's door."""
    return {
        "gas": [[span.begins, span.ends] for span in view.gas],
        "lights": [view.lights.begins, view.lights.ends],
        "count": str(view.count),
        "count_s": str(view.count_s),
        "how": f"Gas open, watch the bubble counter for {view.count_s} seconds by a clock.",
        "target": list(_target(view)),
        "cell": [{"clock": one.clock, "colour": one.colour, "or": one.or_colour} for one in view.cell],
        "leave_alone": view.leave_alone,
        "when": [{"seen": one.seen, "do": list(one.do), "urgent": one.is_urgent} for one in view.when],
    }


def _spread(seen: EvidenceView, font: str) -> Sheet | None:
    """The survey's map with its words; None without a survey."""
    if seen.spread is None:
        return None
    return {
        "picture": spread_svg(seen.spread, font),
        "alt": say_spread(seen.spread),
        "key": "Figures: CO2 in % of the tank's mean, ± half of nine in ten. Darker: more. Dots: readings."
        + _say_marks(seen.spread),
        "says": list(seen.spread_says),
    }


def _say_marks(view: SpreadView) -> str:
    """What the letters on the map stand for; empty without a sketch."""
    told = "; ".join(f"{one.letter} {one.what}, {one.place}" for one in view.marks)
    return f" Letters: {told}." if told else ""


def _target(view: HandoverView) -> Iterator[str]:
    """The band aimed at, by every way of reading it, and the ceiling; what is expected stands elsewhere."""
    band, other = view.band, band_in_other(view.band)
    if band.unit == "pH drop":
        yield f"pH drop {band.low:.2f} to {band.high:.2f}"
        yield f"CO2 {other}"
    else:
        yield f"CO2 {band.low:.0f} to {band.high:.0f} mg/L"
    if view.target_ph is not None:
        low, high = view.target_ph
        yield f"pH meter {'' if band.unit == 'pH drop' else 'about '}{low:.2f} to {high:.2f}"
    yield f"Ceiling {band.ceiling_mg_l:g} mg/L"


def _when(at: datetime, units: Units) -> str:
    """Day and time, by the clock that the owner reads."""
    return f"{date_text(at.date())}, {moment_text(at, units)}"


def _expected(view: HandoverView) -> list[list[str]]:
    level, quantity = view.forecast.co2_mg_l, view.forecast.quantity
    digits = 2 if view.band.unit == "pH drop" else 1
    nine = f"nine in ten: {level.low_90:.0f} to {level.high_90:.0f}"
    spread = f"nine in ten: {quantity.low_90:.{digits}f} to {quantity.high_90:.{digits}f}"
    return [
        ["Target", view.target],
        ["CO2 at lights-on", f"{level.median:.0f} mg/L ({nine})"],
        ["That is", f"{quantity_text(quantity.median, view.band)} ({spread})"],
        ["In the band at lights-on", percent(view.chance_hit)],
        ["In the band and held until the gas closes", percent(view.chance_held)],
        ["Above the ceiling at any time", percent(view.chance_breach)],
    ]


def _source(source: SourceView) -> str:
    doi = f", doi:{source.doi}" if source.doi else ""
    return f"{source.text}{doi} ({source.status})"


def _steady(view: HandoverView) -> str:
    if view.settled:
        return "Settled: the last three days were in the band, and nothing has spoken against it since."
    return "Not settled yet: three days in the band in a row are wanted before a tank is called steady."


def _route(route: RouteView, units: Units) -> list[str]:
    found = route.co2_mg_l
    if found is None or route.at is None:
        return [route.label, "no answer", f"missing: {route.missing}"]
    when = _when(route.at, units)
    return [route.label, f"{found.median:.0f} mg/L ({found.low_90:.0f} to {found.high_90:.0f})", when]
