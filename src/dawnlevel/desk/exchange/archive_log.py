"""A tank's probe log in an archive: batches as they are stored, each checked against its digest."""

import base64
import binascii
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from dawnlevel.desk.advice.gathering import Gathering
from dawnlevel.errors import BadInputError
from dawnlevel.store import SampleBatch, Store, Thinning
from dawnlevel.store.codec import decode, encode
from dawnlevel.store.schema import to_us

BATCHES, THINNINGS = "probe_batches", "probe_thinnings"


@dataclass(frozen=True, slots=True)
class _Batch:
    """A batch as an archive holds it; `packed` is its payload in base64, empty for a withdrawal."""

    id: int
    source: str
    step_min: int
    recorded_at: datetime
    digest: str
    packed: str
    withdraws: int | None = None


@dataclass(frozen=True, slots=True)
class RawBatch:
    """A batch of a file before its readings are known to fit its digest."""

    id: int
    source: str
    step_min: int
    recorded_at: datetime
    digest: str
    payload: bytes
    withdraws: int | None


class RawLog(NamedTuple):
    """Batches and thinnings of one tank, as read from a file."""

    batches: list[SampleBatch]
    thinnings: list[Thinning]


def log_to_dict(store: Store, name: str) -> dict[str, object]:
    """The batches and thinnings of a tank's probe log; nothing where it has none."""
    batches: list[object] = [
        encode(
            _Batch(
                one.id, one.source, one.step_min, one.recorded_at, one.digest,
                base64.b64encode(one.payload).decode(), one.withdraws,
            )
        )
        for one in store.sample_batches(name)
    ]  # fmt: skip
    thinnings: list[object] = [encode(one) for one in store.thinnings(name)]
    found: dict[str, object] = {BATCHES: batches, THINNINGS: thinnings}
    return {table: rows for table, rows in found.items() if rows}


def log_from_dict(raw: object, name: str, gathering: Gathering) -> RawLog:
    """The probe log of a tank of an archive; what cannot be taken is noted."""
    found = RawLog([], [])
    if not isinstance(raw, Mapping):
        return found
    for number, one in enumerate(raw.get(BATCHES) or [], 1):
        with gathering.at(f"tank {name}, probe batch {number}", number):
            found.batches.append(checked_batch(_from_dict(one), found.batches))
    for number, one in enumerate(raw.get(THINNINGS) or [], 1):
        with gathering.at(f"tank {name}, thinning {number}", number):
            found.thinnings.append(decode(Thinning, one, "thinning"))
    return found


def _from_dict(raw: object) -> RawBatch:
    one = decode(_Batch, raw, "batch")
    try:
        payload = base64.b64decode(one.packed, validate=True)
    except (binascii.Error, ValueError) as error:
        raise _damaged() from error
    return RawBatch(one.id, one.source, one.step_min, one.recorded_at, one.digest, payload, one.withdraws)


def checked_batch(raw: RawBatch, earlier: Sequence[SampleBatch]) -> SampleBatch:
    """The batch, which says what its digest says; BadInputError else. `earlier`: those read before it."""
    if raw.withdraws is not None:
        return _checked_withdrawal(raw, earlier)
    from dawnlevel.store.packing import as_samples, digest_of, unpack  # noqa: PLC0415 - numpy

    try:
        rows = unpack(raw.payload)
        as_samples(rows)
    except ValueError as error:
        raise _damaged() from error
    if digest_of(rows, raw.source, raw.step_min, to_us(raw.recorded_at)) != raw.digest:
        raise _damaged()
    first, last = int(rows[0, 0]), int(rows[0, -1])
    return SampleBatch(
        raw.id, raw.source, raw.step_min, first, last, rows.shape[1], raw.payload, raw.recorded_at, raw.digest
    )


def _checked_withdrawal(raw: RawBatch, earlier: Sequence[SampleBatch]) -> SampleBatch:
    from dawnlevel.store.packing import digest_of_withdrawal  # noqa: PLC0415 - numpy

    old = next((one for one in earlier if one.id == raw.withdraws), None)
    if old is None or digest_of_withdrawal(old.digest, to_us(raw.recorded_at)) != raw.digest:
        raise BadInputError(
            f"It withdraws batch {raw.withdraws}, which is not there or is another.", cure="Export it anew."
        )
    return SampleBatch(
        raw.id, raw.source, raw.step_min, old.first_minute, old.last_minute, old.readings, b"",
        raw.recorded_at, raw.digest, raw.withdraws,
    )  # fmt: skip


def _damaged() -> BadInputError:
    return BadInputError("The readings are damaged: they do not fit their digest.", cure="Export it anew.")
