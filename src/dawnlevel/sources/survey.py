"""Sources of the survey of how evenly CO2 is spread, and of what is advised about currents."""

from dawnlevel.sources.source import Status, register

SPREAD = register(
    (
        "rasmussen_williams_2006",
        Status.FROM_MEMORY,
        "Rasmussen & Williams 2006, Gaussian Processes for Machine Learning: eqs. 2.23-2.30 and 4.17",
    ),
    (
        "journel_huijbregts_1978",
        Status.FROM_MEMORY,
        "Journel & Huijbregts 1978, Mining Geostatistics: conditioning by kriging",
    ),
    (
        "cohn_1996",
        Status.FROM_MEMORY,
        "Cohn, Ghahramani & Jordan 1996, J. Artif. Intell. Res. 4, 129: where to measure next",
    ),
)
