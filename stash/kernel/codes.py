"""Codes on labels: five random characters and one check character.

Source: alphabet and length are a project decision; the check character is
ISO/IEC 7064 MOD 37-2 (pure system, modulus 37, radix 2, check characters 0-9 A-Z and ``*``).
"""

from __future__ import annotations

from typing import NewType

from stash.errors import InvalidInput

Code = NewType("Code", str)

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""What a code's characters are drawn from: 0-9 A-Z without I, L, O and U."""

PAYLOAD_LENGTH = 5
_CHECKS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
_FORGIVEN = str.maketrans({"O": "0", "I": "1", "L": "1"})


def check_character(payload: str) -> str:
    """Return the ISO/IEC 7064 MOD 37-2 check character of a payload.

    Args:
        payload: Characters of ``0-9 A-Z``.

    Returns:
        One character of ``0-9 A-Z *``.

    Source: ISO/IEC 7064, pure system recursive method.
    """
    remainder = 0
    for character in payload:
        remainder = (remainder + _CHECKS.index(character)) * 2 % 37
    return _CHECKS[(1 - remainder) % 37]


def code_from_payload(payload: str) -> Code | None:
    """Return the whole code for a payload, or None where its check character may not be printed.

    Args:
        payload: Five characters of the alphabet.

    Returns:
        The six-character code; None when the check would be I, L, O, U or ``*``.
    """
    check = check_character(payload)
    return Code(payload + check) if check in ALPHABET else None


def parse_code(text: str) -> Code | None:
    """Read a typed or scanned code, forgiving case, spaces, dashes, O for 0, I and L for 1.

    Args:
        text: What was typed.

    Returns:
        The code, or None when the text is not a valid code.
    """
    squeezed = "".join(character for character in text.upper() if character not in " -\u2010\u2011\u2012\u2013\u2014\t")
    folded = squeezed.translate(_FORGIVEN)
    if len(folded) != PAYLOAD_LENGTH + 1 or any(character not in ALPHABET for character in folded):
        return None
    return Code(folded) if check_character(folded[:-1]) == folded[-1] else None


def require_code(text: str) -> Code:
    """Read a code or say what is wrong with it.

    Args:
        text: What was typed.

    Returns:
        The code.

    Raises:
        InvalidInput: The text is not a code of ours.
    """
    code = parse_code(text)
    if code is None:
        raise InvalidInput(
            f"{text!r} is not a valid code",
            "A code has 6 characters of 0-9 A-Z without I L O U; the last one checks the others, so look for a slip.",
        )
    return code


def grouped(code: str) -> str:
    """Return a code as it is read aloud: ``7K3 QX9``."""
    return f"{code[:3]} {code[3:]}"
