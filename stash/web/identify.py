"""What is this thing? Answers so far, the next question, and from there onto the shelf."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.fit.intervals import Interval
from stash.kernel.exact import micro_text
from stash.services import identify, reading
from stash.web.links import address
from stash.web.lots import lot_of
from stash.web.measuring import measure_field
from stash.web.shop import store

bp = Blueprint("identify", __name__, url_prefix="/identify")

_SHOWN = 8
_HUNDRED = 100


@bp.get("/")
def index() -> str | tuple[str, int]:
    """Ask what tells most with least effort, until one design is clear."""
    catalogue = store().catalogue()
    kind = request.args.get("kind", "")
    if kind not in catalogue.kind:
        kinds = sorted(((row.key, row.name) for row in catalogue.kinds), key=lambda pair: pair[1])
        return render_template("identify/kind.html", kinds=kinds, lot=request.args.get("lot", ""))
    given = {name.removeprefix("m-"): text.strip() for name, text in request.args.items() if name.startswith("m-")}
    answers = {name: text for name, text in given.items() if text}
    problem, found = None, None
    try:
        found = identify.identify(store(), kind, answers)
    except InvalidInput as error:
        problem = error
    asked = identify.asked(store(), kind, given)
    by_key = {each.measure.key: measure_field(each.measure, each.answer) for each in asked}
    first = found.next.measure if found and found.next else ""
    order = [first, *(each.measure.key for each in asked if each.measure.key != first)]
    page = render_template(
        "identify/index.html",
        kind=kind,
        lot=request.args.get("lot", ""),
        found=found,
        problem=problem,
        fields=[by_key[key] for key in order if key in by_key],
        first=first,
        answers=answers,
        kept={f"m-{name}": text for name, text in answers.items()},
        shown=_SHOWN,
        percent=lambda share: "under 1 %" if 0 < share < 1 / _HUNDRED else f"{share * _HUNDRED:.0f} %",
    )
    return page, 400 if problem else 200


@bp.get("/lot/<code>")
def lot(code: str) -> Response:
    """Begin with what was measured on a lot."""
    found = lot_of(code)
    measured = {
        f"m-{key}": micro_text((value.low_u + value.high_u) // 2) if isinstance(value, Interval) else value
        for key, value in found.values.items()
    }
    return redirect(address("identify.index", {"kind": found.kind, "lot": found.code, **measured}), 303)


@bp.route("/photo", methods=["GET", "POST"])
def photo() -> str:
    """Read every code on a photo of a shelf; what fills a gap comes first."""
    if request.method != "POST":
        return render_template("identify/photo.html", found=None)
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        raise InvalidInput("No photo was chosen", "Take one, or choose one from the phone.")
    return render_template("identify/photo.html", found=reading.read(store(), sent.read()))
