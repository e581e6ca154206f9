"""Which design is it: the ranking, the reasons, and the next question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from stash.errors import NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Kind
from stash.key.answers import Answer, read_answers
from stash.key.belief import NONE, Belief, believe, hypotheses_of
from stash.key.options import NONE_AT_MOST, Options
from stash.key.questions import NumberQuestion, Question, questions_of
from stash.key.stopping import Ask, Stop, has_instrument_reading, leader, ranked_questions, settle
from stash.key.tiebreak import TieBreak, contenders, tie_breaks
from stash.key.wording import Contribution, contribution, label, named, stray_text


@dataclass(frozen=True, slots=True)
class Identification:
    """What a thing of one kind is taken for.

    Args:
        kind: The kind's key.
        ranking: ``(design, probability)``, likeliest first, then by key.
        none_of_these: Probability that it is no design on record; with the ranking it sums to 1.
        next: What to ask next, None when the questions end.
        questions: Every question left, most information per second first.
        stop: Why the questions end, None while they don't.
        said: The state of things in one or two sentences.
        why: ``{design: what each answer says about it}``, answers in order of measure.
        tie_breaks: When they end in a tie: what would break it, or why nothing can.
        notes: What else the reader should know: slips, measures nobody has on record, what safety still asks for.
    """

    kind: str
    ranking: tuple[tuple[str, float], ...]
    none_of_these: float
    next: Ask | None
    questions: tuple[Ask, ...]
    stop: Stop | None
    said: str
    why: Mapping[str, tuple[Contribution, ...]]
    tie_breaks: tuple[TieBreak, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Case:
    """Everything one identification looks at."""

    catalogue: Catalogue
    kind: Kind
    questions: Mapping[str, Question]
    answers: Mapping[str, float | str]
    belief: Belief
    names: Mapping[str, str] = field(default_factory=dict)

    def name(self, design: str) -> str:
        return named(self.names, design)

    def what(self, measure: str) -> str:
        return label(self.catalogue.measure[self.kind.key, measure])


def identify(
    catalogue: Catalogue,
    kind: str,
    readings: Mapping[str, Answer],
    tells: Mapping[str, Answer] | None = None,
    options: Options | None = None,
) -> Identification:
    """Tell which design of a kind a thing is, as far as the answers go, and what to ask next.

    Args:
        catalogue: The facts.
        kind: The kind's key.
        readings: ``{measure: number in its unit, or word}``; None, "" or "?" for no answer, which costs nothing.
        tells: The same for what was looked at; it does not matter which of the two an answer comes in.
        options: What the caller knows better than the defaults.

    Returns:
        The identification; the order of answers and of designs never matters.

    Raises:
        NotFound: There is no such kind.
        InvalidInput: An answer to something the kind is not asked, or one it cannot have.
    """
    known = catalogue.kind.get(kind)
    if known is None:
        raise NotFound(f"There is no kind {kind!r}", "Use one of: " + ", ".join(catalogue.kind) + ".")
    chosen = options or Options()
    answers = read_answers(catalogue, kind, readings, tells or {})
    questions = questions_of(catalogue, kind, chosen)
    names = {design.key: design.name for design in catalogue.designs_of_kind.get(kind, ())}
    belief = believe(hypotheses_of(names, chosen), questions, answers)
    return _answer(_Case(catalogue, known, questions, answers, belief, names))


def _answer(case: _Case) -> Identification:
    belief = case.belief
    asks = ranked_questions(belief, case.questions, case.answers)
    stop, ask = settle(belief, case.questions, case.answers, asks, critical=case.kind.safety_critical)
    tied = contenders(belief) if stop == "tie" else ()
    return Identification(
        kind=case.kind.key,
        ranking=tuple((design, belief.of(design)) for design in belief.ranking),
        none_of_these=belief.of(NONE),
        next=ask,
        questions=asks,
        stop=stop,
        said=_said(case, stop, ask),
        why={design: _why(case, design) for design in belief.ranking},
        tie_breaks=tie_breaks(case.names, case.questions, case.answers, tied),
        notes=tuple(_notes(case)),
    )


def _why(case: _Case, design: str) -> tuple[Contribution, ...]:
    return tuple(
        contribution(case.questions[key], design, answer)
        for key, answer in sorted(case.answers.items())
        if key in case.questions
    )


def _said(case: _Case, stop: Stop | None, ask: Ask | None) -> str:
    if not case.names:
        return f"No design of {case.kind.name} is on record yet."
    top = leader(case.belief)
    if stop == "clear":
        return f"{case.name(top)}, {case.belief.of(top):.1%} sure."
    if stop == "none":
        return "None of the designs on record fits: a slip, a part changed by hand, or a design nobody has entered yet."
    if ask is not None:
        return f"Next: {case.what(ask.measure)}, about {ask.effort_s:.0f} s."
    return _tie_said(case)


def _tie_said(case: _Case) -> str:
    tied = contenders(case.belief)
    if len(tied) > 1:
        return (
            "Between " + " and ".join(case.name(design) for design in tied) + ": nothing left to ask tells them apart."
        )
    share = case.belief.of(tied[0])
    return f"Looks like {case.name(tied[0])} ({share:.1%}), but nothing left to ask makes it sure enough."


def _notes(case: _Case) -> list[str]:
    notes: list[str] = []
    for key, answer in sorted(case.answers.items()):
        question = case.questions.get(key)
        if question is None:
            notes.append(f"No design has {case.what(key)} on record: the answer changes nothing")
        elif isinstance(question, NumberQuestion):
            stray = stray_text(question, float(answer))
            notes += [stray] if stray else []
    if (
        case.names
        and case.kind.safety_critical
        and not has_instrument_reading(case.questions, case.answers, leader(case.belief))
    ):
        notes.append(f"{case.kind.name} is safety-critical: looks are not enough, it takes a measurement")
    if case.names and case.answers and case.belief.of(NONE) > NONE_AT_MOST:
        notes.append(f"It may be none of these ({case.belief.of(NONE):.0%})")
    return notes
