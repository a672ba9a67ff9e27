"""Practice tanks of one kind only, for questions that concern such tanks."""

from itertools import count

from dawnlevel.practice import PracticeTank, middle

_NEXT = 100_000


def aerated(seed: int) -> PracticeTank:
    """An ordinary keeper's tank whose baseline cup is aerated: the first of seed, seed + 100 000, ..."""
    tanks = (middle(seed + _NEXT * attempt) for attempt in count())
    return next(tank for tank in tanks if tank.card()["baseline_method"] == "aerated")
