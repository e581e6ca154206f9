"""What a row is: its kind and design, by number, by words, and by what was answered about them.

Nothing doubtful is set: it becomes a question with offers, and the row stays an unidentified lot until it is answered.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from stash.exchange.flat.vocabulary import plain
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Number
from stash.fit.wording import design_name
from stash.kernel.numbers import canonical_number
from stash.services.flat_asking import Asking
from stash.services.flat_designs import MOST_OFFERS, DesignFinder
from stash.services.flat_facts import Doubt, Offer
from stash.services.flat_kinds import KindFinder, KindGuess
from stash.services.titles import kind_name

UNKNOWN_KIND = ("unknown_thing", "unknown thing")
"""``(key, name)`` of the kind of what nobody knows."""
_SEVERAL = re.compile(r"\s+/\s+|[,;]\s*|\s+or\s+|\s+oder\s+")


class Texts(NamedTuple):
    """What a row says about what it is."""

    what: str = ""
    kind: str = ""
    design: str = ""
    number: str = ""
    maker: str = ""


@dataclass(frozen=True, slots=True)
class Identity:
    """What a row is taken for.

    Args:
        kind: Kind key; of a new kind where ``new_kind`` says its name.
        design: Design key, "" for not identified.
        title: What people call it.
        new_kind: The name of a kind that is to be made, "" for none.
        doubts: What is doubtful.
        offers: Designs it may be.
    """

    kind: str
    design: str
    title: str
    new_kind: str = ""
    doubts: tuple[Doubt, ...] = ()
    offers: tuple[Offer, ...] = ()


class _Said(NamedTuple):
    """What one source says: a design, kinds, a kind to be made, doubts and offers."""

    design: str = ""
    kinds: tuple[str, ...] = ()
    sure: bool = False
    new_kind: str = ""
    doubts: tuple[Doubt, ...] = ()
    offers: tuple[Offer, ...] = ()


class Identifier:
    """Identifies rows of one sheet; equal texts are looked at once.

    Args:
        catalogue: The facts.
        kinds: Finds kinds.
        designs: Finds designs.
        asking: Takes the questions.
    """

    def __init__(self, catalogue: Catalogue, kinds: KindFinder, designs: DesignFinder, asking: Asking) -> None:
        self._catalogue = catalogue
        self._kinds = kinds
        self._designs = designs
        self._asking = asking
        self._known: dict[Texts, Identity] = {}

    def identify(self, texts: Texts) -> Identity:
        """Return what a row with these texts is."""
        if texts not in self._known:
            self._known[texts] = self._identify(texts)
        return self._known[texts]

    def _identify(self, texts: Texts) -> Identity:
        own = self._designs.by_key(texts.design) if texts.design else ""
        number = _Said(own) if own else self._by_number(texts.number, texts.maker)
        words = self._by_words(texts, number.design)
        doubts = list(number.doubts) + list(words.doubts)
        if texts.design and not own:
            doubts.append(Doubt("design", f"{texts.design!r} is no design we know: kept in the note"))
        design = number.design or words.design
        clash = self._clash(texts, number, words)
        if clash is not None:
            doubts.append(clash)
            said = self._asking.answer(clash.question)
            design = {"number": number.design, "what": words.design}.get(said, "")
        kind = self._kind(design, words)
        if not kind and not doubts:
            doubts.append(Doubt("what", "nothing says what it is", "row"))
        if words.new_kind and not design:
            return Identity(kind, "", words.new_kind, words.new_kind, tuple(doubts))
        offers = () if design else (number.offers + words.offers)[:MOST_OFFERS]
        return self._identity(kind, design, doubts, offers)

    def _identity(self, kind: str, design: str, doubts: Sequence[Doubt], offers: tuple[Offer, ...]) -> Identity:
        if design:
            return Identity(kind, design, design_name(self._catalogue, design), doubts=tuple(doubts))
        if not kind:
            key, name = UNKNOWN_KIND
            new = "" if key in self._catalogue.kind else name
            return Identity(key, "", name, new, tuple(doubts), offers)
        return Identity(kind, "", f"{kind_name(self._catalogue, kind)}, not identified", "", tuple(doubts), offers)

    def _kind(self, design: str, words: _Said) -> str:
        if design:
            return self._catalogue.design[design].kind
        if words.new_kind:
            return new_key(words.new_kind)
        return words.kinds[0] if words.sure else ""

    def _clash(self, texts: Texts, number: _Said, words: _Said) -> Doubt | None:
        """Ask when the number and the words name different things."""
        if not number.design or not (words.kinds or words.design):
            return None
        kind = self._catalogue.design[number.design].kind
        if (not words.kinds or kind in words.kinds) and words.design in {"", number.design}:
            return None
        key = f"clash:{canonical_number(texts.number or texts.design)}:{plain(texts.what or texts.kind)}"
        named = design_name(self._catalogue, number.design)
        said = texts.what or texts.kind
        text = f"The number is that of {named}, but the row says {said!r}"
        fits = self._designs.fits(number.design)
        offers = (Offer("number", named, "go by the number", fits), Offer("what", said, "go by the words"))
        answered = self._asking.answer(key) in {"number", "what"}
        self._asking.ask(key, f"{text}. Which is right?", offers, answered=answered)
        return Doubt("number", text, key)

    def _by_number(self, text: str, maker_text: str) -> _Said:
        if not canonical_number(text):
            return _Said()
        maker = self._designs.maker(maker_text) if maker_text else ""
        key = f"number:{canonical_number(text)}" + (f"@{maker}" if maker else "")
        answer = self._answered_design(key)
        return _Said(answer) if answer is not None else self._numbered(key, text, maker)

    def _numbered(self, key: str, text: str, maker: str) -> _Said:
        rows = self._designs.named(text, maker)
        designs = dict.fromkeys(row.design for row in rows if row.design)
        if len(designs) == 1:
            return _Said(next(iter(designs)), doubts=self._written(text, rows))
        if designs:
            said = " and ".join(f"{self._maker(row)} ({design_name(self._catalogue, row.design)})" for row in rows)
            return self._asked(key, f"{text!r} is a number of {said}", [(row, "one of them") for row in rows])
        if rows:
            return _Said(doubts=(Doubt("number", f"{text!r} is a known number, but of no design we know"),))
        pieces = [piece for piece in _SEVERAL.split(text) if canonical_number(piece)]
        found = {row.design for piece in pieces for row in self._designs.named(piece, maker) if row.design}
        near = self._designs.near(text)
        if len(found) == 1:
            return _Said(found.pop(), doubts=(Doubt("number", f"{text!r} holds several numbers of one design"),))
        if near:
            return self._asked(key, f"{text!r} is no number we know, but near {_listed(near)}", near)
        return _Said(doubts=(Doubt("number", f"{text!r} is no number we know: kept as seen"),))

    def _answered_design(self, key: str) -> str | None:
        """Return the design answered, "" for none of them, None where nobody answered or it is gone."""
        answer = self._asking.answer(key)
        if answer == "none":
            self._asking.ask(key, "Which number is it?", (Offer("none", "none of them"),))
            return ""
        design = answer.removeprefix("design:")
        if answer.startswith("design:") and design in self._catalogue.design:
            self._asking.ask(key, "Which number is it?", (self._designs.offer(design, "as answered"),))
            return design
        return None

    def _asked(self, key: str, text: str, near: Sequence[tuple[Number, str]]) -> _Said:
        offers = tuple(
            self._designs.offer(row.design, f"{row.number} of {self._maker(row)}: {why}") for row, why in near
        )
        none = Offer("none", "none of them", "keep it as not identified")
        self._asking.ask(key, f"{text}. Which is it?", (*offers, none), answered=False)
        return _Said(doubts=(Doubt("number", text, key),), offers=offers)

    def _written(self, text: str, rows: Sequence[Number]) -> tuple[Doubt, ...]:
        if any(row.number == text for row in rows):
            return ()
        return (Doubt("number", f"{text!r} is {rows[0].number} of {self._maker(rows[0])}"),)

    def _maker(self, row: Number) -> str:
        known = self._catalogue.maker.get(row.maker)
        return known.name if known else row.maker

    def _by_words(self, texts: Texts, numbered: str) -> _Said:
        given = self._kinds.find(texts.kind) if texts.kind else KindGuess()
        if texts.kind in self._catalogue.kind:
            given = KindGuess((texts.kind,), sure=True)
        key = f"what:{plain(texts.what or texts.kind)}"
        answered = self._answered_words(key)
        if answered is not None:
            return answered
        guess = self._kinds.find(texts.what)
        kinds = given.kinds if given.sure else guess.kinds
        sure = given.sure or guess.sure
        design, certain = self._designs.by_words(texts.what, kinds) if texts.what else ("", False)
        if design and certain:
            return _Said(design, (self._catalogue.design[design].kind,), sure=True, doubts=self._spelt(texts, guess))
        offers = tuple(
            self._designs.offer(each, f"its name has {texts.what!r} in it")
            for each in self._designs.candidates(texts.what, kinds)[:MOST_OFFERS]
        )
        if sure or numbered:
            return _Said("", kinds, sure, doubts=self._spelt(texts, guess) if sure else (), offers=offers)
        if not (texts.what or texts.kind):
            return _Said()
        return self._ask_words(key, texts.what or texts.kind, kinds, offers)

    def _ask_words(self, key: str, said: str, kinds: Sequence[str], offers: tuple[Offer, ...]) -> _Said:
        text = f"{said!r} may be {' or '.join(kind_name(self._catalogue, kind) for kind in kinds)}"
        if not kinds:
            text = f"{said!r} is no kind of part we know"
        choices = tuple(Offer(f"kind:{kind}", kind_name(self._catalogue, kind), "by its words") for kind in kinds)
        new = Offer(f"new:{said}", said, "make it a kind of its own")
        none = Offer("none", UNKNOWN_KIND[1], "keep it as not known")
        self._asking.ask(key, f"{text}. What is it?", (*choices, *offers, new, none), answered=False, free=True)
        return _Said("", tuple(kinds), doubts=(Doubt("what", text, key),), offers=offers)

    def _answered_words(self, key: str) -> _Said | None:
        answer = self._asking.answer(key)
        how, _, value = answer.partition(":")
        said: _Said | None = None
        if how == "kind" and value in self._catalogue.kind:
            said = _Said(kinds=(value,), sure=True)
        elif how == "design" and value in self._catalogue.design:
            said = _Said(value, (self._catalogue.design[value].kind,), sure=True)
        elif how == "new" and new_key(value):
            known = new_key(value) in self._catalogue.kind
            said = _Said(kinds=(new_key(value),), sure=True, new_kind="" if known else value.strip())
        elif how == "none":
            said = _Said()._replace(doubts=(Doubt("what", "not known what it is, as answered"),))
        elif new_key(answer):
            said = self._typed_kind(answer)
        if said is not None:
            self._asking.ask(key, "What is it?", free=True)
        return said

    def _typed_kind(self, text: str) -> _Said:
        """Return the kind somebody typed by its key or name, a new one where there is none of that name."""
        wanted = plain(text)
        known = [row.key for row in self._catalogue.kind.values() if wanted in {plain(row.key), plain(row.name)}]
        new = "" if known or new_key(text) in self._catalogue.kind else text.strip()
        return _Said(kinds=(known[0] if known else new_key(text),), sure=True, new_kind=new)

    def _spelt(self, texts: Texts, guess: KindGuess) -> tuple[Doubt, ...]:
        if not guess.spelt:
            return ()
        return (Doubt("what", f"{texts.what!r} is taken for {kind_name(self._catalogue, guess.kinds[0])}"),)


def new_key(name: str) -> str:
    """Return the key a kind of that name gets, "" where nothing is left of it."""
    return plain(name).replace(" ", "_").replace(",", "").strip("_.")[:80]


def _listed(near: Sequence[tuple[Number, str]]) -> str:
    return " or ".join(dict.fromkeys(row.number for row, _ in near))
