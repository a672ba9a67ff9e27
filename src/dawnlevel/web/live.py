"""Telling open pages that something was recorded: server-sent events.

A page listens for its tank. It is told at once of what this server records, and within seconds of what
another program writes into the same store.
"""

import asyncio
import json
import threading
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import contextmanager

from starlette.concurrency import run_in_threadpool

from dawnlevel.errors import StoreError
from dawnlevel.store import Store

LOOK_EVERY_S = 2.0  # how soon what another program wrote is noticed
BEAT_EVERY = 10  # looks between two signs of life, by which a closed connection is noticed
MOST_LISTENERS = 64

_Listener = tuple[asyncio.AbstractEventLoop, asyncio.Event]


class Live:
    """Who listens for which tank."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._listeners: dict[str, set[_Listener]] = {}
        self._lock = threading.Lock()
        self._is_closed = False

    @property
    def is_closed(self) -> bool:
        """Whether the server is stopping."""
        return self._is_closed

    @property
    def is_full(self) -> bool:
        """Whether no more pages can be told."""
        with self._lock:
            return self._is_closed or sum(map(len, self._listeners.values())) >= MOST_LISTENERS

    def tell(self, name: str) -> None:
        """Something of tank `name` has changed; may be called from any thread."""
        with self._lock:
            _wake(self._listeners.get(name, set()))

    def close(self) -> None:
        """End every stream, so that the server can stop; may be called from any thread."""
        with self._lock:
            self._is_closed = True
            for listeners in self._listeners.values():
                _wake(listeners)

    async def stream(self, name: str, is_welcome: Callable[[], bool]) -> AsyncIterator[str]:
        """The events of tank `name`, until the page goes, the server stops or `is_welcome` says no."""
        with self._listening(name) as awake:
            told, beats = await run_in_threadpool(self._store.revision, name), 0
            yield _event("hello", told)
            while True:
                await _wait(awake)
                if self._is_closed or not await run_in_threadpool(is_welcome):
                    return
                try:
                    revision = await run_in_threadpool(self._store.revision, name)
                except StoreError:
                    continue  # a store that is locked for a moment is looked at again
                if revision != told:
                    told = revision
                    yield _event("changed", told)
                beats = (beats + 1) % BEAT_EVERY
                if beats == 0:
                    yield ": still here\n\n"

    @contextmanager
    def _listening(self, name: str) -> Iterator[asyncio.Event]:
        listener = (asyncio.get_running_loop(), asyncio.Event())
        with self._lock:
            self._listeners.setdefault(name, set()).add(listener)
        try:
            yield listener[1]
        finally:
            with self._lock:
                self._listeners[name].discard(listener)
                if not self._listeners[name]:
                    del self._listeners[name]


def _wake(listeners: set[_Listener]) -> None:
    for loop, event in listeners:
        if not loop.is_closed():
            loop.call_soon_threadsafe(event.set)


async def _wait(awake: asyncio.Event) -> None:
    try:
        await asyncio.wait_for(awake.wait(), LOOK_EVERY_S)
    except TimeoutError:
        return
    awake.clear()


def _event(kind: str, revision: int) -> str:
    return f"event: {kind}\nid: {revision}\ndata: {json.dumps({'revision': revision})}\n\n"
