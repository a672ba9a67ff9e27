"""What the indicator cell will look like: its lag behind the levels ahead, and the eye's names for it."""

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.trajectory import cell_levels
from dawnlevel.chemistry.coefficients import coefficients_unchecked, ph_from_co2_fast
from dawnlevel.estimate.posterior import Posterior
from dawnlevel.estimate.priors import CELL_EDGES_PH, EYE_PH_SD
from dawnlevel.plan.future import Hours
from dawnlevel.tank import CellColour

Array = npt.NDArray[np.float64]

OR_CHANCE = 0.25
"""From this chance on a second colour is named beside the likeliest [-]; own choice."""


def colour_chances(
    posterior: Posterior, hours: Hours, levels_mg_l: Array, at_h: npt.ArrayLike
) -> dict[CellColour, Array]:
    """Chance that the cell is named each colour at `at_h` [h from now, shape (m,)]; each of shape (m,).

    `levels_mg_l` are the tank's levels at the edges of `hours`, shape (S+1, n), one column a draw. The cell
    follows them from where the records leave it, with the lag, solution and eye of each draw. Edges between
    the colours: `estimate.priors`, where their sources stand.
    """
    from scipy.special import ndtr  # noqa: PLC0415 - scipy would slow the start of every command

    unknowns, timeline = posterior.unknowns, posterior.model.timeline
    rise = unknowns["cell_lag_h"]
    tank = np.concatenate((posterior.levels, levels_mg_l[1:]))
    steps = np.concatenate((timeline.dt_h, np.diff(hours.edges_h)))
    inside = cell_levels(tank, steps, rise, rise * np.exp(unknowns["cell_fall_log"]))
    ahead = inside[posterior.levels.shape[0] - 1 :]
    at = np.asarray(at_h, dtype=np.float64)
    level = np.array([_at(hours.edges_h, ahead, hour) for hour in at])
    recorded = posterior.model.cell_alkalinity_meq_l
    strength = recorded * np.exp(unknowns["cell_solution_log"])
    temp = np.asarray(posterior.model.tank.temp_c)
    water = coefficients_unchecked(temp, np.asarray(recorded * 1e-3))
    ph = ph_from_co2_fast(level, strength, water) + unknowns["cell_eye_ph"]
    below = [np.ones_like(ph), *(ndtr((edge - ph) / EYE_PH_SD) for edge in CELL_EDGES_PH.values())]
    below.append(np.zeros_like(ph))
    return {
        colour: np.asarray((upper - lower).mean(axis=1))
        for colour, upper, lower in zip(CellColour, below[:-1], below[1:], strict=True)
    }


def likeliest(chances: dict[CellColour, Array], place: int) -> tuple[CellColour, ...]:
    """The likeliest colour of `colour_chances` at one of its hours, and the next where it counts too."""
    first, second = sorted(chances, key=lambda colour: -chances[colour][place])[:2]
    return (first, second) if chances[second][place] > OR_CHANCE else (first,)


def _at(edges_h: Array, values: Array, hour_h: float) -> Array:
    """Values (S+1, n) at an hour, linear between the edges; shape (n,)."""
    right = int(np.clip(np.searchsorted(edges_h, hour_h), 1, edges_h.size - 1))
    length = edges_h[right] - edges_h[right - 1]
    share = float(np.clip((hour_h - edges_h[right - 1]) / length, 0.0, 1.0))
    return np.asarray((1.0 - share) * values[right - 1] + share * values[right])
