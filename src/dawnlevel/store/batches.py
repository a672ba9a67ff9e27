"""A probe's log as the store keeps it: batches of packed minutes that are never changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dawnlevel.tank.samples import Samples


@dataclass(frozen=True, slots=True)
class SampleBatch:
    """Some minutes of a tank's probe log, or the withdrawal of such a batch.

    Attributes:
        id: its number; later batches have higher ones.
        source: where the readings came from, in the keeper's words: a file, a topic.
        step_min: how many minutes a reading stands for: 1 as logged, more once thinned.
        first_minute, last_minute: minutes since 1970-01-01T00:00Z, both inclusive.
        readings: how many minutes have one.
        payload: the readings, packed (see `dawnlevel.store.packing`); empty for a withdrawal.
        recorded_at: when it was written down (UTC).
        digest: SHA-256 of all that was written down, numbers and names of tanks aside.
        withdraws: number of the batch that this one withdraws.
    """

    id: int
    source: str
    step_min: int
    first_minute: int
    last_minute: int
    readings: int
    payload: bytes
    recorded_at: datetime
    digest: str
    withdraws: int | None = None


@dataclass(frozen=True, slots=True)
class SampleImport:
    """What was written down of a probe's log in one go and still stands; `id` of its first batch.

    Minutes since 1970-01-01T00:00Z, both ends inclusive; `step_min`: how many minutes a reading stands for.
    """

    id: int
    source: str
    step_min: int
    first_minute: int
    last_minute: int
    readings: int
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class Thinning:
    """Minute data thinned by the keeper's choice: what went, what stayed.

    Attributes:
        before_minute: readings earlier than this minute since 1970-01-01T00:00Z were thinned.
        step_min: to one reading for so many minutes.
        readings_before, readings_after: how many there were, and are.
        recorded_at: when it was done (UTC).
    """

    before_minute: int
    step_min: int
    readings_before: int
    readings_after: int
    recorded_at: datetime


@dataclass(frozen=True, slots=True)
class FinerSamples:
    """Readings finer than a step: those that count, and how many are stored in all, hidden ones too."""

    samples: "Samples"
    stored: int


@dataclass(frozen=True, slots=True)
class SamplesAdded:
    """What adding readings brought, in minutes: `new` ones, `changed` ones, ones that were the `same`.

    Of a minute that is stored with other values the one written down last counts; the earlier one stays in
    the store and no longer counts. `covered`: of a time that was thinned and has its reading already.
    """

    new: int
    changed: int
    same: int
    covered: int = 0

    @classmethod
    def total(cls, parts: "Sequence[SamplesAdded]") -> "SamplesAdded":
        """The sum of several."""
        return cls(
            sum(one.new for one in parts),
            sum(one.changed for one in parts),
            sum(one.same for one in parts),
            sum(one.covered for one in parts),
        )
