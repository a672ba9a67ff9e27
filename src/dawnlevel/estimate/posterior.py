"""What the records say: equally weighted draws of everything unknown, and summaries of them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.cup import CUP_TRANSFER_VELOCITY_CM_H
from dawnlevel.chemistry.coefficients import co2_from_ph_fast, ph_from_co2_fast
from dawnlevel.estimate.evidence import meter_ph
from dawnlevel.estimate.gear import Gear
from dawnlevel.estimate.laplace import find_peak
from dawnlevel.estimate.model import TankModel, build_model
from dawnlevel.estimate.sampler import Draws, draw
from dawnlevel.estimate.unknowns import Unknowns
from dawnlevel.tank import BaselineCup, Record, Tank

Array = npt.NDArray[np.float64]

DRAWS = 256
PROPOSALS = 512
SWEEPS = 2


@dataclass(frozen=True, slots=True)
class Interval:
    """A quantity with its 50 % and 90 % interval."""

    median: float
    low_50: float
    high_50: float
    low_90: float
    high_90: float


def interval(draws: Array) -> Interval:
    """Median, 50 % and 90 % interval of draws, shape (n,)."""
    low, quarter, half, three, high = np.quantile(draws, (0.05, 0.25, 0.5, 0.75, 0.95))
    return Interval(float(half), float(quarter), float(three), float(low), float(high))


@dataclass(frozen=True, slots=True)
class Posterior:
    """The estimate of one tank at `end`; recomputed from records, never stored.

    Attributes:
        model: tank, timeline and evidence.
        draws: equally weighted draws of the unknowns.
        unknowns: the same in physical units.
        levels: CO2 in the tank at every edge of the timeline [mg/L], shape (S+1, n).
        end: the moment (UTC) the estimate speaks of.
        baseline_ph: the recorded baseline that drops count from [-]; None where there is none.
    """

    model: TankModel
    draws: Draws
    unknowns: Unknowns
    levels: Array
    end: datetime
    baseline_ph: float | None

    @property
    def size(self) -> int:
        """Number of draws, n."""
        return int(self.levels.shape[1])

    def subset(self, chosen: slice) -> "Posterior":
        """The same posterior with some of its draws only."""
        draws = replace(self.draws, z=self.draws.z[:, chosen])
        return replace(
            self, draws=draws, unknowns=self.model.unknowns(draws.z), levels=self.levels[:, chosen]
        )

    def levels_at(self, moments: Sequence[datetime]) -> Array:
        """CO2 at `moments` within the records [mg/L], shape (m, n); linear between edges in log level."""
        hours = np.array([self.model.timeline.hour(moment) for moment in moments])
        edges = self.model.timeline.edges_h
        right = np.clip(np.searchsorted(edges, hours), 1, edges.size - 1)
        width = np.maximum(edges[right] - edges[right - 1], 1e-9)
        share = np.clip((hours - edges[right - 1]) / width, 0.0, 1.0)[:, None]
        logs = np.log(self.levels)
        return np.asarray(np.exp((1.0 - share) * logs[right - 1] + share * logs[right]))

    def true_ph(self, co2_mg_l: Array) -> Array:
        """True pH of the tank [-] at levels of shape (m, n) [mg/L]."""
        return ph_from_co2_fast(co2_mg_l, self.unknowns["alkalinity_meq_l"], self.unknowns.water)

    def meter_ph(self, co2_mg_l: Array) -> Array:
        """What the keeper's meter would show [-] at levels of shape (m, n) [mg/L], without reading error."""
        return meter_ph(self.unknowns, self.true_ph(co2_mg_l))

    def co2_of_reading(self, ph: float, at: datetime | None = None) -> Array:
        """CO2 [mg/L] at which the keeper's meter shows `ph` [-], shape (n,): draws of meter and water.

        `at` is when it was read, where the meter may have been adjusted since.
        """
        ph = ph if at is None else self.model.gear.shown_now(ph, at)
        unknowns = self.unknowns
        slope = np.exp(unknowns["meter_slope_log"])
        true_ph = 7.0 + (ph - 7.0 - unknowns["meter_offset_ph"]) / slope
        return co2_from_ph_fast(true_ph, unknowns["alkalinity_meq_l"], unknowns.water)


BASELINE_KEPT = timedelta(days=90)
"""A baseline cup older than this against the latest one no longer counts; KH moves; own choice."""


def recorded_baseline(records: Sequence[Record], gear: Gear) -> float | None:
    """The baseline that drops count from [-]: mean reading of the best degassed cup; None without one.

    Cups prepared alike count as one; of several preparations the one that lets most CO2 go counts
    (transfer velocity times hours, balance.cup): a still cup keeps what an aerated one loses. What was read
    before the meter was adjusted is told as the meter shows it since.
    """
    cups = [record for record in records if isinstance(record, BaselineCup)]
    if not cups:
        return None
    recent = [cup for cup in cups if cups[-1].at - cup.at <= BASELINE_KEPT]
    best = max(_exchanges(cup) for cup in recent)
    alike = [cup for cup in recent if _exchanges(cup) >= best - 1e-9]
    return float(np.mean([gear.shown_now(cup.ph, cup.at) for cup in alike]))


def _exchanges(cup: BaselineCup) -> float:
    """Water column that the film of this preparation exchanges with the air [cm]."""
    return CUP_TRANSFER_VELOCITY_CM_H[cup.method].median * cup.hours


def posterior(
    tank: Tank,
    records: Sequence[Record],
    end: datetime,
    rng: np.random.Generator,
    n: int = DRAWS,
    proposals: int = PROPOSALS,
    sweeps: int = SWEEPS,
    since: datetime | None = None,
) -> Posterior:
    """The estimate of `tank` at `end` (UTC) from its standing `records` (sorted by time).

    Uses every record up to `end`; with `since` (UTC) what meter and cell showed before is set aside. The same
    records and a generator of the same seed give the same draws.
    """
    peak, model = find_peak(build_model(tank, records, end, since))
    draws = draw(model, peak, rng, n, proposals, sweeps)
    unknowns = model.unknowns(draws.z)
    baseline = recorded_baseline(records, model.gear)
    return Posterior(model, draws, unknowns, model.levels(unknowns), end, baseline)
