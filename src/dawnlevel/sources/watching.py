"""Sources of how changes are watched for: control charts, change points, drifting probes."""

from dawnlevel.sources.source import Status, register

WATCHING = register(
    (
        "lucas_saccucci_1990",
        Status.SECOND_HAND,
        "Lucas & Saccucci 1990, Technometrics 32, 1: run lengths of EWMA charts, Table 3",
    ),
    ("crowder_1987", Status.SECOND_HAND, "Crowder 1987, Technometrics 29, 401: run lengths of EWMA charts"),
    (
        "brook_evans_1972",
        Status.SECOND_HAND,
        "Brook & Evans 1972, Biometrika 59, 539: run length of a one-sided CUSUM",
    ),
    (
        "lucas_crosier_1982",
        Status.SECOND_HAND,
        "Lucas & Crosier 1982, Technometrics 24, 199: run lengths of two-sided CUSUM charts",
    ),
    ("vance_1986", Status.SECOND_HAND, "Vance 1986, J. Quality Technology 18, 189: run lengths of a CUSUM"),
    (
        "hawkins_1987",
        Status.FROM_MEMORY,
        "Hawkins 1987, The Statistician 36, 299: self-starting charts; the property is tested by simulation",
    ),
    ("cobb_1978", Status.SECOND_HAND, "Cobb 1978, Biometrika 65, 243: the Nile's flow falls after 1898"),
    (
        "jones_2022",
        Status.CHECKED,
        "Jones, Jones & Horsburgh 2022: the Logan River's pH record with its technicians' calibrations",
        "10.1016/j.envsoft.2022.105364",
    ),
    (
        "auger_lawrence_1989",
        Status.FROM_MEMORY,
        "Auger & Lawrence 1989, Bull. Math. Biol. 51, 39: best segmentations by dynamic programming",
    ),
    (
        "shen_2013",
        Status.FROM_MEMORY,
        "Shen, Zou, Jiang & Tsung 2013, Naval Research Logistics 60, 625: dynamic probability limits",
    ),
)
