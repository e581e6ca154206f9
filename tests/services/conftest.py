import pytest

from stash.db.store import Store
from tests.services.workshop import furnish


@pytest.fixture
def workshop(store: Store) -> Store:
    """A store with the small workshop in it."""
    furnish(store)
    return store
