"""Use case: several tanks at a glance, in the order in which they need somebody."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from dawnlevel.desk.views import Phase, TodayView
from dawnlevel.estimate.posterior import Interval

SOON = timedelta(minutes=15)
"""A reading due within this counts as due; common practice, no source."""


class Attention(StrEnum):
    """How soon a tank needs somebody, the soonest first."""

    ALARM = "alarm"
    NOW = "now"
    SOON = "soon"
    LATER = "later"


_ORDER = list(Attention)
_TO_DO = {"raise", "lower", "read_again", "close_and_read", "find_change"}


@dataclass(frozen=True, slots=True)
class TankCard:
    """One tank at a glance.

    Attributes:
        tank: its name.
        attention: how soon it needs somebody.
        headline: the one next thing.
        reason: why, in words; where the records cannot tell yet, what is missing.
        co2_mg_l: CO2 now [mg/L]; None where the records cannot tell yet.
        next_at: when the next reading is worth taking, if one is.
        lights_on: the next lights-on, or today's where they are on; None where that is not worked out.
        owner: whose tank it is; empty: not said.
    """

    tank: str
    attention: Attention
    headline: str
    reason: str
    co2_mg_l: Interval | None
    next_at: datetime | None
    lights_on: datetime | None
    owner: str = ""


def card_of(view: TodayView, owner: str = "") -> TankCard:
    """A tank's card from its day; `owner` is whose it is."""
    reading = view.next_reading
    return TankCard(
        tank=view.tank,
        attention=_attention(view),
        headline=view.action.text,
        reason=view.action.reason,
        co2_mg_l=view.now.co2_mg_l,
        next_at=None if reading is None else reading.at,
        lights_on=view.lights_on,
        owner=owner,
    )


def card_of_untold(tank: str, missing: str, owner: str = "") -> TankCard:
    """The card of a tank whose records cannot tell yet; `missing` says what they lack."""
    return TankCard(tank, Attention.NOW, "More records are needed.", missing, None, None, None, owner)


def by_attention(cards: Iterable[TankCard]) -> tuple[TankCard, ...]:
    """Cards in the order in which the tanks need somebody; then by the next reading, then as given."""
    return tuple(
        sorted(
            cards,
            key=lambda card: (
                _ORDER.index(card.attention),
                card.next_at is None,
                0.0 if card.next_at is None else card.next_at.timestamp(),
            ),
        )
    )


def _attention(view: TodayView) -> Attention:
    if view.phase in {Phase.ALARM, Phase.OVER}:
        return Attention.ALARM
    if view.phase in {Phase.UNEASY, Phase.NO_PLAN} or view.action.kind in _TO_DO:
        return Attention.NOW
    if view.next_reading is not None and view.next_reading.at - view.now.at <= SOON:
        return Attention.SOON
    return Attention.LATER
