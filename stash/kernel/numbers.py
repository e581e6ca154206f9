"""Part numbers as printed, as compared, and as misread.

A number belongs to a maker; the same digits of two makers are two numbers.
"""

from __future__ import annotations

import unicodedata
from typing import NewType

CanonicalNumber = NewType("CanonicalNumber", str)

_LOOKALIKE = str.maketrans({"O": "0", "Q": "0", "I": "1", "L": "1"})


def canonical_number(text: str) -> CanonicalNumber:
    """Return a number without what people leave out or add: case, spaces, dashes, dots, slashes.

    Args:
        text: The number as printed or typed, such as ``FN-21.380-A`` or ``fn 21 380 a``.

    Returns:
        Upper-case letters and digits only; empty when there are none.
    """
    plain = unicodedata.normalize("NFKC", text).upper()
    return CanonicalNumber("".join(character for character in plain if character.isalnum()))


def lookalike_number(text: str) -> str:
    """Return a number with the characters that are misread for one another folded together.

    O and Q read as 0, I and L as 1. Two numbers with one look-alike form are near misses, never equal.
    """
    return canonical_number(text).translate(_LOOKALIKE)
