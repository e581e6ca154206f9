"""Questions about a sheet, each asked once however many rows it is about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from stash.services.flat_facts import Offer, Question

_ROWS_SHOWN = 20


class Asking:
    """Gathers questions and hands out what was answered.

    Args:
        answers: ``{question: answer}`` given or remembered.
    """

    def __init__(self, answers: Mapping[str, str]) -> None:
        self.answers = dict(answers)
        self._asked: dict[str, Question] = {}
        self._rows: dict[str, list[int]] = {}

    def answer(self, key: str) -> str:
        """Return the answer to a question, "" for none."""
        return self.answers.get(key, "").strip()

    def ask(
        self,
        key: str,
        text: str,
        offers: Sequence[Offer] = (),
        *,
        guess: str = "",
        sure: bool = False,
        answered: bool | None = None,
        free: bool = False,
    ) -> str:
        """Put a question.

        Args:
            key: Its key.
            text: The question.
            offers: What may be answered.
            guess: The answer in force while nobody gave one.
            sure: The guess needs nobody.
            answered: Whether the answer given can be used; None where any can.
            free: Other answers than the offers are understood.

        Returns:
            The answer in force.
        """
        given = self.answer(key) if answered is not False else ""
        answer = given or guess
        self._asked.setdefault(key, Question(key, text, tuple(offers), answer, not given and not sure, (), free))
        return answer

    def touch(self, key: str, row: int) -> None:
        """Note that a question is about a row."""
        rows = self._rows.setdefault(key, [])
        if len(rows) < _ROWS_SHOWN:
            rows.append(row)

    def is_open(self, key: str) -> bool:
        """Whether a question that was put waits for an answer."""
        return key in self._asked and self._asked[key].open

    @property
    def questions(self) -> tuple[Question, ...]:
        """Every question put, open ones first, else in the order they came up."""
        from dataclasses import replace

        whole = [replace(each, rows=tuple(self._rows.get(key, ()))) for key, each in self._asked.items()]
        return tuple(sorted(whole, key=lambda each: not each.open))
