"""The level in the tank after a step: dC/dt = source - loss C, solved exactly; arrays broadcast.

`source_mg_l_h` gathers all that does not depend on the level: gas, loss times the air level,
respiration, less an uptake that does not saturate. `loss_per_h` is the exchange with the room (kLa).
The equations are elementary; the choice of exact steps is in docs/decisions/0002-exact-steps.md.
"""

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.phi import phi1, phi2
from dawnlevel.errors import BadInputError


def exact_step(
    c0_mg_l: npt.ArrayLike,
    source_mg_l_h: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    dt_h: npt.ArrayLike,
) -> npt.NDArray[np.float64]:
    """Level [mg/L] after `dt_h` [h] from `c0_mg_l` at constant source [mg/L/h] and loss [1/h].

    All arguments broadcast; a loss of nought gives the straight line.
    """
    dt = np.asarray(dt_h, dtype=np.float64)
    decay = np.asarray(loss_per_h, dtype=np.float64) * dt
    level: npt.NDArray[np.float64] = np.asarray(c0_mg_l, dtype=np.float64) * np.exp(-decay) + np.asarray(
        source_mg_l_h, dtype=np.float64
    ) * dt * phi1(decay)
    return level


def exact_step_mean(
    c0_mg_l: npt.ArrayLike,
    source_mg_l_h: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    dt_h: npt.ArrayLike,
) -> npt.NDArray[np.float64]:
    """Time mean of the level [mg/L] over the step of `exact_step`; same arguments, broadcast.

    Mean times loss times dt is what the step lost; over no time the mean is the start.
    """
    dt = np.asarray(dt_h, dtype=np.float64)
    decay = np.asarray(loss_per_h, dtype=np.float64) * dt
    mean: npt.NDArray[np.float64] = np.asarray(c0_mg_l, dtype=np.float64) * phi1(decay) + np.asarray(
        source_mg_l_h, dtype=np.float64
    ) * dt * phi2(decay)
    return mean


def simulate_linear(
    c0_mg_l: npt.ArrayLike,
    edges_h: npt.ArrayLike,
    source_mg_l_h: npt.ArrayLike,
    loss_per_h: npt.ArrayLike,
    times_h: npt.ArrayLike,
    *,
    kept_share: npt.ArrayLike = 1.0,
    added_mg_l: npt.ArrayLike = 0.0,
) -> npt.NDArray[np.float64]:
    """Level [mg/L] at `times_h` when source and loss change only at the edges; no fixed-step error.

    Shapes: `c0_mg_l` (...); `edges_h` (..., n + 1), rising; `source_mg_l_h` and `loss_per_h` (..., n),
    one for each span between two edges; `times_h` (m,). Returns (..., m). Times before the first edge
    count as the first edge; after the last edge the last span goes on.

    `kept_share` and `added_mg_l` (..., n) change the level at once at the start of each span, to
    kept_share * level + added: a water change. A time that falls on an edge is after that change.

    Raises: BadInputError if the edges do not rise or do not fit the spans.
    """
    edges = np.asarray(edges_h, dtype=np.float64)
    spans = edges.shape[-1] - 1
    source, loss, kept, added = (
        _one_per_span(values, spans) for values in (source_mg_l_h, loss_per_h, kept_share, added_mg_l)
    )
    if np.any(np.diff(edges, axis=-1) < 0):
        raise BadInputError("The switching times do not rise.", where="simulation", cure="Sort them by time.")
    starts = _levels_at_edges(np.asarray(c0_mg_l, dtype=np.float64), edges, source, loss, kept, added)
    times = np.asarray(times_h, dtype=np.float64)
    index = np.clip(np.sum(edges[..., np.newaxis, :] <= times[:, np.newaxis], axis=-1) - 1, 0, spans - 1)
    elapsed = np.maximum(times - _pick(edges, index), 0.0)
    return exact_step(_pick(starts, index), _pick(source, index), _pick(loss, index), elapsed)


def _one_per_span(values: npt.ArrayLike, spans: int) -> npt.NDArray[np.float64]:
    """`values` (..., spans), a single one repeated; BadInputError when the number does not fit."""
    array = np.asarray(values, dtype=np.float64)
    count = array.shape[-1] if array.ndim else 1
    if spans < 1 or count not in {1, spans}:
        raise BadInputError(
            f"{count} values for {spans} spans between switching times.",
            where="simulation",
            cure="Give one value for each span, and one edge more than spans.",
        )
    return np.broadcast_to(array, (*array.shape[:-1], spans))


def _levels_at_edges(
    c0: npt.NDArray[np.float64],
    edges: npt.NDArray[np.float64],
    source: npt.NDArray[np.float64],
    loss: npt.NDArray[np.float64],
    kept: npt.NDArray[np.float64],
    added: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """Level [mg/L] at the start of every span, (..., n), after that span's sudden change."""
    lengths = np.diff(edges, axis=-1)
    levels = []
    level = c0
    for span in range(lengths.shape[-1]):
        level = kept[..., span] * level + added[..., span]
        levels.append(level)
        level = exact_step(level, source[..., span], loss[..., span], lengths[..., span])
    return np.stack(np.broadcast_arrays(*levels), axis=-1)


def _pick(values: npt.NDArray[np.float64], index: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
    """`values` (..., n) at `index` (..., m) along the last axis, broadcast before it."""
    if index.ndim == 1:
        return values[..., index]
    lead = np.broadcast_shapes(values.shape[:-1], index.shape[:-1])
    return np.take_along_axis(
        np.broadcast_to(values, (*lead, values.shape[-1])),
        np.broadcast_to(index, (*lead, index.shape[-1])),
        axis=-1,
    )
