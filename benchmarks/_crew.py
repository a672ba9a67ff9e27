"""Tanks spread over processes: whatever befalls one tank or one worker, the others are kept."""

import multiprocessing
import signal
import traceback
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from dawnlevel.errors import DawnlevelError

T = TypeVar("T")

DIED = (
    "its worker process died without a word (out of memory, or killed from outside); tried once more alone, "
    "and it died again"
)


@dataclass(frozen=True, slots=True)
class Lost:
    """A tank that could not be played at all, and why."""

    why: str


@dataclass(frozen=True, slots=True)
class Attempt(Generic[T]):
    """A job with one seed that turns what it raises into a `Lost`: any error can travel between processes."""

    job: Callable[[int], T]

    def __call__(self, seed: int) -> T | Lost:
        """The job's result, or why there is none."""
        try:
            return self.job(seed)
        except Exception as error:  # noqa: BLE001 - any module's tank: whatever it raises, the others go on
            return Lost(told(error))


def told(error: BaseException) -> str:
    """An error in one line: what it is, and file and line it came from; our own ones say it themselves."""
    if isinstance(error, DawnlevelError):
        return str(error)
    frames = traceback.extract_tb(error.__traceback__)
    place = (
        f" ({Path(frames[-1].filename).name}, line {frames[-1].lineno}, {frames[-1].name})" if frames else ""
    )
    return f"{type(error).__name__}: {error}{place}"


def results(job: Callable[[int], T], seeds: Sequence[int], jobs: int) -> Iterator[tuple[int, T | Lost]]:
    """Seed and result of each, as they come, from `jobs` processes (1: from this one).

    Where a worker dies, the seeds that were being worked on are tried once more, each alone; one that kills
    its worker again is lost, and the rest go on.
    """
    attempt = Attempt(job)
    if jobs <= 1:
        for seed in seeds:
            yield seed, attempt(seed)
        return
    waiting = deque(seeds)
    while waiting:
        suspects: list[int] = []
        yield from _together(attempt, waiting, jobs, suspects)
        for seed in suspects:
            alone: list[int] = []
            yield from _together(attempt, deque([seed]), 1, alone)
            if alone:
                yield seed, Lost(DIED)


def _ignore_interrupts() -> None:
    """Ctrl-C is the parent's to answer."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _together(
    attempt: Attempt[T], waiting: deque[int], jobs: int, suspects: list[int]
) -> Iterator[tuple[int, T | Lost]]:
    """Results of what is `waiting`, until all is done or a worker dies; then `suspects` were at work.

    No more is handed out than there are workers, so that few are suspected.
    """
    running: dict[Future[T | Lost], int] = {}
    with ProcessPoolExecutor(jobs, initializer=_ignore_interrupts) as pool:
        try:
            while waiting or running:
                while waiting and len(running) < jobs:
                    running[pool.submit(attempt, waiting[0])] = waiting[0]
                    waiting.popleft()
                done, _ = wait(running, return_when=FIRST_COMPLETED)
                for future in done:
                    result = future.result()
                    yield running.pop(future), result
        except BrokenProcessPool:
            for future, seed in running.items():
                if future.done() and future.exception() is None:
                    yield seed, future.result()
                else:
                    suspects.append(seed)
        except (KeyboardInterrupt, GeneratorExit):
            pool.shutdown(wait=False, cancel_futures=True)
            for worker in multiprocessing.active_children():
                worker.terminate()
            raise
