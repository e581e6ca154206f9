"""The errors of the program: one small tree, translated once in ``web`` and once in ``cli``.

::

    StashError            anything we can explain
    ├── InvalidInput      what came in is wrong: where, what, how to mend it
    ├── NotFound          no such thing under that name
    ├── Conflict          somebody else was there first; nothing was lost
    ├── BadCatalogue      the facts contradict each other
    └── StorageError      the database or a file would not do it

"Does not fit" is an answer, never an exception.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass


class StashError(Exception):
    """An error that a person can act on.

    Args:
        message: What is wrong, in one sentence.
        hint: How to mend it; may be empty.
    """

    code = "error"

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint


@dataclass(frozen=True, slots=True)
class CellProblem:
    """One thing wrong in one cell of one table.

    Args:
        table: The table's name.
        row: 1 for the first row below the header; 0 when the whole table is meant.
        column: The column's name, or "" when the whole row is meant.
        value: What stood there.
        problem: What is wrong with it.
        hint: How to mend it.
    """

    table: str
    row: int
    column: str
    value: str
    problem: str
    hint: str

    def as_dict(self) -> dict[str, str | int]:
        """The problem as plain data for JSON."""
        return asdict(self)

    def __str__(self) -> str:
        place = self.table + (f" row {self.row}" if self.row else "") + (f", {self.column}" if self.column else "")
        shown = f" ({self.value!r})" if self.value else ""
        return f"{place}: {self.problem}{shown}. {self.hint}".rstrip()


class InvalidInput(StashError):  # noqa: N818 - the tree names what happened
    """What came in is wrong.

    Args:
        message: What is wrong, in one sentence.
        hint: How to mend it.
        problems: Each wrong cell, where the input was a table or a form.
    """

    code = "invalid_input"

    def __init__(self, message: str, hint: str = "", problems: tuple[CellProblem, ...] = ()) -> None:
        super().__init__(message, hint)
        self.problems = problems


class NotFound(StashError):  # noqa: N818 - the tree names what happened
    """No such thing under that name."""

    code = "not_found"


class Conflict(StashError):  # noqa: N818 - the tree names what happened
    """Somebody else was there first, or something stands in the way; nothing was changed."""

    code = "conflict"


class BadCatalogue(StashError):  # noqa: N818 - the tree names what happened
    """The facts contradict each other (a cycle in replacements or places)."""

    code = "bad_catalogue"


class StorageError(StashError):
    """The database or a file would not do it."""

    code = "storage"
