"""Exact numbers: decimals as people write them, as whole micro-units for comparing, money in minor units.

Verdicts compare sizes, and 38.30 - 38.00 must be 0.30 and not 0.2999; so sizes are whole numbers of
millionths (38.2 mm is 38_200_000) from the cell to the verdict.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation

MICRO = 1_000_000
LARGEST = Decimal(10) ** 9
"""No size, speed, mass or price of the trade is larger; a larger one is a slip. Source: project decision."""


def parse_decimal(text: str) -> Decimal | None:
    """Read a plain decimal with a point; None when it is not one (a comma, an exponent, infinity)."""
    stripped = text.strip().replace("\u2212", "-")
    if not stripped or any(character not in "0123456789.-+" for character in stripped):
        return None
    try:
        return Decimal(stripped)
    except InvalidOperation:
        return None


def to_micro(value: Decimal) -> int:
    """Return a decimal as whole millionths.

    Raises:
        ValueError: It has more than six decimals.
    """
    scaled = value * MICRO
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{value} has more than six decimals")
    return int(scaled)


def from_micro(micro: int) -> Decimal:
    """Return whole millionths as a decimal."""
    return Decimal(micro) / MICRO


def decimal_text(value: Decimal) -> str:
    """Return a decimal without trailing zeros or exponent: ``38.2``, ``7000``, ``0``."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in {"", "-0"} else text


def micro_text(micro: int) -> str:
    """Return whole millionths as the shortest decimal text."""
    return decimal_text(from_micro(micro))


def money_text(minor: int) -> str:
    """Return an amount in minor units with two decimals: ``18.50``."""
    sign = "-" if minor < 0 else ""
    return f"{sign}{abs(minor) // 100}.{abs(minor) % 100:02d}"
