"""Use case: a reference solution with the balance at hand, the cell's colours, standards to match."""

from collections.abc import Sequence

from dawnlevel.chemistry.dye import CELL_KH_DKH
from dawnlevel.desk.cited import cited
from dawnlevel.desk.shelf.meter_views import ColourView, RecipeView, SolutionView
from dawnlevel.estimate.priors import CELL_EDGES_PH
from dawnlevel.supply.colours import STANDARD_MOL_L, cell_colours, phosphate_buffer_as_co2_mg_l
from dawnlevel.supply.solutions import (
    GOOD_ENOUGH_PERCENT,
    Recipe,
    Route,
    balance_error_g,
    bicarbonate_mg_per_l,
    dilution_ml,
    direct_recipe,
    recipe,
)
from dawnlevel.tank import CellColour, Record, SolutionPrepared

LEVELS_MG_L = (3.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 60.0)

_CAUTIONS = (
    "Use distilled or demineralised water; what tap water brings counts as KH.",
    "Use plain baking soda from an unopened packet; baking powder is something else.",
    "Keep it closed: water that evaporates makes it stronger. Make it afresh every six months.",
    "Keep dye and solutions from children, and out of the tank.",
)

_SOURCES = (
    "german_degree", "balances", "measures", "gum", "solution_age", "kolthoff_1930", "yao_byrne_2001",
    "eye_error", "nist_buffers", "phreeqc_dat",
)  # fmt: skip


def cell_kh_dkh(records: Sequence[Record]) -> float:
    """KH [dKH] of the solution last recorded in `records` (sorted by time); 4 where none is."""
    made = [one.kh_dkh for one in records if isinstance(one, SolutionPrepared)]
    return made[-1] if made else CELL_KH_DKH


def solution_view(
    kh_dkh: float,
    volume_l: float,
    balance_g: float,
    *,
    stock_dkh: float | None = None,
    temp_c: float = 25.0,
) -> SolutionView:
    """A reference solution of `kh_dkh` [dKH], `volume_l` [L], with a balance of digit `balance_g` [g].

    `stock_dkh` [dKH] names a stock to dilute instead; `temp_c` [degC] is the cell's. Raises OutOfRangeError,
    and BadInputError where no route leads there.
    """
    found = recipe(kh_dkh, volume_l, balance_g)
    needs_g = 1e-3 * float(bicarbonate_mg_per_l(kh_dkh)) * volume_l
    taken = None if stock_dkh is None else dilution_ml(stock_dkh, kh_dkh, volume_l)
    return SolutionView(
        kh_dkh=kh_dkh,
        volume_l=volume_l,
        balance_g=balance_g,
        needs_g=needs_g,
        direct=_direct(kh_dkh, volume_l, balance_g, needs_g),
        recipe=RecipeView(found.route.value, found.mass_g, found.kh_dkh, found.error_percent, _steps(found)),
        carried=_carried(found.error_percent),
        stock_ml=taken,
        temp_c=temp_c,
        colours=_colours(kh_dkh, temp_c),
        buffer_looks_like_mg_l=phosphate_buffer_as_co2_mg_l(temp_c, kh_dkh),
        standards=_standards(temp_c, kh_dkh),
        cautions=_CAUTIONS,
        sources=cited(_SOURCES),
    )


def _carried(error_percent: float) -> str:
    """What the recipe's error does to CO2 read from the cell."""
    return (
        f"CO2 read from the cell is off by the same share, {error_percent:.1f} % (one standard deviation): "
        f"{0.3 * error_percent:.1f} mg/L at 30. An eye adds far more."
    )


def _direct(kh_dkh: float, volume_l: float, balance_g: float, needs_g: float) -> str:
    """Why the soda is, or is not, weighed straight in."""
    found = direct_recipe(kh_dkh, volume_l, balance_g)
    off = f"{1000 * balance_error_g(balance_g):.3g} mg"
    if found is None:
        return (
            f"A balance that shows steps of {balance_g:g} g cannot weigh {needs_g:.3g} g at all: make a "
            "stronger stock and dilute it."
        )
    if found.error_percent > GOOD_ENOUGH_PERCENT:
        return (
            f"Weighed straight in, {needs_g:.3g} g on a balance off by up to {off} would leave an error of "
            f"{found.error_percent:.0f} %: make a stronger stock and dilute it."
        )
    return f"{needs_g:.3g} g on a balance off by up to {off} is weighed straight in."


def _steps(found: Recipe) -> tuple[str, ...]:
    """What to do, in order."""
    steps = [
        f"Weigh {found.mass_g:.4g} g of baking soda (NaHCO3).",
        f"Dissolve it in distilled water and fill up to {_volume(found.stock_ml)}.",
    ]
    for taken, filled in zip(found.taken_ml, found.filled_ml, strict=True):
        steps.append(
            f"Measure {taken:.4g} mL of that exactly; fill up with distilled water to {_volume(filled)}."
        )
    last = "the last one" if found.route is not Route.DIRECT else "it"
    return (*steps, f"Mix well and label {last}: {found.kh_dkh:.2f} dKH, within {found.error_percent:.1f} %.")


def _volume(volume_ml: float) -> str:
    return f"{volume_ml / 1000.0:.4g} L" if volume_ml >= 1000.0 else f"{volume_ml:.4g} mL"


def _word(ph: float) -> str:
    """What an eye calls the cell at a pH."""
    for (bluer, _), edge in CELL_EDGES_PH.items():
        if ph >= edge:
            return bluer.value
    return CellColour.YELLOW.value


def _colours(kh_dkh: float, temp_c: float) -> tuple[ColourView, ...]:
    found = cell_colours(LEVELS_MG_L, temp_c, kh_dkh)
    return tuple(
        ColourView(
            co2_mg_l=level,
            cell_ph=float(found.ph[place]),
            word=_word(float(found.ph[place])),
            blue_share=float(found.blue[place]),
            blue_low=float(found.blue_low[place]),
            blue_high=float(found.blue_high[place]),
            standard_ph=float(found.standard_ph[place]),
            standard_ratio=float(found.standard_ratio[place]),
        )
        for place, level in enumerate(LEVELS_MG_L)
    )


def _standards(temp_c: float, kh_dkh: float) -> tuple[str, ...]:
    """How to make a colour scale of one's own."""
    looks_like = phosphate_buffer_as_co2_mg_l(temp_c, kh_dkh)
    strength = f"{1000 * STANDARD_MOL_L / 2:.0f} mmol/L"
    return (
        "Check the pH meter in two fresh buffers.",
        f"Make phosphate solutions of about {strength} from KH2PO4 and Na2HPO4.",
        "Set each to the pH of the table with the meter, by adding more of one or the other.",
        "Put as many drops of dye into each as into the same volume of cell solution.",
        "Fill vials like the cell, close them, label them with the CO2.",
        "Compare cell and vials side by side, in the same light, before white.",
        f"A shop's pH 6.86 buffer is none: the dye looks in it as in a cell at {looks_like:.0f} mg/L.",
    )
