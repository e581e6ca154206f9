"""Only services that write the ledger change how many of a lot there are, or where it lies."""

import ast
from functools import cache
from pathlib import Path

import stash

ROOM = Path(stash.__file__).parent
STOCK = {"quantity", "place", "from_machine", "from_position"}
"""What is told by movements; reading it is everybody's."""
WRITERS = {
    "services/lots.py",
    "services/machines.py",
    "services/at_position.py",
    "services/counting.py",
}
"""Each writes movements beside; see ``Work.move``."""
WHOLE_ROWS = {
    "services/load_writes.py": "tables from outside, with the movements they amount to",
    "services/history.py": "an undo, with the movements the other way",
    "services/archive.py": "an archive, with its ledger",
}
"""Write rows of any table as wholes."""


@cache
def files():
    return {str(path.relative_to(ROOM)): ast.parse(path.read_text()) for path in sorted(ROOM.rglob("*.py"))}


def assigned(tree):
    """Yield every attribute that something is assigned to."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign | ast.AugAssign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            for target in targets:
                each = target.elts if isinstance(target, ast.Tuple | ast.List) else [target]
                yield from (part for part in each if isinstance(part, ast.Attribute))


def called(tree):
    """Yield ``(what is called, the call)``."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func
            yield name.attr if isinstance(name, ast.Attribute) else getattr(name, "id", ""), node


def imports_rows(tree, name):
    """Tell whether a module knows the mapped class of that name."""
    return any(
        isinstance(node, ast.ImportFrom)
        and node.module == "stash.db.models"
        and any(a.name == name for a in node.names)
        for node in ast.walk(tree)
    )


def test_no_other_code_changes_a_quantity_or_a_place():
    found = {
        f"{name}:{each.lineno} {each.attr}"
        for name, tree in files().items()
        if name not in WRITERS
        for each in assigned(tree)
        if each.attr in STOCK and not (isinstance(each.value, ast.Name) and each.value.id == "self")
    }
    assert found == set()


def test_no_other_code_makes_a_lot():
    found = {
        name
        for name, tree in files().items()
        if name not in WRITERS and imports_rows(tree, "Lot")
        for what, _ in called(tree)
        if what == "Lot"
    }
    assert found == set()


def test_rows_of_any_table_are_written_in_three_places_only():
    """``work.insert(table, ...)`` with a table known only at run time could write lots."""
    writing = {
        name
        for name, tree in files().items()
        if name != "db/unit.py"
        for what, call in called(tree)
        if what in {"insert", "update", "delete"}
        and isinstance(call.func, ast.Attribute)
        and isinstance(call.func.value, ast.Name)
        and call.func.value.id == "work"
        and not (call.args and isinstance(call.args[0], ast.Constant) and call.args[0].value != "lots")
    }
    assert writing <= {
        *WHOLE_ROWS,
        "services/rows.py",
    }  # rows.py refuses the ledger's columns, and deletes what it never had


def test_every_writer_enters_movements():
    for name in WRITERS:
        assert any(what == "move" for what, _ in called(files()[name])), name


def test_movements_are_never_changed_or_removed():
    for name, tree in files().items():
        for what, call in called(tree):
            if what in {"update", "delete"} and call.args and isinstance(call.args[0], ast.Name):
                assert call.args[0].id not in {"Movement", "Batch", "Change"}, f"{name}:{call.lineno}"
