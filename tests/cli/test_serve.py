"""Serving: loopback is open, the network needs a password, a taken port is said."""

from __future__ import annotations

import socket

import pytest
from click.testing import CliRunner
from werkzeug.security import check_password_hash

from stash.cli import main
from stash.cli.serve import bound, bound_near, is_loopback, password_hashes
from stash.errors import Conflict, InvalidInput


@pytest.fixture(autouse=True)
def no_passwords(monkeypatch):
    for role in ("OWNER", "HELPER", "GUEST"):
        monkeypatch.delenv(f"STASH_{role}_PASSWORD", raising=False)


@pytest.fixture
def taken():
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        yield holder.getsockname()[1]


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.10", "::1", "localhost"])
def test_loopback_is_this_computer_alone(host):
    assert is_loopback(host)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.7", "stash.local", ""])
def test_everything_else_is_the_network(host):
    assert not is_loopback(host)


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.7", "stash.local"])
def test_the_network_is_refused_without_an_owner_password(host, tmp_path, monkeypatch):
    monkeypatch.setenv("STASH_GUEST_PASSWORD", "long enough")
    file = tmp_path / "own.sqlite"
    result = CliRunner().invoke(main, ["serve", "--host", host, "--port", "0", "--db", str(file)])
    assert result.exit_code == 2
    assert "no password is set" in result.stderr
    assert "STASH_OWNER_PASSWORD" in result.stderr
    assert not file.exists()


def test_passwords_are_kept_as_hashes_by_role(monkeypatch):
    monkeypatch.setenv("STASH_OWNER_PASSWORD", "grey moped club")
    monkeypatch.setenv("STASH_GUEST_PASSWORD", "look but do not touch")
    hashes = password_hashes()
    assert set(hashes) == {"owner", "guest"}
    assert check_password_hash(hashes["owner"], "grey moped club")
    assert not check_password_hash(hashes["guest"], "grey moped club")
    assert "moped" not in hashes["owner"]


def test_a_short_password_is_refused(monkeypatch):
    monkeypatch.setenv("STASH_HELPER_PASSWORD", "1234")
    with pytest.raises(InvalidInput, match="STASH_HELPER_PASSWORD is too short"):
        password_hashes()


def test_a_taken_port_is_said(taken):
    with pytest.raises(Conflict, match=f"Port {taken} is taken"):
        bound("127.0.0.1", taken)


def test_the_next_port_is_taken_where_one_is_taken(taken):
    with bound_near("127.0.0.1", taken) as listening:
        port = listening.getsockname()[1]
    assert taken < port < taken + 20


def test_when_all_ports_nearby_are_taken_it_says_so(monkeypatch):
    def refuse(host, port):
        raise Conflict(f"Port {port} is taken")

    monkeypatch.setattr("stash.cli.serve.bound", refuse)
    with pytest.raises(Conflict, match="Ports 9000 to 9019 are all taken"):
        bound_near("127.0.0.1", 9000)


def test_an_address_of_another_computer_is_bad_input():
    with pytest.raises(InvalidInput, match=r"Can't listen at 203\.0\.113\.1"):
        bound("203.0.113.1", 0)


def test_a_name_that_is_no_address_is_bad_input():
    with pytest.raises(InvalidInput, match="Can't listen at"):
        bound("no..host", 0)
