"""Listening to a broker: what is heard goes into the store, and only then does the broker hear of it.

The session outlives us (clean session off, quality of service 1): what is sent while nobody listens is kept
by the broker. A message is acknowledged when its reading is stored. So each reading comes in at least once,
and what comes twice is stored once: the store knows its minutes.

MQTT 3.1.1 (OASIS standard, 2014): sections 3.1.2.4 (clean session), 4.3.2 (quality of service 1), 4.6
(acknowledgements in the order of receipt).
"""

import asyncio
import hashlib
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from dawnlevel.desk.optional import needed
from dawnlevel.desk.steadiness.live import HeardView, Inbox, Topic
from dawnlevel.errors import BadInputError, StoreError

if TYPE_CHECKING:
    import aiomqtt

_FULL = 16  # messages in hand; brokers send 20 by default before they want to hear of one (mosquitto.conf)
_QUIET_S = 1.0  # silence after which what was kept for us has come (judgement)
_KEPT_S = 60.0  # and the longest that it is waited for (judgement)
_LONGEST_WAIT_S = 60.0
_PORTS = {"mqtt": 1883, "mqtts": 8883}


@dataclass(frozen=True, slots=True)
class Broker:
    """Where to listen: host, port, encrypted or not, who we are."""

    host: str
    port: int
    is_encrypted: bool
    user: str | None
    password: str | None

    @property
    def place(self) -> str:
        """How it is named in messages."""
        return f"{'mqtts' if self.is_encrypted else 'mqtt'}://{self.host}:{self.port}"


def broker_at(address: str, password: str | None) -> Broker:
    """The broker at mqtt://[user@]host[:port], or mqtts:// for an encrypted one; BadInputError."""
    try:
        found = urlsplit(address if "://" in address else f"mqtt://{address}")
        port = found.port
    except ValueError:
        found, port = urlsplit(""), None
    if found.scheme not in _PORTS or not found.hostname:
        raise BadInputError(
            f"{address!r} is no broker's address.",
            where="listen",
            cure="Write mqtt://host, mqtt://user@host:1883, or mqtts://host for an encrypted one.",
        )
    user = None if found.username is None else unquote(found.username)
    given = unquote(found.password) if password is None and found.password else password
    return Broker(found.hostname, port or _PORTS[found.scheme], found.scheme == "mqtts", user, given)


@dataclass(frozen=True, slots=True)
class Ears:
    """What listening needs: topics, the inbox, the clock, how long readings are held, whom to tell."""

    topics: tuple[Topic, ...]
    inbox: Inbox
    clock: Callable[[], datetime]
    hold_s: float
    tell: Callable[[HeardView | str], None]


def identity(place: str, topics: tuple[Topic, ...]) -> str:
    """The name by which the broker knows this listener again: the same for the same store and topics."""
    said = "|".join([place, *(topic.subscription for topic in topics)])
    return f"dawnlevel-{hashlib.sha256(said.encode()).hexdigest()[:12]}"


async def listen(broker: Broker, name: str, ears: Ears) -> None:
    """Listen until cancelled; a broker that goes away is waited for. NotInstalledError without aiomqtt."""
    aiomqtt = needed("aiomqtt", "listening to a broker", "live")
    wait_s = 1.0
    while True:
        client = aiomqtt.Client(
            broker.host, broker.port, identifier=name, username=broker.user, password=broker.password,
            clean_session=False, protocol=aiomqtt.ProtocolVersion.V311,
            tls_context=ssl.create_default_context() if broker.is_encrypted else None,
        )  # fmt: skip
        client._client.manual_ack_set(True)  # noqa: SLF001 - aiomqtt hands the setting on to nobody
        try:
            async with client:
                for topic in ears.topics:
                    await client.subscribe(topic.subscription, qos=1)
                ears.tell(f"Listening at {broker.place}.")
                wait_s = 1.0
                await _Hearing(client, ears).hear()
        except aiomqtt.MqttError as error:
            ears.tell(f"{broker.place}: {error}. Trying again in {wait_s:.0f} s.")
        await asyncio.sleep(wait_s)
        wait_s = min(2.0 * wait_s, _LONGEST_WAIT_S)


class _Hearing:
    """One connection: messages in hand that the broker has not heard of yet."""

    def __init__(self, client: "aiomqtt.Client", ears: Ears) -> None:
        self._client = client
        self._ears = ears
        self._in_hand: list[aiomqtt.Message] = []
        self._refused: list[str] = []
        self._since_s = 0.0
        self._said = ""

    async def hear(self) -> None:
        """Take messages until the connection ends; what is in hand then is stored."""
        heard: asyncio.Queue[aiomqtt.Message] = asyncio.Queue()
        pump = asyncio.create_task(self._pump(heard))
        try:
            await self._take_all(heard, pump)
            pump.result()  # raises what ended it
        finally:
            pump.cancel()
            self._settle()

    async def _pump(self, heard: "asyncio.Queue[aiomqtt.Message]") -> None:
        async for message in self._client.messages:
            heard.put_nowait(message)

    async def _take_all(self, heard: "asyncio.Queue[aiomqtt.Message]", pump: "asyncio.Task[None]") -> None:
        loop = asyncio.get_running_loop()
        begun, is_kept = loop.time(), True
        while not pump.done():
            try:
                message = await asyncio.wait_for(heard.get(), _QUIET_S)
            except TimeoutError:
                is_kept = False
            else:
                is_kept = is_kept and loop.time() - begun < _KEPT_S
                self._since_s = self._since_s if self._in_hand else loop.time()
                self._in_hand.append(message)
                self._take(message, is_held_back=is_kept or bool(message.retain))
            if self._in_hand and (
                len(self._in_hand) >= _FULL or loop.time() - self._since_s >= self._ears.hold_s
            ):
                self._settle()

    def _take(self, message: "aiomqtt.Message", *, is_held_back: bool) -> None:
        payload = message.payload if isinstance(message.payload, bytes) else str(message.payload).encode()
        now = self._ears.clock()
        refused = self._ears.inbox.take(str(message.topic), payload, now, is_held_back=is_held_back)
        if refused:
            self._refused.append(refused)

    def _settle(self) -> None:
        """Store what is in hand, then let the broker hear of it; where the store fails it stays in hand."""
        try:
            done = self._ears.inbox.store_all()
        except StoreError as error:
            if str(error) != self._said:
                self._said = str(error)
                self._ears.tell(f"{error} What was heard is held and tried again.")
            return
        self._said = ""
        for message in self._in_hand:
            self._client._client.ack(message.mid, message.qos)  # noqa: SLF001 - as above
        self._in_hand.clear()
        for tank, added in done.items():
            self._ears.tell(HeardView(tank, added.new, added.changed, added.same))
        if self._refused:
            self._ears.tell(HeardView("", refused=tuple(self._refused)))
            self._refused.clear()
