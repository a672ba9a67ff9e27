"""Tanks spread over the workers of a Dask cluster, for fleets that one computer does not get through."""

from collections import deque
from collections.abc import Generator, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from dawnlevel.desk.fleet.job import Outcome, Problem, TankJob
from dawnlevel.desk.fleet.processes import died_with
from dawnlevel.desk.optional import needed
from dawnlevel.errors import BadInputError

_WAIT_S = 20  # for the scheduler to answer, and for a first worker (judgement)
_AHEAD = 2  # tanks handed out for each thread of the workers: one at work, one to go on with


def by_cluster(job: TankJob, names: Sequence[str], address: str) -> Generator[Outcome]:
    """Each tank's outcome, as they come, from the workers of the Dask scheduler at `address`.

    A worker that is killed costs time: its tanks go to others, and each comes back once. BadInputError where
    the scheduler does not answer, has no workers, or goes away.
    """
    dask = needed("distributed", "A cluster", "fleet")
    waiting = deque(names)
    with _connected(dask, address) as client:
        under_way: dict[Any, str] = {}
        coming = dask.as_completed(loop=client.loop, raise_errors=False)
        while waiting or under_way:
            while waiting and len(under_way) < _room(client):
                future = client.submit(job, waiting[0], pure=False)
                under_way[future] = waiting.popleft()
                coming.add(future)
            future = next(coming)
            yield _outcome(dask, future, under_way.pop(future))


def _room(client: Any) -> int:  # noqa: ANN401 - Dask's client
    threads: dict[str, int] = client.nthreads()
    return _AHEAD * max(sum(threads.values()), 1)


def _outcome(dask: Any, future: Any, name: str) -> Outcome:  # noqa: ANN401 - Dask's module and future
    """What a finished task brings; BadInputError where it was not the tank that failed."""
    error = future.exception()
    if error is None:
        outcome: Outcome = future.result()
        return outcome
    if isinstance(error, dask.KilledWorker):
        return Outcome(name, lost=died_with(name))
    return Outcome(
        name,
        stop=Problem(
            "bad-input",
            f"A worker cannot do the work ({type(error).__name__}: {error}).",
            "worker",
            "Install the same Dawnlevel, with its extra fleet, on every worker.",
        ),
    )


@contextmanager
def _connected(dask: Any, address: str) -> Iterator[Any]:  # noqa: ANN401 - Dask's module and client
    """A client of the cluster, with a worker at least."""
    try:
        client = dask.Client(address, timeout=_WAIT_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise BadInputError(
            f"No Dask scheduler answers ({error}).",
            where=address,
            cure="Check the address (like tcp://10.0.0.5:8786) and that `dask scheduler` runs there.",
        ) from error
    try:
        with client:
            _first_worker(client, address)
            yield client
    except (dask.CancelledError, dask.comm.CommClosedError) as error:
        raise BadInputError(
            "The Dask scheduler went away.",
            where=address,
            cure="Start it again; the same command goes on from there.",
        ) from error


def _first_worker(client: Any, address: str) -> None:  # noqa: ANN401 - Dask's client
    try:
        client.wait_for_workers(1, timeout=_WAIT_S)
    except TimeoutError as error:
        raise BadInputError(
            "The Dask scheduler has no workers.",
            where=address,
            cure=f"Start some: dask worker {address} --nthreads 1",
        ) from error
