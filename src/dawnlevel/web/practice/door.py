"""The door to practice: leads a device to its own practice tank, through the same pages."""

import threading
from collections import OrderedDict

from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from dawnlevel.web.house import House
from dawnlevel.web.practice.bench import BASE, Bench

_MOST = 4
"""Devices that practise at once; one more, and the one that has rested longest begins anew."""


class Benches:
    """The practice tank of each device that practises."""

    def __init__(self) -> None:
        self._benches: OrderedDict[str, Bench] = OrderedDict()
        self._lock = threading.Lock()

    def find(self, device_id: str) -> Bench | None:
        """A device's practice tank, None where it has not begun."""
        with self._lock:
            found = self._benches.get(device_id)
            if found is not None:
                self._benches.move_to_end(device_id)
            return found

    def begin(self, house: House, device_id: str) -> None:
        """A new practice tank for a device, in place of the one it had."""
        made = Bench(house)
        with self._lock:
            old = [self._benches.pop(device_id)] if device_id in self._benches else []
            self._benches[device_id] = made
            while len(self._benches) > _MOST:
                old.append(self._benches.popitem(last=False)[1])
        for bench in old:
            bench.close()

    def leave(self, device_id: str) -> None:
        """A device's practice ends; its records are thrown away."""
        with self._lock:
            old = self._benches.pop(device_id, None)
        if old is not None:
            old.close()

    def close(self) -> None:
        """All practice ends."""
        with self._lock:
            old = list(self._benches.values())
            self._benches.clear()
        for bench in old:
            bench.close()


class PracticeDoor:
    """ASGI layer: the device's practice house in `state`, then the pages; without one, to the entrance."""

    def __init__(self, pages: ASGIApp, benches: Benches) -> None:
        self.pages = pages
        self._benches = benches

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Lead the request in; the gate has let its device through already."""
        bench = self._benches.find(scope["state"]["device"].id)
        if bench is None:
            await RedirectResponse(BASE, status_code=303)(scope, receive, send)
            return
        scope["state"]["house"] = bench.house
        await self.pages(scope, receive, send)
