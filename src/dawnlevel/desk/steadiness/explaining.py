"""Changes held against what the keeper wrote down: what fits comes first; KH tells water from meter."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from dawnlevel.desk.phrases import clock, day_text, span_text
from dawnlevel.desk.steadiness.recorded import Deed, Written, adjusted_by
from dawnlevel.desk.steadiness.watch import CauseView, FindingView, Watched
from dawnlevel.tank import BufferCheck, KhTitration

_NEAR = timedelta(days=1)
"""So near to the time in which a change began a record may have made it; gas days are told by the day."""

_FACTOR = 2.0  # a size within this factor of what a record should make fits it (judgement)
_SLACK_PH = 0.05  # and a shift of pH within this (judgement)
_SD_PH = 0.03  # how well the size of a shift is known, as sd (judgement)
_MOST_LOG_ODDS = 3.0  # a count may be wrong, a note too: 20 to 1 at most (judgement)
_SHIFTS = ("baseline_shift", "probe_step")
_MOST_NOTES = 2


def explained(watched: Watched, written: Written) -> Watched:
    """The same changes with what the keeper wrote down about them among the causes, and in the odds."""
    pairs = list(zip(watched.view.findings, watched.found, strict=True))
    told = [replace(one, causes=_causes(one, written)) for one, _ in pairs]
    chances = _chances(told, written)
    order = sorted(range(len(told)), key=lambda place: _place(told, chances, place))
    findings = tuple(replace(told[i], probability=round(chances[i], 4)) for i in order)
    found = tuple(replace(pairs[i][1], probability=chances[i]) for i in order)
    return replace(watched, view=replace(watched.view, findings=findings), found=found)


def _causes(one: FindingView, written: Written) -> tuple[CauseView, ...]:
    """What fits first, then the usual causes and what was written down but does not fit, notes last."""
    fitting, other, notes = [], list(one.causes), []
    for deed in _near(one, written.deeds):
        cause = _cause(one, deed, written)
        if cause is None:
            continue
        if deed.is_note:
            notes.append(cause)
        elif cause.speaks_against:
            other.append(cause)
        else:
            fitting.append(cause)
    fitting.sort(key=lambda cause: -len(cause.speaks_for))
    other.sort(key=lambda cause: len(cause.speaks_against) - len(cause.speaks_for))
    return (*fitting, *other, *notes[-_MOST_NOTES:])


def _near(one: FindingView, deeds: Sequence[Deed]) -> Iterator[Deed]:
    first, last = one.since_earliest - _NEAR, one.since_latest + _NEAR
    yield from (deed for deed in deeds if one.kind in deed.may and deed.begin <= last and deed.end >= first)


def _cause(one: FindingView, deed: Deed, written: Written) -> CauseView | None:
    """The deed as a cause; None where it would have made the opposite."""
    when = deed.end.astimezone(written.zone)
    is_span = deed.begin != deed.end
    said = "you wrote it down" if is_span else f"you wrote it down for {day_text(when)}, {clock(when)}"
    wanted = deed.may[one.kind]
    if wanted is None:
        denied = _denied_by_kh(one, written) if one.kind == _SHIFTS[0] else ()
        return CauseView(deed.text, (said,), denied, is_recorded=not deed.is_note)
    if wanted * one.size < 0.0:
        return None
    sizes = f"it should make {_size_text(one.kind, wanted)}; the log shows {_size_text(one.kind, one.size)}"
    if _fits(one.kind, wanted, one.size):
        return CauseView(deed.text, (said, sizes), (), is_recorded=True)
    return CauseView(deed.text, (said,), (sizes,), is_recorded=True)


def _denied_by_kh(one: FindingView, written: Written) -> tuple[str, ...]:
    """What counts before and after say against a change of KH, where they do."""
    counts = _counts_about(one, written)
    if counts is None or _counted(*counts, one.size, written) > 0.0:
        return ()
    before, after = (f"{kh.kh_dkh:.3g} dKH on {day_text(kh.at.astimezone(written.zone))}" for kh in counts)
    return (f"KH was counted {before} and {after}",)


def _fits(kind: str, wanted: float, found: float) -> bool:
    if kind in _SHIFTS:
        return abs(found - wanted) <= max(_SLACK_PH, abs(wanted) * (_FACTOR - 1.0) / _FACTOR)
    if kind.startswith("injection"):
        wanted, found = math.log1p(wanted), math.log1p(found)
    return wanted != 0.0 and 1.0 / _FACTOR <= found / wanted <= _FACTOR


def _size_text(kind: str, size: float) -> str:
    if kind in _SHIFTS:
        return f"{size:+.2f} pH"
    if kind == "probe_drift":
        return f"{size:+.3f} pH a day"
    if kind.startswith("start"):
        return span_text(timedelta(hours=abs(size)))
    return f"{100.0 * abs(size):.0f} % {'more' if size > 0.0 else 'less'}"


def _place(told: Sequence[FindingView], chances: Sequence[float], place: int) -> tuple[int, float, int]:
    """Where a change goes: as before, but of the two readings of a shift the likelier first."""
    twin = _twin(told, place)
    return (place, 0.0, place) if twin is None else (min(place, twin), -chances[place], place)


def _twin(told: Sequence[FindingView], place: int) -> int | None:
    """The other reading of a shift of pH, beside it; None for other changes."""
    one = told[place]
    beside = (other for other in (place - 1, place + 1) if 0 <= other < len(told))
    return next(
        (i for i in beside if {one.kind, told[i].kind} == set(_SHIFTS) and told[i].since == one.since), None
    )


def _chances(told: Sequence[FindingView], written: Written) -> list[float]:
    """The chance of each change, the two readings of a shift weighed by KH counts and buffers."""
    chances = [one.probability for one in told]
    for place, one in enumerate(told):
        twin = _twin(told, place)
        if twin is None or one.kind != _SHIFTS[0]:
            continue
        both = one.probability + told[twin].probability
        log_odds = math.log(one.probability / told[twin].probability) + _log_odds_of_water(one, written)
        chances[place] = both / (1.0 + math.exp(-log_odds))
        chances[twin] = both - chances[place]
    return chances


def _log_odds_of_water(one: FindingView, written: Written) -> float:
    """What counts of KH and adjusted meters say for the water and against the meter."""
    counts = _counts_about(one, written)
    said = 0.0 if counts is None else _counted(*counts, one.size, written)
    for check in written.records:
        if isinstance(check, BufferCheck) and check.adjusted and _is_near(check.at, one):
            by = adjusted_by(check)
            if by is not None:
                said -= max(0.0, _bell(one.size - by, 0.5 * _SLACK_PH) - _bell(one.size, 0.15))
    return max(-_MOST_LOG_ODDS, min(said, _MOST_LOG_ODDS))


def _counts_about(one: FindingView, written: Written) -> tuple[KhTitration, KhTitration] | None:
    """The last count of KH before a change began and the first one since; None without both."""
    counts = [kh for kh in written.records if isinstance(kh, KhTitration) and kh.kh_dkh > 0.0]
    before = [kh for kh in counts if kh.at < one.since_earliest]
    after = [kh for kh in counts if kh.at > one.since_latest]
    return (before[-1], after[0]) if before and after else None


def _is_near(moment: datetime, one: FindingView) -> bool:
    return one.since_earliest - _NEAR <= moment <= one.since_latest + _NEAR


def _counted(before: KhTitration, after: KhTitration, size_ph: float, written: Written) -> float:
    """Log odds of a shift by KH against one of the meter, by a count before and one after.

    At the same CO2, pH moves by the log of KH. A drop kit counts up to a step too much, evenly.
    """
    usual = written.versions[-1].tank.kh_step_dkh
    steps = [(kh.step_dkh or usual) / kh.kh_dkh for kh in (before, after)]
    sd = math.hypot(*steps) / math.sqrt(12.0) / math.log(10.0)
    sd = math.hypot(sd, _SD_PH)
    counted_ph = math.log10(after.kh_dkh / before.kh_dkh)
    return _bell(counted_ph - size_ph, sd) - _bell(counted_ph, sd)


def _bell(miss: float, sd: float) -> float:
    """Log density of a miss, up to a constant."""
    return -0.5 * (miss / sd) ** 2 - math.log(sd)
