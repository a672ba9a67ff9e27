"""Sources of what stands on the shelf: cylinders, the air people breathe, solutions and meters."""

from dawnlevel.sources.source import Status, register

CYLINDERS = register(
    (
        "span_wagner_1996",
        Status.FROM_MEMORY,
        "Span & Wagner 1996, J. Phys. Chem. Ref. Data 25, 1509: CO2 along its saturation line",
        "10.1063/1.555991",
    ),
    (
        "span_wagner_2003",
        Status.FROM_MEMORY,
        "Span & Wagner 2003, Int. J. Thermophys. 24, 111: short equation of state for CO2, within 0.7 %",
    ),
    (
        "cfr_173_304a",
        Status.CHECKED,
        "49 CFR 173.304a: CO2 charge at most 68 % of the water capacity, checked by weight; 1800 psi service",
    ),
    (
        "cfr_180_209",
        Status.CHECKED,
        "49 CFR 180.209 with note 4: retest 3A, 3AA, 3AL and foreign cylinders every 5 years in CO2 service",
    ),
    ("adr_p200", Status.FROM_MEMORY, "ADR P200, UN 1013: CO2 cylinders retested every 10 years"),
    (
        "adr_sp_584",
        Status.CHECKED,
        "ADR special provision 584: capsules up to 25 g and 0.75 g/cm3 are exempt",
    ),
    ("cga_s_1_1", Status.FROM_MEMORY, "CGA S-1.1: relief discs of 2650 to 3000 psi on CO2 cylinders"),
    (
        "cylinder_storage",
        Status.CHECKED,
        "Washington WAC 296-24-68203; pages citing OSHA 1910.101 and CGA P-1: upright, secured, ventilated",
    ),
    (
        "cylinder_heat",
        Status.FROM_MEMORY,
        "CGA: cylinders below 52 degC (from memory); a labour-safety handbook has 54 (checked)",
    ),
    (
        "cylinder_scale",
        Status.COMPUTED,
        "Scale error of 5 to 20 g against 50 to 100 g of gas a week: weigh over weeks",
    ),
)

PEOPLE = register(
    ("osha_pel", Status.SECOND_HAND, "29 CFR 1910.1000 Z-1: 5000 ppm CO2, 8-hour mean"),
    (
        "niosh_guide",
        Status.SECOND_HAND,
        "NIOSH Pocket Guide: 5000 ppm CO2 as a mean, 30 000 ppm for 15 minutes",
    ),
    (
        "niosh_1976",
        Status.CHECKED,
        "NIOSH 1976, CDC store: 10 000 ppm CO2, ceiling 30 000; OSHA's 1989 figures, since struck down",
    ),
    (
        "niosh_idlh",
        Status.SECOND_HAND,
        "NIOSH 1994/96: 40 000 ppm CO2 immediately dangerous; 50 000 for 30 minutes intoxicates",
    ),
    ("uk_eh40", Status.SECOND_HAND, "EH40: 5000 ppm CO2, 8-hour mean; 15 000 ppm for 15 minutes"),
    (
        "eu_indicative_limit",
        Status.SECOND_HAND,
        "EU indicative occupational limit: 5000 ppm CO2, 8-hour mean",
    ),
    (
        "co2_symptoms",
        Status.CHECKED,
        "A gas maker's data sheet, 2009: what people feel from 1 to 10 % of CO2; above, second-hand",
    ),
    (
        "oxygen_alarm",
        Status.FROM_MEMORY,
        "29 CFR 1910.146: below 19.5 % oxygen air is deficient; alarms' usual set",
    ),
)

SOLUTIONS = register(
    ("gum", Status.FROM_MEMORY, "JCGM 100:2008 (GUM): a figure off by up to a is a sd of a / sqrt 3"),
    (
        "balances",
        Status.FROM_MEMORY,
        "Balances: kitchen 1 g, pocket 10 mg, milligram type 2 to 3 mg, each off by about a digit",
    ),
    (
        "measures",
        Status.COMMON_PRACTICE,
        "Measuring cylinders and syringes: 1 % of the volume, and 0.1 mL",
    ),
    (
        "meter_drift",
        Status.CHECKED,
        "A clinical abstract, 2021: four shop meters, one calibration, -0.26 to +0.34 pH in four weeks",
    ),
    ("solution_age", Status.COMMON_PRACTICE, "Make the cell's solution afresh every six months"),
    ("thermometers", Status.FROM_MEMORY, "Thermometers: stick-on 1.5 degC, digital 0.5 to 1, glass 0.5"),
)
