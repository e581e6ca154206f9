"""Serving: loopback is open, the network needs a password, a taken port is said."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from urllib.request import urlopen

import pytest
from click.testing import CliRunner
from werkzeug.security import check_password_hash

from stash.cli import main
from stash.cli.serve import bound, bound_near, is_loopback, password_hashes
from stash.errors import Conflict, InvalidInput


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


class Server:
    """A running ``stash`` and what it said."""

    def __init__(self, words: list[str], **environment: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "stash", *words],
            env={**os.environ, "PYTHONUNBUFFERED": "1", **environment},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self.said = ""
        while not (found := re.search(r"Open (http://\S+) in", self.said)):
            line = self.process.stdout.readline()
            assert line, self.said
            self.said += line
        self.address = found[1]

    def get(self, path: str) -> str:
        with urlopen(self.address + path, timeout=10) as answer:
            assert answer.status == 200
            return answer.read().decode()

    def stop(self, how: signal.Signals) -> int:
        self.process.send_signal(how)
        self.said += self.process.communicate(timeout=30)[0]
        return self.process.returncode


@pytest.fixture
def start():
    running: list[Server] = []

    def run(*words: str, **environment: str) -> Server:
        running.append(Server(list(words), **environment))
        return running[-1]

    yield run
    for server in running:
        if server.process.poll() is None:
            server.process.kill()
            server.process.communicate()


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_until_it_is_stopped_and_ends_with_0(start, workshop, how):
    server = start("serve", "--port", "0", "--db", str(workshop))
    assert "<html" in server.get("")
    assert server.stop(how) == 0
    assert "Stopped; everything is saved." in server.said
    assert "Traceback" not in server.said


def test_with_a_password_nothing_is_shown_before_it_is_given(start, workshop):
    server = start("serve", "--port", "0", "--db", str(workshop), STASH_OWNER_PASSWORD="grey moped club")
    assert 'type="password"' in server.get("")
    assert server.stop(signal.SIGINT) == 0


def test_open_forms_survive_a_restart(start, workshop, own_home):
    seal = own_home / "data" / "stash" / "session.key"
    start("serve", "--port", "0", "--db", str(workshop)).stop(signal.SIGINT)
    first = seal.read_bytes()
    assert len(first) == 32
    assert seal.stat().st_mode & 0o077 == 0
    start("serve", "--port", "0", "--db", str(workshop)).stop(signal.SIGINT)
    assert seal.read_bytes() == first


def test_the_demo_takes_the_next_port_and_says_so(start, taken):
    server = start("demo", "--port", str(taken))
    assert f"Port {taken} is taken; using " in server.said
    assert "Fennaby" in server.get("")
    assert server.stop(signal.SIGINT) == 0
