"""What a person sees of solutions, meters and kits, as data; like the views of `desk.views`.

Moments are aware datetimes in the tank's zone.
"""

from dataclasses import dataclass
from datetime import date, datetime

from dawnlevel.desk.views import SourceView


@dataclass(frozen=True, slots=True)
class RecipeView:
    """How to make a reference solution.

    Attributes:
        route: `direct`, `stock` or `two_stage`.
        mass_g: baking soda to weigh [g].
        kh_dkh: KH that comes out [dKH].
        error_percent: how far it may be off, one standard deviation [%]; CO2 by the cell is off by the same.
        steps: what to do, in order.
    """

    route: str
    mass_g: float
    kh_dkh: float
    error_percent: float
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ColourView:
    """The cell in balance with one CO2.

    Attributes:
        co2_mg_l: CO2 in the tank [mg/L].
        cell_ph: pH inside the cell [-].
        word: what an eye calls it.
        blue_share: share of the dye that is blue [-]; the rest is yellow.
        blue_low, blue_high: the same with the dye's constant 0.2 higher, and 0.2 lower [-].
        standard_ph: pH of a phosphate standard with the same dye that looks the same [-].
        standard_ratio: hydrogenphosphate over dihydrogenphosphate that comes near it [mol/mol].
    """

    co2_mg_l: float
    cell_ph: float
    word: str
    blue_share: float
    blue_low: float
    blue_high: float
    standard_ph: float
    standard_ratio: float


@dataclass(frozen=True, slots=True)
class SolutionView:
    """A reference solution: its recipe for the balance at hand, colours, standards.

    Attributes:
        kh_dkh: wanted [dKH].
        volume_l: wanted [L].
        balance_g: the balance's digit [g].
        needs_g: baking soda it holds [g].
        direct: why it is, or is not, weighed straight in.
        recipe: the recipe.
        carried: what its error does to CO2 read from the cell, in words.
        stock_ml: stock to take, where a stock was named [mL]; None otherwise.
        temp_c: temperature of the cell [degC].
        colours: the cell at each CO2.
        buffer_looks_like_mg_l: CO2 at which the cell looks like the same dye in pH 6.86 buffer [mg/L].
        standards: how to make a colour scale of one's own, in order.
        cautions: what to mind.
    """

    kh_dkh: float
    volume_l: float
    balance_g: float
    needs_g: float
    direct: str
    recipe: RecipeView
    carried: str
    stock_ml: float | None
    temp_c: float
    colours: tuple[ColourView, ...]
    buffer_looks_like_mg_l: float
    standards: tuple[str, ...]
    cautions: tuple[str, ...]
    sources: tuple[SourceView, ...]


@dataclass(frozen=True, slots=True)
class BufferCheckView:
    """One check of the meter in two buffers, before any adjustment.

    Attributes:
        at: when.
        slope_percent: share of the ideal slope [%]; null where the readings are none of these buffers.
        offset_mv: what a neutral buffer reads off [mV].
        verdict: `good`, `worn` or `unfit`.
        adjusted: whether the meter was adjusted to them after.
        co2_by_drop_percent: how far CO2 told by this tank's drop is off for the slope [%].
        co2_by_ph_percent: how far CO2 told by pH and KH is off at pH 6.8 [%].
        text: the verdict in words.
    """

    at: datetime
    slope_percent: float | None
    offset_mv: float | None
    verdict: str
    adjusted: bool
    co2_by_drop_percent: float | None
    co2_by_ph_percent: float | None
    text: str


@dataclass(frozen=True, slots=True)
class KitPlanView:
    """A KH titration with a larger sample.

    Attributes:
        multiple: how many times the usual sample.
        step_dkh: what one drop stands for then [dKH].
        drops: drops it takes, about.
        counting_percent: error of KH, and so of CO2, from counting whole drops, one sd [%].
        with_bias_percent: the same with the kit's standing bias [%].
    """

    multiple: int
    step_dkh: float
    drops: int
    counting_percent: float
    with_bias_percent: float


@dataclass(frozen=True, slots=True)
class InstrumentView:
    """An instrument and what it costs.

    Attributes:
        kind: machine name.
        label: what a keeper calls it.
        share: share of the doubt about CO2 now that would go if its errors were known [-].
        factor_if_known: the level's 90 % factor either way then.
    """

    kind: str
    label: str
    share: float
    factor_if_known: float


@dataclass(frozen=True, slots=True)
class ImprovementView:
    """A measurement, and what it buys.

    Attributes:
        kind: machine name.
        label: what to do.
        removes: share of the doubt about CO2 it is expected to remove [-].
        factor_after: the level's 90 % factor either way after it.
    """

    kind: str
    label: str
    removes: float
    factor_after: float


@dataclass(frozen=True, slots=True)
class ErrorView:
    """What an instrument's usual error does to CO2, one standard deviation [%], in any tank."""

    label: str
    error: str
    co2_percent: float


@dataclass(frozen=True, slots=True)
class MeterView:
    """Meters and kits: what checks found, when they are due, which limits the tank's CO2 figure most.

    Attributes:
        checks: buffer checks, the latest first.
        due: when the meter is due in buffers again; None where none is recorded.
        drift_ph_per_week: drift between the last adjustment and the next check [pH]; None where not known.
        solution_due: when the cell's solution is due to be made afresh; None where none is recorded.
        kh_dkh: KH the kit is judged at [dKH].
        kit: titrations with samples of several sizes.
        end_point_bias_dkh: what the kit's end point counts too much in soft water [dKH].
        factor_now: the level's 90 % factor either way; None where the records tell no level yet.
        limits: instruments, the most limiting first; empty where the records tell no level yet.
        improvements: measurements, the most telling first; empty likewise.
        errors: what usual errors do to CO2, in any tank.
        advice: what to do first, in words.
    """

    tank: str
    timezone: str
    at: datetime
    checks: tuple[BufferCheckView, ...]
    due: date | None
    drift_ph_per_week: float | None
    solution_due: date | None
    kh_dkh: float
    kit: tuple[KitPlanView, ...]
    end_point_bias_dkh: float
    factor_now: float | None
    limits: tuple[InstrumentView, ...]
    improvements: tuple[ImprovementView, ...]
    errors: tuple[ErrorView, ...]
    advice: str
    sources: tuple[SourceView, ...]
