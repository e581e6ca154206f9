"""What is this thing? Answers so far, the next question, and from there onto the shelf."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.fit.facts import Measure
from stash.key.looks import Look
from stash.services import identify, parts, reading, standard_parts
from stash.services.unidentified import answers_of, unidentified
from stash.web.forms import Field
from stash.web.links import address
from stash.web.lots import lot_of
from stash.web.measuring import PREFIX, measure_field
from stash.web.paging import page_number
from stash.web.shop import store

bp = Blueprint("identify", __name__, url_prefix="/identify")

_SHOWN = 8
_HUNDRED = 100
_PAGE = 40
_FIRST = 8
"""Questions shown at once before the kind is known; the rest is folded away."""


@bp.get("/")
def index() -> Response | str | tuple[str, int]:
    """Ask what tells most with least effort, until one design is clear."""
    catalogue = store().catalogue()
    kind = request.args.get("kind", "")
    given = {name.removeprefix(PREFIX): text.strip() for name, text in request.args.items() if name.startswith(PREFIX)}
    if kind not in catalogue.kind:
        return _any_kind(given)
    asked = identify.asked(store(), kind, given)
    known = {each.measure.key for each in asked}
    answers = {name: text for name, text in given.items() if text and name in known}
    problem, found = None, None
    try:
        found = identify.identify(store(), kind, answers)
    except InvalidInput as error:
        problem = error
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
        kept={f"{PREFIX}{name}": text for name, text in answers.items()},
        shown=_SHOWN,
        percent=percent,
    )
    return page, 400 if problem else 200


def percent(share: float) -> str:
    """Say how likely something is."""
    return "under 1 %" if 0 < share < 1 / _HUNDRED else f"{share * _HUNDRED:.0f} %"


@bp.get("/lot/<code>")
def lot(code: str) -> Response:
    """Begin with what was measured on a lot."""
    found = lot_of(code)
    answers = answers_of(store().catalogue(), found)
    measured = {f"{PREFIX}{key}": str(value) for key, value in answers.items()}
    return redirect(address("identify.index", {"kind": found.kind, "lot": found.code, **measured}), 303)


@bp.get("/again")
def again() -> str:
    """Every lot nobody has identified, with what the catalogue makes of it by now."""
    found = unidentified(store())
    last = max(1, -(-len(found) // _PAGE))
    number = min(page_number(), last)
    return render_template(
        "identify/again.html",
        shown=found[(number - 1) * _PAGE : number * _PAGE],
        total=len(found),
        settled=sum(1 for each in found if not each.rank[0]),
        number=number,
        last=last,
        percent=percent,
    )


@bp.route("/photo", methods=["GET", "POST"])
def photo() -> str:
    """Read every code on a photo of a shelf; what fills a gap comes first."""
    if request.method != "POST":
        return render_template("identify/photo.html", found=None)
    sent = request.files.get("file")
    if sent is None or not sent.filename:
        raise InvalidInput("No photo was chosen", "Take one, or choose one from the phone.")
    return render_template("identify/photo.html", found=reading.read(store(), sent.read()))


def _any_kind(given: Mapping[str, str]) -> str | tuple[str, int]:
    """Before the kind is known: a number, a choice of kinds, or first looks that tell which kinds it could be."""
    catalogue = store().catalogue()
    number = request.args.get("number", "").strip()
    answers = {key: text for key, text in given.items() if text}
    looks: tuple[Look, ...] = ()
    problem = None
    try:
        looks = identify.looks(store(), answers) if answers else ()
    except InvalidInput as error:
        problem = error
    standard = standard_parts.seen(catalogue, number) if number else None
    page = render_template(
        "identify/kind.html",
        lot=request.args.get("lot", ""),
        kinds=sorted(((row.key, row.name) for row in catalogue.kinds), key=lambda pair: pair[1]),
        number=number,
        numbered=[row for row in parts.numbers_like(catalogue, number) if row.design] if number else [],
        standard=standard,
        nearly=list(standard_parts.hits(catalogue, store().stock(), number)) if number else [],
        fields=_first_fields(identify.first_questions(store()), given),
        first=_FIRST,
        answers=answers,
        looks=[(look, _carried(look, answers)) for look in looks[: _SHOWN * 2]],
        problem=problem,
        waiting=len(unidentified(store())),
    )
    return page, 400 if problem else 200


def _first_fields(questions: Iterable[Measure], given: Mapping[str, str]) -> list[Field]:
    fields = [measure_field(measure, given.get(measure.key, "")) for measure in questions]
    return sorted(fields, key=lambda each: not each.value)


def _carried(look: Look, answers: Mapping[str, str]) -> dict[str, str]:
    """The answers that a kind is asked too, to go on with."""
    return {f"{PREFIX}{key}": text for key, text in answers.items() if key not in look.foreign}
