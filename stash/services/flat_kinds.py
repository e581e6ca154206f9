"""Which kind of part a few words mean: by the catalogue's own names, and by words for kinds in several languages.

A kind is sure only when nothing in the words speaks against it: ``clutch spring`` is no clutch, ``cylinder and head``
is two things, ``clip`` may be either of two kinds.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from stash.exchange.flat.vocabulary import kind_words, part_nouns, word_list
from stash.fit.catalogue import Catalogue

_CLOSE = 88
"""How alike a misspelt word must be, of 100. Source: project decision."""
_LONG = 6
"""Shorter words have too many neighbours to be taken for misspelt ones."""
Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KindGuess:
    """What words say about the kind.

    Args:
        kinds: The kinds they may mean, in order of key.
        sure: They mean the one kind there is.
        rest: The words that are not part of its name.
        spelt: The name they were taken for where they are spelt another way, else "".
    """

    kinds: tuple[str, ...] = ()
    sure: bool = False
    rest: Words = ()
    spelt: str = ""


class KindFinder:
    """Finds kinds of one catalogue.

    Args:
        catalogue: The facts; only its kinds are ever found.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        found: dict[Words, set[str]] = defaultdict(set)
        for phrase, kinds in kind_words().items():
            found[phrase].update(kinds & set(catalogue.kind))
        for kind in catalogue.kind.values():
            for name in (*kind.name.split(" or "), kind.key.replace("_", " ")):
                found[word_list(name)] = {kind.key}
        self._phrases = {phrase: frozenset(kinds) for phrase, kinds in found.items() if phrase and kinds}
        self._by_word: dict[str, list[Words]] = defaultdict(list)
        for phrase in self._phrases:
            self._by_word[phrase[-1]].append(phrase)
        self._single = {" ".join(phrase): phrase for phrase in self._phrases}
        self._nouns = part_nouns() | {phrase[-1] for phrase in self._phrases}
        self._known: dict[Words, KindGuess] = {}

    def find(self, text: str) -> KindGuess:
        """Return the kind words mean."""
        words = word_list(text)
        if words not in self._known:
            self._known[words] = self._find(words)
        return self._known[words]

    def _find(self, words: Words) -> KindGuess:
        phrases = self._within(words)
        if not phrases:
            return self._misspelt(words)
        best = max(phrases, key=lambda phrase: (len(phrase), sum(map(len, phrase)), phrase))
        rest = _without(words, best)
        others = [phrase for phrase in phrases if not set(phrase) <= set(best) and set(phrase) <= set(rest)]
        kinds = self._phrases[best].union(*(self._phrases[phrase] for phrase in others))
        sure = len(kinds) == 1 and not any(word in self._nouns for word in rest)
        return KindGuess(tuple(sorted(kinds)), sure, rest)

    def _within(self, words: Words) -> list[Words]:
        """Return every name all of whose words are there, in any order: ``cable throttle`` is a throttle cable."""
        present = set(words)
        return [phrase for word in present for phrase in self._by_word.get(word, ()) if present.issuperset(phrase)]

    def _misspelt(self, words: Words) -> KindGuess:
        for size in (2, 1):
            for start in range(len(words) - size + 1):
                piece = " ".join(words[start : start + size])
                if len(piece) < _LONG or not piece.replace(" ", "").isalpha():
                    continue
                near = process.extractOne(piece, self._single.keys(), scorer=fuzz.ratio, score_cutoff=_CLOSE)
                if near:
                    phrase = self._single[near[0]]
                    kinds, rest = self._phrases[phrase], words[:start] + words[start + size :]
                    sure = len(kinds) == 1 and not any(word in self._nouns for word in rest)
                    return KindGuess(tuple(sorted(kinds)), sure, rest, near[0])
        return KindGuess(rest=words)


def _without(words: Words, phrase: Words) -> Words:
    left = list(words)
    for word in phrase:
        left.remove(word)
    return tuple(left)
