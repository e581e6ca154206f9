"""One upper-case address as a QR symbol (ISO/IEC 18004, model 2, alphanumeric mode).

The symbol takes the smallest version that holds the address, and within it the highest error level that still
fits: on paper the size of a module decides whether a phone reads a label, so error correction is only worth
having where it costs nothing.

Two things make ten thousand labels quick without a second implementation of the standard:

* The mask is fixed. Every mask is decoded alike, because the format information of the symbol names it; the
  standard has an encoder score all eight only to steer clear of unlucky patterns. ``MASK`` is one that scores
  well on addresses of this form (ISO/IEC 18004, 7.8; the choice is a project decision, measured).
* Symbols are added, not redrawn. With length, version, level and mask fixed, each module is the sum modulo 2 of
  a constant and of some bits of the text: bits are copied, Reed-Solomon check words are linear over GF(2), and a
  mask flips fixed places. So the library draws one symbol for the unchanging front of an address and one for
  each bit of its last six or seven characters, and every further code is an exclusive-or of those.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_L, ERROR_CORRECT_M, ERROR_CORRECT_Q
from qrcode.main import QRCode
from qrcode.util import BIT_LIMIT_TABLE, QRData

from labels.errors import LabelError

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"
"""The 45 characters of alphanumeric mode in the order of their values. Source: ISO/IEC 18004, table 5."""

QUIET_MODULES = 4
"""Clear modules on every side. Source: ISO/IEC 18004, 6.3.8."""

MASK = 6
"""The fixed mask. Source: project decision; lowest mean penalty but for mask 0, see the module's docstring."""

MAX_VERSION = 9
"""Up to here the count field has 9 bits (ISO/IEC 18004, table 3); a longer address would not read off a label."""

_LEVELS = {"H": ERROR_CORRECT_H, "Q": ERROR_CORRECT_Q, "M": ERROR_CORRECT_M, "L": ERROR_CORRECT_L}
_HEADER_BITS = 4 + 9
_PAIR_BITS, _SINGLE_BITS = 11, 6
_GROUP_BITS = {1: _SINGLE_BITS, 2: _PAIR_BITS}
_CODE_LENGTH = 6
_ALPHANUMERIC: Literal[2] = 2  # the library's MODE_ALPHA_NUM, which is not typed as narrowly as it asks
_VALUES = {character: value for value, character in enumerate(ALPHABET)}


@dataclass(frozen=True, slots=True)
class Symbol:
    """A QR symbol without its quiet zone.

    Attributes:
        version: 1 to 9.
        level: Error correction level, L M Q or H.
        modules: Modules a side, 17 + 4 x version.
        bits: Row after row from the top left, the first module in the highest bit; 1 is dark.
    """

    version: int
    level: str
    modules: int
    bits: int

    def rows(self) -> list[str]:
        """Each row from the top as a string of ``0`` (light) and ``1`` (dark)."""
        side = self.modules
        whole = format(self.bits, f"0{side * side}b")
        return [whole[start : start + side] for start in range(0, side * side, side)]


def capacity(version: int, level: str) -> int:
    """How many alphanumeric characters a symbol holds.

    Args:
        version: 1 to 9.
        level: L, M, Q or H.

    Source: ISO/IEC 18004, 7.4.4 (4 mode bits, 9 count bits, 11 bits a pair, 6 for a last single character) and
    table 7 for the data bits of each version and level.
    """
    pairs, rest = divmod(int(BIT_LIMIT_TABLE[_LEVELS[level]][version]) - _HEADER_BITS, _PAIR_BITS)
    return 2 * pairs + (rest >= _SINGLE_BITS)


@lru_cache(maxsize=512)
def version_and_level(length: int) -> tuple[int, str]:
    """The smallest version for so many characters, and the highest level that does not raise it.

    Raises:
        LabelError: No version up to ``MAX_VERSION`` holds that many.
    """
    for version in range(1, MAX_VERSION + 1):
        for level in _LEVELS:
            if capacity(version, level) >= length:
                return version, level
    longest = capacity(MAX_VERSION, "L")
    raise LabelError(
        f"An address of {length} characters is too long for a label; at most {longest} fit.",
        "Use a shorter host name in the label address.",
    )


def modules_of(length: int) -> int:
    """Modules a side, without quiet zone, of the symbol for an address of so many characters."""
    return 17 + 4 * version_and_level(length)[0]


def symbol(address: str) -> Symbol:
    """The QR symbol of an address such as ``HTTP://STASH.LOCAL/Q/7K3QX9``.

    Raises:
        LabelError: The address is empty, too long, or holds a character outside alphanumeric mode (lower case
            for one).
    """
    _check(address)
    start = max(0, len(address) - _CODE_LENGTH) // 2 * 2
    family = _family(address[:start], len(address))
    bits = family.base
    for place, changes in enumerate(family.changes):
        value = _group_value(address[start + 2 * place : start + 2 * place + 2])
        for bit, change in enumerate(changes):
            if value >> bit & 1:
                bits ^= change
    return Symbol(family.version, family.level, 17 + 4 * family.version, bits)


@dataclass(frozen=True, slots=True)
class _Family:
    """All symbols of one length that share their front: the one ending in zeros, and what each later bit flips."""

    version: int
    level: str
    base: int
    changes: tuple[tuple[int, ...], ...]


@lru_cache(maxsize=64)
def _family(front: str, length: int) -> _Family:
    version, level = version_and_level(length)
    groups = [min(2, length - at) for at in range(len(front), length, 2)]
    zeros = ["0" * size for size in groups]

    def drawn(tail: list[str]) -> int:
        return _drawn(front + "".join(tail), version, level)

    base = drawn(zeros)
    changes = tuple(
        tuple(
            base ^ drawn([*zeros[:place], _group_text(1 << bit, size), *zeros[place + 1 :]])
            for bit in range(_GROUP_BITS[size])
        )
        for place, size in enumerate(groups)
    )
    return _Family(version, level, base, changes)


def _drawn(address: str, version: int, level: str) -> int:
    """One symbol drawn by the library, as an integer of modules."""
    code = QRCode(version=version, error_correction=_LEVELS[level], mask_pattern=MASK, border=0)
    code.add_data(QRData(address.encode("ascii"), mode=_ALPHANUMERIC), optimize=0)
    code.make(fit=False)
    return int("".join("1" if module else "0" for row in code.modules for module in row), 2)


def _group_value(text: str) -> int:
    """The value of a pair of characters (11 bits) or of a last single one (6 bits)."""
    value = _VALUES[text[0]]
    return value * 45 + _VALUES[text[1]] if len(text) == 2 else value  # noqa: PLR2004 (a pair)


def _group_text(value: int, size: int) -> str:
    """The one or two characters that encode as ``value``."""
    high, low = divmod(value, 45)
    return ALPHABET[high] + ALPHABET[low] if size == 2 else ALPHABET[low]  # noqa: PLR2004 (a pair)


def _check(address: str) -> None:
    if not address:
        raise LabelError("A label needs an address, and this one is empty.")
    stranger = next((character for character in address if character not in _VALUES), None)
    if stranger is None:
        return
    if stranger.isascii() and stranger.islower():
        raise LabelError(
            f"The address {address!r} holds the lower-case letter {stranger!r}.",
            "Write the address in upper case: it takes a smaller symbol.",
        )
    raise LabelError(
        f"The address {address!r} holds {stranger!r}, which alphanumeric mode cannot encode.",
        f"Allowed are digits, upper-case letters and {ALPHABET[36:]!r}.",
    )
