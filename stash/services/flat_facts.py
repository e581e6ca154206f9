"""What a flat sheet proposes, as frozen facts a screen or a command can show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from stash.exchange.flat.columns import Guess

STATES = ("new", "changed", "same", "unclear", "wrong", "held")
"""What a row is: comes in, changes a lot, says nothing new, has an open question, can't come in, is kept out."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What the person said about a sheet so far; what is left out is guessed or remembered.

    Args:
        columns: ``{place of the column, from 0: field}``; a field is one of ``exchange.flat.columns.FIELDS`` or ``-``.
        answers: ``{question: answer}``; see ``Question``.
        rows: ``{row number: a lot's code (this row is that lot), "new", "hold" (keep it out) or "design:KEY"}``.
        encoding: How a text file's bytes are read; "" to find out.
        sheet: Which sheet of a workbook; "" for the first that is visible.
    """

    columns: Mapping[int, str] = field(default_factory=dict)
    answers: Mapping[str, str] = field(default_factory=dict)
    rows: Mapping[int, str] = field(default_factory=dict)
    encoding: str = ""
    sheet: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that may be meant.

    Args:
        answer: What to answer for it.
        title: What people call it.
        why: Why it is offered.
        fits: ``(verdict, models)`` it would have if it were that, best first; none where nothing is known.
    """

    answer: str
    title: str
    why: str = ""
    fits: tuple[tuple[str, tuple[str, ...]], ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """Something asked once for the whole sheet.

    Args:
        key: What ``Choices.answers`` calls it.
        text: The question.
        offers: What may be answered; where ``free`` is true any text will do as well.
        answer: The answer in force: given, remembered or guessed; "" for none.
        open: Nobody has answered it and the guess is not sure.
        rows: The rows it is about, the first few; none where it is about all.
        free: Other answers than the offers are understood.
    """

    key: str
    text: str
    offers: tuple[Offer, ...] = ()
    answer: str = ""
    open: bool = True
    rows: tuple[int, ...] = ()
    free: bool = False


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something about one cell to look at.

    Args:
        field: Which field.
        text: What is doubtful and how it was taken.
        question: The question that settles it; "" for a remark that asks nothing.
    """

    field: str
    text: str
    question: str = ""


@dataclass(frozen=True, slots=True)
class Value:
    """One field of a lot as the row has it: column, text, and what was there before ("" where that is the same)."""

    column: str
    text: str
    before: str = ""
    changed: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the sheet.

    Args:
        number: Its number as a spreadsheet program shows it.
        cells: Its texts.
        state: One of ``STATES``.
        does: ``new``, ``changed``, ``same`` or "" (nothing): what accepting it does.
        lot: The code of the lot it is, "" for a new one.
        title: What it is taken for.
        values: The lot's fields, as the row has them.
        doubts: What to look at.
        offers: Designs it may be, for ``Choices.rows``.
        reason: Why it is wrong, unclear or held, in one line; "" otherwise.
        key: The mark it is remembered by.
    """

    number: int
    cells: tuple[str, ...]
    state: str
    does: str
    lot: str
    title: str
    values: tuple[Value, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    offers: tuple[Offer, ...] = ()
    reason: str = ""
    key: str = ""


@dataclass(frozen=True, slots=True)
class Gone:
    """A lot that came from an earlier version of the sheet and is no longer in it; it stays as it is."""

    lot: str
    title: str


@dataclass(frozen=True, slots=True)
class Proposal:
    """What taking a sheet in would do.

    Args:
        name: The file's name.
        sheet: The sheet's name.
        sheets: The visible sheets it could be.
        fingerprint: What its headers are remembered by.
        known: It was taken in before.
        encoding: How its bytes were read, "" for a workbook.
        separator: What separates its columns, "" for a workbook.
        notes: What to know about how it was read.
        header: Its headers.
        columns: What each column is taken for.
        questions: What is asked, open ones first.
        rows: Every row.
        new_places: Paths of places that would be made.
        new_kinds: ``(key, name)`` of kinds that would be made.
        gone: Lots of an earlier version that are not in this one.
    """

    name: str
    sheet: str
    sheets: tuple[str, ...]
    fingerprint: str
    known: bool
    encoding: str
    separator: str
    notes: tuple[str, ...]
    header: tuple[str, ...]
    columns: tuple[Guess, ...]
    questions: tuple[Question, ...]
    rows: tuple[Row, ...]
    new_places: tuple[str, ...] = ()
    new_kinds: tuple[tuple[str, str], ...] = ()
    gone: tuple[Gone, ...] = ()

    @property
    def counts(self) -> dict[str, int]:
        """``{state: rows}`` in the order of ``STATES``, noughts included."""
        counted = dict.fromkeys(STATES, 0)
        for row in self.rows:
            counted[row.state] += 1
        return counted

    def as_dict(self) -> dict[str, Any]:
        """The proposal as plain data for JSON, without the rows that say nothing new."""
        from dataclasses import asdict

        whole = asdict(self)
        whole["counts"] = self.counts
        whole["rows"] = [row for row in whole["rows"] if row["state"] != "same"]
        return whole
