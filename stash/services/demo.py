"""Loading what comes with the program: the starter vocabulary and the demo scenario."""

from __future__ import annotations

from pathlib import Path

from stash.db.engines import default_file
from stash.db.store import Store
from stash.errors import Conflict, StorageError
from stash.exchange import read_tables
from stash.services.tables import LoadReport, load_path


def demo_file() -> Path:
    """Return where the demo lies: beside the user's own file, never in it."""
    return default_file().with_name("demo.sqlite")


def start_over(file: Path) -> None:
    """Remove the demo's file, with all that was tried in it."""
    for ending in ("", "-wal", "-shm"):
        file.with_name(file.name + ending).unlink(missing_ok=True)


def ensure_demo(store: Store) -> bool:
    """Load the demo into an empty database; leave one that already holds it as it is.

    Returns:
        Whether it was loaded now.

    Raises:
        Conflict: The database holds other things.
        StorageError: As for ``load_demo``.
    """
    from seed_demo import DEMO

    catalogue, stock = store.catalogue(), store.stock()
    makers = read_tables(DEMO)["makers"]
    keys = {cells[makers.header.index("key")] for _, cells in makers.rows}
    if keys <= set(catalogue.maker):
        return False
    if catalogue.makers or stock.machines or stock.lots or stock.places:
        raise Conflict("That database holds a collection of its own", "Give the demo another file, or leave out --db.")
    load_demo(store)
    return True


def load_starter(store: Store, *, who: str = "starter", dry_run: bool = False) -> LoadReport:
    """Load the starter vocabulary: kinds, measures and mates to begin with. Safe to repeat.

    Args:
        store: The database.
        who: Whose doing it is in the history.
        dry_run: Report what would be done, and write nothing.
    """
    from seed_demo import STARTER

    return load_path(store, STARTER, who, dry_run=dry_run)


def load_demo(store: Store, *, who: str = "demo") -> LoadReport:
    """Load the starter vocabulary and the demo scenario on top of it. Safe to repeat.

    Args:
        store: The database.
        who: Whose doing it is in the history.

    Returns:
        The report on the scenario's own tables.

    Raises:
        StorageError: The tables that come with the program do not load, which is a fault of the installation.
    """
    from seed_demo import DEMO

    for report in (load_starter(store, who=who), load_path(store, DEMO, who)):
        if report.errors:
            said = "; ".join(str(problem) for problem in report.errors[:3])
            raise StorageError(f"The tables that come with the program do not load: {said}", "Install it again.")
    return report
