"""Removing a row after a look at it: one page for every table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import render_template, request
from werkzeug.wrappers import Response

from stash.kernel.tables import TABLE_BY_NAME
from stash.services import page_rows, rows
from stash.web import words
from stash.web.access import who
from stash.web.forms import Form, answered
from stash.web.links import within
from stash.web.names import Names
from stash.web.row_names import titled
from stash.web.shop import store


@dataclass(frozen=True, slots=True)
class Removal:
    """What is removed, and where its pages lead.

    Args:
        table: Its table.
        identity: ``{column: value}`` of the table's identity.
        onward: The address that follows, unless the one who asked named another of ours.
        back: The address of whoever thinks better of it.
        verb: What the button does to it.
        done: What is said afterwards, before the way back; "" for the usual words.
    """

    table: str
    identity: Mapping[str, str]
    onward: str
    back: str
    verb: str = "Remove"
    done: str = ""


def removed(what: Removal) -> Response | tuple[str, int]:
    """Show a row, and remove it when its form comes back.

    Raises:
        NotFound: There is no such row.
    """
    row = page_rows.row(store(), what.table, tuple(what.identity.values()))
    version = {"version": str(row.version)}
    form = Form((), submit=f"{what.verb} it", hidden=version, danger=True, table=what.table)
    then = request.args.get("then", "")

    def act(sent: Form) -> tuple[str, str]:
        seen = sent.hidden.get("version", "")
        rows.delete_row(store(), what.table, what.identity, int(seen) if seen.isdigit() else None, who())
        said = what.done or f"{words.one_of(what.table).capitalize()} removed."
        return f"{said} The ledger can put it back.", within(then, what.onward)

    def show(shown: Form) -> str:
        return render_template(
            "catalogue/remove.html",
            table=TABLE_BY_NAME[what.table],
            form=shown,
            row=row,
            verb=what.verb,
            title=titled(row, Names()),
            back=within(then, what.back),
        )

    return answered(form, act, show)
