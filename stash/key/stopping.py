"""What to ask next, and when it is enough."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from stash.key.belief import NONE, Belief
from stash.key.information import expected_bits
from stash.key.options import CLEAR_AT, CLEAR_AT_CRITICAL, LEAST_BITS, NONE_AT_MOST, NONE_LEADS_AT
from stash.key.questions import Question, effort_s, is_instrument

Stop = Literal["clear", "tie", "none"]
"""Why the questions end: one design is clear, nothing left would help, or "none of these" leads."""


@dataclass(frozen=True, slots=True)
class Ask:
    """A question worth weighing.

    Args:
        measure: The measure's key.
        bits: The information its answer is expected to give.
        effort_s: The seconds it takes.
    """

    measure: str
    bits: float
    effort_s: float

    @property
    def bits_per_s(self) -> float:
        """What it is worth."""
        return self.bits / self.effort_s


def ranked_questions(belief: Belief, questions: Mapping[str, Question], answered: Collection[str]) -> tuple[Ask, ...]:
    """Return the questions not answered yet, most information per second first.

    Args:
        belief: What is believed now.
        questions: ``{measure: question}``.
        answered: Measures not to ask again.
    """
    asks = [
        Ask(key, expected_bits(belief, question), effort_s(question.measure))
        for key, question in questions.items()
        if key not in answered
    ]
    return tuple(sorted(asks, key=lambda ask: (-ask.bits_per_s, ask.effort_s, ask.measure)))


def leader(belief: Belief) -> str:
    """Return the likeliest design, ``NONE`` when there is no design; the first by key among equals."""
    return next(iter(belief.ranking), NONE)


def settle(
    belief: Belief,
    questions: Mapping[str, Question],
    answered: Collection[str],
    asks: Sequence[Ask],
    *,
    critical: bool,
) -> tuple[Stop | None, Ask | None]:
    """Tell whether it is enough, and what to ask if not.

    Args:
        belief: What is believed now.
        questions: ``{measure: question}``.
        answered: Measures answered.
        asks: The questions left, best first.
        critical: The kind is safety-critical: surer, and with an instrument reading of the design that leads.

    Returns:
        The reason to stop and None, or None and the next question.
    """
    if belief.of(NONE) > NONE_LEADS_AT:
        return "none", None
    top = leader(belief)
    sure = belief.of(top) >= (CLEAR_AT_CRITICAL if critical else CLEAR_AT) and belief.of(NONE) <= NONE_AT_MOST
    if sure and (not critical or has_instrument_reading(questions, answered, top)):
        return "clear", None
    if sure:
        return _confirm(questions, asks, top)
    if max((ask.bits for ask in asks), default=0.0) < LEAST_BITS:
        return "tie", None
    return None, asks[0]


def has_instrument_reading(questions: Mapping[str, Question], answered: Collection[str], design: str) -> bool:
    """Tell whether the design was read with an instrument, where it has a size on record."""
    return any(
        is_instrument(questions[key].measure) and design in questions[key].shape_of
        for key in answered
        if key in questions
    )


def _confirm(questions: Mapping[str, Question], asks: Sequence[Ask], top: str) -> tuple[Stop | None, Ask | None]:
    """A safety-critical part told by looks alone: the best instrument reading to confirm it, if there is one."""
    for ask in asks:
        if has_instrument_reading(questions, (ask.measure,), top):
            return None, ask
    return "tie", None
