"""A plan accepted: the timer and the needle, as a keeper can set them, put on record."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from dawnlevel.desk.records import record_all
from dawnlevel.desk.views import PlanView
from dawnlevel.store import Store, StoredRecord
from dawnlevel.tank import GasSwitch, RateSetting, Record, TimerSetting
from dawnlevel.tank.clock import local_hour


def to_minute(moment: datetime) -> datetime:
    """The nearest whole minute: what a timer can be set to."""
    return (moment + timedelta(seconds=30)).replace(second=0, microsecond=0)


def plan_records(plan: PlanView, at: datetime) -> list[Record]:
    """What a keeper sets who accepts `plan` at `at` (aware): the needle where it changes, and the timer.

    A timer set within tomorrow's window would open the gas today; where it is closed the keeper leaves it
    closed until then, and that is recorded too.
    """
    zone = ZoneInfo(plan.timezone)
    windows = tuple(
        (local_hour(to_minute(span.opens), zone), local_hour(to_minute(span.closes), zone))
        for span in plan.windows
    )
    timer = TimerSetting(at=at, windows_h=windows, note=f"plan for {plan.day.isoformat()}")
    records: list[Record] = [timer]
    if plan.needle_changes:
        records.insert(0, RateSetting(at=at, bubbles_per_second=plan.rate_bps))
    clock = local_hour(at, zone)
    opens_at_once = any((clock - opens) % 24.0 < (closes - opens) % 24.0 for opens, closes in windows)
    flows = any(span.opens <= plan.picture.now <= span.closes for span in plan.picture.gas)
    if opens_at_once and not flows:
        records.append(GasSwitch(at=at, is_open=False, note="closed until the plan's first window"))
    return records


def accept(store: Store, plan: PlanView, at: datetime, now: datetime) -> list[StoredRecord]:
    """Record `plan` as set at `at`, in the present of `now` (both aware), all of it or nothing."""
    return record_all(store, plan.tank, plan_records(plan, at), now)
