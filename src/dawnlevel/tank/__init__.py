"""The trade's nouns: the tank, how it is kept, and what its keeper records."""

from dawnlevel.tank.layout import Layout
from dawnlevel.tank.livestock import AnimalKind, Animals
from dawnlevel.tank.nouns import (
    BaselineMethod,
    CellColour,
    Diffuser,
    FishState,
    Photoperiod,
    Planting,
    Surface,
    Tank,
    Target,
    TargetKind,
)
from dawnlevel.tank.record import Record
from dawnlevel.tank.records import (
    RECORD_KINDS,
    BaselineCup,
    CellSighting,
    FishSighting,
    GasSwitch,
    KhTitration,
    OxygenReading,
    PhReading,
    RateSetting,
    TimerSetting,
    WaterChange,
)
from dawnlevel.tank.shelf import (
    Buffer,
    BufferCheck,
    CylinderExchange,
    CylinderStandard,
    CylinderWeighing,
    GaugeReading,
    SolutionPrepared,
    WeighedWith,
)
from dawnlevel.tank.survey import SurveyReading

__all__ = [
    "RECORD_KINDS",
    "AnimalKind",
    "Animals",
    "BaselineCup",
    "BaselineMethod",
    "Buffer",
    "BufferCheck",
    "CellColour",
    "CellSighting",
    "CylinderExchange",
    "CylinderStandard",
    "CylinderWeighing",
    "Diffuser",
    "FishSighting",
    "FishState",
    "GasSwitch",
    "GaugeReading",
    "KhTitration",
    "Layout",
    "OxygenReading",
    "PhReading",
    "Photoperiod",
    "Planting",
    "RateSetting",
    "Record",
    "SolutionPrepared",
    "Surface",
    "SurveyReading",
    "Tank",
    "Target",
    "TargetKind",
    "TimerSetting",
    "WaterChange",
    "WeighedWith",
]
