"""French Creek, Wyoming: days of oxygen readings rebuilt from the public record, for published fits.

Data: french.csv of the public repository of Appling et al. 2018 (doi 10.1002/2017JG004140), CC0;
readings by R. O. Hall. The recipe's constants are those of that work: depth 0.16 m, 523 mmHg, local time
UTC - 6 h, mean solar time UTC + 3.989 min/deg x -106.3 deg, latitude 41.33 deg.
"""

import csv
import functools
from datetime import datetime, timedelta

import numpy as np
import numpy.typing as npt

from dawnlevel.balance.stream import OxygenDay
from dawnlevel.chemistry.oxygen import oxygen_saturation_garcia_gordon_1992
from dawnlevel.chemistry.schmidt import schmidt_o2_stream_metabolism
from tests.reference_data import data_file

DEPTH_M = 0.16
PRESSURE_ATM = 523.0 / 760.0
LATITUDE_DEG, LONGITUDE_DEG = 41.33, -106.3
# Holes filled by repeating rows of the cleaned record, so that 6353 stands three times, 7773 twice (1-based).
TIMES_IN_RECORD = {6353: 3, 7773: 2}

Floats = npt.NDArray[np.float64]


def _cleaned() -> list[tuple[datetime, float, float]]:
    """(UTC, temperature, oxygen) of station "low", blanks and duplicate rows dropped."""
    rows: dict[tuple[str, ...], tuple[datetime, float, float]] = {}
    with data_file("french.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["station"] == "low" and not {row["temp"], row["oxy"]} & {"", "NA"}:
                stamp = datetime.strptime(f"{row['date']} {row['time']}", "%m/%d/%Y %H:%M:%S")  # noqa: DTZ007  # the record's clock has no zone; it is UTC - 6 h
                key = (row["date"], row["time"], row["temp"], row["oxy"])
                rows[key] = (stamp + timedelta(hours=6), float(row["temp"]), float(row["oxy"]))
    return list(rows.values())


@functools.cache
def _filled() -> list[tuple[datetime, datetime, float, float]]:
    """(stamp, UTC as read, temperature, oxygen) with the two holes filled at 5-min stamps.

    A repeated row keeps its own UTC, from which its light is computed: so it was published.
    """
    filled = []
    for number, (utc, temp, oxygen) in enumerate(_cleaned(), start=1):
        repeats = range(TIMES_IN_RECORD.get(number, 1))
        filled.extend((utc + timedelta(minutes=5 * repeat), utc, temp, oxygen) for repeat in repeats)
    return filled


def _light(mean_solar: datetime) -> float:
    """Modelled light, umol/m2/s, from the sun's height at mean solar time."""
    start = datetime(mean_solar.year, 1, 1)  # noqa: DTZ001  # solar time has no zone
    j = (mean_solar - start).total_seconds() / 86400.0
    turn = np.deg2rad(360.0 * (j - 81.0) / 365.0)
    equation_min = 9.87 * np.sin(2 * turn) - 7.53 * np.cos(turn) - 1.5 * np.sin(turn)
    apparent = mean_solar + timedelta(minutes=float(equation_min))
    day = apparent.timetuple().tm_yday - 1
    hour = apparent.hour + apparent.minute / 60.0 + apparent.second / 3600.0 + apparent.microsecond / 3.6e9
    declination = np.deg2rad(23.439 * np.sin(np.deg2rad(360.0 / 365.0 * (283 + day))))
    latitude, angle = np.deg2rad(LATITUDE_DEG), np.deg2rad(15.0 * (hour - 12.0))
    cos_zenith = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(
        angle
    )
    return float(2.114 * max(2326.0 * 0.473 * cos_zenith, 0.0))


def day_from_record(date: str, every: int) -> OxygenDay:
    """One day (04:00-04:00 mean solar) from french.csv, every `every`-th row from the second on."""
    start = datetime.fromisoformat(f"{date}T04:00:00")
    shift = timedelta(minutes=3.989 * LONGITUDE_DEG)
    rows = [row for row in _filled() if start <= row[0] + shift < start + timedelta(days=1)][1::every]
    temp, oxygen = np.array([row[2] for row in rows]), np.array([row[3] for row in rows])
    return OxygenDay(
        oxygen_mg_l=oxygen,
        saturation_mg_l=np.asarray(oxygen_saturation_garcia_gordon_1992(temp, PRESSURE_ATM)),
        light=np.array([_light(row[1] + shift) for row in rows]),
        exchange_scale=np.asarray((schmidt_o2_stream_metabolism(temp) / 600.0) ** -0.5),
        depth_m=DEPTH_M,
        step_d=every * 5.0 / 1440.0,
    )


def day_from_derived(date: str, every: int, first_row: int = 1) -> OxygenDay:
    """The same from the derived file, rounded to six figures: no chemistry of ours in it.

    `first_row` 1 is the published phase; 0 takes the day from its first row on.
    """
    with data_file("french_creek_2012-09-18_20_5min.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    begin = datetime.fromisoformat(f"{date}T04:00:00")
    rows = [
        row for row in rows if begin <= datetime.fromisoformat(row["solar_time"]) < begin + timedelta(days=1)
    ][first_row::every]

    def column(name: str) -> Floats:
        return np.array([float(row[name]) for row in rows])

    return OxygenDay(
        oxygen_mg_l=column("DO_obs_mgL"),
        saturation_mg_l=column("DO_sat_mgL"),
        light=column("PAR_umol_m2_s"),
        exchange_scale=column("K600_to_KO2"),
        depth_m=DEPTH_M,
        step_d=every * 5.0 / 1440.0,
    )
