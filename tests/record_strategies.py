"""Any record a keeper could make, for the tests that put stores there and back."""

from datetime import timedelta

from hypothesis import strategies as st
from store_servers import START

from dawnlevel.tank import (
    BaselineCup,
    BaselineMethod,
    Buffer,
    BufferCheck,
    CellColour,
    CellSighting,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    FishSighting,
    FishState,
    GasSwitch,
    GaugeReading,
    KhTitration,
    OxygenReading,
    PhReading,
    RateSetting,
    Record,
    SolutionPrepared,
    SurveyReading,
    TimerSetting,
    WaterChange,
    WeighedWith,
)

_notes = st.text(st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\t"), max_size=20)
_hours = st.one_of(
    st.integers(0, 24 * 60).map(lambda minutes: minutes / 60),
    st.integers(0, 24 * 3600).map(lambda seconds: seconds / 3600),
    st.floats(0.0, 24.0),
)
_windows = st.tuples(_hours, _hours).filter(lambda pair: pair[0] % 24.0 != pair[1] % 24.0)
FIELDS: dict[type[Record], dict[str, st.SearchStrategy[object]]] = {
    PhReading: {"ph": st.floats(3.0, 11.0), "temp_c": st.none() | st.floats(5.0, 40.0)},
    KhTitration: {"kh_dkh": st.floats(0.0, 40.0), "step_dkh": st.none() | st.floats(0.01, 5.0)},
    BaselineCup: {
        "ph": st.floats(3.0, 11.0),
        "method": st.sampled_from(BaselineMethod),
        "hours": st.floats(0.0, 240.0),
        "room_co2_ppm": st.none() | st.floats(300.0, 10000.0),
    },
    CellSighting: {"colour": st.sampled_from(CellColour)},
    RateSetting: {"bubbles_per_second": st.floats(0.0, 60.0)},
    GasSwitch: {"is_open": st.booleans()},
    TimerSetting: {"windows_h": st.lists(_windows, max_size=3).map(tuple)},
    FishSighting: {"state": st.sampled_from(FishState)},
    WaterChange: {"fraction": st.floats(0.0, 1.0)},
    CylinderExchange: {
        "gas_kg": st.floats(0.5, 1.5),
        "tare_kg": st.none() | st.floats(0.1, 50.0),
        "capacity_l": st.none() | st.floats(2.0, 10.0),
        "standard": st.sampled_from(CylinderStandard),
        "tested": st.sampled_from(["", "2019-12", "2024-01"]),
        "price": st.none() | st.floats(0.0, 300.0),
    },
    CylinderWeighing: {
        "gross_kg": st.floats(0.1, 30.0),
        "scale_kg": st.floats(0.0001, 0.5),
        "stood": st.sampled_from(WeighedWith),
    },
    GaugeReading: {"gauge_bar": st.floats(0.0, 250.0), "temp_c": st.none() | st.floats(-20.0, 65.0)},
    BufferCheck: {
        "low_ph": st.floats(0.0, 6.0),
        "high_ph": st.floats(6.6, 14.0),
        "low": st.sampled_from(Buffer),
        "high": st.sampled_from(Buffer),
        "temp_c": st.floats(0.0, 40.0),
        "adjusted": st.booleans(),
    },
    SolutionPrepared: {"kh_dkh": st.floats(0.1, 40.0), "error_percent": st.none() | st.floats(0.0, 50.0)},
    OxygenReading: {
        "oxygen_mg_l": st.floats(0.0, 30.0),
        "saturation_percent": st.none() | st.floats(0.0, 300.0),
        "temp_c": st.none() | st.floats(5.0, 40.0),
        "pressure_hpa": st.none() | st.floats(500.0, 1100.0),
        "error_mg_l": st.none() | st.floats(0.01, 3.0),
    },
    SurveyReading: {"ph": st.floats(3.0, 11.0), "place": st.sampled_from(["middle", "back left substrate"])},
}
# Few distinct moments, so that twins and several readings of one moment happen too.
_moments = st.one_of(
    st.integers(0, 3).map(lambda minutes: START + timedelta(minutes=minutes)),
    st.integers(0, 10**13).map(lambda us: START + timedelta(microseconds=us)),
)
any_record = st.one_of(
    *(st.builds(kind, at=_moments, note=_notes, **fields) for kind, fields in FIELDS.items())
)
