"""What is this? The kinds a thing could be, by what was measured and seen on it.

A count of what agrees and what does not, and no more: kinds differ in what can be asked of them, so that no probability
across kinds would be honest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stash.errors import InvalidInput
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Kind, Measure
from stash.key.answers import Answer, is_no_answer, read_answer
from stash.key.options import Options
from stash.key.questions import NumberQuestion, Question, WordQuestion, choices_of, questions_of
from stash.key.wording import AGREES_WITHIN, USUAL_WEARS


@dataclass(frozen=True, slots=True)
class Look:
    """How a kind answers to what was seen.

    Args:
        kind: The kind's key.
        agrees: Measures some design of the kind shows as answered.
        differs: Measures the kind has on record, none of them as answered.
        open: Measures the kind is asked, but no design has on record.
        foreign: Measures the kind is not asked at all.
        designs: Designs of the kind that nothing answered speaks against, in order of key.
    """

    kind: str
    agrees: tuple[str, ...]
    differs: tuple[str, ...]
    open: tuple[str, ...]
    foreign: tuple[str, ...]
    designs: tuple[str, ...]


def first_looks(
    catalogue: Catalogue,
    readings: Mapping[str, Answer],
    tells: Mapping[str, Answer] | None = None,
    options: Options | None = None,
) -> tuple[Look, ...]:
    """Rank the kinds a thing could be.

    Args:
        catalogue: The facts.
        readings: ``{measure: answer}``; a measure key means the same on every kind that has it.
        tells: The same for what was looked at.
        options: What the caller knows better than the defaults.

    Returns:
        The kinds of which at least one measure was answered: first those with most agreeing less differing, then with
        fewest foreign, then with most open, then by key.

    Raises:
        InvalidInput: A measure no kind has, or an answer none of them can have.
    """
    answers = {key: answer for key, answer in {**readings, **(tells or {})}.items() if not is_no_answer(answer)}
    asked = {key: [row for row in catalogue.measures if row.key == key] for key in sorted(answers)}
    read = {key: _read(catalogue, key, rows, answers[key]) for key, rows in asked.items()}
    looks = [_look(catalogue, kind, read, options or Options()) for kind in catalogue.kind.values()]
    return tuple(
        sorted(
            (look for look in looks if look.agrees or look.differs or look.open),
            key=lambda look: (len(look.differs) - len(look.agrees), len(look.foreign), -len(look.open), look.kind),
        )
    )


def _read(catalogue: Catalogue, key: str, rows: list[Measure], answer: Answer) -> dict[str, float | str | None]:
    """The answer as each kind reads it; None where that kind cannot have it."""
    if not rows:
        raise InvalidInput(f"No kind has a measure {key}", "Use a measure's key, such as od_mm.")
    read: dict[str, float | str | None] = {}
    refused: list[InvalidInput] = []
    for row in rows:
        try:
            read[row.kind] = read_answer(row, choices_of(row, catalogue.designs_of_kind.get(row.kind, ())), answer)
        except InvalidInput as error:
            refused.append(error)
            read[row.kind] = None
    if len(refused) == len(rows):
        raise refused[0]
    return read


def _look(
    catalogue: Catalogue, kind: Kind, read: Mapping[str, Mapping[str, float | str | None]], options: Options
) -> Look:
    questions = questions_of(catalogue, kind.key, options)
    agrees: list[str] = []
    differs: list[str] = []
    unrecorded: list[str] = []
    foreign: list[str] = []
    designs = [design.key for design in catalogue.designs_of_kind.get(kind.key, ())]
    for key, by_kind in read.items():
        answer = by_kind.get(kind.key)
        if kind.key not in by_kind:
            foreign.append(key)
        elif answer is None:
            differs.append(key)
        elif key not in questions:
            unrecorded.append(key)
        else:
            shapes = _agreeing(questions[key], answer)
            (agrees if shapes else differs).append(key)
            designs = [design for design in designs if questions[key].shape_of.get(design) in {None, *shapes}]
    return Look(kind.key, tuple(agrees), tuple(differs), tuple(unrecorded), tuple(foreign), tuple(designs))


def _agreeing(question: Question, answer: float | str) -> set[int]:
    """The shapes an answer agrees with; a size agrees within its error and usual wear."""
    if isinstance(question, WordQuestion):
        return {at for at, word in enumerate(question.words, 1) if word == answer}
    return {at for at in range(1, question.shapes) if _near(question, at, float(answer))}


def _near(question: NumberQuestion, shape: int, reading: float) -> bool:
    bump = question.bumps[shape - 1]
    away = reading - bump.mean
    room = AGREES_WITHIN * bump.sigma
    worn = room + USUAL_WEARS * bump.wear
    below = worn if bump.side.value in {-1, 2} else room
    above = worn if bump.side.value in {1, 2} else room
    return -below <= away <= above
