"""The same log gives the same findings, to the last digit, on however many cores the machine has."""

from threading import Thread
from zoneinfo import ZoneInfo

import numpy as np
from threadpoolctl import threadpool_info, threadpool_limits
from watch_tanks import CARD, Course, log

from dawnlevel.desk.one_thread import one_blas_thread
from dawnlevel.desk.steadiness.logfile import read_log
from dawnlevel.desk.steadiness.watch import Watched, watch_probe

COURSE = Course(gain=lambda day: 8.0 if day < 24 else 5.5, days=60)


def blas_threads() -> list[int]:
    return [one["num_threads"] for one in threadpool_info() if one["user_api"] == "blas"]


def judged(content: bytes, threads: int) -> Watched:
    with threadpool_limits(limits=threads, user_api="blas"):
        zone = ZoneInfo("UTC")
        return watch_probe(read_log(content, "log.csv", zone), CARD, zone)


def test_the_number_of_threads_does_not_show_in_the_figures() -> None:
    hours, ph, _ = log(COURSE)
    stamps = np.datetime64("2026-05-04T00:00:00") + np.round(hours * 3600.0).astype("timedelta64[s]")
    rows = "\n".join(f"{at}Z,{one:.2f}" for at, one in zip(stamps, ph, strict=True))
    content = f"time,ph\n{rows}\n".encode()
    one, four = judged(content, 1), judged(content, 4)
    assert one.found
    assert repr(one.found) == repr(four.found)  # with their odds, which are not rounded
    assert repr(one.view) == repr(four.view)


def test_several_at_once_share_the_limit_and_the_last_one_lifts_it() -> None:
    with threadpool_limits(limits=3, user_api="blas"):
        before = blas_threads()
        seen: list[list[int]] = []
        inner = one_blas_thread()
        inner.__enter__()

        def other() -> None:
            with one_blas_thread():
                seen.append(blas_threads())

        thread = Thread(target=other)
        thread.start()
        thread.join()
        seen.append(blas_threads())
        inner.__exit__(None, None, None)
        assert blas_threads() == before
        assert {count for counts in seen for count in counts} == {1}
