"""Sources of what an estimator of CO2 believes beforehand: gas exchange, plants, animals, kits, rooms."""

from dawnlevel.sources.source import Status, register

GASES = register(
    ("wanninkhof_1992", Status.SECOND_HAND, "Wanninkhof 1992, JGR 97, 7373: Schmidt numbers, fresh water"),
    (
        "wanninkhof_2014",
        Status.FROM_MEMORY,
        "Wanninkhof 2014, L&O Methods 12, 351: Schmidt numbers, fresh water",
    ),
    (
        "jahne_1987",
        Status.CHECKED,
        "Jahne et al. 1987: CO2 diffusivity (CRC table); exponent 2/3 smooth, 1/2 wavy",
    ),
    ("han_bartels_1996", Status.CHECKED, "Han & Bartels 1996, J. Phys. Chem. 100, 5597: oxygen diffusivity"),
    (
        "appling_2018",
        Status.CHECKED,
        "Appling et al. 2018, JGR Biogeosci. 123, 624: stream metabolism fits; Schmidt cubic second-hand",
        "10.1002/2017JG004140",
    ),
    (
        "benson_krause_1984",
        Status.SECOND_HAND,
        "Benson & Krause 1980/84, Standard Methods 4500-O: oxygen saturation",
    ),
    (
        "garcia_gordon_1992",
        Status.SECOND_HAND,
        "Garcia & Gordon 1992: oxygen saturation, Benson-Krause coefficients",
    ),
    (
        "boyd_gsa",
        Status.CHECKED,
        "Boyd, Global Seafood Alliance: oxygen 7.54 mg/L at 30 degC; daily minimum > 3 mg/L",
    ),
    (
        "emerson_1975",
        Status.CHECKED,
        "Emerson 1975, L&O 20, 754: 0.2 +/- 0.1 m/d through a sheltered lake's surface",
    ),
    (
        "cole_2010",
        Status.CHECKED,
        "Cole et al. 2010, L&O Methods 8, 285: 0.35 to 0.74 m/d, small lakes, little wind",
    ),
    (
        "crusius_wanninkhof_2003",
        Status.CHECKED,
        "Crusius & Wanninkhof 2003, L&O 48, 1010: smooth-surface theory below 3.7 m/s",
    ),
    (
        "heiskanen_2014",
        Status.CHECKED,
        "Heiskanen et al. 2014, Tellus B 66, 22827: median about 7 cm/h, convection and shear",
    ),
    (
        "surface_films",
        Status.CHECKED,
        "Krall 2014; Mesarchaki et al. 2015: a surface film cuts exchange 2 to 3 times",
    ),
    (
        "surface_priors",
        Status.COMPUTED,
        "Judgement over lake and film rows: 1, 3, 7, 15 cm/h by how the surface moves",
    ),
    (
        "still_cup_model",
        Status.COMPUTED,
        "Film model of a degassing cup: a still cup is 0.2 to 1.5 pH short after 8-12 h",
    ),
    (
        "oguz_prosperetti_1993",
        Status.CHECKED,
        "Oguz & Prosperetti 1993: bubble size from a needle, two regimes",
    ),
    (
        "bubble_prior",
        Status.COMPUTED,
        "Bubble volumes of 1-4 mm bores: 0.10 mg CO2 a bubble, factor 2 either way",
    ),
    ("dissolved_share", Status.COMMON_PRACTICE, "Dissolved share by diffuser, with computed bubble rise"),
    ("cell_lag_model", Status.COMPUTED, "Two-node model of an indicator cell: lag 2 h (0.8 to 6)"),
)

LIFE = register(
    (
        "van_haller_bowes_1976",
        Status.CHECKED,
        "Van, Haller & Bowes 1976, Plant Physiol. 58, 761: half saturation 3.3-7.5, full at 22 mg/L CO2",
    ),
    ("best_1986", Status.CHECKED, "Best 1986, Physiol. Plant.: maximum photosynthesis of Ceratophyllum"),
    (
        "nielsen_sand_jensen_1991",
        Status.CHECKED,
        "Nielsen & Sand-Jensen 1991, Aquat. Bot. 39, 109: growth 0.007-0.109 a day",
    ),
    (
        "uptake_priors",
        Status.COMPUTED,
        "Light, river-stand and growth routes: dense 2 (0.7-5), medium 0.8, sparse 0.2 mg/L/h",
    ),
    (
        "clarke_johnston_1999",
        Status.CHECKED,
        "Clarke & Johnston 1999, J. Anim. Ecol. 68, 893: resting oxygen uptake of 69 fish species",
    ),
    (
        "ebeling_2006",
        Status.FROM_MEMORY,
        "Ebeling et al. 2006: nitrification, 4.57 g O2 and 7.14 g CaCO3 per g N",
    ),
    (
        "ufifas_fa27",
        Status.CHECKED,
        "UF/IFAS FA27, Francis-Floyd: oxygen 5 mg/L for health, distress at 2-4 mg/L",
    ),
    ("merck_veterinary_manual", Status.CHECKED, "Merck Veterinary Manual, table: CO2 toxicity above 40 mg/L"),
    (
        "clinical_guide_fish_medicine",
        Status.CHECKED,
        "Clinical Guide to Fish Medicine: target below 20 mg/L; pH rising over 1 on 60 min of aeration warns",
    ),
    (
        "hargreaves_brunson_1996",
        Status.CHECKED,
        "Hargreaves & Brunson 1996, SRAC 468: CO2 and low oxygen worsen each other; ponds peak at dawn",
    ),
    (
        "fivelstad_2018",
        Status.CHECKED,
        "Fivelstad 2018, Aquaculture: kidney stones at 21-30 mg/L after 12 weeks (salmon)",
    ),
    ("alabaster_lloyd_1980", Status.SECOND_HAND, "Alabaster & Lloyd 1980 (EIFAC): 20 mg/L for salmonids"),
    ("wedemeyer_1996", Status.SECOND_HAND, "Wedemeyer 1996: 20-30 mg/L not for long, warm-water species"),
    ("purdue_tilapia", Status.CHECKED, "Purdue tilapia manual: run below 50 mg/L, about 75 lethal"),
    ("can_tho_shrimp", Status.CHECKED, "Can Tho University: shrimp postlarvae survive less at 45.6 mg/L CO2"),
    (
        "dwarf_shrimp_ceiling",
        Status.COMMON_PRACTICE,
        "No limit for dwarf shrimp was found; ceiling 20 mg/L as a precaution",
    ),
    (
        "epa_1986",
        Status.FROM_MEMORY,
        "US EPA 440/5-86-003 (1986): warm water, daily minimum 3 mg/L, 5 for early life; 30-day mean 5.5",
    ),
    (
        "plant_oxygen",
        Status.FROM_MEMORY,
        "Texts: 1.0 to 1.4 mol oxygen made per mol CO2; plants take 10 to 30 % of their most in the dark",
    ),
    (
        "end_of_tank",
        Status.FROM_MEMORY,
        "One-stage regulators: the outlet rises by 1 to 2 % of what the inlet falls; flow 1.3 to 2.5 times",
    ),
    ("fault_practice", Status.COMMON_PRACTICE, "Faults of gas, timer and pump, their signs and guards"),
    ("pearling", Status.COMMON_PRACTICE, "Oxygen leaves as bubbles on leaves at 1.2 to 2 times saturation"),
    (
        "routine_oxygen",
        Status.FROM_MEMORY,
        "Physiology texts: swimming fish take 1.5 to 2 times, fed ones 2 to 3 times the oxygen of rest",
    ),
    ("fry_ceiling", Status.COMMON_PRACTICE, "No limit for fry was found; ceiling 20 mg/L as a precaution"),
    (
        "unknown_animals_ceiling",
        Status.COMMON_PRACTICE,
        "No limit for snails and others was found; 25 and 20 mg/L as a precaution",
    ),
    (
        "labyrinth_gills_1979",
        Status.CHECKED,
        "J. Exp. Biol. 82, 215 (1979): a gourami gives off little CO2 through its labyrinth",
    ),
)

KITS_AND_ROOMS = register(
    ("kh_kit_error", Status.COMMON_PRACTICE, "KH drop kit: half a drop, and a bias of 5 to 10 %"),
    ("photometer_error", Status.SECOND_HAND, "Photometer for KH: 5 % or 0.3 dKH (makers' claim)"),
    (
        "ph_strip_error",
        Status.SECOND_HAND,
        "pH strips: steps of 0.2 to 1, error 0.5, poor in weakly buffered water",
    ),
    ("ph_liquid_error", Status.COMMON_PRACTICE, "Liquid pH kits: steps of 0.2 to 0.3, error 0.25"),
    (
        "ph_pen_error",
        Status.FROM_MEMORY,
        "pH pens: 0.05 to 0.1 after two-point calibration, 0.2 or worse neglected",
    ),
    ("eye_error", Status.COMMON_PRACTICE, "Indicator cell by eye: 0.15 to 0.2 pH"),
    ("mauna_loa_2025", Status.CHECKED, "Mauna Loa, May 2025: 430.2 ppm (Scripps), 430.5 ppm (NOAA)"),
    (
        "strom_tejsen_2016",
        Status.CHECKED,
        "Strom-Tejsen et al. 2016: bedrooms at night, 2395-2585 ppm closed, 660-835 open",
    ),
    ("liao_2022", Status.CHECKED, "Liao et al. 2022: 75 bedrooms, median of night means 1120 ppm"),
    ("living_rooms", Status.FROM_MEMORY, "Living rooms: 800-1200 ppm occupied, 450-700 on an empty day"),
)
