"""What the part in the hand probably is: the kinds and designs a shelf session offers to press."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from stash.db.store import Store
from stash.errors import InvalidInput
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Lot
from stash.fit.mates import stock_designs
from stash.fit.wording import design_name
from stash.kernel.numbers import canonical_number, lookalike_number
from stash.plan.facts import Stock
from stash.services.identify import identify

CAME_OFF, ADDED_BEFORE, BESIDE, OWNED = 8.0, 3.0, 2.0, 1.0
"""How much likelier a design is that the machine it came off carried, that was added a moment ago, that lies in the
bin already, that is on the shelf at all. Source: project decision."""

_UNLIKELY = 1e-4
"""A share of belief below which a design is not offered. Source: project decision."""


@dataclass(frozen=True, slots=True)
class Hint:
    """What is known around the part in the hand.

    Args:
        kind: The kind chosen, "" for none.
        text: What was typed of its number or name.
        answers: ``{measure: answer text}`` of what was measured or seen on it.
        place: The bin it goes into.
        from_machine: The machine it came off, "" for none.
        before: Lots added in this session, newest first.
    """

    kind: str = ""
    text: str = ""
    answers: Mapping[str, str] = field(default_factory=dict)
    place: str = ""
    from_machine: str = ""
    before: Sequence[Lot] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """One design to press.

    Args:
        design: The design.
        numbers: Its numbers, those that match what was typed first.
    """

    design: Design
    numbers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Offers:
    """What to offer.

    Args:
        offers: Likeliest first.
        more: How many more there are.
        ask: What to measure next to tell them apart, "" when nothing would help.
        problem: What is wrong with an answer, None when nothing.
    """

    offers: tuple[Offer, ...]
    more: int = 0
    ask: str = ""
    problem: InvalidInput | None = None


def offers(store: Store, hint: Hint, most: int = 6) -> Offers:
    """Offer designs for the part in the hand: by what was typed, else by what was measured and what is likely here.

    Args:
        store: The database.
        hint: What is known around it.
        most: How many at most.
    """
    catalogue, stock = store.catalogue(), store.stock()
    likely = _scores(catalogue, stock, hint)
    if hint.text.strip():
        found = _typed(catalogue, hint, likely)
        return Offers(tuple(found[:most]), max(0, len(found) - most))
    if hint.kind not in catalogue.kind:
        return Offers(())
    try:
        told = identify(store, hint.kind, hint.answers)
    except InvalidInput as error:
        return Offers((), problem=error)
    shares = {key: share * (1 + likely[key]) for key, share in told.ranking if share > _UNLIKELY}
    owned: Counter[str] = Counter()
    for lot in stock.lots.values():
        owned[lot.design] += lot.quantity
    ranked = sorted(shares, key=lambda key: (-shares[key], -owned[key], design_name(catalogue, key)))
    shown = tuple(_offer(catalogue, catalogue.design[key], "") for key in ranked[:most])
    return Offers(shown, max(0, len(ranked) - most), told.next.measure if told.next else "")


def likely_kinds(store: Store, place: str, before: Sequence[Lot], most: int = 6) -> tuple[str, ...]:
    """Return the kinds most likely to come next: those of this session, those in the bin, those on the shelf."""
    catalogue, loose = store.catalogue(), store.stock().loose
    shelf = Counter(lot.kind for lot in loose)
    here = Counter(lot.kind for lot in loose if lot.place == place)
    lately = list(dict.fromkeys(lot.kind for lot in before))

    def rank(kind: str) -> tuple[int, int, int, str]:
        recent = lately.index(kind) if kind in lately else len(lately)
        return (recent, -here[kind], -shelf[kind], catalogue.kind[kind].name)

    return tuple(sorted(catalogue.kind, key=rank)[:most])


def design_of_number(catalogue: Catalogue, kind: str, number: str) -> str:
    """Return the one design a number names, of a kind where one is given; "" for none or several."""
    rows = catalogue.numbers_by_text.get(canonical_number(number), ())
    found = {row.design for row in rows if row.design and kind in {"", catalogue.design[row.design].kind}}
    return found.pop() if len(found) == 1 else ""


def _scores(catalogue: Catalogue, stock: Stock, hint: Hint) -> Counter[str]:
    """Return ``{design: how much likelier it is for what is around it}``."""
    score: Counter[str] = Counter()
    loose = [lot for lot in stock.loose if lot.design]
    _raise(score, (lot.design for lot in loose), OWNED)
    _raise(score, (lot.design for lot in loose if lot.place == hint.place), BESIDE)
    _raise(score, (lot.design for lot in hint.before if lot.design), ADDED_BEFORE)
    machine = stock.machines.get(hint.from_machine)
    if machine is not None:
        carried = {each.design for each in machine.fitted.values() if each.design}
        for name in catalogue.positions[machine.model]:
            if name not in machine.fitted:
                carried.update(stock_designs(catalogue, machine.model, name, machine.year))
        _raise(score, carried, CAME_OFF)
    return score


def _raise(score: Counter[str], designs: Iterable[str], by: float) -> None:
    for design in set(designs):
        score[design] += by  # type: ignore[assignment]


def _typed(catalogue: Catalogue, hint: Hint, likely: Counter[str]) -> list[Offer]:
    """Return the designs what was typed may mean: a number's beginning, its inside, words of a name; the kind first."""
    wanted, words = lookalike_number(hint.text), hint.text.casefold().split()
    exact = canonical_number(hint.text)
    rank: dict[str, int] = {}
    for number, rows in catalogue.numbers_by_text.items():
        plain = lookalike_number(number)
        at = plain.find(wanted) if wanted else -1
        if at >= 0:
            how = 0 if number == exact else 1 if at == 0 else 2
            for row in rows:
                if row.design:
                    rank[row.design] = min(how, rank.get(row.design, how))
    for design in catalogue.design.values():
        said = f"{design.name} {design.key}".casefold()
        if design.key not in rank and all(word in said for word in words):
            rank[design.key] = 2
    ordered = sorted(
        rank,
        key=lambda key: (
            catalogue.design[key].kind != hint.kind if rank[key] else False,
            rank[key],
            -likely[key],
            design_name(catalogue, key),
        ),
    )
    return [_offer(catalogue, catalogue.design[key], wanted) for key in ordered]


def _offer(catalogue: Catalogue, design: Design, wanted: str) -> Offer:
    numbers = [row.number for row in catalogue.numbers_of.get(design.key, ())]
    numbers.sort(key=lambda text: not wanted or wanted not in lookalike_number(text))
    return Offer(design, tuple(numbers[:3]))
