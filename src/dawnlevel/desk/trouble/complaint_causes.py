"""Which causes stand behind which complaint, and what settles each; shares are common practice, no source."""

from dataclasses import dataclass
from enum import StrEnum


class Complaint(StrEnum):
    """What a keeper complains of."""

    ALGAE = "algae-despite-co2"
    BLUE = "cell-stays-blue"
    YELLOW = "cell-goes-yellow"
    PEARLING = "pearling-unsteady"
    FISH = "fish-at-surface"
    LOW = "low-at-lights-on"
    RISES = "ph-rises-after-lights-on"
    STALL = "plants-stall"


LABELS = {
    Complaint.ALGAE: "Algae although CO2 is high",
    Complaint.BLUE: "The indicator cell stays blue",
    Complaint.YELLOW: "The indicator cell goes yellow",
    Complaint.PEARLING: "Pearling one day and not the next",
    Complaint.FISH: "Fish at the surface",
    Complaint.LOW: "The level is too low at lights-on",
    Complaint.RISES: "pH rises after lights-on",
    Complaint.STALL: "The plants stall",
}


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause.

    Attributes:
        label: in a keeper's words.
        condition: the margin of `plan.look` that it rests on; empty where records cannot speak of it.
        unknown: what stays unknown even with records.
        check: the one thing that settles it.
    """

    label: str
    condition: str
    unknown: str
    check: str


_READ_ON = "Read pH in the tank in the last ten minutes before lights-on."

CAUSES = {
    "low_at_lights_on": Cause(
        "CO2 is lower at lights-on than it seems",
        "low_at_lights_on",
        "how much the meter and the cup are off together",
        _READ_ON,
    ),
    "too_little_gas": Cause(
        "The present count would not reach the band however early it starts",
        "too_little_gas",
        "whether the count is still what it was when it was set",
        "Count the bubbles again, and read pH after the level has stopped moving.",
    ),
    "starts_late": Cause(
        "The gas starts too late; the count would do, given more time",
        "starts_late",
        "how fast the level still rises at lights-on",
        "Read pH half an hour before lights-on and at lights-on: is it still falling?",
    ),
    "fast_exchange": Cause(
        "The surface loses gas about as fast as it comes",
        "fast_exchange",
        "whether the surface moves as it did when the readings were taken",
        "Read pH as the gas closes and again two hours later.",
    ),
    "gas_fell": Cause(
        "A bubble brings less than it did (clogged diffuser, needle, low cylinder)",
        "gas_fell",
        "which of the three it is",
        "Count the bubbles, look at the gauge, then clean the diffuser; read the next ramp.",
    ),
    "gas_missed": Cause(
        "No gas flowed before the lights",
        "gas_missed",
        "whether the timer and the solenoid do what is recorded",
        "Watch the counter at the hour the timer should open.",
    ),
    "closes_early": Cause(
        "The gas closes early, so the level falls while the plants work",
        "closes_early",
        "whether the timer does what is recorded",
        "Watch the counter at the hour the timer should close.",
    ),
    "unsteady": Cause(
        "Lights-on differs from day to day",
        "unsteady",
        "whether needle, start or surface makes the difference",
        "Read pH at lights-on on three days without touching anything.",
    ),
    "uptake_over_gas": Cause(
        "In the light the plants take more than the gas brings",
        "uptake_over_gas",
        "how uptake and loss through the surface share the fall",
        "Read pH twice after lights-off with the gas closed, two hours apart: plants rest then.",
    ),
    "overshoot": Cause(
        "The level has risen above what this count can hold",
        "overshoot",
        "how fast the surface loses gas",
        "Read pH at lights-on, two hours and four hours later.",
    ),
    "high_at_lights_on": Cause(
        "CO2 is higher than the band",
        "high_at_lights_on",
        "how much meter and cup are off together",
        _READ_ON,
    ),
    "over_ceiling": Cause(
        "CO2 is above the livestock ceiling now",
        "over_ceiling",
        "how much each animal bears; behaviour says more than a figure",
        "Read pH now, after the gas is off.",
    ),
    "cell_behind_rise": Cause(
        "The cell lags; it shows the tank of some hours ago, with less CO2",
        "cell_behind_rise",
        "how fast this cell follows",
        "Look at the cell four hours after lights-on, while the level holds.",
    ),
    "cell_behind_fall": Cause(
        "The cell lags; it shows the tank of some hours ago, with more CO2",
        "cell_behind_fall",
        "how fast this cell follows",
        "Look at the cell again before the gas opens.",
    ),
    "solution_strong": Cause(
        "The cell's solution is harder than it should be, so it shows too little CO2",
        "solution_strong",
        "how the solution was made and how long it has stood",
        "Fill the cell with fresh solution of a known KH and compare.",
    ),
    "solution_weak": Cause(
        "The cell's solution is softer than it should be, so it shows too much CO2",
        "solution_weak",
        "how the solution was made and how long it has stood",
        "Fill the cell with fresh solution of a known KH and compare.",
    ),
    "meter_off": Cause(
        "The pH meter is off by more than 0.1",
        "meter_off",
        "its error today; it drifts between buffers",
        "Check the meter in fresh pH 7 and pH 4 buffer: dawnlevel buffers",
    ),
    "kit_off": Cause(
        "The KH kit is off by more than a fifth",
        "kit_off",
        "the reagent's age and strength",
        "Titrate a 4 dKH reference solution with the same kit.",
    ),
    "kh_moved": Cause(
        "The water's KH has moved, so that the same pH means another CO2",
        "",
        "KH since the last count",
        "Count KH again, before and after the next water change: dawnlevel kh DKH",
    ),
    "uneven": Cause(
        "CO2 does not reach every corner alike",
        "",
        "the level at the plants concerned: one reading place says nothing of the others",
        "Read pH at the plants concerned and at the usual place within five minutes.",
    ),
    "not_co2": Cause(
        "It is not CO2 but light, nutrients, or plants still settling in",
        "",
        "everything but CO2: nothing of it is recorded here",
        "Leave CO2 alone for two weeks and change one other thing: the hours of light first.",
    ),
    "low_oxygen": Cause(
        "Too little oxygen, most likely before the lights",
        "",
        "oxygen where the fish are; corners have less than the balance says",
        "Measure oxygen before lights-on, or see whether aeration alone calms them.",
    ),
    "fish_health": Cause(
        "Ammonia, nitrite, chlorine or illness",
        "",
        "none of these is recorded here",
        "Test ammonia and nitrite; ask a veterinarian who treats fish.",
    ),
}

BEHIND: dict[Complaint, tuple[tuple[str, float], ...]] = {
    Complaint.ALGAE: (
        ("low_at_lights_on", 0.3),
        ("unsteady", 0.2),
        ("uptake_over_gas", 0.1),
        ("closes_early", 0.1),
        ("meter_off", 0.1),
        ("kh_moved", 0.05),
        ("uneven", 0.15),
        ("not_co2", 0.35),
    ),
    Complaint.BLUE: (
        ("low_at_lights_on", 0.4),
        ("cell_behind_rise", 0.2),
        ("solution_strong", 0.15),
        ("gas_missed", 0.1),
        ("uneven", 0.1),
    ),
    Complaint.YELLOW: (
        ("over_ceiling", 0.3),
        ("high_at_lights_on", 0.3),
        ("solution_weak", 0.2),
        ("cell_behind_fall", 0.1),
    ),
    Complaint.PEARLING: (
        ("unsteady", 0.4),
        ("gas_fell", 0.15),
        ("low_at_lights_on", 0.15),
        ("uptake_over_gas", 0.1),
        ("not_co2", 0.2),
    ),
    Complaint.FISH: (("over_ceiling", 0.5), ("low_oxygen", 0.3), ("fish_health", 0.2)),
    Complaint.LOW: (
        ("starts_late", 0.3),
        ("too_little_gas", 0.25),
        ("gas_missed", 0.1),
        ("gas_fell", 0.15),
        ("fast_exchange", 0.1),
        ("meter_off", 0.1),
        ("kh_moved", 0.05),
    ),
    Complaint.RISES: (
        ("uptake_over_gas", 0.4),
        ("overshoot", 0.25),
        ("closes_early", 0.2),
        ("fast_exchange", 0.1),
    ),
    Complaint.STALL: (
        ("low_at_lights_on", 0.3),
        ("closes_early", 0.1),
        ("unsteady", 0.1),
        ("uneven", 0.15),
        ("meter_off", 0.1),
        ("not_co2", 0.35),
    ),
}
"""Causes of each complaint and how often they are met; common practice, no source. The share orders only
what this tank's records cannot speak of."""
