"""A shelf list as somebody keeps it: sent, its columns confirmed, its questions answered, looked at, and taken in.

What was said stays beside the uploaded file, so that every step is a plain form, every page an address of its own, and
nothing is written to the database before the last one.
"""

from __future__ import annotations

import hashlib
import io
import threading
from collections import OrderedDict
from dataclasses import dataclass, replace

from flask import Blueprint, current_app, flash, redirect, render_template, request, send_file, url_for
from flask.blueprints import BlueprintSetupState
from werkzeug.wrappers import Response

from stash.errors import InvalidInput, NotFound
from stash.services import flat_sheet as flat
from stash.services.flat_facts import STATES
from stash.services.flat_fields import ENCODINGS, FIELDS, LEFT_OUT
from stash.services.open import Store
from stash.web import sheet_choices as choosing
from stash.web import uploads
from stash.web.access import may_change, who
from stash.web.paging import page_number
from stash.web.sheet_choices import Said
from stash.web.sheet_pages import RowPage, field_name, field_text
from stash.web.shop import store

bp = Blueprint("shelf_lists", __name__, url_prefix="/sheets/shelf")

_ROWS = 40
_QUESTIONS = 20
_SETTLED = 60
_LABELLED = 150
_KEPT = 2
_TYPES = {".csv": "text/csv", ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


@dataclass(frozen=True, slots=True)
class _Proposed:
    """A proposal, and the snapshots it was made from."""

    proposal: flat.Proposal
    made_from: tuple[object, object]

    @property
    def mark(self) -> str:
        """A digest of what accepting it would do."""
        does = ((row.number, row.does, row.state, row.lot, row.values) for row in self.proposal.rows)
        digest = hashlib.sha256()
        for each in does:
            digest.update(repr(each).encode())
        return digest.hexdigest()[:32]


class _Proposals:
    """The last few proposals: turning a page of a large sheet does not read it again."""

    def __init__(self) -> None:
        self._kept: OrderedDict[str, _Proposed] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, shop: Store, ticket: str, choices: flat.Choices) -> _Proposed:
        key, here = f"{ticket}{choices!r}", (shop.catalogue(), shop.stock())
        with self._lock:
            kept = self._kept.get(key)
        if kept is not None and all(then is now for then, now in zip(kept.made_from, here, strict=True)):
            return kept
        name, data = uploads.fetch(ticket)
        made = _Proposed(flat.propose(shop, name, data, choices), here)
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > _KEPT:
                self._kept.popitem(last=False)
        return made


@bp.record_once
def _open(state: BlueprintSetupState) -> None:
    state.app.extensions["stash_proposals"] = _Proposals()


def _proposed(ticket: str, said: Said) -> _Proposed:
    proposals: _Proposals = current_app.extensions["stash_proposals"]
    return proposals.of(store(), ticket, said.choices)


@bp.get("/")
def index() -> str:
    """Offer to take in a shelf list."""
    return render_template("shelf_lists/index.html", encodings=ENCODINGS)


@bp.post("/")
def send() -> Response:
    """Keep an uploaded sheet, once it can be read as one."""
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        raise InvalidInput("No file was chosen", "Choose a .csv, .xlsx or .ods and send it again.")
    said = choosing.read_as(Said(), request.form)
    ticket = uploads.keep(uploads.plain(sent.filename), sent.read())
    try:
        _proposed(ticket, said)
    except InvalidInput:
        uploads.drop(ticket)
        raise
    choosing.keep(ticket, said)
    return redirect(url_for(".page", ticket=ticket), 303)


@bp.get("/<ticket>")
def page(ticket: str) -> str:
    """Show how far a sheet is: its columns first, then its questions and rows, and what came of it."""
    said = choosing.recall(ticket)
    found = _proposed(ticket, said)
    proposal = found.proposal
    if said.done:
        many = len(said.codes) > _LABELLED
        codes = "" if many else " ".join(said.codes)
        return render_template("shelf_lists/taken.html", said=said, proposal=proposal, ticket=ticket, codes=codes)
    if not (said.mapped or proposal.known) or request.args.get("step") == "columns":
        return _columns(ticket, said, proposal)
    rows = RowPage(proposal, request.args.get("show", ""), page_number(), _ROWS)
    settled = [each for each in proposal.questions if not each.open]
    return render_template(
        "shelf_lists/page.html",
        ticket=ticket,
        proposal=proposal,
        mark=found.mark if may_change() else "",
        chosen=said.choices,
        rows=rows,
        states=STATES,
        open=[each for each in proposal.questions if each.open],
        most=_QUESTIONS,
        settled=settled[:_SETTLED],
        fields=FIELDS,
        other=choosing.OTHER,
        keys=choosing.KEYS,
        named=field_name,
        told=field_text,
    )


def _columns(ticket: str, said: Said, proposal: flat.Proposal, problem: InvalidInput | None = None) -> str:
    return render_template(
        "shelf_lists/columns.html",
        ticket=ticket,
        proposal=proposal,
        chosen=said.choices,
        fields={**FIELDS, LEFT_OUT: "nothing: leave it out"},
        encodings=ENCODINGS,
        problem=problem,
        sent=request.form,
    )


@bp.post("/<ticket>/columns")
def columns(ticket: str) -> Response | tuple[str, int]:
    """Keep what each column is; another encoding or sheet shows its columns first."""
    before = _open_still(ticket)
    said = choosing.read_as(before, request.form)
    proposal = _proposed(ticket, said).proposal
    if said is before:
        try:
            said = choosing.mapped(said, request.form, proposal.columns)
        except InvalidInput as problem:
            return _columns(ticket, said, proposal, problem), 400
    choosing.keep(ticket, said)
    return redirect(url_for(".page", ticket=ticket), 303)


@bp.post("/<ticket>/answers")
def answers(ticket: str) -> Response:
    """Keep answers to questions."""
    choosing.keep(ticket, choosing.answered(_open_still(ticket), request.form))
    return redirect(url_for(".page", ticket=ticket), 303)


@bp.post("/<ticket>/rows")
def rows(ticket: str) -> Response:
    """Keep what single rows are."""
    choosing.keep(ticket, choosing.decided(_open_still(ticket), request.form))
    show, at = request.form.get("show", ""), request.form.get("page", "1")
    return redirect(url_for(".page", ticket=ticket, show=show, page=at) + "#rows", 303)


@bp.get("/<ticket>/needs-a-look<any('.csv', '.xlsx'):ending>")
def rejects(ticket: str, ending: str) -> Response:
    """Send the rows that need a look, each with why, to be mended and sent again."""
    proposal = _proposed(ticket, choosing.recall(ticket)).proposal
    stem = proposal.name.rpartition(".")[0] or proposal.name
    data = io.BytesIO(flat.rejects(proposal, ending))
    name = f"{stem}-needs-a-look{ending}"
    return send_file(data, mimetype=_TYPES[ending], as_attachment=True, download_name=name)


@bp.post("/<ticket>/accept")
def accept(ticket: str) -> Response:
    """Take it in, as one entry of the history; not where it would do something else by now than was shown."""
    said = _open_still(ticket)
    if request.form.get("seen", "") != _proposed(ticket, said).mark:
        flash("Something was changed in the meantime. Nothing was written; this is what it would do now.")
        return redirect(url_for(".page", ticket=ticket), 303)
    if request.form.get("unclear") == "hold":
        chosen = replace(said.choices, answers={**said.choices.answers, "unclear": "hold"})
        said = replace(said, choices=chosen)
    name, data = uploads.fetch(ticket)
    done = flat.accept(store(), name, data, said.choices, who())
    choosing.keep(ticket, replace(said, done=done.said, batch=done.batch, codes=done.codes))
    return redirect(url_for(".page", ticket=ticket), 303)


def _open_still(ticket: str) -> Said:
    said = choosing.recall(ticket)
    if said.done:
        raise NotFound("This sheet was taken in already", "Send it again to see what it would change now.")
    return said
