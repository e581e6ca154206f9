"""Loading what comes with the program: the starter vocabulary and the demo scenario."""

from __future__ import annotations

from stash.db.store import Store
from stash.errors import StorageError
from stash.services.tables import LoadReport, load_path


def load_starter(store: Store, *, who: str = "starter") -> LoadReport:
    """Load the starter vocabulary: kinds, measures and mates to begin with. Safe to repeat.

    Args:
        store: The database.
        who: Whose doing it is in the history.
    """
    from seed_demo import STARTER

    return load_path(store, STARTER, who)


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
