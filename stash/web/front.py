"""The web server in front of the application: what reads requests off the network, with or without TLS.

Requests are read by one thread that waits for nobody, so a slow one costs a connection and never a worker. What is too
large, too slow or too much at once is refused before the application hears of it.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import signal
import socket
from collections.abc import Awaitable, Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

from hypercorn.asyncio import serve
from hypercorn.config import Config
from hypercorn.middleware import AsyncioWSGIMiddleware

from stash.web.app import UPLOAD_BYTES
from stash.web.headers import HEADERS

SMALL_BYTES = 256 * 1024
"""What any number of requests may send at once; of larger ones few are read together, so that they fit in memory, and
the others wait their turn."""

LARGE_AT_ONCE = 4
WORKERS = 6
HEADERS_S, SILENCE_S, READING_S = 10, 20, 120
"""Seconds for the headers, between two pieces of a request, and for all of one. Source: project decision; a photo over
a weak workshop network takes half a minute."""

Scope = dict[str, Any]
Receive = Callable[[], Awaitable[dict[str, Any]]]
Send = Callable[[dict[str, Any]], Awaitable[None]]


class Refused(Exception):  # noqa: N818 - it says what happened
    """A request that is not handed on; the status and one sentence."""

    def __init__(self, status: int, said: str) -> None:
        super().__init__(said)
        self.status = status
        self.said = said


class Gate:
    """Reads each request whole before the application sees it.

    Args:
        app: The WSGI application.
        largest: Largest body, in bytes.
        reading_s: Longest time a body may take, in seconds.
        silence_s: Longest time between two pieces of it, in seconds.
    """

    def __init__(
        self, app: Any, *, largest: int = UPLOAD_BYTES, reading_s: float = READING_S, silence_s: float = SILENCE_S
    ) -> None:
        self._app = AsyncioWSGIMiddleware(partial(_told, app), largest)
        self._largest = largest
        self._reading_s = reading_s
        self._silence_s = silence_s
        self._room = asyncio.Semaphore(LARGE_AT_ONCE)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Read a request and hand it on, or refuse it."""
        if scope["type"] != "http":
            await _not_http(scope, receive, send)
            return
        taken: list[int] = []
        try:
            body = await asyncio.wait_for(self._body(scope, receive, taken), self._reading_s)
        except Refused as refused:
            await _answer(send, refused.status, refused.said)
        except TimeoutError:
            await _answer(send, 408, "The request came too slowly.")
        else:
            if body is not None:
                await self._app(scope, _once(body), send)  # type: ignore[arg-type]
        finally:
            for _ in taken:
                self._room.release()

    async def _body(self, scope: Scope, receive: Receive, taken: list[int]) -> bytes | None:
        """The whole body; None when the other side left.

        Raises:
            Refused: It is too large.
        """
        declared = dict(scope["headers"]).get(b"content-length", b"0")
        await self._admit(int(declared) if declared.isdigit() else 0, taken)
        body = bytearray()
        while True:
            message = await asyncio.wait_for(receive(), self._silence_s)
            if message["type"] == "http.disconnect":
                return None
            body += message.get("body", b"")
            await self._admit(len(body), taken)
            if not message.get("more_body"):
                return bytes(body)

    async def _admit(self, size: int, taken: list[int]) -> None:
        """Go on, or wait until few others send large requests.

        Raises:
            Refused: It is too large.
        """
        if size > self._largest:
            raise Refused(413, f"That is too big: {self._largest // 1024 // 1024} MB at most.")
        if size > SMALL_BYTES and not taken:
            await self._room.acquire()
            taken.append(1)


class Front:
    """A web server over sockets that listen already.

    Args:
        app: The WSGI application.
        sockets: Listening sockets; they are the front's from now on.
        certificate: The certificate's file for TLS, with its chain; None for plain HTTP.
        key: Its key's file.
        largest: Largest request, in bytes.
        reading_s: Longest time a body may take, in seconds.
        silence_s: Longest time between two pieces of it, in seconds; an answer may take as long as it needs.
        headers_s: Longest time until a request's headers are there, in seconds.
    """

    def __init__(
        self,
        app: Any,
        sockets: Sequence[socket.socket],
        *,
        certificate: Path | None = None,
        key: Path | None = None,
        largest: int = UPLOAD_BYTES,
        reading_s: float = READING_S,
        silence_s: float = SILENCE_S,
        headers_s: float = HEADERS_S,
    ) -> None:
        self._gate = Gate(app, largest=largest, reading_s=reading_s, silence_s=silence_s)
        self._config = _config(sockets, certificate, key, headers_s)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._ended: asyncio.Event | None = None
        self._stopped = False

    def heed_signals(self) -> None:
        """Let Ctrl-C and a polite kill ``stop`` it, from now on; for the main thread."""
        for name in (signal.SIGINT, signal.SIGTERM):
            signal.signal(name, lambda *_: self.stop())

    def run(self) -> None:
        """Serve until ``stop``, then finish what is being answered."""
        asyncio.run(self._serve())

    def stop(self) -> None:
        """End ``run`` from another thread or a signal, also when it has not begun yet."""
        self._stopped = True
        if self._loop is not None and self._ended is not None:
            self._loop.call_soon_threadsafe(self._ended.set)

    async def _serve(self) -> None:
        self._loop, self._ended = asyncio.get_running_loop(), asyncio.Event()
        if self._stopped:
            self._ended.set()
        self._loop.set_default_executor(ThreadPoolExecutor(WORKERS, thread_name_prefix="answer"))
        gc.collect()
        gc.freeze()  # what is loaded by now stays; searching it again only delays answers
        await serve(self._gate, self._config, shutdown_trigger=self._ended.wait, mode="asgi")  # type: ignore[arg-type]


def _config(sockets: Sequence[socket.socket], certificate: Path | None, key: Path | None, headers_s: float) -> Config:
    config = Config()
    config.bind = [f"fd://{each.detach()}" for each in sockets]
    config.include_server_header = False
    config.alpn_protocols = ["http/1.1"]
    config.keep_alive_timeout = headers_s
    config.ssl_handshake_timeout = headers_s
    config.graceful_timeout = 5
    config.h11_max_incomplete_size = 32 * 1024
    config.errorlog = logging.getLogger("stash.front")
    if certificate is not None and key is not None:
        config.certfile, config.keyfile = str(certificate), str(key)
    return config


async def _not_http(scope: Scope, receive: Receive, send: Send) -> None:
    """Answer the server's own start and stop; refuse anything but HTTP."""
    if scope["type"] == "websocket":
        await send({"type": "websocket.close"})
        return
    while scope["type"] == "lifespan":
        message = await receive()
        await send({"type": f"{message['type']}.complete"})
        if message["type"] == "lifespan.shutdown":
            return


def _told(app: Any, environ: dict[str, Any], start: Any) -> Iterator[bytes]:
    """Answer in one piece at least: the server begins an answer with its first, and a HEAD or a 304 would have none."""
    pieces = app(environ, start)
    try:
        yield b""
        yield from pieces
    finally:
        if hasattr(pieces, "close"):
            pieces.close()


def _once(body: bytes) -> Receive:
    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    return receive


async def _answer(send: Send, status: int, said: str) -> None:
    told = {"Content-Type": "text/plain; charset=utf-8", "Connection": "close", **HEADERS}
    headers = [(name.lower().encode(), value.encode()) for name, value in told.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": said.encode() + b"\n", "more_body": False})
