"""The words people use for columns and kinds of parts, in six languages, from the CSV files beside this module.

Source: common practice, no source.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections import defaultdict
from functools import cache
from pathlib import Path

_HERE = Path(__file__).parent
_SHORTEST_PLURAL = 4


def plain(text: str) -> str:
    """Return a text as words are compared: no case, accents or punctuation, one space between words."""
    return " ".join(_letters(text))


def word_list(text: str) -> tuple[str, ...]:
    """Return a text's words as kinds and designs are compared: as ``plain``, without a plural s, digits apart.

    ``bearings 6203/C3`` becomes ``bearing``, ``6203``, ``c3``.
    """
    return tuple(_singular(word) for word in _letters(text))


def _letters(text: str) -> list[str]:
    folded = unicodedata.normalize("NFKD", text.casefold().replace("\u00df", "ss"))
    bare = "".join(each for each in folded if not unicodedata.combining(each))
    return re.findall(r"\d+[.,]\d+|[^\W_]+", bare)


def _singular(word: str) -> str:
    ends = len(word) >= _SHORTEST_PLURAL and word.endswith("s") and not word.endswith("ss")
    return word[:-1] if ends and word.isalpha() else word


@cache
def header_words() -> dict[str, tuple[str, ...]]:
    """Return ``{field: words people head such a column with}``."""
    return {row["field"]: _all_words(row, "field") for row in _rows("header_words.csv")}


@cache
def kind_words() -> dict[tuple[str, ...], frozenset[str]]:
    """Return ``{words of a phrase: kinds it may mean}``."""
    found: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for row in _rows("kind_words.csv"):
        for phrase in _all_words(row, "kind"):
            found[word_list(phrase)].add(row["kind"])
    return {phrase: frozenset(kinds) for phrase, kinds in found.items()}


@cache
def part_nouns() -> frozenset[str]:
    """Return words that name a part of their own, so that ``clutch spring`` is not taken for a clutch."""
    extra = {word_list(word)[-1] for row in _rows("head_words.csv") for word in row["words"].split(";")}
    return frozenset(extra | {phrase[-1] for phrase in kind_words()})


def _rows(name: str) -> list[dict[str, str]]:
    with (_HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _all_words(row: dict[str, str], but: str) -> tuple[str, ...]:
    cells = (cell for name, cell in row.items() if name != but)
    return tuple(dict.fromkeys(word.strip() for cell in cells for word in cell.split(";") if word.strip()))
