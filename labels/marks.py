"""Generation marks: a shape for the ordinal, a letter for the family.

A mark is written ``A2``. The letter stands white in a black shape whose corners count the ordinal, so that two
design generations in one bin are told apart from a metre away and without colour:

    1 disc    2 lens    3 triangle    4 square on its point    5, 6 corners    7 and up: a disc with so many teeth
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache

from labels.errors import LabelError

MOST = 12
_LENS, _TRIANGLE, _LAST_POLYGON = 2, 3, 6


@dataclass(frozen=True, slots=True)
class Mark:
    """A parsed mark."""

    letter: str
    ordinal: int


@lru_cache(maxsize=1024)
def parse(text: str) -> Mark:
    """A mark from text such as ``A2``.

    Raises:
        LabelError: Not one letter and a number from 1 to ``MOST``.
    """
    found = re.fullmatch(r"([^\W\d_])([1-9]\d?)", text)
    if found is None or int(found[2]) > MOST:
        raise LabelError(f"The mark {text!r} is not one letter and a number from 1 to {MOST}.", "Write it like A2.")
    return Mark(found[1].upper(), int(found[2]))


@lru_cache(maxsize=64)
def outline(ordinal: int) -> tuple[tuple[float, float], ...]:
    """Corners of the shape around the origin, about a radius wide and high, upwards positive.

    Curves (disc and lens) come as many short edges.
    """
    if ordinal == 1:
        return _ring(48, 1.0)
    if ordinal == _LENS:
        return _lens()
    if ordinal == _TRIANGLE:
        return tuple((1.2 * x, 1.2 * y - 0.3) for x, y in _ring(3, 1.0))
    if ordinal <= _LAST_POLYGON:
        return _ring(ordinal, 1.0)
    teeth = _ring(2 * ordinal, 1.0)
    return tuple((x, y) if index % 2 == 0 else (x * 0.78, y * 0.78) for index, (x, y) in enumerate(teeth))


def letter_size(ordinal: int) -> float:
    """Height of the letter's capitals inside the shape, in radii."""
    return {1: 1.05, 2: 0.8, 3: 0.8, 4: 0.85}.get(ordinal, 0.95)


def letter_drop(ordinal: int) -> float:
    """How far below the origin the letter's middle stands, in radii."""
    return 0.38 if ordinal == _TRIANGLE else 0.0


def _ring(count: int, radius: float) -> tuple[tuple[float, float], ...]:
    """So many points on a circle, the first one on top."""
    turns = [2 * math.pi * index / count for index in range(count)]
    return tuple((radius * math.sin(turn), radius * math.cos(turn)) for turn in turns)


def _lens() -> tuple[tuple[float, float], ...]:
    """Two arcs that meet in a corner on the left and one on the right."""
    bulge = 0.72
    radius = (1 + bulge**2) / (2 * bulge)
    span = math.asin(1 / radius)
    turns = [span * (2 * index / 24 - 1) for index in range(25)]
    upper = [(radius * math.sin(turn), radius * math.cos(turn) - (radius - bulge)) for turn in turns]
    return (*upper, *((-x, -y) for x, y in upper[1:-1]))
