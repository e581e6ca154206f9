"""What each label says: the words that still help with no phone and no network."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_lot
from stash.fit.facts import Lot, Machine
from stash.fit.speed import overspeed
from stash.key.lookalikes import mixed, telling_measure
from stash.plan.facts import Place, Stock
from stash.plan.judging import Judge
from stash.services.titles import how_many, lot_title, machine_title, place_path, sentence_list, value_text

if TYPE_CHECKING:
    from labels.text import LabelText

_FITS = frozenset({"bolts_on", "likely"})
_MOST_ORDINAL = 12
"""The highest ordinal the marks have a shape for."""
_NAMED = 4
"""How many models a label names before it says how many more there are."""


def label_texts(
    catalogue: Catalogue, stock: Stock, codes: Sequence[str], address: str, judge: Judge
) -> list[LabelText]:
    """Return what the labels of some things say.

    Args:
        catalogue: The facts.
        stock: What is owned and where it lies.
        codes: Codes of places, machines and lots; each is on something.
        address: Where a scan leads, such as ``HTTP://STASH.LOCAL``.
        judge: Answers what the lots fit.
    """
    return [_text(catalogue, stock, code, f"{address}/Q/{code}", judge) for code in codes]


def generation_mark(catalogue: Catalogue, generation: str) -> str:
    """Return a generation as a letter and its ordinal, such as ``A2``; "" when there is none.

    The letter is the family's own where its name ends in one ("engine A"), else the first of its name.
    """
    era = catalogue.generation.get(generation)
    if era is None or era.ordinal > _MOST_ORDINAL:
        return ""
    name = catalogue.family[era.family].name
    last = name.split()[-1]
    letter = last if len(last) == 1 and last.isalpha() else next((each for each in name if each.isalpha()), "")
    return f"{letter.upper()}{era.ordinal}" if letter else ""


def _text(catalogue: Catalogue, stock: Stock, code: str, address: str, judge: Judge) -> LabelText:
    if code in stock.lots:
        return _lot(catalogue, stock.lots[code], address, judge)
    if code in stock.machines:
        return _machine(catalogue, stock.machines[code], address)
    return _place(catalogue, stock, stock.places[code], address)


def _lot(catalogue: Catalogue, lot: Lot, address: str, judge: Judge) -> LabelText:
    from labels.text import LabelText

    fits, fits_not = _goes_on(catalogue, lot, judge)
    design = catalogue.design.get(lot.design)
    return LabelText(
        code=lot.code,
        address=address,
        title=lot_title(catalogue, lot),
        discriminator=_discriminator(catalogue, lot),
        fits=fits,
        fits_not=fits_not,
        mark=generation_mark(catalogue, design.generation) if design else "",
        quantity=f"{how_many(lot)} pc" if lot.quantity == 1 else f"{how_many(lot)} pcs",
        counted=lot.counted_on,
    )


def _machine(catalogue: Catalogue, machine: Machine, address: str) -> LabelText:
    from labels.text import LabelText

    return LabelText(
        code=machine.code,
        address=address,
        title=machine_title(catalogue, machine),
        discriminator=f"No. {machine.serial}" if machine.serial else "",
        mark=generation_mark(catalogue, catalogue.model[machine.model].generation),
        quantity=machine.state,
    )


def _place(catalogue: Catalogue, stock: Stock, place: Place, address: str) -> LabelText:
    from labels.text import LabelText

    inside = stock.lots_in.get(place.code, ())
    kinds = sorted({catalogue.kind[lot.kind].name for lot in inside})
    pairs = mixed(catalogue, [lot.design for lot in inside if lot.design])
    tells = sorted({_measure_name(catalogue, one, measure) for one, _, measure in pairs if measure})
    holds = f"Holds {sentence_list(kinds)}." if kinds else ""
    alike = f"Look-alikes: check {sentence_list(tells)}." if tells else ""
    return LabelText(
        code=place.code,
        address=address,
        title=place_path(stock, place.code),
        discriminator=" ".join(each for each in (holds, alike) if each),
        quantity=f"{len(inside)} lot{'s' * (len(inside) > 1)}" if inside else "",
        counted=place.counted_on,
    )


def _measure_name(catalogue: Catalogue, design: str, measure: str) -> str:
    known = catalogue.measure.get((catalogue.design[design].kind, measure))
    return known.name if known else measure


def _discriminator(catalogue: Catalogue, lot: Lot) -> str:
    """The one size or tell that keeps look-alikes apart, as this lot has it."""
    if not lot.design:
        values = [value_text(catalogue, lot.kind, key, value) for key, value in sorted(lot.values.items())]
        return ", ".join(values)
    measure = telling_measure(catalogue, lot.design)
    value = part_of_lot(catalogue, lot).values.get(measure)
    return value_text(catalogue, lot.kind, measure, value) if value is not None else ""


def _goes_on(catalogue: Catalogue, lot: Lot, judge: Judge) -> tuple[str, str]:
    """Models it goes on as it is in all their years, and models it must not go on: won't fit, or runs too fast."""
    part = part_of_lot(catalogue, lot)
    yes: list[str] = []
    no: list[str] = []
    verdicts = judge.on_models(part)
    for model in catalogue.models_with_kind.get(lot.kind, ()):
        if overspeed(catalogue, model, part):
            no.append(catalogue.model[model].name)
            continue
        for position in catalogue.positions_of_kind[model][lot.kind]:
            if set(verdicts[model, position]) <= _FITS:
                yes.append(catalogue.model[model].name)
            elif set(verdicts[model, position]) == {"wont_fit"}:
                no.append(catalogue.model[model].name)
    return _short(yes), _short([name for name in no if name not in yes])


def _short(names: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(names))
    if len(distinct) <= _NAMED:
        return ", ".join(distinct)
    return ", ".join(distinct[: _NAMED - 1]) + f" + {len(distinct) - _NAMED + 1} more"
