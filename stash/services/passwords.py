"""Passwords: what is one, and its digest. The digest and its costs are argon2-cffi's business."""

from __future__ import annotations

import argon2
from argon2.exceptions import InvalidHashError, VerificationError

from stash.errors import InvalidInput

SHORTEST, LONGEST = 10, 200
"""Source: NIST SP 800-63B asks for 8 at least and forbids rules of composition (from memory); 10: project decision."""
_FEWEST_LETTERS = 5

HASHER = argon2.PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
"""Argon2id. Source: OWASP Password Storage Cheat Sheet, second choice of parameters (from memory): a small computer of
a workshop serves several people at once."""

_NOBODY = "a password that nobody has"


def digest(password: str, name: str = "") -> str:
    """Return the digest of a new password.

    Args:
        password: The password.
        name: The name of its account, which must not be the password.

    Raises:
        InvalidInput: It is no password anybody should have.
    """
    hint = f"Take {SHORTEST} characters or more; three or four words do well."
    if len(password) < SHORTEST:
        raise InvalidInput("The password is too short", hint)
    if len(password) > LONGEST:
        raise InvalidInput("The password is too long", f"Take at most {LONGEST} characters.")
    if len(set(password)) < _FEWEST_LETTERS or password.strip().casefold() in {name.casefold(), name.casefold() * 2}:
        raise InvalidInput("The password is too easily guessed", hint)
    return HASHER.hash(password)


def matches(kept: str | None, password: str) -> bool:
    """Tell whether a password belongs to a digest; takes as long where there is none.

    Args:
        kept: The digest, None where there is no such account.
        password: What was given.
    """
    try:
        return HASHER.verify(kept or _nobody(), password[: LONGEST + 1]) and kept is not None
    except (VerificationError, InvalidHashError):
        return False


def again(password: str) -> str:
    """Return a new digest of a password that was looked at already."""
    return HASHER.hash(password)


def outdated(kept: str) -> bool:
    """Tell whether a digest was made at other costs than today's."""
    return HASHER.check_needs_rehash(kept)


_made: list[str] = []


def _nobody() -> str:
    if not _made:
        _made.append(HASHER.hash(_NOBODY))
    return _made[0]
