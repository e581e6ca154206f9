"""What a database refuses, said in our own errors."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError
from sqlalchemy.orm.exc import StaleDataError

from stash.errors import Conflict, StashError, StorageError

_AGAIN = frozenset(("40001", "40P01"))
"""SQLSTATE serialization_failure and deadlock_detected. Source: PostgreSQL manual, appendix A, error codes."""


class Again(Conflict):
    """Two transactions got in each other's way; trying again may do."""


def first_line(error: Exception) -> str:
    """Return the first line of what the engine said."""
    original = getattr(error, "orig", None) or error
    return str(original).strip().split("\n")[0]


@contextmanager
def translated() -> Iterator[None]:
    """Say what the database said in our own errors."""
    try:
        yield
    except StashError:
        raise
    except StaleDataError as error:
        raise Conflict(
            "Somebody else changed this row in the meantime", "Nothing was written; look at it again."
        ) from error
    except IntegrityError as error:
        raise _integrity(error) from error
    except DBAPIError as error:
        if getattr(error.orig, "sqlstate", None) in _AGAIN:
            raise Again("Others are writing the same rows", "Nothing was written; try again.") from error
        raise _storage(error) from error


_PLAIN = (
    ("locked", "The database is busy", "Nothing was written; try again in a moment."),
    ("disk is full", "The disk is full", "Nothing was written. Make room on it, then try again."),
    ("readonly", "The database may only be read", "Nothing was written. Let its file and folder be written to."),
    ("connection", "The connection to the database was lost", "Nothing was written; try again in a moment."),
)
"""What an engine's words mean, and the mend: (in its message, message, hint)."""


def _storage(error: DBAPIError) -> StorageError:
    said = first_line(error)
    if isinstance(error, OperationalError):
        for words, message, hint in _PLAIN:
            if words in said:
                return StorageError(message, hint)
    return StorageError(f"The database says: {said}", "Nothing was written.")


def _integrity(error: IntegrityError) -> Conflict:
    text = first_line(error)
    lower = text.lower()
    if "unique" in lower:
        return Conflict(f"There is already such a row ({text})", "Nothing was written; another one has this name.")
    if "foreign key" in lower:
        return Conflict(
            f"Something refers to a row that is not there ({text})",
            "Nothing was written; it may have just been deleted.",
        )
    return Conflict(f"The database refuses this row ({text})", "Nothing was written.")
