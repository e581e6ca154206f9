"""Whole sheets in and out: a spreadsheet or a zip of CSV files, looked at before it is taken in."""

from __future__ import annotations

import datetime as dt
import io
import tempfile
from contextlib import ExitStack
from pathlib import Path

from flask import Blueprint, abort, flash, redirect, render_template, request, send_file
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.kernel.tables import TABLES
from stash.services import archive as archives
from stash.services import page_rows, tables
from stash.services.titles import counted
from stash.web import uploads
from stash.web.access import who
from stash.web.shop import store

bp = Blueprint("tables", __name__, url_prefix="/sheets")

_KINDS = {
    "zip": "application/zip",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ods": "application/vnd.oasis.opendocument.spreadsheet",
}
_PROBLEMS_SHOWN = 200


@bp.get("/")
def index() -> str:
    """Offer to load and to download."""
    counts = page_rows.counts(store(), [table.name for table in TABLES])
    return render_template("tables/index.html", tables=TABLES, counts=counts, kinds=tuple(_KINDS))


@bp.post("/check")
def check() -> str | tuple[str, int]:
    """Look at an uploaded file and say what loading it would do."""
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        raise InvalidInput("No file was chosen", "Choose a .zip, .xlsx, .ods or .csv and send it again.")
    name, data = uploads.plain(sent.filename), sent.read()
    report = tables.load_bytes(store(), name, data, who(), dry_run=True)
    ticket = uploads.keep(name, data) if report.ok else ""
    page = render_template(
        "tables/report.html", name=name, report=report, ticket=ticket, shown=report.errors[:_PROBLEMS_SHOWN]
    )
    return page if report.ok else (page, 400)


@bp.post("/load")
def load() -> Response | tuple[str, int]:
    """Take in a file that was looked at."""
    ticket = request.form.get("ticket", "")
    name, data = uploads.fetch(ticket)
    report = tables.load_bytes(store(), name, data, who())
    uploads.drop(ticket)
    if not report.ok:
        shown = report.errors[:_PROBLEMS_SHOWN]
        return render_template("tables/report.html", name=name, report=report, ticket="", shown=shown), 400
    added = sum(counts.added for counts in report.tables.values())
    changed = sum(counts.changed for counts in report.tables.values())
    flash(f"{name} is in: {counted(added, 'row')} added, {changed} changed. The ledger can take it back.")
    return redirect("/", 303)


@bp.get("/archive.zip")
def archive() -> Response:
    """Send everything: tables, ledger and photos, with checksums."""
    now = dt.datetime.now(dt.UTC)
    name = f"stash-archive-{now:%Y-%m-%d}.zip"
    with ExitStack() as stack:
        path = Path(stack.enter_context(tempfile.TemporaryDirectory())) / "archive.zip"
        archives.archive(store(), path, now=now)
        answer = send_file(path.resolve(), mimetype=_KINDS["zip"], as_attachment=True, download_name=name)
        answer.direct_passthrough = False  # so that the answer knows when it is through
        answer.call_on_close(stack.pop_all().close)
    return answer


@bp.get("/stash.<kind>")
def download(kind: str) -> Response:
    """Send every table as one file."""
    if kind not in _KINDS:
        abort(404)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"stash.{kind}"
        tables.export_path(store(), path)
        data = io.BytesIO(path.read_bytes())
    stamp = dt.datetime.now(dt.UTC).strftime("%Y-%m-%d")
    return send_file(data, mimetype=_KINDS[kind], as_attachment=True, download_name=f"stash-{stamp}.{kind}")
