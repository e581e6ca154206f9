"""What a column of a flat sheet can be, and how its file can be written, for whoever shows that to people."""

from __future__ import annotations

from stash.exchange.flat.columns import FIELDS, LEFT_OUT, MANY, Guess
from stash.exchange.flat.files import ENCODINGS

__all__ = ["ENCODINGS", "FIELDS", "LEFT_OUT", "MANY", "Guess"]
