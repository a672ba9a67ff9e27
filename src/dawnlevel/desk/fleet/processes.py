"""Tanks spread over processes of this computer: whatever befalls one worker or one tank, the others go on.

Each worker has a line of its own to this process. A pool with queues shared by all workers could hang where
one is killed while it writes; here a worker's end closes its line, and only its own tank is given out again.
"""

import os
import signal
import sys
from collections import Counter, deque
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing import get_context, resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from dawnlevel.desk.fleet.job import Outcome, Problem, TankJob
from dawnlevel.errors import BadInputError

_TRIES = 3  # a tank with whom so many workers died is given up (judgement)


def usual_workers() -> int:
    """One for each core that this process may use."""
    if sys.platform == "linux":
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def by_processes(job: TankJob, names: Sequence[str], workers: int) -> Generator[Outcome]:
    """Each tank's outcome, as they come, from `workers` processes (1: from this one).

    Where a worker is killed, another takes its place and its tank is tried again, after the others; a tank
    with whom every worker dies comes back as `lost`. BadInputError where no worker lives long enough.
    """
    if workers <= 1:
        yield from map(job, names)
        return
    waiting, deaths, in_a_row = deque(names), Counter[str](), 0
    crew: dict[Connection, _Worker] = {}
    try:
        while waiting or crew:
            while waiting and len(crew) < workers:
                new = _Worker.hired(job, waiting.popleft())
                crew[new.link] = new
            for link in wait(list(crew)):
                worker = crew[link]  # type: ignore[index]  # what was given is what comes back
                outcome = worker.outcome()
                if outcome is None:
                    in_a_row, deaths[worker.tank] = in_a_row + 1, deaths[worker.tank] + 1
                    if deaths[worker.tank] < _TRIES:
                        waiting.append(worker.tank)
                    else:
                        outcome = Outcome(worker.tank, lost=died_with(worker.tank))
                if outcome is None or outcome.lost is not None or not waiting:
                    crew.pop(worker.link).dismiss()
                else:
                    worker.give(waiting.popleft())
                if outcome is not None:
                    in_a_row = 0
                    yield outcome
            _check_lives(in_a_row, workers)
    finally:
        for worker in crew.values():
            worker.dismiss()


def died_with(name: str) -> Problem:
    """What is said of a tank whose workers died."""
    return Problem(
        "worker-died",
        "Every process that judged this tank died without a word.",
        name,
        "Look whether memory runs out (fewer workers need less); the same command tries it again.",
    )


def _check_lives(in_a_row: int, workers: int) -> None:
    if in_a_row > _TRIES * workers:
        raise BadInputError(
            f"{in_a_row} worker processes died one after the other.",
            where="fleet",
            cure="Look whether memory runs out, or try --workers 1; what is done stays in the file.",
        )


@dataclass(slots=True)
class _Worker:
    """A process, the line to it, and the tank it is at."""

    process: BaseProcess
    link: Connection
    tank: str

    @classmethod
    def hired(cls, job: TankJob, tank: str) -> "_Worker":
        """A new process that begins with a tank."""
        context = get_context("spawn")  # a fork would copy the locks of threads that it does not copy
        ours, theirs = context.Pipe()
        process = context.Process(target=_work, args=(theirs, job), daemon=True)
        with _interrupts_held_back():
            process.start()
        theirs.close()
        worker = cls(process, ours, tank)
        worker.give(tank)
        return worker

    def give(self, tank: str) -> None:
        """Hand out a tank; where the process is dead, its line will say so."""
        self.tank = tank
        with suppress(OSError):
            self.link.send(tank)

    def outcome(self) -> Outcome | None:
        """What the tank came to; None where the process died."""
        try:
            outcome: Outcome = self.link.recv()
        except (EOFError, OSError):
            return None
        return outcome

    def dismiss(self) -> None:
        """End the process at once; what it is at can be done again."""
        self.link.close()
        self.process.terminate()
        self.process.join()


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Ctrl-C is this process's to answer: a process started meanwhile never hears of it, this one later."""
    if sys.platform == "win32":
        yield
        return
    resource_tracker.ensure_running()  # it would let them through again while the first process starts
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(link: Connection, job: TankJob) -> None:
    """In a worker: judge what is handed out, until the line closes, be it that the other end was killed."""
    with suppress(EOFError, OSError):
        while True:
            link.send(job(link.recv()))
