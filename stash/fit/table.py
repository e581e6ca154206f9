"""Every design on every model at once: what the chart, the search and the shelf ask for.

The plain judge of ``verdicts`` is the reference and explains; the table gives the same verdicts for the same years and
no reasons. What the sizes say comes from frames that models share, what is said outright is laid over it cell by cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import lru_cache

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Rule
from stash.fit.frames import LIKELY, NOTHING, WITH_COMPANIONS, WONT_FIT, Frame, Frames
from stash.fit.outright import Cell, Cells, Outright, Target, run_together
from stash.kernel.years import Years

__all__ = ["Cell", "Cells", "Row", "Target", "VerdictTable"]

_SAID = {LIKELY: "likely", WITH_COMPANIONS: "with_companions", WONT_FIT: "wont_fit", NOTHING: "unknown"}
_NOT_FOUND: tuple[Cells | None, ...] = (None,)
_MOST_CODES = 256
"""How many codes a column can tell apart: a byte."""


@dataclass(frozen=True)
class Row:
    """One design on every position that takes its kind, in the order models are shown.

    Args:
        design: Its key.
        models: Model keys.
        positions: The position of each.
        cells: What is found at each.
    """

    design: str
    models: tuple[str, ...]
    positions: tuple[str, ...]
    cells: tuple[Cells, ...]

    @property
    def targets(self) -> tuple[Target, ...]:
        """The positions of the models."""
        return tuple(map(Target, self.models, self.positions))

    def places(self, targets: Iterable[Target]) -> tuple[int, ...]:
        """Return where targets stand in the row, in the order given; the same in the row of every design of the kind.

        Raises:
            KeyError: One of them does not take the kind.
        """
        standing = {target: place for place, target in enumerate(self.targets)}
        return tuple(standing[target] for target in targets)

    def items(self) -> Iterator[tuple[Target, Cells]]:
        """Yield each target with its cells."""
        return zip(self.targets, self.cells, strict=True)


@dataclass
class _Board:
    """The targets of one kind in the order models are shown, and what the sizes say at each.

    Args:
        kind: The kind.
        models: The model of each target.
        positions: The position of each target.
        first: ``{model: number of its first target}``.
        columns: For each target, a code for each group of designs; 0 where it is not worked out yet.
        cells: For each target, the cells that each code stands for.
    """

    kind: str
    models: tuple[str, ...]
    positions: tuple[str, ...]
    first: Mapping[str, int]
    columns: list[bytes | bytearray]
    cells: list[Sequence[Cells | None]]

    def moved(self) -> _Board:
        """Return a board of its own, which shares what is known."""
        return replace(self, columns=list(self.columns), cells=list(self.cells))

    def forget(self, place: int) -> None:
        """Take what is known of a target as not known."""
        self.columns[place], self.cells[place] = bytes(len(self.columns[place])), _NOT_FOUND


class VerdictTable:
    """All verdicts of a catalogue, worked out as they are asked for and kept where they can be shared.

    It fills itself while it answers, and shares what it knows with the tables made from it: one thread at a time may
    ask any of them.

    Args:
        catalogue: The facts.
    """

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._frames = Frames(catalogue)
        self._outright = Outright(catalogue)
        self._of_model: dict[str, tuple[tuple[Years, Frame], ...]] = {}
        self._boards: dict[str, _Board] = {}
        self._orders: dict[tuple[str, ...], tuple[tuple[str, ...], Mapping[str, int]]] = {}

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
        found = [cells[column[group]] for column, cells in zip(board.columns, board.cells, strict=True)]
        row = [self._work_out(board, place, group) if cells is None else cells for place, cells in enumerate(found)]
        for target, said in self._outright.about(part).items():
            place = self._place(board, target)
            row[place] = self._outright.weighed(part, target, said, row[place])
        return Row(design, board.models, board.positions, tuple(row))

    def cell(self, design: str, model: str, position: str) -> Cells:
        """Return one design at one position of one model."""
        row = self.row(design)
        return row.cells[row.targets.index(Target(model, position))]

    def with_rule(self, rule: Rule) -> VerdictTable:
        """Return the table with one rule added, or put in the place of the one with its key."""
        table = VerdictTable(self.catalogue.with_rule(rule))
        table._frames = self._frames.moved_to(table.catalogue)
        table._outright = self._outright.moved_to(table.catalogue)
        table._of_model = dict(self._of_model)
        table._boards, table._orders = dict(self._boards), self._orders
        touched = self.catalogue.rulebook.touched_by(rule)
        table._forget({model for model, kind in touched if not table._is_still(model, kind)})
        return table

    def _is_still(self, model: str, kind: str) -> bool:
        """Tell whether the frames that are known of a model still are its own."""
        frames = self._of_model.get(model)
        return frames is not None and self._frames.still(self.catalogue.model[model], frames, kind)

    def _forget(self, models: AbstractSet[str]) -> None:
        """Know nothing of some models any more, on boards that are shared with no other table."""
        for model in models:
            self._of_model.pop(model, None)
        for kind, board in self._boards.items() if models else ():
            own = self._boards[kind] = board.moved()
            for model in models:
                for position in self.catalogue.positions_of_kind[model].get(kind, ()):
                    own.forget(self._place(own, Target(model, position)))

    def _board(self, kind: str) -> _Board:
        known = self._boards.get(kind)
        if known is None:
            targets = [
                (model, position)
                for model in self.catalogue.models_with_kind.get(kind, ())
                for position in self.catalogue.positions_of_kind[model][kind]
            ]
            models = tuple(model for model, _ in targets)
            first: Mapping[str, int] = {model: place for place, model in reversed(tuple(enumerate(models)))}
            models, first = self._orders.setdefault(models, (models, first))
            nothing = bytes(len(self.catalogue.pairings.groups(kind).members))
            known = _Board(
                kind,
                models,
                tuple(position for _, position in targets),
                first,
                [nothing] * len(targets),
                [_NOT_FOUND] * len(targets),
            )
            self._boards[kind] = known
        return known

    def _place(self, board: _Board, target: Target) -> int:
        """Return the number of a target on its board."""
        positions = self.catalogue.positions_of_kind[target.model][board.kind]
        return board.first[target.model] + positions.index(target.position)

    def _work_out(self, board: _Board, place: int, group: int) -> Cells:
        """Work out what the sizes say of a group at a target, and keep it.

        A model with one frame reads the frame's own column; one whose years differ gets a column of its own, with a
        code for every succession of verdicts that occurs.
        """
        position = board.positions[place]
        frames = self._frames_of(board.models[place])
        codes = tuple((years, frame.say(position, group)) for years, frame in frames)
        cells = _cells_of(codes)
        if len(frames) == 1:
            years, frame = frames[0]
            board.columns[place], board.cells[place] = frame.columns[position], _cells_by_code(years)
            return cells
        column, known = board.columns[place], board.cells[place]
        if not isinstance(column, bytearray) or not isinstance(known, list):
            column, known = bytearray(column), [None]
            board.columns[place], board.cells[place] = column, known
        if cells not in known:
            known.append(cells)
        code = known.index(cells)
        column[group] = code if code < _MOST_CODES else 0
        return cells

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
def _cells_by_code(years: Years) -> tuple[Cells | None, ...]:
    """The cells that each code stands for over some years; one not worked out yet stands for none."""
    return (None, *(_cells_of(((years, code),)) for code in range(LIKELY, WONT_FIT + 1)))
