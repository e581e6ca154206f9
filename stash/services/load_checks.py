"""Third step of a load: what one row must agree on with the others.

Each check looks at one row in the world as it will be and yields (column, fault). Stored rows are looked at again
where a row they depend on is changed, so that editing one row cannot break another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from stash.errors import CellProblem
from stash.kernel.cells import Fault
from stash.kernel.tables import TABLE_BY_NAME
from stash.services import check_catalogue as c
from stash.services import check_stock as s
from stash.services.load_entries import Entry
from stash.services.load_world import World

Found = Iterator[tuple[str, Fault]]


@dataclass(frozen=True, slots=True)
class Check:
    """One check.

    Args:
        look: Looks at one row.
        over: The tables whose rows it looks at.
        reads: The tables it depends on: when a row of them changes, all of ``over`` is looked at again.
    """

    look: Callable[[World, Entry], Found]
    over: tuple[str, ...]
    reads: tuple[str, ...] = ()


_ON_POSITIONS = ("positions", "models", "designs")
CHECKS: tuple[Check, ...] = (
    Check(c.years, ("generations", "models", "came_on", "rules")),
    Check(c.choices, ("measures",)),
    Check(c.design_value, ("design_measures",), ("measures", "designs")),
    Check(c.replacement, ("numbers",), ("numbers",)),
    Check(c.twin_number, ("numbers",)),
    Check(c.generation_or_model, ("positions", "came_on")),
    Check(c.came_on_position, ("came_on",), _ON_POSITIONS),
    Check(c.mate_ends, ("mates",), ("measures",)),
    Check(c.rule_scope, ("rules",), ("designs",)),
    Check(c.rule_companions, ("rules",), ("designs", "kinds")),
    Check(s.code_is_free, ("places", "machines", "lots")),
    Check(s.nesting, ("places",), ("places",)),
    Check(s.fitted_part, ("fitted",), (*_ON_POSITIONS, "machines")),
    Check(s.fitted_value, ("fitted_measures",), ("measures", *_ON_POSITIONS, "machines")),
    Check(s.lot_design, ("lots",), ("designs",)),
    Check(s.lot_value, ("lot_measures",), ("measures", "lots")),
    Check(s.build_target, ("builds",), ("machines",)),
    Check(s.build_part, ("build_parts",), (*_ON_POSITIONS, "builds", "machines", "lots")),
)


def check_all(world: World, shaken: frozenset[str] = frozenset()) -> list[CellProblem]:
    """Look at every incoming row, and at the stored ones that depend on a changed row.

    Args:
        world: The rows as they will be.
        shaken: Tables that changed in a way the incoming rows do not show, such as a row gone.

    Returns:
        Every fault, in order of table and row.
    """
    problems = [problem for name in world.incoming.entries for problem in _references(world, name)]
    changed = shaken | {name for name in world.incoming.entries if _shakes(world, name)}
    for check in CHECKS:
        again = bool(changed.intersection(check.reads))
        for name in check.over:
            problems.extend(_look(world, check, name, again=again))
    order = {name: position for position, name in enumerate(TABLE_BY_NAME)}
    return sorted(problems, key=lambda problem: (order[problem.table], problem.row))


def _shakes(world: World, name: str) -> bool:
    """Whether rows of a table change so that stored rows may not agree any more; told only once they are readable."""
    entries = world.incoming.entries[name].values()
    changing = [entry for entry in entries if entry.changes or (name == "positions" and entry.old is None)]
    return bool(changing) and not any(entry.faulty for entry in changing)


def _look(world: World, check: Check, name: str, *, again: bool) -> Iterator[CellProblem]:
    entries = world.everything(name) if again else iter(world.incoming.entries.get(name, {}).values())
    for entry in entries:
        if not entry.faulty:
            for column, fault in check.look(world, entry):
                yield entry.problem(column, fault)


def _references(world: World, name: str) -> Iterator[CellProblem]:
    columns = [column for column in TABLE_BY_NAME[name].columns if column.ref]
    for entry in world.incoming.entries[name].values():
        for column in columns:
            key = entry.row.get(column.name)
            if key is not None and world.get(column.ref, (key,)) is None:
                entry.faulty = True
                yield entry.problem(column.name, world.unknown(column.ref, key))
