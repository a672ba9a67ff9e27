"""Readings of live probes: what a message says, whose it is, and holding some together for the store."""

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from dawnlevel.desk.records import FUTURE_TOLERANCE
from dawnlevel.desk.steadiness.logfile import PH_SHOWN
from dawnlevel.desk.steadiness.logtime import EPOCH, MINUTE, TimeReader
from dawnlevel.errors import BadInputError
from dawnlevel.store import SamplesAdded, Store
from dawnlevel.tank.samples import TEMP_MEASURED_C, Samples

_TEMP_HOLDS_MIN = 10  # so long a temperature sent by itself goes with the pH readings (judgement)
_PH_NAMES = ("ph", "pH", "PH")
_TEMP_NAMES = ("temp_c", "temp", "temperature")
_TIME_NAMES = ("time", "timestamp", "ts")
_TANK = "{tank}"


@dataclass(frozen=True, slots=True)
class HeardView:
    """What live readings brought.

    Attributes:
        tank: the tank's name.
        new: minutes that were not there.
        changed: minutes that were there with other values; what came in now counts.
        same: minutes that were there already.
        refused: messages that were left out, in words.
    """

    tank: str
    new: int = 0
    changed: int = 0
    same: int = 0
    refused: tuple[str, ...] = ()


class Topic:
    """A topic to listen to; `{tank}` in it stands for a tank's name, + and # are MQTT's own wildcards."""

    def __init__(self, text: str) -> None:
        self.subscription = text.replace(_TANK, "+")
        parts = {_TANK: "(?P<tank>[^/]+)", "+": "[^/]+", "#": ".*"}
        split = re.split(r"(\{tank\}|\+|#)", text)
        self._pattern = re.compile("".join(parts.get(part, re.escape(part)) for part in split))

    def tank(self, topic: str, only: str | None) -> str | None:
        """Whose the message is; None where the topic is another, or names no tank and there is no `only`."""
        found = self._pattern.fullmatch(topic)
        if found is None:
            return None
        return found.groupdict().get("tank") or only


@dataclass(slots=True)
class _Waiting:
    minutes: list[int] = field(default_factory=list)
    ph: list[float] = field(default_factory=list)
    temp_c: list[float] = field(default_factory=list)


class Inbox:
    """Takes messages, holds their readings, and puts them into the store together.

    `ph`: the topic of readings, a number (pH) or JSON; `temp`: one of temperatures [degC]; `tank`: whose the
    readings are where the topic does not say it.
    """

    def __init__(self, store: Store, ph: Topic, temp: Topic | None = None, tank: str | None = None) -> None:
        self._store = store
        self._ph = ph
        self._temp = temp
        self._tank = tank
        self._names = set(store.tank_names())
        self._waiting: dict[str, _Waiting] = {}
        self._warmth: dict[str, tuple[int, float]] = {}
        self._source = f"live {ph.subscription}"

    def take(self, topic: str, payload: bytes, now: datetime, *, is_held_back: bool) -> str:
        """Hold the reading of a message; why it is left out, in words, or nothing.

        `is_held_back`: the broker kept the message, so one that says no time may be of any age.
        """
        try:
            warmer = None if self._temp is None else self._temp.tank(topic, self._tank)
            tank = warmer or self._ph.tank(topic, self._tank)
            if tank not in self._names:
                return f"{topic}: there is no tank {tank or 'for it'}"
            said = _fields(payload, "ph" if warmer is None else "temp_c")
            self._hold(tank, said, now, is_held_back=is_held_back)
        except ValueError as error:
            return f"{topic}: {error}"
        return ""

    def _hold(self, tank: str, said: Mapping[str, object], now: datetime, *, is_held_back: bool) -> None:
        minute = _minute(said, now, is_held_back=is_held_back)
        temp = _value(said, _TEMP_NAMES, TEMP_MEASURED_C)
        if temp is not None:
            self._warmth[tank] = (minute, temp)
        ph = _value(said, _PH_NAMES, PH_SHOWN)
        if ph is None:
            if temp is None:
                raise ValueError("neither pH nor temperature in it")
            return
        at, warmth = self._warmth.get(tank, (minute, math.nan))
        waiting = self._waiting.setdefault(tank, _Waiting())
        waiting.minutes.append(minute)
        waiting.ph.append(ph)
        waiting.temp_c.append(warmth if abs(minute - at) <= _TEMP_HOLDS_MIN else math.nan)

    def store_all(self) -> dict[str, SamplesAdded]:
        """Put all that is held into the store, tank by tank; what came of it. StoreError: it is held on."""
        done = {}
        for tank in list(self._waiting):
            held = self._waiting[tank]
            log = Samples.gathered(np.array(held.minutes), np.array(held.ph), np.array(held.temp_c))
            done[tank] = self._store.add_samples(tank, log, self._source)
            del self._waiting[tank]
        return done


def _fields(payload: bytes, what: str) -> Mapping[str, object]:
    """What a message says: the fields of a JSON object, or a number as `what`."""
    try:
        said = json.loads(payload.decode())
    except ValueError:
        raise ValueError(f"{payload[:40]!r} is neither a number nor JSON") from None
    if isinstance(said, dict):
        return said
    return {what: said}


def _value(said: Mapping[str, object], names: tuple[str, ...], limits: tuple[float, float]) -> float | None:
    found = next((said[name] for name in names if said.get(name) is not None), None)
    if found is None:
        return None
    try:
        value = (
            float(found) if isinstance(found, str | int | float) and not isinstance(found, bool) else math.nan
        )
    except ValueError:
        value = math.nan
    if not limits[0] <= value <= limits[1]:
        raise ValueError(f"{found!r} is no {names[0]} that a probe in a tank shows")
    return value


def _minute(said: Mapping[str, object], now: datetime, *, is_held_back: bool) -> int:
    told = next((said[name] for name in _TIME_NAMES if said.get(name) is not None), None)
    if told is None:
        if is_held_back:
            raise ValueError("it says no time and was kept for us: nobody knows when it was read")
        return (now - EPOCH) // MINUTE
    minute, is_utc = TimeReader(day_first=None).read(str(told))
    if not is_utc:
        raise ValueError(f"the time {told!r} has no offset")
    if EPOCH + minute * MINUTE > now + FUTURE_TOLERANCE:
        raise ValueError(f"the time {told!r} is still to come")
    return minute


def check_topics(ph: str, temp: str | None, tank: str | None) -> None:
    """Raise BadInputError where a topic cannot be listened to, or says not whose it is."""
    for name in filter(None, (ph, temp)):
        if not name.strip() or "#" in name[:-1] or name.count(_TANK) > 1:
            raise BadInputError(
                f"{name!r} is no topic to listen to.",
                where="--topic",
                cure="Write it as the probe does, for example aquarium/{tank}/ph; # only at its end.",
            )
        if tank is None and _TANK not in name:
            raise BadInputError(
                f"The topic {name!r} does not say whose probe it is.",
                where="--topic",
                cure="Put {tank} in the place of the tank's name, or name the tank with --tank.",
            )
