"""Open pages hear what was recorded: at once from this server, soon from another program, and are let go."""

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from advice_world import at
from web_world import BROOK, World, make_world

from dawnlevel.store import open_store
from dawnlevel.tank import PhReading
from dawnlevel.web import live as live_module

PATIENCE_S = 30.0  # how long a test waits for what should come within a moment


@pytest.fixture
def world(tmp_path: Path) -> World:
    return make_world(tmp_path)


async def soon(stream: AsyncIterator[str]) -> str:
    return await asyncio.wait_for(anext(stream), PATIENCE_S)


def test_what_this_server_records_is_told_at_once(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live_module, "LOOK_EVERY_S", 3600.0)  # so that only the telling can wake the stream

    async def play() -> tuple[str, str]:
        stream = world.house.live.stream("Brook", lambda: True)
        hello = await soon(stream)
        waiting = asyncio.ensure_future(soon(stream))
        await asyncio.sleep(0)
        world.house.entries.take("Brook", "token-of-test", [PhReading(at=at(12), ph=7.0)], world.clock())
        world.house.changed("Brook")
        return hello, await waiting

    hello, told = asyncio.run(play())
    assert hello.startswith("event: hello\n")
    assert told.startswith("event: changed\n")
    assert told.endswith("\n\n")
    assert hello.split("data: ")[1] != told.split("data: ")[1]


def test_what_another_program_writes_is_noticed(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live_module, "LOOK_EVERY_S", 0.05)

    async def play() -> str:
        stream = world.house.live.stream("Brook", lambda: True)
        await soon(stream)
        with open_store(world.store) as store:
            store.add_records("Brook", [PhReading(at=at(12), ph=7.0)])
        told = await soon(stream)
        while told.startswith(":"):
            told = await soon(stream)
        return told

    assert asyncio.run(play()).startswith("event: changed\n")


@pytest.mark.parametrize("why", ["closed", "sent away"])
def test_streams_end_when_the_server_stops_or_the_device_goes(
    world: World, monkeypatch: pytest.MonkeyPatch, why: str
) -> None:
    monkeypatch.setattr(live_module, "LOOK_EVERY_S", 0.05)
    welcome = [True]

    async def play() -> None:
        stream = world.house.live.stream("Brook", lambda: welcome[0])
        await soon(stream)
        if why == "closed":
            world.house.live.close()
        else:
            welcome[0] = False
        left = [told async for told in stream]
        assert all(told.startswith(":") for told in left)

    asyncio.run(asyncio.wait_for(play(), PATIENCE_S))
    assert world.house.live.is_full == (why == "closed")


def test_no_more_pages_than_the_server_can_tell(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live_module, "MOST_LISTENERS", 0)
    answer = world.local().get(f"{BROOK}/events")
    assert answer.status_code == 503
    assert int(answer.headers["retry-after"]) > 0
