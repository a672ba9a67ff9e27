"""What is recorded of gas, solutions and meters: kept whole, and refused where it cannot be."""

from datetime import UTC, datetime

import pytest

from dawnlevel.errors import BadInputError, OutOfRangeError
from dawnlevel.store.codec import record_from_dict, record_to_dict
from dawnlevel.tank import (
    Buffer,
    BufferCheck,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    GaugeReading,
    Record,
    SolutionPrepared,
    WeighedWith,
)

AT = datetime(2026, 5, 4, 7, 30, tzinfo=UTC)

RECORDS: list[Record] = [
    CylinderExchange(
        at=AT,
        gas_kg=2.0,
        tare_kg=3.15,
        capacity_l=3.0,
        standard=CylinderStandard.DOT_3AL,
        tested="2024-05",
        price=24.5,
    ),
    CylinderExchange(at=AT, gas_kg=0.5),
    CylinderWeighing(at=AT, gross_kg=5.82, scale_kg=0.02, stood=WeighedWith.BARE),
    GaugeReading(at=AT, gauge_bar=58.0, temp_c=21.5),
    BufferCheck(at=AT, low_ph=4.06, high_ph=9.11, high=Buffer.BORAX, temp_c=22.5, adjusted=False),
    SolutionPrepared(at=AT, kh_dkh=4.0, error_percent=2.5, note="from a 40 dKH stock"),
]


@pytest.mark.parametrize("record", RECORDS, ids=lambda one: type(one).__name__)
def test_a_record_comes_back_from_its_dict(record: Record) -> None:
    assert record_from_dict(record_to_dict(record)) == record


def test_the_stamp_of_the_last_test() -> None:
    assert CylinderExchange(at=AT, gas_kg=2.0, tested="2024-05").tested_in == (2024, 5)
    assert CylinderExchange(at=AT, gas_kg=2.0).tested_in is None


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        (CylinderExchange, {"gas_kg": 0.0}),
        (CylinderExchange, {"gas_kg": 2.0, "capacity_l": 2.0}),
        (CylinderWeighing, {"gross_kg": -1.0}),
        (GaugeReading, {"gauge_bar": 900.0}),
        (SolutionPrepared, {"kh_dkh": 0.0}),
        (BufferCheck, {"low_ph": 4.0, "high_ph": 70.0}),
    ],
)
def test_what_cannot_be_is_refused(kind: type[Record], fields: dict[str, float]) -> None:
    with pytest.raises(OutOfRangeError):
        kind(at=AT, **fields)  # type: ignore[arg-type]


def test_words_that_are_no_stamp_and_buffers_that_do_not_differ() -> None:
    with pytest.raises(BadInputError, match="no year and month"):
        CylinderExchange(at=AT, gas_kg=2.0, tested="05/24")
    with pytest.raises(BadInputError, match="hardly a difference"):
        BufferCheck(at=AT, low_ph=6.9, high_ph=7.0)
