"""What a reading of a known size looks like: a normal error, and wear to one side.

A reading is ``y = size + side * W + e`` with ``e`` normal (instrument and tolerance) and ``W`` exponential (wear, which
only ever goes one way). Their sum has the exponentially modified normal density.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from enum import Enum
from typing import NamedTuple

_ROOT_TWO_PI = math.log(math.sqrt(2 * math.pi))
_FAR_TAIL = 25.0
"""Beyond this erfc runs out of digits and the asymptotic series is exact to double precision."""
_NEGLIGIBLE_WEAR = 1e-4
"""Wear below this share of sigma changes no density in the first six digits."""
_SIGMAS = (-8.5, -5.0, -3.0, -1.5, 0.0, 1.5, 3.0, 5.0, 8.5)
_WEARS = (1.0, 3.0, 8.0, 24.0)


class Side(Enum):
    """Which way wear moves a reading."""

    NONE = 0
    SMALLER = -1
    LARGER = 1
    EITHER = 2


class Bump(NamedTuple):
    """The density of readings of one size.

    Args:
        mean: The size when new, in the measure's unit.
        sigma: Standard deviation of instrument and tolerance together, same unit, above 0.
        wear: Mean wear, same unit, 0 for none.
        side: Which way wear goes.
    """

    mean: float
    sigma: float
    wear: float = 0.0
    side: Side = Side.NONE

    def log_density(self, reading: float) -> float:
        """Return the natural logarithm of the density at a reading, in 1/unit."""
        away = reading - self.mean
        if self.side is Side.NONE or self.wear < _NEGLIGIBLE_WEAR * self.sigma:
            return log_normal(away, self.sigma)
        if self.side is Side.EITHER:
            sides = (log_worn(away, self.sigma, self.wear), log_worn(-away, self.sigma, self.wear))
            return log_sum(sides) - math.log(2)
        return log_worn(self.side.value * away, self.sigma, self.wear)

    def cuts(self) -> list[float]:
        """Return the readings between which the density is smooth, ascending; nothing to speak of lies outside."""
        around = [self.mean + self.sigma * step for step in _SIGMAS]
        for direction in (-1, 1):
            if self.side.value in {direction, Side.EITHER.value} and self.wear > 0:
                around += [self.mean + direction * (self.wear * step) for step in _WEARS]
                around.append(self.mean + direction * (self.wear * _WEARS[-1] + self.sigma * _SIGMAS[-1]))
        return sorted(around)


def log_normal(away: float, sigma: float) -> float:
    """Return the log density of a normal error of ``away``."""
    return -0.5 * (away / sigma) ** 2 - math.log(sigma) - _ROOT_TWO_PI


def log_worn(away: float, sigma: float, wear: float) -> float:
    """Return the log density of ``W + e`` at ``away``, W exponential with mean ``wear``, e normal.

    Args:
        away: How far the reading lies in the direction of wear; negative is against it.
        sigma: Standard deviation of e.
        wear: Mean of W.

    Source: exponentially modified Gaussian distribution, Grushka, Analytical Chemistry 44 (1972) 1733.
    """
    rate = sigma / wear
    tail = (rate - away / sigma) / math.sqrt(2)
    if tail > _FAR_TAIL:
        return -math.log(2 * wear) - 0.5 * (away / sigma) ** 2 + _log_erfcx(tail)
    return -math.log(2 * wear) + 0.5 * rate**2 - away / wear + math.log(math.erfc(tail))


def log_sum(logs: Iterable[float]) -> float:
    """Return ``log(sum(exp(x)))`` without overflow; minus infinity of nothing."""
    terms = list(logs)
    top = max(terms, default=-math.inf)
    if top == -math.inf:
        return top
    return top + math.log(math.fsum(math.exp(term - top) for term in terms))


def _log_erfcx(far: float) -> float:
    """``log(exp(x*x) * erfc(x))`` for large x. Source: Abramowitz and Stegun, 7.1.23, three terms."""
    small = 1 / (2 * far * far)
    return math.log1p(small * (-1 + small * (3 - 15 * small))) - math.log(far * math.sqrt(math.pi))
