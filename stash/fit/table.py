"""Every design on every model at once: what the chart, the search and the shelf ask for.

The plain judge of ``verdicts`` is the reference and explains; the table gives the same verdicts for the same years and
no reasons. What the sizes say comes from frames that models share, what is said outright is laid over it cell by cell.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Rule
from stash.fit.frames import LIKELY, NOT_YET, NOTHING, WITH_COMPANIONS, WONT_FIT, Frame, Frames
from stash.fit.grouping import without
from stash.fit.outright import Cell, Cells, Outright, Target, run_together
from stash.kernel.years import Years

__all__ = ["Cell", "Cells", "Row", "Target", "VerdictTable"]

_SAID = {LIKELY: "likely", WITH_COMPANIONS: "with_companions", WONT_FIT: "wont_fit", NOTHING: "unknown"}
_Spot = tuple[bytearray, tuple[Cells, ...]]
"""What the sizes say of each group there, and the cells that each code stands for; of a model with one frame."""


@dataclass(frozen=True)
class Row:
    """One design on every position that takes its kind.

    Args:
        design: Its key.
        targets: The positions, in the order models are shown.
        cells: What is found at each, in the same order.
    """

    design: str
    targets: tuple[Target, ...]
    cells: tuple[Cells, ...]

    def items(self) -> Iterator[tuple[Target, Cells]]:
        """Yield each target with its cells."""
        return zip(self.targets, self.cells, strict=True)


@dataclass
class _Board:
    """The targets of one kind; a spot is None where the long way must be gone: several frames, or not yet known."""

    targets: tuple[Target, ...]
    place: dict[Target, int]
    spots: list[_Spot | None]


class VerdictTable:
    """All verdicts of a catalogue, worked out as they are asked for and kept where they can be shared.

    Args:
        catalogue: The facts.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._frames = Frames(catalogue)
        self._outright = Outright(catalogue)
        self._of_model: dict[str, tuple[tuple[Years, Frame], ...]] = {}
        self._boards: dict[str, _Board] = {}

    @property
    def frames(self) -> tuple[Frame, ...]:
        """Every frame that models have been found to share so far."""
        return self._frames.known

    def rows(self) -> Iterator[Row]:
        """Yield the row of every design, in order of key."""
        return (self.row(design) for design in self.catalogue.design)

    def row(self, design: str) -> Row:
        """Return one design on every position that takes its kind.

        Raises:
            KeyError: There is no such design.
        """
        part = self.catalogue.design[design]
        board = self._board(part.kind)
        group = self.catalogue.pairings.groups(part.kind).group_of[design]
        cells: list[Cells] = []
        for place, spot in enumerate(board.spots):
            code = spot[0][group] if spot is not None else NOT_YET
            cells.append(spot[1][code] if code and spot is not None else self._the_long_way(board, place, group))
        for target, said in self._outright.about(part).items():
            place = board.place[target]
            cells[place] = self._outright.weighed(part, target, said, self._by_sizes(target, group))
        return Row(design, board.targets, tuple(cells))

    def cell(self, design: str, model: str, position: str) -> Cells:
        """Return one design at one position of one model."""
        row = self.row(design)
        return row.cells[row.targets.index(Target(model, position))]

    def with_rule(self, rule: Rule) -> VerdictTable:
        """Return the table with one rule added, or put in the place of the one with its key."""
        book = self.catalogue.rulebook
        changed = [each for each in (book.rule(rule.key), rule) if each is not None]
        touched = {model.key for each in changed for model in book.models_about(each)}
        table = VerdictTable(self.catalogue.with_rule(rule))
        table._frames = self._frames.moved_to(table.catalogue)
        table._outright = self._outright.moved_to(table.catalogue)
        table._of_model = without(self._of_model, touched)
        for kind, board in self._boards.items():
            spots = list(board.spots)
            for model in touched:
                for position in self.catalogue.positions_of_kind[model].get(kind, ()):
                    spots[board.place[Target(model, position)]] = None
            table._boards[kind] = _Board(board.targets, board.place, spots)
        return table

    def _board(self, kind: str) -> _Board:
        known = self._boards.get(kind)
        if known is None:
            targets = tuple(
                Target(model, position)
                for model in self.catalogue.models_with_kind.get(kind, ())
                for position in self.catalogue.positions_of_kind[model][kind]
            )
            place = {target: number for number, target in enumerate(targets)}
            known = self._boards[kind] = _Board(targets, place, [None] * len(targets))
        return known

    def _the_long_way(self, board: _Board, place: int, group: int) -> Cells:
        """Work a cell out, and keep the short way to its neighbours of other groups."""
        target = board.targets[place]
        cells = self._by_sizes(target, group)
        frames = self._frames_of(target.model)
        if len(frames) == 1:
            years, frame = frames[0]
            board.spots[place] = (frame.columns[target.position], _cells_by_code(years))
        return cells

    def _by_sizes(self, target: Target, group: int) -> Cells:
        """Where nothing is said outright: what the sizes say, in the years of the model."""
        frames = self._frames_of(target.model)
        return _cells_of(tuple((years, frame.say(target.position, group)) for years, frame in frames))

    def _frames_of(self, model: str) -> tuple[tuple[Years, Frame], ...]:
        known = self._of_model.get(model)
        if known is None:
            known = self._of_model[model] = self._frames.of(self.catalogue.model[model])
        return known


@lru_cache(maxsize=4096)
def _cells_of(codes: tuple[tuple[Years, int], ...]) -> Cells:
    """The cells for what the sizes say in each stretch of years; many models share them."""
    return run_together(Cell(_SAID[code], years) for years, code in codes)


@lru_cache(maxsize=1024)
def _cells_by_code(years: Years) -> tuple[Cells, ...]:
    """The cells that each code stands for over some years; one not worked out yet stands for nothing."""
    return ((), *(_cells_of(((years, code),)) for code in range(LIKELY, WONT_FIT + 1)))
