"""The application behind a real port, for a real browser."""

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import uvicorn
from web_world import World


@contextmanager
def served(world: World) -> Iterator[str]:
    """Serve the world on a free port of this computer; where."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.bind(("127.0.0.1", 0))
    config = uvicorn.Config(world.app, log_level="error", access_log=False, timeout_graceful_shutdown=2)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    end = time.monotonic() + 60.0
    while not server.started:
        assert time.monotonic() < end, "the server did not start"
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    finally:
        world.house.live.close()
        server.should_exit = True
        thread.join(30.0)
        listener.close()
