"""What stands at each position of a model in a year, boiled down to what a verdict by sizes can depend on.

Two models whose positions take the same kinds, left the factory with parts that no mate tells apart, and refuse the
same groups as companions give every part the same verdict by its sizes. They share a frame. Most models of a
generation do, and the others differ from it in a position or two.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from stash.fit.catalogue import Catalogue
from stash.fit.change_problem import Problem
from stash.fit.claims import Site, part_of_design
from stash.fit.companions import can_change
from stash.fit.facts import Model
from stash.fit.refusals import refused_designs
from stash.fit.surroundings import Surroundings
from stash.kernel.years import Years, segments

NOT_YET, LIKELY, NOTHING, WITH_COMPANIONS, WONT_FIT = range(5)
"""What the sizes say of one group of designs at one position; the first is not worked out yet."""
_ANY_YEAR = 1900
"""Stands for a stretch without bounds, in which nothing depends on the year."""

State = tuple[str, frozenset[int], frozenset[int]]
"""A position in a year: its kind, the groups of its stock designs, the groups refused as companions."""
_Positions = tuple[tuple[str, str], ...]
"""Each position with the kind it takes."""
_Layout = tuple[str, _Positions]
"""A generation, and its positions."""
_MOST_KEPT = 500


@dataclass
class Frame:
    """All positions of a target in one state, and what the sizes say there, filled as it is asked for.

    Args:
        states: ``{position: state}``.
        around: Its surroundings, by way of any model in this state.
        base: The frame it is compared with: that of its generation; None for that one itself.
    """

    states: Mapping[str, State]
    around: Surroundings
    base: Frame | None
    columns: dict[str, bytearray] = field(default_factory=dict)
    looked_at: dict[str, list[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        positions = enumerate(self.states)
        self.bit: dict[str, int] = self.base.bit if self.base else {name: 1 << place for place, name in positions}
        self.differs = sum(
            bit for name, bit in self.bit.items() if self.base and self.base.states[name] != self.states[name]
        )

    def say(self, position: str, group: int) -> int:
        """Return what the sizes say of a group of designs at a position."""
        column = self.columns.get(position)
        if column is None:
            column = self._new_column(position)
        return column[group] or self._work_out(position, group, column)

    def _new_column(self, position: str) -> bytearray:
        """Everything that needs no search: what holds throughout, and what is open somewhere."""
        groups = self.around.groups(position)
        links = self.around.links(position)
        likely, breaks = (groups.all if links else 0), 0
        for far, touch in links:
            split = self.around.beside_unchanged(position, far, touch)
            likely &= split.holds
            breaks |= split.breaks
        codes = (
            NOT_YET if breaks >> group & 1 else LIKELY if likely >> group & 1 else NOTHING
            for group in range(len(groups.members))
        )
        column = self.columns[position] = bytearray(codes)
        return column

    def _work_out(self, position: str, group: int, column: bytearray) -> int:
        if self.base is not None:
            code = self.base.say(position, group)
            if code in {WITH_COMPANIONS, WONT_FIT} and not self.base.looked_at[position][group] & self.differs:
                column[group] = code
                return code
        around = self.around
        part = part_of_design(around.groups(position).members[group][0])
        problem = Problem(around.catalogue, part, around.site(position), around.year, around=around)
        column[group] = WITH_COMPANIONS if can_change(problem) else WONT_FIT
        if self.base is None:
            self._remember(position, group, column)
        around.forget_what_was_asked()
        return column[group]

    def _remember(self, position: str, group: int, column: bytearray) -> None:
        """Keep which positions the answer rests on: those visited and those next to them."""
        looked_at = self.looked_at.setdefault(position, [0] * len(column))
        visited = set(self.around.visited)
        near = visited.union(*({far for far, _ in self.around.links(each)} for each in visited))
        mask = sum(self.bit[name] for name in near - {position})
        looked_at[group] = self.around.layout.masks.setdefault(mask, mask)


class Frames:
    """The frames of a catalogue's models, year by year.

    Args:
        catalogue: The facts.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._known: dict[tuple[_Layout, tuple[State, ...]], Frame] = {}
        self._states: dict[State, State] = {}
        self._bases: dict[_Layout, Frame] = {}
        self._layouts: dict[_Layout, _Layout] = {}
        self._sisters: dict[_Positions, Surroundings] = {}
        self._groups: dict[tuple[str, frozenset[str]], frozenset[int]] = {}

    @property
    def known(self) -> tuple[Frame, ...]:
        """Every frame found so far."""
        return tuple(self._known.values())

    def moved_to(self, catalogue: Catalogue) -> Frames:
        """Return the frames of a catalogue that differs in its rules only; what is known of a state stays true."""
        frames = Frames(catalogue)
        frames._known, frames._bases, frames._states = self._known, self._bases, self._states
        frames._layouts, frames._groups, frames._sisters = self._layouts, self._groups, self._sisters
        return frames

    def of(self, model: Model) -> tuple[tuple[Years, Frame], ...]:
        """Return a model's frames with their years, which together are the model's; neighbours differ."""
        found: list[tuple[Years, Frame]] = []
        kinds = self.catalogue.positions_of_kind[model.key]
        for years in segments(model.years, (cut for kind in kinds for cut in self._cuts(model, kind))):
            frame = self._frame(model, years)
            if found and found[-1][1] is frame:
                found[-1] = (Years(found[-1][0].from_year, years.to_year), frame)
            else:
                found.append((years, frame))
        return tuple(found)

    def still(self, model: Model, frames: Iterable[tuple[Years, Frame]], kind: str) -> bool:
        """Tell whether frames are still those of a model, when rules about one kind of part may have changed."""
        positions = self.catalogue.positions_of_kind[model.key].get(kind, ())
        return all(
            self._state(model, position, _year_of(years)) == frame.states[position]
            for span, frame in frames
            for years in segments(span, self._cuts(model, kind))
            for position in positions
        )

    def _cuts(self, model: Model, kind: str) -> Iterator[Years]:
        """Yield the spans of years of everything outright about parts of a kind on a model."""
        for position in self.catalogue.positions_of_kind[model.key].get(kind, ()):
            yield from (row.years for row in self.catalogue.stock_rows[model.key].get(position, ()))
        yield from (rule.years for rule in self.catalogue.rulebook.about(model, kind))

    def _frame(self, model: Model, years: Years) -> Frame:
        year = _year_of(years)
        states = {name: self._state(model, name, year) for name in self.catalogue.positions[model.key]}
        layout: _Layout = (model.generation, tuple((name, state[0]) for name, state in states.items()))
        key = (self._layouts.setdefault(layout, layout), tuple(states.values()))
        known = self._known.get(key)
        if known is None:
            around = Surroundings(self.catalogue, model, None, year, self._sisters.get(layout[1]), states)
            known = self._known[key] = Frame(states, around, self._bases.get(layout))
            self._bases.setdefault(layout, known)
            self._sisters.setdefault(layout[1], around)
        return known

    def _state(self, model: Model, position: str, year: int) -> State:
        kind = self.catalogue.positions[model.key][position].kind
        groups = self.catalogue.pairings.groups(kind)
        rows = self.catalogue.stock_rows[model.key].get(position, ())
        stock = frozenset(groups.group_of[row.design] for row in rows if row.years.contains(year))
        state: State = (kind, stock, self._refused(model, position, kind, year))
        return self._states.setdefault(state, state)

    def _refused(self, model: Model, position: str, kind: str, year: int) -> frozenset[int]:
        """Return the groups of which every design is refused; nobody asks for kinds that no mate touches."""
        if kind not in self.catalogue.touches:
            return frozenset()
        refused = refused_designs(self.catalogue, kind, Site(model, position), year)
        known = self._groups.get((kind, refused))
        if known is None:
            if len(self._groups) >= _MOST_KEPT:
                self._groups.clear()
            groups = self.catalogue.pairings.groups(kind)
            touched = {groups.group_of[key] for key in refused}
            known = self._groups[kind, refused] = frozenset(
                group for group in touched if all(row.key in refused for row in groups.members[group])
            )
        return known


def _year_of(years: Years) -> int:
    """A year of a stretch; which one makes no difference."""
    year = years.from_year if years.from_year is not None else years.to_year
    return _ANY_YEAR if year is None else year
