"""Saying what fits: a rule as a sentence, with what it would change shown before anything is saved."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, render_template, request, url_for
from werkzeug.wrappers import Response

from stash.errors import InvalidInput
from stash.kernel.cells import list_items
from stash.kernel.tables import EVIDENCE, RULE_VERDICTS, TABLE_BY_NAME, Column
from stash.services import page_rows, say_rule
from stash.services.previews import Preview
from stash.services.rule_words import KNOWN_BY, SAYS
from stash.web.choosing import field_of
from stash.web.forms import Field, Form
from stash.web.links import within
from stash.web.previewing import Look, looked_at, withdrawn
from stash.web.shop import store

bp = Blueprint("rules", __name__, url_prefix="/rules")

_WITH = "with-"
_LEAST_COMPANIONS = 3
_TITLES = {
    "design": "design",
    "kind": "or any",
    "part_maker": "made by",
    "part_generation": "made for the generation",
    "verdict": "goes how",
    "work": "the work it needs",
    "minutes": "minutes that takes",
    "generation": "or every model of the generation",
    "family": "or every model of the family",
    "maker": "made by",
    "position": "at the position",
    "from_year": "from year",
    "to_year": "to year",
    "machine": "only on this one machine",
    "reason": "reason",
    "because_mate": "the mate it rests on",
    "tell": "how to see it",
    "evidence": "how I know",
    "source": "whose word",
    "said_on": "said on",
    "key": "short name",
}
_HINTS = {
    "design": "Key, or a number on record; leave it empty to speak of a whole kind",
    "source": "A person, a book with its page, your own bench book",
    "key": "One is found when it stays empty",
    "because_mate": "Where that mate turns out otherwise on a machine, the rule is set aside there",
}


@bp.route("/say", methods=["GET", "POST"])
def say() -> Response | tuple[str, int]:
    """Say something new."""
    return _sentence("", 0)


@bp.route("/change", methods=["GET", "POST"])
def change() -> Response | tuple[str, int]:
    """Change what was said."""
    key = request.args.get("key", "")
    row = page_rows.row(store(), "rules", (key,))
    return _sentence(key, row.version)


@bp.route("/withdraw", methods=["GET", "POST"])
def withdraw() -> Response | tuple[str, int]:
    """Take a rule back, after a look at what that changes."""
    key = request.args.get("key", "")
    row = page_rows.row(store(), "rules", (key,))
    shown = say_rule.preview_without(store(), key)
    return withdrawn(shown, row.version, title="Take this rule back?", submit="Take it back", done="Taken back.")


def _sentence(key: str, version: int) -> Response | tuple[str, int]:
    form = Form(_fields(key), submit="Save it", hidden={"version": str(version)} if key else {}, table="rules")

    def preview(sent: Form) -> Preview:
        try:
            return say_rule.preview(store(), _cells(sent), key)
        except InvalidInput as error:
            raise _beside(error) from error

    return looked_at(form, Look(preview, lambda told, shown: _page(told, key, shown), key, _back()))


def _page(form: Form, key: str, shown: Preview | None) -> str:
    fields = {each.name: each for each in form.fields}
    companions = [each for each in form.fields if each.name.startswith(_WITH)]
    return render_template(
        "rules/say.html", form=form, fields=fields, companions=companions, shown=shown, key=key, back=_back()
    )


def _back() -> str:
    return within(request.args.get("then", ""), url_for("catalogue.listed", table="rules"))


def _fields(key: str) -> tuple[Field, ...]:
    stored = page_rows.row(store(), "rules", (key,)).cells if key else {}
    typed = request.form if request.method == "POST" else request.args
    cells = {**stored, **typed.to_dict()}
    fields = []
    for column in TABLE_BY_NAME["rules"].columns:
        if column.name == "companions":
            fields += _companion_fields(stored.get("companions", ""))
            continue
        each = field_of("rules", replace(column, required=False) if column.name == "key" else column, cells)
        each = replace(
            each,
            value=stored.get(column.name, column.default),
            label=_TITLES.get(column.name, ""),
            hint=_HINTS.get(column.name, ""),
        )
        fields.append(_worded(each))
    return tuple(fields)


def _worded(each: Field) -> Field:
    said = {"verdict": (RULE_VERDICTS, SAYS), "evidence": (EVIDENCE, KNOWN_BY)}.get(each.name)
    if said is None:
        return each
    order, words = said
    return replace(each, options=[("", "choose"), *((value, words[value]) for value in order)])


def _companion_fields(stored: str) -> list[Field]:
    items = ["|".join(item) for item in list_items(stored)]
    count = max(_LEAST_COMPANIONS, len(items) + 1)
    return [
        Field(
            Column(f"{_WITH}{number}", ref="designs"),
            items[number - 1] if number <= len(items) else "",
            label="together with" if number == 1 else "and with",
            hint="A design or a kind; put | between two of which either does" if number == 1 else "",
        )
        for number in range(1, count + 1)
    ]


def _cells(form: Form) -> dict[str, str]:
    cells = {each.name: each.value for each in form.fields if not each.name.startswith(_WITH)}
    items = [each.value.strip() for each in form.fields if each.name.startswith(_WITH)]
    return {**cells, "companions": ";".join(item for item in items if item)}


def _beside(error: InvalidInput) -> InvalidInput:
    """Put what is wrong with companions beside the first of them."""
    problems = tuple(
        replace(each, column=f"{_WITH}1") if each.column == "companions" else each for each in error.problems
    )
    return InvalidInput(error.message, error.hint, problems)
