"""What people call a thing, in one line; the same on screens, labels and in answers."""

from __future__ import annotations

from collections.abc import Iterable

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Lot, Machine
from stash.fit.intervals import Interval
from stash.fit.wording import design_name
from stash.plan.facts import Stock


def kind_name(catalogue: Catalogue, kind: str) -> str:
    """Return a kind's name, its key when it has none."""
    known = catalogue.kind.get(kind)
    return known.name if known else kind


def lot_title(catalogue: Catalogue, lot: Lot) -> str:
    """Return what a lot is: its design's name, or its kind as not identified."""
    if lot.design:
        return design_name(catalogue, lot.design)
    return f"{kind_name(catalogue, lot.kind)}, not identified"


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its noun: ``1 lot``, ``2 lots``."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def how_many(lot: Lot) -> str:
    """Return a lot's quantity, "about" in front where nobody counted it exactly: ``about 40``."""
    return f"about {lot.quantity}" if lot.about and lot.quantity else str(lot.quantity)


def model_title(catalogue: Catalogue, key: str) -> str:
    """Return a model with its maker: ``Fennaby Kittle``."""
    model = catalogue.model[key]
    maker = catalogue.maker.get(model.maker)
    return f"{maker.name} {model.name}" if maker else model.name


def machine_title(catalogue: Catalogue, machine: Machine) -> str:
    """Return a machine with its year: ``Fennaby Kittle, 1968``."""
    title = model_title(catalogue, machine.model)
    return f"{title}, {machine.year}" if machine.year else title


def place_path(stock: Stock, code: str) -> str:
    """Return a place with what it is inside, outermost first: ``Workshop > Shelf A > A1``; "" for none."""
    names: list[str] = []
    seen: set[str] = set()
    while code and code in stock.places and code not in seen:
        seen.add(code)
        names.append(stock.places[code].name)
        code = stock.places[code].inside
    return " \u203a ".join(reversed(names))


def value_text(catalogue: Catalogue, kind: str, measure: str, value: Interval | str) -> str:
    """Return a measured value with its name and unit: ``pin bore 12 mm``."""
    known = catalogue.measure.get((kind, measure))
    name = known.name if known else measure
    unit = f" {known.unit}" if known and known.unit and isinstance(value, Interval) else ""
    return f"{name} {value}{unit}"


def sentence_list(items: Iterable[str], last: str = "and") -> str:
    """Join words as in a sentence: ``a, b and c``."""
    words = list(items)
    if len(words) < 2:  # noqa: PLR2004 - one word needs no joining
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
