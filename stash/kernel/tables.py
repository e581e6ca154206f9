"""The one set of tables: the database's meaning, the workbook's sheets, the folder of CSV files.

A table is a tuple of columns; a column knows what its cells hold. Everything that reads, writes, checks or
shows a row - load, export, forms, migrations' drift test - goes by this description.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class Cell(Enum):
    """What the cells of a column hold, and the Python type of their value."""

    TEXT = "text"  # str
    SLUG = "slug"  # str, a short key chosen by people
    SPOT = "spot"  # str, the name of a position; words are allowed
    CODE = "code"  # str, a label code
    WHOLE = "whole"  # int
    YEAR = "year"  # int
    EXACT = "exact"  # Decimal, at most six decimals
    MONEY = "money"  # int, minor units; written with two decimals
    YES_NO = "yes_no"  # bool
    DATE = "date"  # datetime.date
    CHOICE = "choice"  # str, one of Column.choices
    LIST = "list"  # str, items separated by ";", alternatives inside an item by "|"
    MEASURED = "measured"  # str, what its measure's type says


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Args:
        name: The header.
        cell: What its cells hold.
        required: An empty cell is an error.
        ref: The table whose key the cell names, or "".
        choices: The words allowed where the cell is a choice.
        low: Smallest number allowed, None for none.
        high: Largest number allowed, None for none.
        default: What an empty cell means, as cell text.
        longest: Most characters a text may have.
    """

    name: str
    cell: Cell = Cell.TEXT
    required: bool = False
    ref: str = ""
    choices: tuple[str, ...] = ()
    low: int | None = None
    high: int | None = None
    default: str = ""
    longest: int = 10_000


@dataclass(frozen=True, slots=True)
class Table:
    """One table.

    Args:
        name: Its name, which is also the sheet's and the file's.
        about: What a row is, in one sentence.
        columns: In the order of the sheet.
        identity: The columns that tell which row it is.
    """

    name: str
    about: str
    columns: tuple[Column, ...]
    identity: tuple[str, ...]

    def column(self, name: str) -> Column:
        """Return the column of that name.

        Raises:
            KeyError: There is none.
        """
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)

    @property
    def names(self) -> tuple[str, ...]:
        """The column names in order."""
        return tuple(column.name for column in self.columns)


VERDICTS = ("bolts_on", "with_companions", "with_work", "likely", "unknown", "disputed", "wont_fit")
"""Best to worst. Source: project decision."""
RULE_VERDICTS = ("bolts_on", "with_companions", "with_work", "wont_fit")
EVIDENCE = ("bench", "book", "measured", "word")
"""Strongest to weakest: fitted it myself, maker's literature, measured, heard it."""
CONDITIONS = ("new", "excellent", "good", "serviceable", "needs_work", "core", "pattern", "scrap", "unknown")
CHECKED = ("looked", "measured", "ran")
MACHINE_STATES = ("runner", "display", "project", "donor", "stripped", "loaned", "gone")
FITTED_STATES = ("present", "missing", "faulty", "unknown")
MEASURE_TYPES = ("number", "choice", "yes_no")
WEAR = ("smaller", "larger", "none", "either")
RELATIONS = ("same", "gap")
BUILD_STATUS = ("open", "held", "done")


def _slug(name: str, ref: str = "", *, required: bool = False) -> Column:
    return Column(name, Cell.SLUG, required, ref)


def _spot(name: str = "position", *, required: bool = False) -> Column:
    return Column(name, Cell.SPOT, required)


def _code(name: str, ref: str = "", *, required: bool = False) -> Column:
    return Column(name, Cell.CODE, required, ref)


def _year(name: str) -> Column:
    return Column(name, Cell.YEAR, low=1800, high=2200)


def _choice(name: str, choices: tuple[str, ...], *, required: bool = False, default: str = "") -> Column:
    return Column(name, Cell.CHOICE, required, choices=choices, default=default)


def _exact(name: str, low: int | None = 0, high: int = 1_000_000_000) -> Column:
    return Column(name, Cell.EXACT, low=low, high=high)


def _money(name: str) -> Column:
    return Column(name, Cell.MONEY, low=0, high=100_000_000_000)


_KEY = _slug("key", required=True)
_NAME = Column("name", required=True)
_NOTE = Column("note")
_FROM_TO = (_year("from_year"), _year("to_year"))

TABLES: tuple[Table, ...] = (
    Table("makers", "A brand.", (_KEY, _NAME, _NOTE), ("key",)),
    Table("families", "A platform shared by sister models.", (_KEY, _NAME, _NOTE), ("key",)),
    Table(
        "generations",
        "A design era inside a family; ordinal 1 is the earliest.",
        (
            _KEY,
            _slug("family", "families", required=True),
            Column("ordinal", Cell.WHOLE, required=True, low=1, high=99),
            _NAME,
            *_FROM_TO,
            Column("tell"),
        ),
        ("key",),
    ),
    Table(
        "models",
        "One model of a maker.",
        (
            _KEY,
            _NAME,
            _slug("maker", "makers", required=True),
            _slug("generation", "generations", required=True),
            *_FROM_TO,
            Column("cylinders", Cell.WHOLE, low=1, high=64),
            _exact("bore_mm", low=1, high=1000),
            _exact("stroke_mm", low=1, high=1000),
            _exact("rated_rpm", low=1, high=100_000),
            _NOTE,
        ),
        ("key",),
    ),
    Table(
        "kinds",
        "A sort of part.",
        (
            _KEY,
            _NAME,
            Column("system"),
            Column("safety_critical", Cell.YES_NO, default="no"),
            Column("caution"),
            _NOTE,
            Column("matched_set", Cell.LIST),
        ),
        ("key",),
    ),
    Table(
        "measures",
        "A measured attribute of a kind, or a visible tell.",
        (
            _slug("kind", "kinds", required=True),
            _KEY,
            _NAME,
            _choice("type", MEASURE_TYPES, required=True),
            Column("unit"),
            Column("choices", Cell.LIST),
            _exact("uncertainty"),
            _choice("wear", WEAR),
            _exact("effort_s"),
            Column("how"),
        ),
        ("kind", "key"),
    ),
    Table(
        "designs",
        "One particular pattern of a kind; two parts of one design interchange.",
        (
            _KEY,
            _slug("kind", "kinds", required=True),
            _NAME,
            _slug("maker", "makers"),
            _slug("generation", "generations"),
            _money("price"),
            _NOTE,
        ),
        ("key",),
    ),
    Table(
        "design_measures",
        "What a design measures: value, and how far below and above it a good one may be.",
        (
            _slug("design", "designs", required=True),
            _slug("measure", required=True),
            Column("value", Cell.MEASURED, required=True),
            _exact("minus"),
            _exact("plus"),
        ),
        ("design", "measure"),
    ),
    Table(
        "numbers",
        "A part number of a maker, the design it names, and the later number that replaces it.",
        (
            Column("number", required=True, longest=80),
            _slug("maker", "makers", required=True),
            _slug("design", "designs"),
            Column("replaced_by", longest=80),
            _NOTE,
        ),
        ("number", "maker"),
    ),
    Table(
        "positions",
        "A place that takes a part of one kind, on every model of a generation or on one model.",
        (
            _slug("generation", "generations"),
            _slug("model", "models"),
            _spot(required=True),
            _slug("kind", "kinds", required=True),
            Column("quantity", Cell.WHOLE, low=0, high=1000, default="1"),
            _NOTE,
        ),
        ("generation", "model", "position"),
    ),
    Table(
        "came_on",
        "What a position left the factory with.",
        (
            _slug("design", "designs", required=True),
            _spot(required=True),
            _slug("generation", "generations"),
            _slug("model", "models"),
            *_FROM_TO,
            _NOTE,
        ),
        ("design", "position", "generation", "model", "from_year", "to_year"),
    ),
    Table(
        "mates",
        "Two kinds that touch on one machine, and which measures must agree; a gap is b minus a.",
        (
            _KEY,
            _NAME,
            _slug("kind_a", "kinds", required=True),
            _slug("measure_a", required=True),
            _spot("position_a"),
            _slug("kind_b", "kinds", required=True),
            _slug("measure_b", required=True),
            _spot("position_b"),
            _choice("relation", RELATIONS, required=True),
            _exact("low", low=-1_000_000_000),
            _exact("high", low=-1_000_000_000),
            _choice("evidence", EVIDENCE),
            Column("source"),
            _NOTE,
        ),
        ("key",),
    ),
    Table(
        "rules",
        "A claim someone makes that some parts fit, or don't, on some machines.",
        (
            _KEY,
            _choice("verdict", RULE_VERDICTS, required=True),
            _slug("design", "designs"),
            _slug("kind", "kinds"),
            _slug("part_maker", "makers"),
            _slug("part_generation", "generations"),
            _slug("model", "models"),
            _slug("generation", "generations"),
            _slug("family", "families"),
            _slug("maker", "makers"),
            _spot(),
            *_FROM_TO,
            Column("companions", Cell.LIST),
            Column("work"),
            Column("minutes", Cell.WHOLE, low=0, high=100_000),
            _slug("because_mate", "mates"),
            Column("reason"),
            Column("tell"),
            _choice("evidence", EVIDENCE, required=True),
            Column("source"),
            Column("said_on", Cell.DATE),
            _code("machine", "machines"),
        ),
        ("key",),
    ),
    Table(
        "places",
        "Anywhere things are kept; places nest, and a bin is the smallest.",
        (
            _code("code", required=True),
            _NAME,
            _code("inside", "places"),
            _NOTE,
            Column("counted_on", Cell.DATE),
        ),
        ("code",),
    ),
    Table(
        "machines",
        "One owned example of a model.",
        (
            _code("code", required=True),
            _slug("model", "models", required=True),
            _year("year"),
            Column("serial"),
            _choice("state", MACHINE_STATES, required=True),
            _code("place", "places"),
            Column("acquired_on", Cell.DATE),
            Column("from_whom"),
            _money("paid"),
            _exact("value"),
            _NOTE,
        ),
        ("code",),
    ),
    Table(
        "fitted",
        "What a machine carries at a position now; a position without a row is assumed stock.",
        (
            _code("machine", "machines", required=True),
            _spot(required=True),
            _choice("state", FITTED_STATES, required=True),
            _slug("design", "designs"),
            _choice("condition", CONDITIONS),
            _NOTE,
        ),
        ("machine", "position"),
    ),
    Table(
        "fitted_measures",
        "What was measured on a fitted part.",
        (
            _code("machine", "machines", required=True),
            _spot(required=True),
            _slug("measure", required=True),
            Column("value", Cell.MEASURED, required=True),
        ),
        ("machine", "position", "measure"),
    ),
    Table(
        "lots",
        "One or more identical loose parts, in one place, in one condition.",
        (
            _code("code", required=True),
            _slug("kind", "kinds", required=True),
            _slug("design", "designs"),
            Column("quantity", Cell.WHOLE, required=True, low=0, high=1_000_000),
            _choice("condition", CONDITIONS, default="unknown"),
            _choice("checked", CHECKED),
            _code("place", "places"),
            Column("number_seen"),
            _code("from_machine", "machines"),
            Column("acquired_on", Cell.DATE),
            _money("paid"),
            _NOTE,
            Column("counted_on", Cell.DATE),
            _spot("from_position"),
            Column("about", Cell.YES_NO),
        ),
        ("code",),
    ),
    Table(
        "lot_measures",
        "What was measured on the parts of a lot.",
        (
            _code("lot", "lots", required=True),
            _slug("measure", required=True),
            Column("value", Cell.MEASURED, required=True),
        ),
        ("lot", "measure"),
    ),
    Table(
        "wanted",
        "A model wanted for the collection.",
        (_slug("model", "models", required=True), _exact("value"), _NOTE),
        ("model",),
    ),
    Table(
        "law_lines",
        "Where a class by displacement ends in the owner's country; no row means the moped line of 50 cm³.",
        (_KEY, _NAME, Column("up_to_cm3", Cell.EXACT, required=True, low=1, high=100_000), _NOTE),
        ("key",),
    ),
    Table(
        "builds",
        "A machine to be completed: an owned one, or a model from nothing.",
        (
            _KEY,
            _NAME,
            _slug("model", "models"),
            _code("machine", "machines"),
            _exact("value"),
            _money("budget"),
            _choice("status", BUILD_STATUS, required=True),
            _NOTE,
        ),
        ("key",),
    ),
    Table(
        "build_parts",
        "What the owner has already decided for a build.",
        (
            _slug("build", "builds", required=True),
            _spot(required=True),
            _slug("design", "designs"),
            _code("lot", "lots"),
            _NOTE,
        ),
        ("build", "position", "design", "lot"),
    ),
)
"""Every table, in an order in which references point backwards (except ``rules.machine`` and self-references)."""

TABLE_BY_NAME = {table.name: table for table in TABLES}
