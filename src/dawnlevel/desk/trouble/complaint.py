"""Use case: why it isn't working - the causes of a complaint ranked from this tank's own records."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk.advice.tomorrow import plan_of
from dawnlevel.desk.casebook import SEED, Case, open_case
from dawnlevel.desk.phrases import until_text
from dawnlevel.desk.steadiness.watch import WatchView
from dawnlevel.desk.trouble.complaint_causes import BEHIND, CAUSES, LABELS, Complaint
from dawnlevel.desk.trouble.complaint_evidence import evidence
from dawnlevel.desk.trouble.complaint_oxygen import OxygenNow, oxygen_now
from dawnlevel.desk.trouble.complaint_views import CauseView, ComplaintView, RemedyView
from dawnlevel.desk.trouble.complaint_watch import SETTLES, Watching, stored_log, watching_of
from dawnlevel.desk.views import MeasurementView, PlanView
from dawnlevel.desk.wording import clock_text, over_text, percent, rate_text
from dawnlevel.errors import NotEnoughRecordsError
from dawnlevel.plan.day import evaluate
from dawnlevel.plan.fish import DISTRESS_STEPS
from dawnlevel.plan.horizon import horizon
from dawnlevel.plan.look import Look, look, worth
from dawnlevel.plan.over import OVER_LIKELY
from dawnlevel.plan.schedule import Schedule
from dawnlevel.plan.score import Verdict
from dawnlevel.store import Store
from dawnlevel.tank import BaselineCup, FishState, KhTitration, PhReading, Record, Tank, TargetKind

LIKELY = 0.5
"""From this chance on a cause is called the likeliest outright; own choice."""

_THEN = (
    "What follows are chances by a model of the gas, no diagnosis.",
    "Record what you see: dawnlevel fish uneasy, or dawnlevel fish distress",
)

UNLIKELY = 0.2
"""Up to this chance the records speak against the complaint itself; own choice."""

LEAST_DOUBT = 1e-3
"""Doubt, as chance times counter-chance, below which there is nothing left to measure; own choice."""

SETTLED_BY_HAND = {
    "gas_missed",
    "closes_early",
    "gas_fell",
    "cell_behind_rise",
    "cell_behind_fall",
    "solution_strong",
    "solution_weak",
}
"""Causes that no pH, KH or cup settles, but a look or a swap: its check is among what to measure."""

HELPS = 0.05
"""Gain in the chance of a good day from which a plan is called a remedy; own choice."""

_NO_BETTER = "No plan does clearly better than timer and needle as they stand: cure the cause itself."

_NOTHING = "The records say nothing of CO2 in this tank yet, so no cause can be told from another."

_NO_NEWS = timedelta(hours=6)

_CLOSE_FIRST = "Close the gas before you look for any cause; `dawnlevel today` says what to do."

_PH = "pH in the tank in the last ten minutes before lights-on: dawnlevel ph PH"
_CUP = (
    "pH of a cup of tank water aerated for an hour, since the drop from it gives CO2 without trusting the KH "
    "kit: dawnlevel cup PH --method aerated --hours 1"
)
_OXYGEN = "dissolved oxygen where the fish are, now and before the lights: dawnlevel dissolved MG_L"
_KH = "KH by the drop kit: dawnlevel kh DKH"


def complaint_view(
    store: Store, name: str, complaint: Complaint, now: datetime, seed: int = SEED
) -> ComplaintView:
    """Why `complaint` holds in tank `name` at `now` (aware). Raises NoSuchTankError.

    Without the readings that CO2 rests on it asks for the two that matter most.
    """
    asking = asking_view(store, name, complaint, now)
    return complaint_in(store, open_case(store, name, now, seed), complaint) if asking is None else asking


def complaint_in(store: Store, case: Case, complaint: Complaint) -> ComplaintView:
    """The answer for an opened case, with what the tank's stored probe log says, if there is one."""
    return complaint_of(case, complaint, stored_log(store, case.tank.name, case.now))


def asking_view(store: Store, name: str, complaint: Complaint, now: datetime) -> ComplaintView | None:
    """What to read first; None where the records suffice for an answer. Raises NoSuchTankError."""
    tank, now = store.tank(name), now.astimezone(UTC)
    records = [stored.record for stored in store.records(name, until=now)]
    needs = _needs(tank, records)
    if not needs:
        return None
    said = _told_without_cup(store, tank, now) if needs == (_CUP,) else _NOTHING
    return _asking(tank, complaint, now, needs, said)


def _told_without_cup(store: Store, tank: Tank, now: datetime) -> str:
    """What pH, and KH where it is counted, tell of CO2 although the target's baseline is missing."""
    try:
        open_case(store, tank.name, now)
    except NotEnoughRecordsError as error:
        return error.what
    return _NOTHING


def complaint_of(case: Case, complaint: Complaint, log: WatchView | None = None) -> ComplaintView:
    """The answer for an opened case and what its probe's log says, if there is one."""
    seen, watching = look(case.found, case.records), watching_of(case, log)
    oxygen = oxygen_now(case) if complaint is Complaint.FISH else None
    causes = _ranked(complaint, case, seen, watching, oxygen)
    return ComplaintView(
        tank=case.tank.name,
        timezone=case.tank.timezone,
        complaint=complaint.value,
        label=LABELS[complaint],
        at=case.local(case.now),
        first=_first(complaint, case.found.over_ceiling, oxygen),
        answer=f"{_against(complaint, case, seen)}{_answer(causes)}",
        causes=tuple(causes),
        measurements=_measurements(causes, case, seen, watching, oxygen),
        remedy=_remedy(case, complaint),
        needs=(),
    )


def _needs(tank: Tank, records: list[Record]) -> tuple[str, ...]:
    """The two readings without which nothing can be said of CO2; empty where they are there."""
    has = {
        kind for kind in (PhReading, BaselineCup, KhTitration) if any(isinstance(r, kind) for r in records)
    }
    by_drop = tank.target.kind is TargetKind.DROP
    has_base = BaselineCup in has or (KhTitration in has and not by_drop)
    if PhReading in has and has_base:
        return ()
    return tuple(
        text for text, lacks in ((_PH, PhReading not in has), (_CUP, BaselineCup not in has)) if lacks
    ) or (_KH,)


def _asking(
    tank: Tank, complaint: Complaint, now: datetime, needs: tuple[str, ...], said: str
) -> ComplaintView:
    return ComplaintView(
        tank=tank.name,
        timezone=tank.timezone,
        complaint=complaint.value,
        label=LABELS[complaint],
        at=now.astimezone(ZoneInfo(tank.timezone)).replace(microsecond=0),
        first=_first(complaint, 0.0, None),
        answer=said,
        causes=(),
        measurements=(),
        remedy=None,
        needs=needs,
    )


def _first(complaint: Complaint, over_ceiling: float, oxygen: OxygenNow | None) -> tuple[str, ...]:
    """What comes before any question: fish that gasp, or a level above the ceiling, cannot wait for one."""
    if complaint is Complaint.FISH:
        relief = () if oxygen is None else (oxygen.relief,)
        return (*DISTRESS_STEPS, *relief, *_THEN)
    if over_ceiling >= OVER_LIKELY:
        chance = percent(over_ceiling)
        return (f"CO2 is above the livestock ceiling now (chance {chance}). {_CLOSE_FIRST}",)
    return ()


def _against(complaint: Complaint, case: Case, seen: Look) -> str:
    """What the records say against the complaint itself; empty where they do not."""
    low = seen.chance("low_at_lights_on")
    if complaint is not Complaint.LOW or low is None or low > UNLIKELY:
        return ""
    said = evidence("low_at_lights_on", case, seen)
    return f"By your records it was not too low (chance that it was: {percent(low)}). {said} "


def _measurements(
    causes: list[CauseView], case: Case, seen: Look, watching: Watching, oxygen: OxygenNow | None
) -> tuple[MeasurementView, ...]:
    """What to measure next, among it the checks that settle a change watched, the likeliest cause, oxygen."""
    doubts = {one.kind: (one.probability or 0.0) * (1.0 - (one.probability or 0.0)) for one in causes}
    total = sum(doubts.values())
    if total < LEAST_DOUBT:
        return ()
    known = [one for one in causes if one.kind in seen.margins]
    chances = [one.probability or 0.0 for one in known]
    readings = [record.at for record in case.records if isinstance(record, PhReading)]
    is_just_read = case.now - readings[-1] < _NO_NEWS
    next_best = worth(
        case.found, [seen.margins[one.kind] for one in known], just_read=is_just_read, chances=chances
    )
    share = sum(doubts[one.kind] for one in known) / total
    found = [MeasurementView(one.kind, one.label, share * one.removes) for one in next_best]
    found += _settling(causes[0], doubts[causes[0].kind] / total)
    if oxygen is not None:
        removes = doubts["low_oxygen"] * oxygen.told_by_a_reading / total
        found.append(MeasurementView("oxygen", _OXYGEN, removes))
    told = [(kind, watching.of(kind)) for kind in doubts]
    settled = sum(doubts[kind] for kind, change in told if change is not None)
    if settled > 0.0:
        check = max((change for _, change in told if change is not None), key=lambda one: one.chance).check
        found.append(MeasurementView("check", check, SETTLES * settled / total))
    return tuple(sorted((one for one in found if one.removes > 0.0), key=lambda one: -one.removes))


def _settling(top: CauseView, share: float) -> list[MeasurementView]:
    """The check that settles the likeliest cause, where it is no reading that counts already."""
    if top.probability is None or top.kind not in SETTLED_BY_HAND:
        return []
    return [MeasurementView("settles", top.check, SETTLES * share)]


def _cause(
    kind: str, case: Case, seen: Look, watching: Watching, oxygen: OxygenNow | None = None
) -> CauseView:
    cause = CAUSES[kind]
    if oxygen is not None and kind == "low_oxygen":
        return CauseView(kind, cause.label, oxygen.chance_low, oxygen.evidence, cause.unknown, cause.check)
    chance = watching.chance(kind, seen.chance(cause.condition) if cause.condition else None)
    says = evidence(kind, case, seen) + watching.sentence(kind, case)
    return CauseView(kind, cause.label, chance, says, cause.unknown, cause.check)


def _ranked(
    complaint: Complaint, case: Case, seen: Look, watching: Watching, oxygen: OxygenNow | None
) -> list[CauseView]:
    """The causes, likeliest first; one that the records say nothing of goes by how often it is met."""
    found = [(_cause(kind, case, seen, watching, oxygen), share) for kind, share in BEHIND[complaint]]
    found.sort(key=lambda pair: -(pair[1] if pair[0].probability is None else pair[0].probability))
    return [cause for cause, _ in found]


def _answer(causes: list[CauseView]) -> str:
    """The likeliest cause in a sentence, with how sure that is."""
    top = causes[0]
    if top.probability is None:
        told = [one for one in causes if one.probability is not None]
        most = max((one.probability or 0.0 for one in told), default=0.0)
        return (
            f"No cause that the records can speak of is as likely (the most: {percent(most)}). What they "
            f"cannot speak of: {_lower(top.label)}."
        )
    if top.probability >= LIKELY:
        return f"Likeliest: {_lower(top.label)} ({percent(top.probability)})."
    return (
        f"No cause stands out; the likeliest that the records speak of is: {_lower(top.label)} "
        f"({percent(top.probability)}). Measure before you change anything."
    )


def _lower(label: str) -> str:
    return label if label.startswith(("CO2", "pH")) else label[0].lower() + label[1:]


def _remedy(case: Case, complaint: Complaint) -> RemedyView | None:
    """The next day's plan with its forecast; None while fish or ceiling come first."""
    is_urgent = case.found.fish is FishState.DISTRESS or case.found.stands_over
    if complaint is Complaint.FISH or is_urgent:
        return None
    plan, as_set = plan_of(case), _if_left(case)
    left = None if as_set is None else float(as_set.held[0])
    helps = as_set is None or (
        plan.chance_held > as_set.held[0] + HELPS
        or as_set.breach[0] > max(plan.chance_breach + HELPS, plan.breach_bound)
    )
    return RemedyView(
        text=_plan_text(plan) if helps else _NO_BETTER,
        windows=plan.windows,
        rate_bps=plan.rate_bps,
        forecast=plan.forecast,
        chance_if_done=plan.chance_held,
        chance_if_left=left,
        breach_if_done=plan.chance_breach,
        over=" ".join(filter(None, (over_text(case.found.goal), until_text(plan.breach_until)))),
        out_of_reach=plan.out_of_reach,
    )


def _plan_text(plan: PlanView) -> str:
    first, last = plan.windows[0], plan.windows[-1]
    needle = f"Set the needle to {rate_text(plan.rate_bps)}"
    if not plan.needle_changes:
        needle = f"Leave the needle at {rate_text(plan.rate_bps)}"
    pulses = f" in {len(plan.windows)} windows" if len(plan.windows) > 1 else ""
    return (
        f"{needle}, gas from {clock_text(first.opens)} to {clock_text(last.closes)}{pulses} "
        f"on {plan.day:%a} {plan.day.day} {plan.day:%b}."
    )


def _if_left(case: Case) -> Verdict | None:
    """Chances of that day if timer and needle stay; None without a timer."""
    found = case.found
    ahead = horizon(case.tank, case.records, case.now, of_today=False)
    if not ahead.standing:
        return None
    left = Schedule(ahead.standing, found.present_bps, is_new=False)
    return evaluate(found.posterior, found.goal, found.luck, ahead, [left])
