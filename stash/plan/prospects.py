"""Which wares are worth judging at the positions of a task, told from sizes alone.

On a model from nothing nearly every part of a kind breaks some mate with the model's own parts, and might still go in
if other parts are changed with it. Most of those changes would run on and on. Here they are followed for whole
shelves at once, ware by ware only what is left is judged. Nothing that could go in is left out; what can't may stay.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import and_, or_

from stash.fit.catalogue import Position
from stash.fit.claims import Part
from stash.fit.facts import Mate
from stash.fit.touching import Touch
from stash.kernel.years import Years
from stash.plan.judging import Judge
from stash.plan.sized import NOTHING, Sized
from stash.plan.spots import year_of
from stash.plan.tasks import Task
from stash.plan.wares import Ware

MOST_IN_A_ROW = 4
"""How many changes in a row a part that nobody speaks of may ask for. Source: project decision."""

MateAt = tuple[str, str]
"""A mate by key, and the position at its other end."""


@dataclass(frozen=True)
class _Place:
    """A position: what might go in, and what of it breaks which mate with the model's own parts."""

    kind: str
    hopeful: int
    broken: Mapping[MateAt, int]


class Prospects:
    """Looks at the wares from the positions of tasks.

    Args:
        judge: Knows the positions.
        wares: ``{kind: what can be had}``.
    """

    def __init__(self, judge: Judge, wares: Mapping[str, Sequence[Ware]]) -> None:
        self._judge = judge
        self._sized = {kind: Sized([ware.part for ware in found]) for kind, found in wares.items()}
        self._mates = {mate.key: mate for mate in judge.catalogue.mates}
        self._bare: dict[Hashable, Mapping[str, int]] = {}

    def sized(self, kind: str) -> Sized:
        """Return the wares of a kind by their sizes."""
        return self._sized.get(kind, NOTHING)

    def of(self, task: Task, years: Years) -> Mapping[str, int]:
        """Return ``{position: wares worth judging}`` for what is not decided, seen in a span of years."""
        key = (task.model, years, tuple(self._undecided(task)))
        if task.machine is not None:
            return self._followed(self._places(task, years))
        if key not in self._bare:
            self._bare[key] = self._followed(self._places(task, years))
        return self._bare[key]

    def anyhow(self, task: Task, years: Years) -> Mapping[str, int]:
        """Return the same without looking at what would have to be changed with them, which may not be there yet."""
        return {name: place.hopeful for name, place in self._places(task, years).items()}

    def beside(self, task: Task, position: Position, years: Years, others: Mapping[str, Sequence[Part]]) -> int:
        """Return the wares worth judging at one position when only certain parts may stand at others.

        Args:
            task: The task.
            position: The position.
            years: The span of years.
            others: ``{position: parts}``; where there are none, anything may come.
        """
        place = self._place(task, position, years)
        hopeful, sized = place.hopeful, self.sized(position.kind)
        for (key, far), bits in place.broken.items():
            mate, parts = self._mates[key], others.get(far, ())
            if parts and parts[0].kind != position.kind:
                touch = Touch(mate, mate.kind_a == position.kind)
                values = {part.values.get(touch.far_measure) for part in parts}
                hopeful &= reduce(or_, (sized.against(touch, value)[0] for value in values), ~bits)
        return hopeful

    def _places(self, task: Task, years: Years) -> dict[str, _Place]:
        return {name: self._place(task, position, years) for name, position in self._undecided(task).items()}

    def _undecided(self, task: Task) -> dict[str, Position]:
        return {position.name: position for position in task.positions if position.name not in task.pins}

    def _place(self, task: Task, position: Position, years: Years) -> _Place:
        on_model = self._on_model(task.model, position, years)
        return on_model if task.machine is None else self._on_machine(task, position, on_model)

    def _on_model(self, model: str, position: Position, years: Years) -> _Place:
        spot, sized = self._judge.spot(model, position.name, None), self.sized(position.kind)
        spoken = spot.spoken_among(sized)
        stands = [spot.standing(sized, year_of(era)) for era, _ in spot.eras if era.common(years)]
        hopeful = reduce(or_, (stand.likely | stand.breaking for stand in stands), spoken)
        always = reduce(and_, (stand.broken.keys() for stand in stands))
        broken = {key: reduce(and_, (stand.broken[key] for stand in stands), sized.all & ~spoken) for key in always}
        return _Place(position.kind, hopeful, broken)

    def _on_machine(self, task: Task, position: Position, model: _Place) -> _Place:
        """What breaks a mate as built is out; what is spoken of or likely there need not hold on the model."""
        sized = self.sized(position.kind)
        spot = self._judge.spot(task.model, position.name, task.machine)
        stands = [spot.standing(sized, year_of(era)) for era, _ in spot.eras]
        sound = reduce(or_, (stand.likely for stand in stands), spot.spoken_among(sized))
        broken = reduce(or_, (stand.breaking for stand in stands), 0)
        return _Place(
            position.kind,
            (sound | model.hopeful) & ~broken,
            {key: bits & ~sound for key, bits in model.broken.items()},
        )

    def _followed(self, places: Mapping[str, _Place]) -> Mapping[str, int]:
        """Keep what is mended by changes in a row no longer than allowed, reached from anywhere."""
        broken = {
            name: {
                key: found for key, bits in place.broken.items() if key[1] in places and (found := bits & place.hopeful)
            }
            for name, place in places.items()
        }
        mended = {
            name: {
                came_from: _all_but(place.hopeful, {key: ~bits for key, bits in broken[name].items()}, came_from)
                for came_from in ("", *(far for _, far in broken[name]))
            }
            for name, place in places.items()
        }
        for _ in range(MOST_IN_A_ROW):
            mended = {
                name: self._longer(places, name, broken[name], mended) if broken[name] else known
                for name, known in mended.items()
            }
        return self._reached(places, broken, mended)

    def _reached(
        self,
        places: Mapping[str, _Place],
        broken: Mapping[str, Mapping[MateAt, int]],
        mended: Mapping[str, Mapping[str, int]],
    ) -> dict[str, int]:
        """Keep what is mended, and what mends it when one comes from there."""
        kept = {name: known[""] for name, known in mended.items()}
        for _ in range(MOST_IN_A_ROW):
            more = dict(kept)
            for name, at in broken.items():
                for (key, far), bits in at.items():
                    if bits & kept[name] and name in mended[far]:
                        held = self._holds_with(
                            self._mates[key], places[far].kind, places[name].kind, bits & kept[name]
                        )
                        more[far] |= mended[far][name] & held
            kept = more
        return kept

    def _longer(
        self,
        places: Mapping[str, _Place],
        name: str,
        broken: Mapping[MateAt, int],
        mended: Mapping[str, Mapping[str, int]],
    ) -> dict[str, int]:
        """Allow one more change in a row."""
        good = {}
        for (key, far), bits in broken.items():
            there = mended[far].get(name, mended[far][""])
            good[key, far] = ~bits | self._holds_with(self._mates[key], places[name].kind, places[far].kind, there)
        hopeful = places[name].hopeful
        return {came_from: known | _all_but(hopeful, good, came_from) for came_from, known in mended[name].items()}

    def _holds_with(self, mate: Mate, kind: str, far_kind: str, there: int) -> int:
        """The wares for which the mate holds with some of the wares there."""
        if kind == far_kind:
            return self.sized(kind).all
        touch, ours, found = Touch(mate, mate.kind_a == kind), self.sized(kind), 0
        for far, bits in self.sized(far_kind).by_value(touch.far_measure).items():
            if bits & there:
                found |= ours.against(touch, far)[0]
        return found


def _all_but(hopeful: int, good: Mapping[MateAt, int], came_from: str) -> int:
    """What is good at every mate but those that lead where one came from."""
    return reduce(and_, (bits for (_, far), bits in good.items() if far != came_from), hopeful)
