"""The two ends of a movement as canonical text: a place, a position of a machine, another lot, or outside.

``place:7K3QX9`` is a place, ``place:`` nowhere yet (unplaced); ``machine:7K3QX9:carburettor`` a position of a
machine; ``lot:7K3QX9`` the lot it was split from or merged into; ``outside:sold`` the world.
"""

from __future__ import annotations

from typing import NamedTuple

OUTSIDE = ("received", "sold", "given", "scrapped", "lost", "found", "lent")
"""How parts come from the outside and go there. Source: project decision."""


class End(NamedTuple):
    """One end of a movement.

    Args:
        type: ``place``, ``machine``, ``lot`` or ``outside``.
        name: The code, or the word for outside; "" for an unplaced lot.
        position: The machine's position, else "".
    """

    type: str
    name: str = ""
    position: str = ""

    def __str__(self) -> str:
        return f"{self.type}:{self.name}:{self.position}" if self.type == "machine" else f"{self.type}:{self.name}"


UNPLACED = End("place")


def place_end(code: str | None) -> End:
    """The end of a lot kept in a place; None or "" when it has none yet."""
    return End("place", code or "")


def machine_end(code: str, position: str) -> End:
    """The end of a part fitted at a machine's position."""
    return End("machine", code, position)


def lot_end(code: str) -> End:
    """The end of parts that came out of another lot or went into it."""
    return End("lot", code)


def outside_end(word: str) -> End:
    """The end of parts that come from the world or go to it.

    Raises:
        ValueError: The word is not one of ``OUTSIDE``.
    """
    if word not in OUTSIDE:
        raise ValueError(f"{word!r} is not one of {', '.join(OUTSIDE)}")
    return End("outside", word)


def parse_end(text: str) -> End:
    """Read an end's canonical text; the inverse of ``str``.

    Raises:
        ValueError: It is not one.
    """
    type_, colon, rest = text.partition(":")
    if colon:
        if type_ == "place":
            return place_end(rest)
        if type_ == "lot" and rest:
            return lot_end(rest)
        if type_ == "outside":
            return outside_end(rest)
        code, colon, position = rest.partition(":")
        if type_ == "machine" and code and position:
            return machine_end(code, position)
    raise ValueError(f"{text!r} is not an end of a movement")
