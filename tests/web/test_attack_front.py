"""The web server itself, spoken to over a real connection: slow, endless, oversized and broken requests, and bombs."""

import io
import socket
import struct
import threading
import zipfile
from contextlib import contextmanager
from http.client import HTTPConnection
from time import monotonic

import pytest

from stash.cli.serve import bound
from stash.web.app import UPLOAD_BYTES
from stash.web.front import LARGE_AT_ONCE, WORKERS, Front
from tests.services.camera import bomb, photo
from tests.services.workshop import CARBS
from tests.web.conftest import Visitor

PATIENCE_S = 60


@contextmanager
def serving(app, **limits):
    """The port of a running front."""
    listening = bound("127.0.0.1", 0)
    port = listening.getsockname()[1]
    front = Front(app, [listening], **limits)
    running = threading.Thread(target=front.run)
    running.start()
    try:
        yield port
    finally:
        front.stop()
        running.join(PATIENCE_S)
    assert not running.is_alive()


def opened(port: int) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port), PATIENCE_S)


def everything(connection: socket.socket) -> bytes:
    """What comes until the other side hangs up."""
    said = b""
    try:
        while piece := connection.recv(65536):
            said += piece
    except ConnectionError:
        pass
    return said


def asked(port: int, address: str = "/machines/") -> int:
    connection = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
    connection.request("GET", address)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status


def test_many_slow_requests_hold_up_nobody_and_are_hung_up_on(app):
    head = b"POST /machines/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 9999\r\n"
    with serving(app, headers_s=2, reading_s=2) as port:
        slow = [opened(port) for _ in range(WORKERS * 10)]
        for number, connection in enumerate(slow):
            connection.sendall(head[:30] if number % 2 else head + b"\r\nsome")
        assert asked(port) == 200
        for connection in slow:
            said = everything(connection)
            assert said == b"" or said.startswith((b"HTTP/1.1 408", b"HTTP/1.1 302")), said
            connection.close()
        assert asked(port) == 200


def test_an_answer_without_a_body_comes_with_its_headers(app):
    with serving(app) as port:
        connection = HTTPConnection("127.0.0.1", port, timeout=PATIENCE_S)
        connection.request("GET", "/static/stash.css")
        whole = connection.getresponse()
        assert whole.read()
        for method, headers, status in (
            ("HEAD", {}, 200),
            ("GET", {"If-None-Match": str(whole.getheader("ETag"))}, 304),
            ("OPTIONS", {}, 200),
        ):
            connection.request(method, "/static/stash.css", headers=headers)
            answer = connection.getresponse()
            assert (answer.status, answer.read()) == (status, b"")
            assert answer.getheader("X-Content-Type-Options") == "nosniff"
        connection.close()


def test_a_body_that_falls_silent_is_hung_up_on(app):
    with serving(app, silence_s=0.5) as port:
        connection = opened(port)
        connection.sendall(b"POST /machines/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 9999\r\n\r\nsome")
        said = everything(connection)
        assert said.startswith(b"HTTP/1.1 408")
        assert b"nosniff" in said
        connection.close()


def test_an_answer_may_take_longer_than_any_request():
    def slow(_environ, start):
        threading.Event().wait(1.5)
        start("200 OK", [("Content-Type", "text/plain"), ("Content-Length", "4")])
        return [b"done"]

    with serving(slow, silence_s=0.3, headers_s=0.3, reading_s=0.3) as port:
        assert asked(port) == 200


def test_being_stopped_before_it_began_ends_it_all_the_same(app):
    front = Front(app, [bound("127.0.0.1", 0)])
    front.stop()
    running = threading.Thread(target=front.run)
    running.start()
    running.join(PATIENCE_S)
    assert not running.is_alive()


def test_what_is_too_large_is_refused_before_it_is_read(app):
    with serving(app) as port:
        connection = opened(port)
        connection.sendall(
            f"POST /sheets/check HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: {UPLOAD_BYTES + 1}\r\n\r\n".encode()
        )
        started = monotonic()
        assert connection.recv(65536).startswith(b"HTTP/1.1 413")
        assert monotonic() - started < PATIENCE_S
        connection.close()
        assert asked(port) == 200


def test_what_never_ends_is_refused_when_it_is_too_large(app):
    with serving(app, largest=100_000) as port:
        connection = opened(port)
        connection.sendall(b"POST /sheets/check HTTP/1.1\r\nHost: 127.0.0.1\r\nTransfer-Encoding: chunked\r\n\r\n")
        piece = b"8000\r\n" + b"x" * 0x8000 + b"\r\n"
        said = b""
        try:
            for _ in range(8):
                connection.sendall(piece)
        except ConnectionError:
            pass
        said = everything(connection)
        assert said.startswith(b"HTTP/1.1 413") or said == b""
        connection.close()
        assert asked(port) == 200


def test_many_large_requests_wait_their_turn(app):
    with serving(app) as port:
        large = [opened(port) for _ in range(LARGE_AT_ONCE * 2)]
        size = 400_000
        head = "POST /machines/add HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nContent-Length: "
        for connection in large:
            connection.sendall(f"{head}{size}\r\n\r\n".encode())
        for connection in large:
            connection.sendall(b"x" * size)
        for connection in large:
            assert everything(connection).startswith(b"HTTP/1.1 400")  # a form without its seal
            connection.close()


@pytest.mark.parametrize(
    "said",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
        b"GET / HTTP/9.9\r\n\r\n",
        b"GET /\x00 HTTP/1.1\r\nHost: x\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"x" * 100_000 + b"\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\nGET",
        b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
    ],
)
def test_what_is_no_request_gets_no_page(app, said):
    with serving(app, headers_s=2, reading_s=2) as port:
        connection = opened(port)
        connection.sendall(said)
        connection.shutdown(socket.SHUT_WR)
        answer = everything(connection)
        assert answer == b"" or answer.split()[1] in {b"400", b"403", b"404", b"405", b"413", b"431", b"505"}, answer[
            :200
        ]
        connection.close()
        assert asked(port) == 200


def test_a_connection_that_is_cut_is_forgotten(app):
    with serving(app) as port:
        for _ in range(20):
            connection = opened(port)
            connection.sendall(b"POST /machines/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 50\r\n\r\nhalf")
            connection.close()
        assert asked(port) == 200


def packed(members: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def workbook(sheet: bytes) -> bytes:
    kinds = b'<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'
    return packed({"[Content_Types].xml": kinds, "xl/workbook.xml": sheet, "xl/worksheets/sheet1.xml": sheet})


def claiming(size: int) -> bytes:
    """A zip whose list says that an entry of a megabyte unpacks to another size.

    Source: PKWARE APPNOTE 4.3.12, uncompressed size in the central directory.
    """
    data = bytearray(packed({"makers.csv": bytes(1_000_000)}))
    struct.pack_into("<I", data, data.rindex(b"PK\x01\x02") + 24, size)
    return bytes(data)


ENTITIES = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "aaaaaaaaaa">%s]><a>&j;</a>' % b"".join(
    b'<!ENTITY %c "%s">' % (99 + n, b"&%c;" % (98 + n if n else 97) * 10) for n in range(8)
)
OUTSIDE = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY j SYSTEM "file:///etc/passwd">]><a>&j;</a>'

SHEETS = {
    "bomb.zip": lambda: claiming(4_000_000_000),
    "lying.zip": lambda: claiming(1),
    "many.zip": lambda: packed({f"{n}.csv": b"" for n in range(3000)}),
    "outside.zip": lambda: packed({"../../makers.csv": b"key\nx\n"}),
    "entities.xlsx": lambda: workbook(ENTITIES),
    "outside.xlsx": lambda: workbook(OUTSIDE),
    "cut.xlsx": lambda: workbook(b"<a/>")[:-40],
    "cut.zip": lambda: packed({"makers.csv": b"key,name\nx,X\n"})[:-30],
    "picture.csv": photo,
    "nothing.zip": lambda: b"",
    "../../../etc/cron.d/x.zip": lambda: b"PK",
    "..\\..\\x.ods": lambda: b"PK\x03\x04" + bytes(100),
}


def test_files_that_mean_harm_are_refused_in_words_and_change_nothing(shop, visitor):
    before = shop.stock(), shop.catalogue()
    seal = visitor.open("/sheets/").fields()["csrf_token"]
    for name, made in SHEETS.items():
        for address in ("/sheets/check", "/sheets/shelf/", "/sheets/sharing/"):
            data = {"csrf_token": seal, "file": (io.BytesIO(made()), name), "whose": "Odile"}
            answer = visitor.client.post(address, data=data, follow_redirects=True)
            body = answer.get_data(as_text=True)
            assert answer.status_code in {200, 400}, (name, address, answer.status_code)
            assert "root:" not in body, (name, address)
            assert "Traceback" not in body
    assert (shop.stock(), shop.catalogue()) == before


PHOTOS = {
    "bomb.jpg": bomb,
    "cut.jpg": lambda: photo()[:2000],
    "page.jpg": lambda: b"<html><script>alert(1)</script></html>",
    "drawing.png": lambda: b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>',
    "../../x.jpg": lambda: b"",
}


def test_pictures_that_mean_harm_are_refused_in_words_and_leave_no_file(shop, visitor):
    seal = visitor.open("/identify/photo").fields()["csrf_token"]
    for name, made in PHOTOS.items():
        for address, field in ((f"/photos/of/lot/{CARBS}", "photo"), ("/identify/photo", "file")):
            data = {"csrf_token": seal, field: (io.BytesIO(made()), name)}
            answer = visitor.client.post(address, data=data)
            assert answer.status_code == 400, (name, address)
    assert not shop.photos.exists() or not list(shop.photos.rglob("*.jp*"))
    assert visitor.client.get("/photos/large/..%2f..%2fetc%2fpasswd.jpg").status_code == 404


def test_a_file_sent_under_a_harmful_name_keeps_none_of_its_path(visitor):
    seal = visitor.open("/sheets/").fields()["csrf_token"]
    data = packed({"makers.csv": b"key,name\nx,X\n"})
    sent = {"csrf_token": seal, "file": (io.BytesIO(data), "../../<img src=x onerror=a()>.zip")}
    answer = Visitor(visitor.client).client.post("/sheets/check", data=sent)
    assert answer.status_code == 200
    assert "<img" not in answer.get_data(as_text=True)
    assert "../" not in answer.get_data(as_text=True)
