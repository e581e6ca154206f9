"""What a sum is: a number with its unit, where it comes from, how to check it, and what to mind."""

from __future__ import annotations

import math
from dataclasses import dataclass

from stash.errors import InvalidInput


@dataclass(frozen=True, slots=True)
class Sum:
    """The result of a bench sum.

    Args:
        key: Which sum it is, such as ``displacement_cm3``.
        name: The same in words.
        value: The number.
        unit: Its unit.
        source: The formula and where it comes from.
        check: A worked example to check the sum by.
        caution: What to mind; "" when nothing.
        refused: Why it must not be acted on; "" when it may.
    """

    key: str
    name: str
    value: float
    unit: str
    source: str
    check: str
    caution: str = ""
    refused: str = ""


def positive(**sizes: float) -> None:
    """Refuse sizes that are not above zero.

    Args:
        **sizes: ``name=value``; the name, with its unit, is said in the error.

    Raises:
        InvalidInput: One of them is zero, below, or no number.
    """
    for name, value in sizes.items():
        if not 0 < value < math.inf:
            raise InvalidInput(f"{name}: {value} is not a size", f"Give {name} as a number above 0.")


def not_negative(**sizes: float) -> None:
    """Refuse sizes below zero; as ``positive``, but zero may stand.

    Args:
        **sizes: ``name=value``.

    Raises:
        InvalidInput: One of them is below zero, or no number.
    """
    for name, value in sizes.items():
        if not 0 <= value < math.inf:
            raise InvalidInput(f"{name}: {value} is not a size", f"Give {name} as 0 or a number above it.")
