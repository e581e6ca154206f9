"""Which measures of a kind the sizes in a cell are: only where there is exactly one way to read them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from stash.exchange.flat.sizes import Sizes, read_sizes
from stash.exchange.flat.vocabulary import word_list
from stash.exchange.flat.words import Conventions
from stash.fit.catalogue import Catalogue
from stash.fit.intervals import Interval
from stash.kernel.cells import Fault
from stash.kernel.exact import decimal_text
from stash.kernel.measured import read_measured
from stash.services.flat_designs import agrees

_SLACK = Decimal("0.03")
"""How far outside what is known of a kind a size may lie and still be that measure, as a share of it: worn, oversize
or roughly measured. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Placed:
    """What the sizes in a cell are.

    Args:
        values: ``{measure key: value text}``; none unless all of the cell is understood.
        doubt: Why they stay in the note, or what is odd about them; "" for nothing.
        asks: It needs an answer rather than being a remark.
    """

    values: Mapping[str, str] = field(default_factory=dict)
    doubt: str = ""
    asks: bool = False


class SizeFinder:
    """Places sizes for one catalogue.

    Args:
        catalogue: The facts.
        conventions: How the sheet writes numbers.
    """

    def __init__(self, catalogue: Catalogue, conventions: Conventions) -> None:
        self._catalogue = catalogue
        self._conventions = conventions
        self._spread: dict[tuple[str, str], tuple[Decimal, Decimal]] = {}
        for design in catalogue.design.values():
            for measure, value in design.values.items():
                if isinstance(value, Interval):
                    self._widen((design.kind, measure), value)

    def _widen(self, key: tuple[str, str], value: Interval) -> None:
        low, high = Decimal(value.low_u) / 1_000_000, Decimal(value.high_u) / 1_000_000
        before = self._spread.get(key, (low, high))
        self._spread[key] = (min(low, before[0]), max(high, before[1]))

    def place(self, kind: str, design: str, text: str, header: str = "") -> Placed:
        """Tell which measures a cell's sizes are.

        Args:
            kind: The kind's key; "" when not known.
            design: The design's key, "" when not known.
            text: The cell.
            header: Its column's header, which may name the measure.
        """
        sizes = read_sizes(text, self._conventions)
        if not text:
            return Placed()
        if not sizes.mm:
            return Placed(doubt=f"{text!r} is kept in the note: it is no plain size")
        named = self._named(kind, sizes, header) if len(sizes.mm) == 1 else ""
        if sizes.words and not named:
            return Placed(doubt=f"{text!r} is kept in the note: {sizes.words!r} is not understood")
        keys = [named] if named else self._only_reading(kind, sizes.mm)
        if not keys:
            return Placed(doubt=f"{text!r} is kept in the note: it could be more than one measure, or none we know")
        return self._checked(kind, design, dict(zip(keys, sizes.mm, strict=True)), sizes, text)

    def _named(self, kind: str, sizes: Sizes, header: str) -> str:
        """Return the one measure that the cell's words or its header name, "" for none or several.

        ``stud hole spacing 40`` names one; so does ``studs 40`` where only one measure of the kind speaks of studs.
        """
        said, around = set(word_list(sizes.words)), set(word_list(f"{sizes.words} {header}"))
        names = {key: set(word_list(name)) for key, name in self._measures(kind).items()}
        whole = [key for key, name in names.items() if name and name <= around]
        part = [key for key, name in names.items() if said and said <= name]
        found = whole or [key for key in part if self._can_be(kind, key, sizes.mm[0])]
        return found[0] if len(found) == 1 else ""

    def _only_reading(self, kind: str, sizes: Sequence[Decimal]) -> list[str]:
        """Give every size its measure where each has exactly one that it can be, and no two have the same."""
        measures = self._measures(kind)
        readings = [[key for key in measures if self._can_be(kind, key, size)] for size in sizes]
        keys = [found[0] for found in readings if len(found) == 1]
        return keys if len(keys) == len(sizes) == len(set(keys)) else []

    def _measures(self, kind: str) -> dict[str, str]:
        return {
            key: row.name
            for (owner, key), row in self._catalogue.measure.items()
            if owner == kind and row.type == "number" and row.unit == "mm"
        }

    def _can_be(self, kind: str, measure: str, size: Decimal) -> bool:
        spread = self._spread.get((kind, measure))
        return spread is None or spread[0] * (1 - _SLACK) <= size <= spread[1] * (1 + _SLACK)

    def _checked(self, kind: str, design: str, found: dict[str, Decimal], sizes: Sizes, text: str) -> Placed:
        known = self._catalogue.design[design].values if design else {}
        values: dict[str, str] = {}
        odd: list[str] = []
        for key, size in found.items():
            row = self._catalogue.measure[kind, key]
            value = read_measured(row.type, row.choices, row.unit, decimal_text(size))
            if isinstance(value, Fault):
                return Placed(doubt=f"{text!r} is kept in the note: {row.name} {value.problem}")
            values[key] = value
            expected = known.get(key)
            if not agrees(value, expected):
                odd.append(f"{row.name} is {value}, but that design has {expected}")
        if odd:
            return Placed(values, "; ".join(odd), asks=True)
        told = ", ".join(f"{self._catalogue.measure[kind, key].name} {value} mm" for key, value in values.items())
        return Placed(values, f"{text!r} is taken as {told}" if sizes.converted or len(values) > 1 else "")
