"""Which design a part number or a few words name, and what it would fit if it were that one.

A design is set only when one single design is named; everything else is an offer.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from itertools import islice

from stash.exchange.flat.vocabulary import kind_words, plain, word_list
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design
from stash.fit.facts import Number
from stash.fit.intervals import Interval, Known
from stash.fit.wording import design_name
from stash.kernel.exact import MICRO
from stash.kernel.numbers import canonical_number, lookalike_number
from stash.services.flat_facts import Offer
from stash.services.gaps import SharedJudge
from stash.services.uses import models_by_verdict

MOST_OFFERS = 6
_MOST_JUDGED = 300
"""Designs whose consequences are worked out for one sheet; the others are offered without. Source: project decision."""
_START = 5
"""Characters of a number that is cut short, at least. Source: project decision."""
_SPECIFIC = 4
"""Characters of a word with a digit that names a design by itself, at least: 6202, not 12."""
OFF = Decimal("0.01")
"""How far a size may lie from its design's, as a share, before it speaks against it. Source: project decision."""
_LIKELY = ("bolts_on", "with_companions", "with_work", "likely", "disputed")


class DesignFinder:
    """Finds designs of one catalogue.

    Args:
        catalogue: The facts.
        judge: Answers what a design would fit.
    """

    def __init__(self, catalogue: Catalogue, judge: SharedJudge) -> None:
        self.catalogue = catalogue
        self._judge = judge
        self._fits: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {}
        self._lookalikes: dict[str, list[str]] = defaultdict(list)
        for canonical in catalogue.numbers_by_text:
            self._lookalikes[lookalike_number(canonical)].append(canonical)
        self._words = {design.key: self._words_of(design.key, design.name) for design in catalogue.design.values()}
        self._names: dict[tuple[str, ...], set[str]] = defaultdict(set)
        self._by_word: dict[str, set[str]] = defaultdict(set)
        for key, words in self._words.items():
            self._names[tuple(sorted(word_list(catalogue.design[key].name)))].add(key)
            for word in words:
                self._by_word[word].add(key)
        self._common = frozenset(word for phrase in kind_words() for word in phrase)

    def _words_of(self, key: str, name: str) -> frozenset[str]:
        return frozenset((*word_list(name), *word_list(key)))

    def maker(self, text: str) -> str:
        """Return the maker a cell names by key or name, "" for none."""
        wanted = plain(text)
        return next((row.key for row in self.catalogue.makers if wanted in {plain(row.key), plain(row.name)}), "")

    def named(self, text: str, maker: str = "") -> tuple[Number, ...]:
        """Return the numbers a cell names exactly, whatever its dashes; of one maker where that is known."""
        rows = self.catalogue.numbers_by_text.get(canonical_number(text), ())
        return tuple(row for row in rows if not maker or row.maker == maker)

    def near(self, text: str) -> tuple[tuple[Number, str], ...]:
        """Return numbers that are misread or cut short, each with why; none when the text names one exactly."""
        wanted = canonical_number(text)
        if not wanted:
            return ()
        alike = [(each, "reads alike") for each in self._lookalikes.get(lookalike_number(text), ()) if each != wanted]
        if not alike and len(wanted) >= _START and any(letter.isdigit() for letter in wanted):
            longer = (each for each in self.catalogue.numbers_by_text if wanted in each and each != wanted)
            alike = [(each, "has more to it") for each in islice(longer, MOST_OFFERS)]
        return tuple((row, why) for each, why in alike for row in self.catalogue.numbers_by_text[each] if row.design)[
            :MOST_OFFERS
        ]

    def by_key(self, text: str) -> str:
        """Return the design a cell names by its key or its whole name, "" for none or several."""
        if text in self.catalogue.design:
            return text
        found = self._names.get(tuple(sorted(word_list(text))), set()) if text.strip() else set()
        return next(iter(found)) if len(found) == 1 else ""

    def by_words(self, text: str, kinds: Sequence[str]) -> tuple[str, bool]:
        """Return the design that words name, and whether that is sure.

        Sure is the whole name and nothing else, or a word of its own such as a bearing's number that no other design
        has, where every word but the kind's agrees.

        Args:
            text: The words.
            kinds: Kinds they may mean; none for any.
        """
        words = word_list(text)
        whole = self._in_kinds(self._names.get(tuple(sorted(words)), set()), kinds)
        if len(whole) == 1:
            return next(iter(whole)), True
        telling = [word for word in words if word not in self._common]
        own = [word for word in telling if len(word) >= _SPECIFIC and any(letter.isdigit() for letter in word)]
        found = self._having(telling, kinds)
        if len(found) == 1 and own:
            return next(iter(found)), True
        exact = {key for key in found if self._words[key] - self._common == set(telling)}
        return (next(iter(exact)), False) if len(exact) == 1 and own else ("", False)

    def candidates(self, text: str, kinds: Sequence[str]) -> tuple[str, ...]:
        """Return designs whose names hold every word with a digit, in order of key; none when there is no such word."""
        telling = [word for word in word_list(text) if any(letter.isdigit() for letter in word)]
        return tuple(sorted(self._having(telling, kinds)))

    def _having(self, words: Iterable[str], kinds: Sequence[str]) -> set[str]:
        groups = [self._by_word.get(word, set()) for word in words]
        return self._in_kinds(set.intersection(*groups), kinds) if groups else set()

    def _in_kinds(self, keys: set[str], kinds: Sequence[str]) -> set[str]:
        return {key for key in keys if not kinds or self.catalogue.design[key].kind in kinds}

    def possible(self, kind: str, measures: Mapping[str, str], size: str, machine: str) -> tuple[Offer, ...]:
        """Return designs of a kind that agree with sizes and with what a model left the factory with.

        Args:
            kind: The kind.
            measures: ``{measure key: value text}``.
            size: The sizes as written, which may be part of a design's name where the kind is not known.
            machine: What it came off, in words; a model's name is looked for in them.

        Returns:
            Offers; none where nothing narrows them down, or not enough.
        """
        designs = {row.key for row in self.catalogue.designs_of_kind.get(kind, ())}
        why = []
        if measures:
            designs, why = {key for key in designs if self._agrees(key, measures)}, ["by its sizes"]
        elif not designs and size:
            designs, why = set(self.candidates(size, ())), ["by its sizes"]
        model = self.model(machine)
        stock = self._stock(model, kind) & designs if model else set()
        if stock:
            designs = stock
            why.append(f"the {self.catalogue.model[model].name} came with it")
        if not why or len(designs) > MOST_OFFERS:
            return ()
        return tuple(self.offer(key, ", ".join(why)) for key in sorted(designs))

    def model(self, text: str) -> str:
        """Return the one model whose whole name stands in some words, the longest such name; "" for none."""
        words = word_list(text)
        found = [
            (len(name), row.key)
            for row in self.catalogue.model.values()
            for name in (word_list(row.name),)
            if name and any(words[at : at + len(name)] == name for at in range(len(words)))
        ]
        longest = [key for size, key in found if size == max(size for size, _ in found)]
        return longest[0] if len(longest) == 1 else ""

    def _agrees(self, design: str, measures: Mapping[str, str]) -> bool:
        known = self.catalogue.design[design].values
        return all(agrees(text, known.get(key)) for key, text in measures.items())

    def _stock(self, model: str, kind: str) -> set[str]:
        positions = self.catalogue.positions_of_kind[model].get(kind, ())
        rows = self.catalogue.stock_rows[model]
        return {row.design for position in positions for row in rows.get(position, ())}

    def offer(self, design: str, why: str) -> Offer:
        """Return a design as an offer, with what it would fit."""
        return Offer(f"design:{design}", design_name(self.catalogue, design), why, self.fits(design))

    def fits(self, design: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return ``(verdict, models)`` of a design, best first; a model by its best position and worst year."""
        if design not in self._fits:
            if len(self._fits) >= _MOST_JUDGED:
                return ()
            self._fits[design] = self._judged(design)
        return self._fits[design]

    def _judged(self, design: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
        part = part_of_design(self.catalogue.design[design])
        groups, _ = models_by_verdict(self.catalogue, self._judge, part)
        return tuple((verdict, groups[verdict]) for verdict in _LIKELY if verdict in groups)


def agrees(text: str, expected: Known | None) -> bool:
    """Tell whether a measured value may be a design's: as near as a caliper in a hurry, or nothing to compare with."""
    if not isinstance(expected, Interval):
        return True
    micro = Decimal(text) * MICRO
    return expected.low_u * (1 - OFF) <= micro <= expected.high_u * (1 + OFF)
