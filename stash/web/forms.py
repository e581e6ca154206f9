"""Forms made from the tables' columns: one mechanism for a row of a table and for an action at the bench.

A form is shown, answered and, where something is wrong, shown again with every word the person typed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from flask import flash, redirect, request
from werkzeug.wrappers import Response

from stash.errors import CellProblem, Conflict, InvalidInput, NotFound, StashError
from stash.kernel.cells import Fault, Value, read_cell
from stash.kernel.tables import Cell, Column
from stash.web.words import label, words

LONG_TEXT = frozenset({"note", "caution", "tell", "reason", "work", "how"})
_NUMERIC = {Cell.WHOLE: "numeric", Cell.YEAR: "numeric", Cell.EXACT: "decimal", Cell.MONEY: "decimal"}
_DATE_LENGTH = len("2000-01-01")

HINTS = {
    Cell.LIST: "Separate items with ; and alternatives inside one with |",
    Cell.MONEY: "With a point, such as 18.50",
    Cell.DATE: "Year-month-day",
}
COLUMN_HINTS = {
    "key": "A short name of your own without spaces, such as kittle-ii; what refers to it follows when you change it",
    "replaced_by": "The later number of the same maker",
    "companions": "Designs or kinds that must change too; separate with ; and alternatives with |",
    "value": "How much it is worth to you to have it done, to compare with others; empty means 1",
    "tell": "What to look at",
    "ordinal": "1 is the earliest",
    "wear": "Which way it goes as the part wears",
    "uncertainty": "What your instrument is sure of, in the measure's unit",
    "effort_s": "How long it takes to measure, in seconds",
    "number_seen": "As stamped on the part",
    "because_mate": "The mate this claim rests on",
    "about": "Yes where nobody counted exactly",
    "minus": "How far below a good one may be",
    "plus": "How far above a good one may be",
}

KEY_HINT = "A short name of your own; one is made of the name when it stays empty"

Options = Sequence[tuple[str, str]]
"""(value, what people read), in the order they are shown."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a form.

    Args:
        column: What its cell holds.
        value: What stands in it, as typed.
        problem: What is wrong with it, "" when nothing.
        options: What can be chosen; empty for free text.
        suggest: Free text with suggestions from the options, rather than a choice among them.
        label: What it is called; the column's name by default.
        hint: One line of help.
        fixed: Shown and sent, but not to be changed.
        check: A yes or no drawn as one box to tick.
        way: The way it is measured, a key of ``stash.key.taking.TAKINGS``; shown as a drawing. "" for none.
        group: Heading it stands under with its neighbours of the same group; "" for none.
    """

    column: Column
    value: str = ""
    problem: str = ""
    options: Options = ()
    suggest: bool = False
    label: str = ""
    hint: str = ""
    fixed: bool = False
    check: bool = False
    group: str = ""
    way: str = ""

    @property
    def name(self) -> str:
        """The column's name."""
        return self.column.name

    @property
    def title(self) -> str:
        """What it is called."""
        return self.label or label(self.name)

    @property
    def widget(self) -> str:
        """How it is drawn: check, fixed, choice, area, date or line."""
        if self.check:
            return "check"
        if self.fixed:
            return "fixed"
        if self.options and not self.suggest:
            return "choice"
        if self.name in LONG_TEXT:
            return "area"
        if self.column.cell is Cell.DATE and len(self.value.strip()) in {0, _DATE_LENGTH}:
            return "date"
        return "line"

    @property
    def inputmode(self) -> str:
        """Which keys a phone offers."""
        if self.column.low is not None and self.column.low < 0:
            return "text"
        return _NUMERIC.get(self.column.cell, "text")

    @property
    def help(self) -> str:
        """One line of help; may be empty."""
        if self.hint or self.fixed or self.column.cell is Cell.MEASURED:
            return self.hint
        return COLUMN_HINTS.get(self.name, "") or HINTS.get(self.column.cell, "")

    @property
    def text(self) -> str:
        """What stands in it, as people read it."""
        return dict(self.options).get(self.value, self.value)

    @property
    def stray(self) -> bool:
        """Whether what was typed is not among the options, and must be offered all the same."""
        return bool(self.value) and self.value not in {value for value, _ in self.options}


@dataclass(frozen=True, slots=True)
class Form:
    """A form.

    Args:
        fields: In the order they are shown.
        submit: What the button says.
        problems: What is wrong that belongs to no field.
        hidden: Values sent along.
        danger: The button cannot simply be taken back.
        conflict: What stood in the way.
        stands: What stands in the database where a person typed something else: names of fields and their texts.
    """

    fields: tuple[Field, ...]
    submit: str = "Save"
    problems: tuple[CellProblem, ...] = ()
    hidden: Mapping[str, str] = field(default_factory=dict)
    danger: bool = False
    conflict: str = ""
    stands: tuple[tuple[str, str], ...] = ()
    table: str = "form"

    @property
    def wrong(self) -> tuple[Field, ...]:
        """Fields with something wrong."""
        return tuple(each for each in self.fields if each.problem)

    def typed(self, values: Mapping[str, str]) -> Form:
        """Return the form holding what a person typed; fixed fields stay."""
        fields = tuple(
            each if each.fixed or each.name not in values else replace(each, value=values[each.name])
            for each in self.fields
        )
        return replace(self, fields=fields, hidden={name: values.get(name, text) for name, text in self.hidden.items()})

    def cells(self) -> dict[str, str]:
        """What stands in the fields."""
        return {each.name: each.value for each in self.fields}

    def read(self) -> dict[str, Value]:
        """Read every field.

        Raises:
            InvalidInput: With a problem for each wrong field.
        """
        found = {each.name: read_cell(each.column, each.value) for each in self.fields}
        problems = tuple(
            CellProblem(self.table, 1, each.name, each.value, fault.problem, fault.hint)
            for each in self.fields
            if isinstance(fault := found[each.name], Fault)
        )
        if problems:
            raise InvalidInput("Something in the form is not right yet", "Mend the marked fields.", problems)
        return {name: value for name, value in found.items() if not isinstance(value, Fault)}

    def told(self, error: InvalidInput) -> Form:
        """Return the form with an error's problems beside their fields."""
        by_column = {problem.column: problem for problem in error.problems}
        fields = tuple(
            replace(each, problem=sentence(by_column[each.name])) if each.name in by_column else each
            for each in self.fields
        )
        names = {each.name for each in self.fields}
        rest = tuple(problem for problem in error.problems if problem.column not in names)
        if not error.problems:
            rest = (CellProblem(self.table, 0, "", "", error.message, error.hint),)
        return replace(self, fields=fields, problems=rest)


def answered(
    form: Form, act: Callable[[Form], tuple[str, str]], show: Callable[[Form], str]
) -> Response | tuple[str, int]:
    """Show a form, or act on it.

    Args:
        form: The form as it stands before anybody typed.
        act: Does the work; returns what to tell the person and where to go. Raises InvalidInput, NotFound or Conflict.
        show: Draws the page with the form.

    Returns:
        The page (400 or 409 with everything typed, when something was wrong), or the way onward.
    """
    if request.method != "POST":
        return show(form.typed(request.args)), 200
    sent = form.typed(request.form)
    try:
        said, onward = act(sent)
    except InvalidInput as error:
        return show(sent.told(error)), 400
    except NotFound as error:
        return show(sent.told(InvalidInput(error.message, error.hint))), 400
    except Conflict as error:  # what is hidden, such as the version, is made anew: the person has now seen the change
        stands = tuple(
            (now.title, now.text)
            for now, typed in zip(form.fields, sent.fields, strict=True)
            if now.value != typed.value
        )
        return show(replace(sent, conflict=told_in_words(error), stands=stands, hidden=form.hidden)), 409
    if said:
        flash(said)
    return redirect(onward, 303)


def choices(values: Iterable[str], *, blank: str | None = None) -> list[tuple[str, str]]:
    """Options for words of the tables, with an empty one in front where nothing may be chosen."""
    front = [] if blank is None else [("", blank)]
    return front + [(value, words(value)) for value in values]


def told_in_words(error: StashError) -> str:
    """Say an error and its mend as sentences."""
    return " ".join(text if text[-1:] in ".!?" else f"{text}." for text in (error.message, error.hint) if text)


def sentence(wrong: CellProblem | Fault) -> str:
    """Say what is wrong with a field, and its mend."""
    text = f"{wrong.problem}. {wrong.hint}".strip()
    return text[:1].upper() + text[1:]
