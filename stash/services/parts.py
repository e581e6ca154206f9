"""Finding the part a person means: a lot's code, a design's key, or a part number."""

from __future__ import annotations

from stash.errors import InvalidInput, NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.claims import Part, part_of_design
from stash.fit.facts import Number
from stash.kernel.codes import parse_code
from stash.kernel.numbers import canonical_number, lookalike_number
from stash.plan.facts import Stock
from stash.services.standard_parts import part_named, part_of_loose


def resolve_part(catalogue: Catalogue, stock: Stock, ref: str) -> Part:
    """Return the part a reference names.

    Args:
        catalogue: The facts.
        stock: What lies on the shelf.
        ref: A lot code, a design key, a part number, ``MAKER:NUMBER`` where two makers share one, or a
            standard designation such as ``6203-2RS/C3``.

    Raises:
        NotFound: Nothing goes by that name; the hint offers near misses.
        InvalidInput: The number names different designs of different makers.
    """
    text = ref.strip()
    code = parse_code(text)
    if code is not None and code in stock.lots:
        return part_of_loose(catalogue, stock.lots[code])
    if text in catalogue.design:
        return part_of_design(catalogue.design[text])
    named = [row for row in numbers_like(catalogue, text) if row.design]
    designs = sorted({row.design for row in named})
    if len(designs) == 1:
        return part_of_design(catalogue.design[designs[0]])
    if designs:
        said = " or ".join(f"{row.maker}:{row.number} ({row.design})" for row in named)
        raise InvalidInput(f"{text!r} names different parts of different makers", f"Say which: {said}.")
    standard = part_named(catalogue, text)
    if standard is not None:
        return standard
    raise NotFound(f"No lot, design or number goes by {text!r}", _near(catalogue, text))


def numbers_like(catalogue: Catalogue, text: str) -> tuple[Number, ...]:
    """Return the rows of ``numbers`` a typed number names; ``MAKER:NUMBER`` narrows it to one maker."""
    maker, colon, rest = text.partition(":")
    if colon and maker in catalogue.maker:
        return tuple(row for row in catalogue.numbers_by_text.get(canonical_number(rest), ()) if row.maker == maker)
    return catalogue.numbers_by_text.get(canonical_number(text), ())


def near_numbers(catalogue: Catalogue, text: str) -> tuple[Number, ...]:
    """Return numbers that are misread for the typed one (O for 0, I for 1), without the exact ones."""
    wanted = lookalike_number(text)
    exact = canonical_number(text)
    return tuple(
        row
        for canonical, rows in catalogue.numbers_by_text.items()
        if canonical != exact and wanted and lookalike_number(canonical) == wanted
        for row in rows
    )


def _near(catalogue: Catalogue, text: str) -> str:
    near = near_numbers(catalogue, text)
    if near:
        return "Did you mean " + " or ".join(f"{row.number} of {row.maker}" for row in near) + "?"
    return "Give a lot's code, a design's key or a part number; `stash find` looks for words."
