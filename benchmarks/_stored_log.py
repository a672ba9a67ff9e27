"""A year of a probe's minutes: read from a file, stored, stored again, read back, thinned, watched."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter, process_time
from zoneinfo import ZoneInfo

import numpy as np

from benchmarks._watch_worlds import draw_log
from benchmarks.watching import card_of
from dawnlevel.desk.steadiness.logfile import probe_log, read_log_file
from dawnlevel.desk.steadiness.thinning import thinned
from dawnlevel.desk.steadiness.watch import watch_probe
from dawnlevel.store import open_store
from dawnlevel.tank import Photoperiod, Tank
from dawnlevel.watch.days import Card

MINUTES = 525_600
NOW = datetime(2026, 7, 1, tzinfo=UTC)
ZONE = ZoneInfo("UTC")


class _Watch:
    """Tells how long each step took, processor and wall."""

    def __init__(self) -> None:
        self._cpu, self._wall = process_time(), perf_counter()

    def tell(self, what: str) -> None:
        """Print a step's seconds and begin the next one."""
        cpu, wall = process_time(), perf_counter()
        print(f"{what}: {cpu - self._cpu:.2f} s of processor, {wall - self._wall:.2f} s")
        self._cpu, self._wall = process_time(), perf_counter()


def year_file() -> tuple[bytes, Card]:
    """A CSV of a year of minutes of a simulated tank, 42 days over and over, and the tank's card."""
    log = draw_log("none", 7, 42)
    minutes = np.round(60.0 * log.hours).astype(np.int64)
    times = MINUTES // (42 * 1440) + 1
    minute = np.concatenate([minutes + 42 * 1440 * number for number in range(times)])
    kept = minute < MINUTES
    begin = np.datetime64((NOW - timedelta(minutes=MINUTES)).replace(tzinfo=None), "m")
    stamps = (begin + minute[kept]).astype(str)
    ph, temp = np.tile(log.ph, times)[kept], np.tile(log.temp_c, times)[kept]
    rows = [f"{at}Z,{one:.2f},{warm:.1f}\n" for at, one, warm in zip(stamps, ph, temp, strict=True)]
    return ("time,ph,temp_c\n" + "".join(rows)).encode(), card_of(log)


def stored() -> None:
    """Seconds and bytes of each step."""
    content, card = year_file()
    lights = Photoperiod(lights_on_h=card.lights_on_h % 24.0, lights_off_h=card.lights_off_h % 24.0)
    tank = Tank(name="Brook", volume_l=180.0, depth_cm=45.0, surface_cm2=4000.0, photoperiod=lights)
    with TemporaryDirectory() as folder, open_store(f"{folder}/s.db", clock=lambda: NOW) as store:
        store.add_tank(tank, NOW - timedelta(days=400))
        watch = _Watch()
        log = read_log_file(content, "year.csv", ZONE)
        watch.tell(f"{len(log.samples)} readings of a file of {len(content) / 1e6:.1f} MB read")
        assert store.add_samples("Brook", log.samples, "year.csv").new == len(log.samples)
        watch.tell("stored")
        assert store.add_samples("Brook", log.samples, "year.csv").new == 0
        watch.tell("the same again, nothing new")
        found = store.samples("Brook")
        watch.tell("read back from the store")
        view = watch_probe(probe_log(found, ZONE), card, ZONE).view
        watch.tell(f"{len(view.days)} days watched")
        few = thinned(found, 10)
        watch.tell(f"thinned to {len(few)} readings")
        size = sum(len(batch.payload) for batch in store.sample_batches("Brook"))
    with TemporaryDirectory() as folder:
        place = Path(folder) / "s.db"
        with open_store(str(place)) as store:
            store.add_tank(tank, NOW - timedelta(days=400))
            before = place.stat().st_size
            store.add_samples("Brook", found, "year.csv")
        print(f"packed {size / 1e6:.2f} MB; the file grew by {(place.stat().st_size - before) / 1e6:.2f} MB")


if __name__ == "__main__":
    stored()
