"""What to do about a plan: where to walk and what to take, what comes off donors, what to buy and how to check it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass, field

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design
from stash.fit.intervals import Interval
from stash.fit.wording import design_name
from stash.key.lookalikes import look_alikes
from stash.plan.answer import Plan, PlannedBuild, PlannedPart, major
from stash.plan.facts import Stock
from stash.services.cautions import cautions_of
from stash.services.titles import (
    kind_name,
    lot_title,
    machine_title,
    model_title,
    place_path,
    sentence_list,
    value_text,
)

_TO_CHECK = 4
"""How many measures of a design are worth checking where nothing is easily taken for it."""


@dataclass(frozen=True, slots=True)
class For:
    """What a part is for: the build by its name, the position, how many."""

    build: str
    position: str
    quantity: int


@dataclass(frozen=True, slots=True)
class Stop:
    """One lot on the way along the bins.

    Args:
        lot: Lot code.
        title: What it is.
        place: Where it lies, outermost place first; "" when not put away.
        quantity: How many to take in all.
        condition: Their condition.
        uses: What they are for.
    """

    lot: str
    title: str
    place: str
    quantity: int
    condition: str
    uses: tuple[For, ...]


@dataclass(frozen=True, slots=True)
class Removal:
    """A part that comes off a donor: ``assumed`` when nobody has looked at it."""

    donor: str
    donor_title: str
    position: str
    title: str
    quantity: int
    assumed: bool
    uses: tuple[For, ...]


@dataclass(frozen=True, slots=True)
class Purchase:
    """A design to buy.

    Args:
        design: Design key.
        title: Its name.
        numbers: Numbers to ask for, with their makers.
        older: Numbers it replaces, which sellers may still name.
        quantity: How many.
        each_minor: What one costs, minor units; None where nobody noted a price.
        uses: What they are for.
        measures: What it must measure.
        alike: What it is easily taken for, and how it is told from it.
        cautions: What to mind.
    """

    design: str
    title: str
    numbers: tuple[str, ...]
    older: tuple[str, ...]
    quantity: int
    each_minor: int | None
    uses: tuple[For, ...]
    measures: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def cost_minor(self) -> int | None:
        """What they cost together."""
        return None if self.each_minor is None else self.each_minor * self.quantity

    def as_dict(self) -> dict[str, object]:
        """The purchase as plain data for JSON, money in major units."""
        data = asdict(self)
        data["each"] = None if self.each_minor is None else major(data.pop("each_minor"))
        data["cost"] = None if self.cost_minor is None else major(self.cost_minor)
        data.pop("each_minor", None)
        return data


@dataclass(frozen=True, slots=True)
class Errands:
    """All that a plan asks somebody to do.

    Args:
        walk: Lots to take, in walking order of the bins.
        donors: What comes off donors, donor by donor.
        buy: What the plan buys, dearest in all first.
        would_finish: What is not bought, and would complete a build that lacks nothing else.
    """

    walk: tuple[Stop, ...] = ()
    donors: tuple[Removal, ...] = ()
    buy: tuple[Purchase, ...] = ()
    would_finish: tuple[Purchase, ...] = field(default=())

    @property
    def cost_minor(self) -> int:
        """What is bought, in all."""
        return sum(each.cost_minor or 0 for each in self.buy)

    def as_dict(self) -> dict[str, object]:
        """The errands as plain data for JSON."""
        return {
            "pick_list": [asdict(stop) for stop in self.walk],
            "strip_list": [asdict(each) for each in self.donors],
            "buy_list": [each.as_dict() for each in self.buy],
            "would_finish": [each.as_dict() for each in self.would_finish],
        }


def build_title(catalogue: Catalogue, stock: Stock, build: PlannedBuild) -> str:
    """Return what people call a build of a plan, or the machine or model of a gap."""
    if build.build in stock.builds:
        return stock.builds[build.build].name
    machine = stock.machines.get(build.machine or "")
    return machine_title(catalogue, machine) if machine else model_title(catalogue, build.model)


def errands(catalogue: Catalogue, stock: Stock, plan: Plan) -> Errands:
    """Gather what a plan asks for over all its builds.

    Args:
        catalogue: The facts.
        stock: What was owned when it was made.
        plan: The plan.
    """
    parts = [
        (part, For(build_title(catalogue, stock, build), part.position, part.quantity))
        for build in plan.builds
        for part in build.parts
    ]
    bought = [(part.design, use) for part, use in parts if part.buy]
    return Errands(
        tuple(_walk(catalogue, stock, [(part, use) for part, use in parts if part.lot])),
        tuple(_removals(catalogue, stock, [(part, use) for part, use in parts if part.donor])),
        tuple(sorted(_purchases(catalogue, bought), key=lambda each: (-(each.cost_minor or 0), each.title))),
        tuple(_purchases(catalogue, list(_wished(catalogue, stock, plan)))),
    )


def _walk(catalogue: Catalogue, stock: Stock, parts: list[tuple[PlannedPart, For]]) -> list[Stop]:
    by_lot: dict[str, list[For]] = {}
    for part, use in parts:
        by_lot.setdefault(part.lot or "", []).append(use)
    stops = [
        Stop(
            code,
            lot_title(catalogue, stock.lots[code]),
            place_path(stock, stock.lots[code].place),
            sum(use.quantity for use in uses),
            stock.lots[code].condition,
            tuple(uses),
        )
        for code, uses in by_lot.items()
    ]
    return sorted(stops, key=lambda stop: (stop.place, stop.lot))


def _removals(catalogue: Catalogue, stock: Stock, parts: list[tuple[PlannedPart, For]]) -> list[Removal]:
    by_place: dict[tuple[str, str], list[tuple[PlannedPart, For]]] = {}
    for part, use in parts:
        by_place.setdefault((part.donor or "", part.donor_position), []).append((part, use))
    return [
        Removal(
            donor,
            machine_title(catalogue, stock.machines[donor]),
            position,
            design_name(catalogue, found[0][0].design),
            sum(use.quantity for _, use in found),
            found[0][0].assumed,
            tuple(use for _, use in found),
        )
        for (donor, position), found in sorted(by_place.items())
    ]


def _wished(catalogue: Catalogue, stock: Stock, plan: Plan) -> Iterator[tuple[str, For]]:
    """The cheapest design for each build that lacks one position only; the one that completes most goes first."""
    arrival = plan.best_arrival.design if plan.best_arrival else ""
    for build in plan.builds:
        if len(build.missing) != 1 or not build.missing[0].designs:
            continue
        lack = build.missing[0]
        prices = {key: catalogue.design[key].price_minor for key in lack.designs}
        best = min(lack.designs, key=lambda key: (key != arrival, prices[key] is None, prices[key] or 0, key))
        yield best, For(build_title(catalogue, stock, build), lack.position, lack.quantity)


def _purchases(catalogue: Catalogue, wanted: list[tuple[str, For]]) -> Iterator[Purchase]:
    by_design: dict[str, list[For]] = {}
    for name, use in wanted:
        by_design.setdefault(name, []).append(use)
    for key, uses in by_design.items():
        design = catalogue.design[key]
        numbers = catalogue.numbers_of.get(key, ())
        said = [(f"{catalogue.maker[row.maker].name} {row.number}", bool(row.replaced_by)) for row in numbers]
        yield Purchase(
            key,
            design_name(catalogue, key),
            tuple(text for text, replaced in said if not replaced),
            tuple(text for text, replaced in said if replaced),
            sum(use.quantity for use in uses),
            design.price_minor,
            tuple(uses),
            tuple(_measures(catalogue, design)),
            tuple(_alike(catalogue, design)),
            tuple(_cautions(catalogue, design)),
        )


def _measures(catalogue: Catalogue, design: Design) -> Iterator[str]:
    """What keeps it from its look-alikes, then what its mates ask for; the quicker to take first."""
    telling = {each.measure for each in look_alikes(catalogue, design.key)}
    fitting = {touch.measure for touch in catalogue.touches.get(design.kind, ())}
    effort = {key: row.effort_s or 0.0 for (kind, key), row in catalogue.measure.items() if kind == design.kind}
    asked = sorted(
        (key for key in design.values if key in telling or key in fitting),
        key=lambda key: (key not in telling, effort.get(key, 0.0), key),
    )
    for key in asked[: max(_TO_CHECK, len(telling & design.values.keys()))]:
        yield value_text(catalogue, design.kind, key, design.values[key])


def _alike(catalogue: Catalogue, design: Design) -> Iterator[str]:
    """What it is easily taken for: by the measure that tells it, with the value the other one has."""
    by_sign: dict[str, list[str]] = {}
    for each in look_alikes(catalogue, design.key):
        value: Interval | str | None = catalogue.design[each.design].values.get(each.measure)
        sign = f"has {value_text(catalogue, design.kind, each.measure, value)}" if value is not None else ""
        by_sign.setdefault(sign, []).append(design_name(catalogue, each.design))
    for sign, names in sorted(by_sign.items()):
        yield f"{sentence_list(names)} {sign or 'has nothing known to tell it by: go by the number'}"


def _cautions(catalogue: Catalogue, design: Design) -> Iterator[str]:
    kind = catalogue.kind[design.kind]
    if kind.safety_critical:
        yield (
            f"{kind_name(catalogue, kind.key)} is safety-critical: new, or measured and seen running, never as found. "
            "Have it inspected by a licensed shop where your local rules ask for that."
        )
    yield from cautions_of(catalogue, kind.key)
