"""What a plan answers."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from stash.kernel.exact import MICRO


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """Parts that go into one position of a build.

    Args:
        position: Position name.
        design: Design key, "" for a lot nobody identified.
        quantity: How many.
        verdict: The verdict it goes in by.
        lot: Lot code, None when not from the shelf.
        place: Where the lot lies.
        donor: Machine code of the donor, None when not from one.
        donor_position: The donor's position.
        assumed: Nobody looked at the donor's part.
        buy: Whether it has to be bought.
        price_minor: What they cost together, minor units.
        condition: Their condition.
        minutes: Minutes of work to fit them.
        companions: What a rule demands with it: items, each a tuple of alternatives.
        decided: The owner decided on it.
        flag: Why it would not have been chosen, "" unless the owner decided over that.
    """

    position: str
    design: str
    quantity: int
    verdict: str
    lot: str | None = None
    place: str = ""
    donor: str | None = None
    donor_position: str = ""
    assumed: bool = False
    buy: bool = False
    price_minor: int = 0
    condition: str = ""
    minutes: int = 0
    companions: tuple[tuple[str, ...], ...] = ()
    decided: bool = False
    flag: str = ""

    def as_dict(self) -> dict[str, object]:
        """The parts as plain data for JSON, money in major units."""
        data = asdict(self)
        data["price"] = major(data.pop("price_minor"))
        data["companions"] = [list(item) for item in self.companions]
        return data


@dataclass(frozen=True, slots=True)
class Missing:
    """A position that stays empty.

    Args:
        position: Position name.
        kind: What it takes.
        quantity: How many.
        why: Why nothing fills it, in words.
        designs: Designs that would do beside the rest, in order of key.
        look_at: ``(lot, why not)`` of loose lots that might do.
    """

    position: str
    kind: str
    quantity: int
    why: str
    designs: tuple[str, ...] = ()
    look_at: tuple[tuple[str, str], ...] = ()

    def as_dict(self) -> dict[str, object]:
        """The position as plain data for JSON."""
        return {
            "position": self.position,
            "kind": self.kind,
            "quantity": self.quantity,
            "why": self.why,
            "designs": list(self.designs),
            "look_at": [{"lot": lot, "why_not": why_not} for lot, why_not in self.look_at],
        }


@dataclass(frozen=True, slots=True)
class PlannedBuild:
    """One build, complete or not.

    Args:
        build: The build's key, or the gap's.
        model: Model key.
        machine: Machine code, None for a build from nothing.
        complete: Whether the plan completes it.
        value_u: Worth of having it done, in millionths.
        money_minor: What is bought for it, minor units.
        minutes: Minutes of work.
        parts: What goes in, in order of position; none when it is not completed.
        missing: The shortest list of what stays empty when what is left over goes in; none when it is completed.
        ready: Positions that what is left over would fill.
        refused: ``(position, why)`` of decisions that can't be followed.
    """

    build: str
    model: str
    machine: str | None
    complete: bool
    value_u: int
    money_minor: int = 0
    minutes: int = 0
    parts: tuple[PlannedPart, ...] = ()
    missing: tuple[Missing, ...] = ()
    ready: tuple[str, ...] = ()
    refused: tuple[tuple[str, str], ...] = ()

    def as_dict(self) -> dict[str, object]:
        """The build as plain data for JSON, money in major units."""
        return {
            "build": self.build,
            "model": self.model,
            "machine": self.machine,
            "complete": self.complete,
            "value": units(self.value_u),
            "money": major(self.money_minor),
            "minutes": self.minutes,
            "parts": [part.as_dict() for part in self.parts],
            "missing": [each.as_dict() for each in self.missing],
            "ready": list(self.ready),
            "refused": [{"position": position, "why": why} for position, why in self.refused],
        }


@dataclass(frozen=True, slots=True)
class Arrival:
    """A part that would complete builds if it arrived, in the number each needs.

    Args:
        design: Design key.
        kind: Its kind.
        quantity: How many all of them need.
        completes: Builds it completes together, in order of key.
        value_u: Their worth, in millionths.
        price_minor: What one costs, None when not priced.
    """

    design: str
    kind: str
    quantity: int
    completes: tuple[str, ...]
    value_u: int
    price_minor: int | None = None

    def as_dict(self) -> dict[str, object]:
        """The part as plain data for JSON, money in major units."""
        return {
            "design": self.design,
            "kind": self.kind,
            "quantity": self.quantity,
            "completes": list(self.completes),
            "value": units(self.value_u),
            "price": None if self.price_minor is None else major(self.price_minor),
        }


@dataclass(frozen=True, slots=True)
class SpareLot:
    """So many of a lot that no machine, build or gap needs."""

    lot: str
    design: str
    kind: str
    quantity: int
    place: str
    condition: str


@dataclass(frozen=True, slots=True)
class DonorNote:
    """Whether a donor is worth stripping.

    Args:
        machine: Machine code.
        stripped: Whether the plan strips it.
        cost_minor: What stripping it costs: its value.
        gives: ``(position, design, build)`` of the parts the plan takes.
        why: Why, or why not, in words.
    """

    machine: str
    stripped: bool
    cost_minor: int
    gives: tuple[tuple[str, str, str], ...]
    why: str

    def as_dict(self) -> dict[str, object]:
        """The donor as plain data for JSON, money in major units."""
        gives = [{"position": position, "design": design, "build": build} for position, design, build in self.gives]
        return {
            "machine": self.machine,
            "stripped": self.stripped,
            "cost": major(self.cost_minor),
            "gives": gives,
            "why": self.why,
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan over all builds.

    Args:
        status: ``optimal`` when value, money, minutes and condition are all proven, in that order; else ``feasible``.
        value_u: Worth of what is completed, in millionths.
        bound_u: No plan completes more than this, in millionths.
        money_minor: What is bought, and the value of donors stripped, minor units.
        minutes: Minutes of work.
        condition: Condition points of all parts used.
        proven: ``(goal, whether nothing better exists given the goals before it)``.
        builds: Every build, in order of key, builds before gaps.
        surplus: Loose lots nothing needs, in order of code.
        best_arrival: The part whose arrival would complete most, None when none would complete anything.
        donors: Each donor, when donors are allowed.
        naive_completed: What picking in order of key completes.
        naive_value_u: Its worth, in millionths.
        seconds: Solver time used.
    """

    status: str
    value_u: int
    bound_u: int
    money_minor: int
    minutes: int
    condition: int
    proven: tuple[tuple[str, bool], ...]
    builds: tuple[PlannedBuild, ...]
    surplus: tuple[SpareLot, ...] = ()
    best_arrival: Arrival | None = None
    donors: tuple[DonorNote, ...] = ()
    naive_completed: tuple[str, ...] = ()
    naive_value_u: int = 0
    seconds: float = 0.0

    @property
    def completed(self) -> tuple[str, ...]:
        """Keys of the builds it completes."""
        return tuple(build.build for build in self.builds if build.complete)

    def as_dict(self) -> dict[str, object]:
        """The plan as plain data for JSON, money in major units."""
        return {
            "status": self.status,
            "completed": list(self.completed),
            "value": units(self.value_u),
            "money": major(self.money_minor),
            "minutes": self.minutes,
            "condition": self.condition,
            "bound": units(self.bound_u),
            "proven": dict(self.proven),
            "builds": [build.as_dict() for build in self.builds],
            "surplus": [asdict(lot) for lot in self.surplus],
            "best_arrival": self.best_arrival.as_dict() if self.best_arrival else None,
            "donors": [donor.as_dict() for donor in self.donors],
            "in_order": {"completed": list(self.naive_completed), "value": units(self.naive_value_u)},
        }


def major(minor: int) -> float:
    """Return minor units of money as major units with two decimals."""
    return round(minor / 100, 2)


def units(value_u: int) -> float | int:
    """Return millionths of a unit as units, whole where they are."""
    return value_u // MICRO if value_u % MICRO == 0 else value_u / MICRO
