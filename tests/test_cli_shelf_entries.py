"""Entries of cylinder, weight, gauge, buffers and solution: stored, said, corrected, withdrawn, kept."""

from pathlib import Path

import pytest
from cli_keeper import DESCRIBE, NOW, Keeper

from dawnlevel.store import open_store
from dawnlevel.tank import (
    Buffer,
    BufferCheck,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    GaugeReading,
    OxygenReading,
    Record,
    SolutionPrepared,
    WeighedWith,
)


@pytest.fixture
def keeper(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Keeper:
    found = Keeper(tmp_path, monkeypatch, capsys)
    assert found(DESCRIBE).code == 0
    return found


ENTRIES: list[tuple[str, Record, str]] = [
    (
        "exchange 2kg --tare 3.1kg --capacity 2.9L --standard 3al --tested 2024-05 --price 24.50",
        CylinderExchange(
            at=NOW,
            gas_kg=2.0,
            tare_kg=3.1,
            capacity_l=2.9,
            standard=CylinderStandard.DOT_3AL,
            tested="2024-05",
            price=24.5,
        ),
        "cylinder with 2 kg of gas (empty 3.1 kg, holds 2.9 L, 3AL, tested 2024-05, price 24.5)",
    ),
    ("exchange 500g", CylinderExchange(at=NOW, gas_kg=0.5), "cylinder with 0.5 kg of gas"),
    (
        "weigh 5.32kg --scale 20g --stood bare",
        CylinderWeighing(at=NOW, gross_kg=5.32, scale_kg=0.02, stood=WeighedWith.BARE),
        "cylinder weighs 5.32 kg without regulator (within 20 g)",
    ),
    ("gauge 58 --temp 72F", GaugeReading(at=NOW, gauge_bar=58.0, temp_c=(72.0 - 32.0) / 1.8), "gauge 58 bar"),
    (
        "buffers 4.06 9.11 --high borax --temp 22C --adjusted no",
        BufferCheck(at=NOW, low_ph=4.06, high_ph=9.11, high=Buffer.BORAX, temp_c=22.0, adjusted=False),
        "buffers 4.06 in phthalate, 9.11 in borax at 22 °C, not adjusted",
    ),
    (
        "dissolved 82% --temp 77F --pressure 960hPa",
        OxygenReading(at=NOW, saturation_percent=82.0, temp_c=25.0, pressure_hpa=960.0),
        "oxygen 82 % at 25 °C",
    ),
    ("dissolved 6.5 --within 0.3", OxygenReading(at=NOW, oxygen_mg_l=6.5, error_mg_l=0.3), "oxygen 6.5 mg/L"),
    (
        "prepared 4dKH --error 3%",
        SolutionPrepared(at=NOW, kh_dkh=4.0, error_percent=3.0),
        "cell's solution of 4 dKH (within 3 %)",
    ),
]


@pytest.mark.parametrize(("line", "record", "said"), ENTRIES, ids=[line for line, _, _ in ENTRIES])
def test_an_entry_is_stored_and_said(keeper: Keeper, line: str, record: Record, said: str) -> None:
    told = keeper(line)
    assert told.code == 0, told.err
    assert said in told.out
    assert keeper.standing() == [record]
    assert said in keeper("log").out


def test_pounds_and_psi(keeper: Keeper) -> None:
    keeper("exchange 5lb")
    keeper("gauge 830psi")
    cylinder, gauge = keeper.standing()
    assert isinstance(cylinder, CylinderExchange)
    assert cylinder.gas_kg == pytest.approx(2.268, abs=0.0005)  # 1 lb is 0.45359237 kg by definition
    assert isinstance(gauge, GaugeReading)
    assert gauge.gauge_bar == pytest.approx(57.23, abs=0.005)  # 1 psi is 6.894757 kPa, NIST SP 811


def test_millimetres_of_mercury(keeper: Keeper) -> None:
    """760 mmHg are 1 atm, 1013.25 hPa, by definition."""
    keeper("dissolved 80% --pressure 760mmHg")
    (reading,) = keeper.standing()
    assert isinstance(reading, OxygenReading)
    assert reading.pressure_hpa == pytest.approx(1013.25)


def test_corrections_keep_what_is_not_given(keeper: Keeper) -> None:
    for line, _, _ in ENTRIES:
        keeper(line)
    for line in (
        "correct 1 --tare 3.2kg",
        "correct 3 5.30kg --scale 10g",
        "correct 4 57bar --temp 20C",
        "correct 5 4.06 9.13 --adjusted yes",
        "correct 6 7.1mg/L",
        "correct 8 --error 2%",
    ):
        told = keeper(line)
        assert told.code == 0, told.err
    cylinder = next(one for one in keeper.standing() if isinstance(one, CylinderExchange) and one.price)
    assert (cylinder.tare_kg, cylinder.capacity_l, cylinder.tested) == (3.2, 2.9, "2024-05")
    assert CylinderWeighing(at=NOW, gross_kg=5.30, scale_kg=0.01, stood=WeighedWith.BARE) in keeper.standing()
    assert GaugeReading(at=NOW, gauge_bar=57.0, temp_c=20.0) in keeper.standing()
    checked = BufferCheck(at=NOW, low_ph=4.06, high_ph=9.13, high=Buffer.BORAX, temp_c=22.0)
    assert checked in keeper.standing()
    right = next(one for one in keeper.standing() if isinstance(one, OxygenReading) and one.pressure_hpa)
    assert (right.oxygen_mg_l, right.saturation_percent, right.temp_c) == (7.1, None, 25.0)
    assert SolutionPrepared(at=NOW, kh_dkh=4.0, error_percent=2.0) in keeper.standing()


def test_a_withdrawn_weight_no_longer_stands(keeper: Keeper) -> None:
    keeper("weigh 5.32kg")
    assert "withdrawn" in keeper("void 1").out
    assert keeper.standing() == []
    assert "cylinder weighs" in keeper("log --all").out


def test_out_and_into_another_store(keeper: Keeper, tmp_path: Path) -> None:
    for line, _, _ in ENTRIES:
        keeper(line)
    for how, name in (("", "kept.csv"), (" --json", "kept.json")):
        other = str(tmp_path / f"other-{name}.db")
        written = tmp_path / name
        if how:
            written.write_text(keeper("export --json").out, encoding="utf-8")
        else:
            assert keeper(f"export {written}").code == 0
            assert keeper(f"{DESCRIBE} --store {other}").code == 0
        told = keeper(f"import {written} --store {other}")
        assert told.code == 0, told.err
        with open_store(other) as store:
            found = [stored.record for stored in store.records("Brook")]
        assert sorted(found, key=repr) == sorted(keeper.standing(), key=repr)


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("exchange 2stone", "no unit for it"),
        ("exchange 2kg --tested May", "no year and month"),
        ("exchange 2kg --standard 4bw", "none of 3al"),
        ("weigh -5kg", "outside"),
        ("gauge 58bar --temp hot", "no number"),
        ("buffers 6.9 4.0", "hardly a difference"),
        ("buffers 4.0 6.9 --adjusted maybe", "neither yes nor no"),
        ("buffers 4.0 6.9 --low vinegar", "none of phthalate"),
        ("prepared 4dKH --error -3%", "outside"),
        ("dissolved much", "no number"),
        ("dissolved 40mg/L", "outside"),
        ("dissolved 82% --pressure 20hPa", "outside"),
    ],
)
def test_what_cannot_be_taken_is_told_and_changes_nothing(keeper: Keeper, line: str, message: str) -> None:
    told = keeper(f"{line} --json")
    assert told.code == 2
    assert message in told.error["message"]
    assert told.error["cure"]
    assert keeper.standing() == []
