"""Texts that begin with a text, asked so that an index answers: ``LIKE`` with a bound pattern reads every row."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Boolean, ColumnElement, literal
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

_LAST = "\U0010ffff"
"""The last code point there is. Source: Unicode, chapter 2.4."""


class _Begins(FunctionElement[bool]):
    name = "begins"
    type = Boolean()
    inherit_cache = True

    def self_group(self, against: object = None) -> _Begins:  # noqa: ARG002 - the signature is the library's
        """Stay as it is: put as ``(...) = 1``, no index would answer it."""
        return self


def begins(column: ColumnElement[str] | Any, text: str) -> ColumnElement[bool]:
    """Tell whether a column's text begins with a text, as it is written.

    Args:
        column: The column.
        text: What it begins with; nothing in it stands for anything else.
    """
    return _Begins(column, literal(text), literal(text + _LAST))


@compiles(_Begins)
def _with_a_function(element: _Begins, compiler: SQLCompiler, **more: Any) -> str:
    column, start, _ = element.clauses
    return f"starts_with({compiler.process(column, **more)}, {compiler.process(start, **more)})"


@compiles(_Begins, "sqlite")
def _between(element: _Begins, compiler: SQLCompiler, **more: Any) -> str:
    """SQLite compares texts by their code points, so what begins with a text lies between it and its last."""
    column, start, end = (compiler.process(each, **more) for each in element.clauses)
    return f"({column} >= {start} AND {column} < {end})"
