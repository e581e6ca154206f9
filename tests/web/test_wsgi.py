import pytest

from stash.errors import InvalidInput
from stash.services import accounts
from stash.web import wsgi


@pytest.fixture
def served(shop, monkeypatch, tmp_path):
    """The environment a WSGI server is started in."""
    monkeypatch.setenv("STASH_DB", str(shop.file))
    monkeypatch.setenv("STASH_ADDRESS", "http://stash.club.local")
    monkeypatch.setattr(wsgi, "seal", lambda: b"for tests only")
    return shop


def test_it_does_not_open_to_others_before_an_owner_has_an_account(served):
    with pytest.raises(InvalidInput, match="No owner"):
        wsgi.application()


@pytest.mark.parametrize(
    ("address", "told"), [("", "STASH_ADDRESS"), ("stash.club.local", "'stash.club.local' is not an address")]
)
def test_it_wants_to_know_its_address(served, monkeypatch, address, told):
    monkeypatch.setenv("STASH_ADDRESS", address)
    with pytest.raises(InvalidInput, match=told):
        wsgi.application()


def test_a_wsgi_server_gets_an_application_that_asks_who_is_there(served):
    accounts.add(served, "Ann", "owner", "three words or more", who="Ann")
    app = wsgi.application()
    answer = app.test_client().get("/", headers={"Host": "stash.club.local"})
    assert answer.status_code in {302, 303}
    assert "sign" in answer.headers["Location"]
    app.extensions["stash_store"].close()
