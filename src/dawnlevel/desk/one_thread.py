"""Linear algebra on one thread, so that an answer depends on the records and not on the machine's cores.

A matrix product split between threads adds up in another order, and the last digits differ; the matrices
here are so small that waiting for each other costs the threads more than they gain.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock
from typing import Any

_lock = Lock()
_held: list[Any] = []  # the limit in force, once for each thread of ours that wants it


@contextmanager
def one_blas_thread() -> Iterator[None]:
    """Hold numpy's and scipy's linear algebra to one thread meanwhile; several callers at once share it."""
    from threadpoolctl import threadpool_limits  # noqa: PLC0415 - looks through every library loaded

    with _lock:
        _held.append(_held[-1] if _held else threadpool_limits(limits=1, user_api="blas"))
    try:
        yield
    finally:
        with _lock:
            limit = _held.pop()
            if not _held:
                limit.restore_original_limits()
