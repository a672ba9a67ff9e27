"""Simulated tanks and the plain recipe: for the demo, the benchmarks and tests."""

from dawnlevel.practice.levels import EASY, HARD, MIDDLE
from dawnlevel.practice.tank import PlayableTank, PracticeTank

__all__ = ["PlayableTank", "PracticeTank", "easy", "hard", "middle"]


def easy(seed: int) -> PracticeTank:
    """A careful keeper's tank, well mixed, with good instruments; the same for the same seed."""
    return PracticeTank(seed, EASY)


def middle(seed: int) -> PracticeTank:
    """An ordinary keeper's tank; the same for the same seed."""
    return PracticeTank(seed, MIDDLE)


def hard(seed: int) -> PracticeTank:
    """An awkward tank with poor instruments; the same for the same seed."""
    return PracticeTank(seed, HARD)
