"""A tank whose keeper lacks an instrument or a piece of knowledge: card and readings are changed.

Everything works through what the keeper can read and record; the policy, the tank's course and the truth
stay what they are. Some cards say so with a key of the benchmark's own, which other policies may ignore:
`cell` (False: there is none) and `readings_a_day` (the most this keeper takes).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from benchmarks._card import most_readings_of, number, plain_card
from dawnlevel.errors import BadInputError
from dawnlevel.practice.draw import Card
from dawnlevel.practice.tank import PlayableTank

COARSE_PH = 0.1
"""What a coarse meter shows [pH]: one decimal."""

LONG_AERATED_H = 48.0
"""A cup aerated for this long has nothing left above balance with the room, by any model of cups [h]."""

CardChange = Callable[[Card], Card]


@dataclass(frozen=True, slots=True)
class Ablation:
    """One thing left out: name, meaning in a few words, the card's change, the meter's step [pH]."""

    name: str
    meaning: str
    change: CardChange
    step_ph: float = 0.0


def _no_cup_model(card: Card) -> Card:
    return card | {"baseline_method": "aerated", "baseline_hours": LONG_AERATED_H}


def _no_kh(card: Card) -> Card:
    return card | {"kh_dkh": None}


def _no_cell(card: Card) -> Card:
    return card | {"cell": False}


def _half_readings(card: Card) -> Card:
    return card | {
        "reads_per_ramp": max(int(number(card, "reads_per_ramp")) // 2, 1),
        "readings_a_day": max(most_readings_of(card) // 2, 1),
    }


def _coarse_meter(card: Card) -> Card:
    return card | {"ph_step": COARSE_PH}


ABLATIONS: Mapping[str, Ablation] = {
    found.name: found
    for found in (
        Ablation("cup_model", "the baseline cup is taken as fully degassed", _no_cup_model),
        Ablation("kh", "no KH kit", _no_kh),
        Ablation("cell", "no indicator cell", _no_cell),
        Ablation("half_readings", "half the readings in a ramp and in a day", _half_readings),
        Ablation("coarse_meter", "a pH meter that shows 0.1 instead of 0.01", _coarse_meter, COARSE_PH),
    )
}


def parse(text: str) -> tuple[str, ...]:
    """Names from `a,b`, each once and in a fixed order. Raises BadInputError for unknown ones."""
    names = {name.strip() for name in text.split(",") if name.strip()}
    unknown = sorted(names - set(ABLATIONS))
    if unknown:
        raise BadInputError(
            f"There is nothing called {', '.join(unknown)} to leave out.",
            where="--without",
            cure=f"Choose from {', '.join(ABLATIONS)}.",
        )
    return tuple(name for name in ABLATIONS if name in names)


def without(tank: PlayableTank, names: Sequence[str]) -> PlayableTank:
    """The tank as it is to a keeper without `names`; the tank itself where there are none."""
    return Without(tank, [ABLATIONS[name] for name in names]) if names else tank


class Without:
    """A tank behind what is left out; the recorded baseline in its truth is what this keeper recorded."""

    def __init__(self, tank: PlayableTank, left_out: Sequence[Ablation]) -> None:
        self._tank = tank
        card = plain_card(tank.card())
        for one in left_out:
            card = one.change(card)
        self._card = card
        self._step_ph = max(one.step_ph for one in left_out)
        self._baselines: list[float] = []

    def _shown(self, ph: float) -> float:
        """A reading as this keeper's meter shows it [pH]."""
        step = self._step_ph
        return round(round(float(ph) / step) * step, 6) if step else float(ph)

    def card(self) -> Card:
        """What this keeper knows."""
        return dict(self._card)

    def clock(self) -> float:
        """Now [h]."""
        return self._tank.clock()

    def wait_until(self, hour: float) -> None:
        """Let time pass to `hour` [h]."""
        self._tank.wait_until(hour)

    def set_gas(self, bubbles_per_second: float) -> None:
        """Set the needle [1/s]."""
        self._tank.set_gas(bubbles_per_second)

    def read_ph(self) -> float:
        """One reading in the tank [pH]."""
        return self._shown(self._tank.read_ph())

    def read_degassed_ph(self) -> float:
        """One reading of the baseline cup [pH]."""
        self._baselines.append(self._shown(self._tank.read_degassed_ph()))
        return self._baselines[-1]

    def read_cell(self) -> str:
        """The cell's colour; this keeper may be told by the card that there is none."""
        return self._tank.read_cell()

    def watch_fish(self) -> str:
        """How the fish behave."""
        return self._tank.watch_fish()

    def truth(self) -> dict[str, float]:
        """For the scorer only."""
        truth = dict(self._tank.truth())
        if self._step_ph and self._baselines:
            truth["drop"] = sum(self._baselines) / len(self._baselines) - float(truth["ph"])
        return truth
