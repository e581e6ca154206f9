"""Serving: loopback is open, the network needs an account, a taken port is said."""

from __future__ import annotations

import io
import os
import re
import signal
import socket
import ssl
import subprocess
import sys
from urllib.request import urlopen

import pytest
import zxingcpp
from click.testing import CliRunner
from PIL import Image

from stash.cli import main
from stash.cli.accounts import first_owner
from stash.cli.lan import lan_address, qr_text
from stash.cli.serve import bound, bound_near, is_loopback
from stash.errors import Conflict, InvalidInput, NotFound
from stash.services import accounts
from stash.services.open import open_stash
from stash.services.own_files import folder as own_folder


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


@pytest.mark.parametrize("more", [["--host", "0.0.0.0"], ["--host", "::"], ["--lan"]])
def test_the_network_is_refused_without_an_owners_account(more, workshop, monkeypatch):
    monkeypatch.setattr("stash.cli.serve.lan_address", lambda: "192.168.1.7")
    result = CliRunner().invoke(main, ["serve", *more, "--port", "0", "--db", str(workshop)])
    assert result.exit_code == 2
    assert "no owner has an account" in result.stderr
    assert "stash accounts --add NAME" in result.stderr


def test_on_the_network_a_slip_in_the_files_name_makes_no_new_stash(tmp_path):
    file = tmp_path / "own.sqlite"
    result = CliRunner().invoke(main, ["serve", "--host", "0.0.0.0", "--port", "0", "--db", str(file)])
    assert result.exit_code == 2
    assert not file.exists()


def test_whoever_sits_at_the_terminal_is_asked_for_the_first_account(workshop, monkeypatch):
    said = iter(["Ruth", "sleeve boot gasket"])
    monkeypatch.setattr("stash.cli.accounts.sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("stash.cli.accounts.click.prompt", lambda *_, **__: next(said))
    store = open_stash(str(workshop))
    first_owner(store, "192.168.1.7")
    first_owner(store, "192.168.1.7")
    assert [(each.name, each.role) for each in accounts.accounts(store)] == [("Ruth", "owner")]
    store.close()


def test_the_lan_picks_its_address_itself():
    result = CliRunner().invoke(main, ["serve", "--lan", "--host", "192.168.1.7"])
    assert result.exit_code == 2
    assert "leave out --host" in result.output


def test_without_a_network_it_says_so(monkeypatch):
    monkeypatch.setattr("stash.cli.lan._ELSEWHERE", ("no..host", 9))
    monkeypatch.setattr("stash.cli.lan.socket.gethostbyname", lambda _: "127.0.1.1")
    with pytest.raises(NotFound, match="on no network"):
        lan_address()


def test_the_code_for_phones_says_the_address():
    drawn = qr_text("http://192.168.1.7:8470/").splitlines()
    halves = {"\u2588": (255, 255), "\u2580": (255, 0), "\u2584": (0, 255), " ": (0, 0), "\xa0": (0, 0)}
    rows = [[halves[mark][half] for mark in line] for line in drawn for half in (0, 1)]
    picture = Image.new("L", (len(rows[0]), len(rows)))
    picture.putdata([dot for row in rows for dot in row])
    grown = picture.resize((picture.width * 8, picture.height * 8), Image.Resampling.NEAREST)
    assert [code.text for code in zxingcpp.read_barcodes(grown)] == ["HTTP://192.168.1.7:8470/"]


def test_a_terminal_without_such_marks_is_spared_the_code(monkeypatch):
    monkeypatch.setattr("stash.cli.lan.sys.stdout", io.TextIOWrapper(io.BytesIO(), encoding="ascii"))
    assert qr_text("http://192.168.1.7:8470/") == ""


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


@pytest.mark.parametrize(
    "wrong",
    [
        "foo",
        "stash.local:8470",
        "ftp://stash.local",
        "http://",
        "http://a:port",
        "http://[",
        "http://a b",
        "http://u:p@a",
    ],
)
def test_labels_carry_no_address_that_is_none(workshop, wrong):
    answer = CliRunner().invoke(main, ["serve", "--address", wrong, "--db", str(workshop)])
    assert answer.exit_code == 2
    assert f"{wrong!r} is not an address" in answer.stderr


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
        while not (found := re.search(r"Open (https?://\S+) in", self.said)):
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


def test_for_phones_it_says_where_labels_lead_and_asks_who_it_is(start, workshop):
    store = open_stash(str(workshop))
    accounts.add(store, "Ruth", "owner", "sleeve boot gasket", who="owner")
    store.close()
    served = start("serve", "--lan", "--tls", "--port", "0", "--db", str(workshop))
    knowing = ssl.create_default_context(cafile=str(own_folder() / "tls" / "authority.pem"))
    with urlopen(served.address, timeout=10, context=knowing) as answer:
        assert 'type="password"' in answer.read().decode()
        assert "stash.local" not in answer.url
    assert served.stop(signal.SIGINT) == 0
    assert "On a phone in the same network: https://" in served.said
    assert "Labels lead to http://stash.local" in served.said
    assert "fingerprint" in served.said


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
