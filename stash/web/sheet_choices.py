"""What a person says about a flat sheet, from one page to the next: kept beside the uploaded file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from werkzeug.datastructures import MultiDict

from stash.errors import InvalidInput
from stash.services.flat_fields import ENCODINGS, FIELDS, LEFT_OUT, MANY, Guess
from stash.services.flat_sheet import Choices
from stash.web import uploads

OTHER = "other"
"""The answer that says: what is typed beside it."""
KEYS = "keys"
"""The question which columns tell rows apart; several may be ticked."""


@dataclass(frozen=True, slots=True)
class Said:
    """What was said about a sheet, and what came of it.

    Args:
        choices: What was chosen.
        mapped: Somebody looked at what its columns are taken for.
        done: What was said when it was taken in; "" before.
        batch: The entry of the history that took it in.
        codes: New lots that came of it.
    """

    choices: Choices = field(default_factory=Choices)
    mapped: bool = False
    done: str = ""
    batch: int | None = None
    codes: tuple[str, ...] = ()


def recall(ticket: str) -> Said:
    """Return what was said about an uploaded sheet.

    Raises:
        NotFound: It is not kept any more.
    """
    kept = uploads.noted(ticket)
    if not kept:
        return Said()
    chosen = kept.pop("choices")
    for name in ("columns", "rows"):
        chosen[name] = {int(key): value for key, value in chosen[name].items()}
    return Said(Choices(**chosen), codes=tuple(kept.pop("codes")), **kept)


def keep(ticket: str, said: Said) -> None:
    """Keep what was said.

    Raises:
        NotFound: The sheet is not kept any more.
    """
    whole: dict[str, Any] = asdict(said)
    uploads.note(ticket, whole)


def read_as(said: Said, sent: Mapping[str, str]) -> Said:
    """Return what was said with another way of reading the file: its encoding, or which sheet of a workbook.

    Columns chosen before are forgotten where that changes: they were another sheet's.
    """
    encoding, sheet = sent.get("encoding", ""), sent.get("sheet", "")
    if encoding and encoding not in ENCODINGS:
        raise InvalidInput(f"{encoding!r} is no encoding we know", f"Use one of {', '.join(ENCODINGS)}.")
    if (encoding, sheet) == (said.choices.encoding, said.choices.sheet):
        return said
    return Said(Choices(encoding=encoding, sheet=sheet))


def mapped(said: Said, sent: Mapping[str, str], columns: tuple[Guess, ...]) -> Said:
    """Return what was said with what each column is.

    Raises:
        InvalidInput: Two columns are said to be the same thing, or one is nothing we know.
    """
    fields = {guess.at: sent.get(f"c{guess.at}", guess.field) for guess in columns}
    for name in fields.values():
        if name not in FIELDS and name != LEFT_OUT:
            raise InvalidInput(f"{name!r} is nothing a column can be", f"Use one of {', '.join(FIELDS)} or {LEFT_OUT}.")
    counted = Counter(name for name in fields.values() if name not in {MANY, LEFT_OUT})
    twice = [name for name, count in counted.items() if count > 1]
    if twice:
        headers = " and ".join(repr(guess.header) for guess in columns if fields[guess.at] == twice[0])
        raise InvalidInput(
            f"{headers} can't both be {FIELDS[twice[0]]!r}", "Make the others remarks, or leave them out."
        )
    return replace(said, choices=replace(said.choices, columns=fields), mapped=True)


def answered(said: Said, sent: MultiDict[str, str]) -> Said:
    """Return what was said with answers to questions; an empty answer opens its question again."""
    answers = dict(said.choices.answers)
    for name, key in sent.items():
        if name.startswith("q") and name[1:].isdigit():
            answers[key] = _answer(sent, name[1:], key)
    return replace(said, choices=replace(said.choices, answers=answers))


def _answer(sent: MultiDict[str, str], at: str, key: str) -> str:
    if key == KEYS:
        return ";".join(sent.getlist(f"a{at}"))
    chosen, typed = sent.get(f"a{at}", ""), sent.get(f"t{at}", "").strip()
    return typed if chosen == OTHER or (typed and not chosen) else chosen


def decided(said: Said, sent: Mapping[str, str]) -> Said:
    """Return what was said with what single rows are: a lot's code, a new lot, kept out, or a design."""
    rows = dict(said.choices.rows)
    for name, chosen in sent.items():
        if name.startswith("r") and name[1:].isdigit():
            code = sent.get(f"l{name[1:]}", "").strip()
            rows[int(name[1:])] = code or chosen
    rows = {number: what for number, what in rows.items() if what}
    return replace(said, choices=replace(said.choices, rows=rows))
