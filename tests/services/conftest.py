import pytest

from stash.db.store import Store, open_store
from tests.services.workshop import furnish


@pytest.fixture
def workshop(store: Store) -> Store:
    """A store with the small workshop in it."""
    furnish(store)
    return store


@pytest.fixture
def other_store(make_url_of):
    """An empty store in a file, beside the one that is worked in."""
    opened = open_store(make_url_of("sqlite"))
    yield opened
    opened.close()
