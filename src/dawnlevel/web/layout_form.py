"""The tank's sketch as a form: what stands in it, what is read from it, and what the rules say."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from dawnlevel.desk.evenness.layout import LAYOUT_FIELDS, LayoutView, keep_layout, layout_view
from dawnlevel.desk.evenness.spread_views import MarkView, on_the_lines
from dawnlevel.errors import BadInputError, NotEnoughRecordsError
from dawnlevel.tank import Layout
from dawnlevel.web.fields import Form
from dawnlevel.web.house import AtTank, House

NEEDED = {
    "outflow": "Say where the water comes in, for example front left surface.",
    "intake": "Say where the filter draws, for example back right substrate.",
    "diffuser": "Say where the gas comes in.",
    "flow": "Give the flow on the pump's label, for example 800 L/h.",
}
"""What to say where one of these is left empty."""

_UNITS = {"flow": "L/h", "measured": "L/h", "head_loss": "%", "clogging": "%", "length": "cm"}


@dataclass(frozen=True, slots=True)
class Mark:
    """A letter on the drawn map: where [px], and what it stands for."""

    x: float
    y: float
    letter: str


def layout_form(layout: Layout | None) -> Form:
    """The form of what is kept; the usual losses stand in a new one."""
    if layout is None:
        return Form({"head_loss": "20", "clogging": "20"})
    return Form(
        {
            "outflow": layout.outflow,
            "intake": layout.intake,
            "diffuser": layout.diffuser,
            "hardscape": "; ".join(layout.hardscape),
            "flow": f"{layout.rated_l_h:.6g}",
            "head_loss": f"{100.0 * layout.head_loss:.6g}",
            "clogging": f"{100.0 * layout.clogging:.6g}",
            "measured": "" if layout.measured_l_h is None else f"{layout.measured_l_h:.6g}",
            "length": "" if layout.length_cm is None else f"{layout.length_cm:.6g}",
        }
    )


def take_layout(house: House, tank: AtTank, form: Form) -> bool:
    """Keep the sketch of a form with the tank; False where something in it cannot be, told beside it."""
    found: dict[str, object] = {}
    for word, (field, reader, _) in LAYOUT_FIELDS.items():
        name = word.replace("-", "_")
        value = form.read(name, partial(_read, reader, _UNITS.get(name, "")), NEEDED.get(name, ""))
        if value is not None:
            found[field] = value
    if not form.is_good:
        return False
    layout = form.attempt("flow", lambda: Layout(**found))  # type: ignore[arg-type]
    if layout is None:
        return False
    keep_layout(house.store, tank.tank, layout, tank.now)
    house.changed(tank.name)
    return True


def _read(reader: Callable[[str], object], unit: str, text: str) -> object:
    """What was typed, read; a bare figure gets the unit that stands beside its field."""
    return reader(f"{text} {unit}" if unit and text.strip().replace(".", "", 1).isdigit() else text)


def judged(house: House, tank: AtTank) -> LayoutView | None:
    """The kept sketch against the rules; None where there is none."""
    try:
        return layout_view(house.store, tank.name, tank.now)
    except (NotEnoughRecordsError, BadInputError):
        return None


def marks_on(
    marks: tuple[MarkView, ...], cells: tuple[int, int], cell_px: tuple[int, int], *, is_top: bool
) -> list[Mark]:
    """The sketch's letters on a map of `cells` across and down, those at one place beside each other."""
    found: list[Mark] = []
    for one in marks:
        down = 1.0 - (one.y_share if is_top else one.z_share)
        x = on_the_lines(one.x_share, cells[0]) * cell_px[0]
        y = on_the_lines(down, cells[1]) * cell_px[1]
        crowd = sum(abs(x - other.x) < 1.0 or abs(y - other.y) < 1.0 for other in found if _near(other, x, y))
        found.append(Mark(x + 22.0 * crowd * (1.0 if one.x_share < 0.5 else -1.0), y, one.letter))
    return found


def _near(other: Mark, x: float, y: float) -> bool:
    return abs(x - other.x) < 60.0 and abs(y - other.y) < 1.0
