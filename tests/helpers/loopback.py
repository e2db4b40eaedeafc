"""A weather service on this computer that answers as badly as told, and counts what it is asked."""

from __future__ import annotations

import socket
import struct
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Literal
from urllib.parse import urlsplit, urlunsplit

import pytest

from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources.source import Ask, FollowUp, Source

Fault = Literal["", "reset", "cut short", "drip", "drip headers", "silent", "silent after headers"]


@dataclass(frozen=True)
class Reply:
    """What to answer. `fault` says how the connection misbehaves while doing so."""

    status: int = 200
    headers: Mapping[str, str] = field(default_factory=dict)
    body: bytes = b""
    fault: Fault = ""
    tells_length: bool = True

    def but(self, **headers: str | None) -> Reply:
        """Return the same with other headers (None: without); `_` stands for `-`."""
        changed = {name.replace("_", "-"): value for name, value in headers.items()}
        kept = {k: v for k, v in self.headers.items() if k not in changed}
        return replace(self, headers=kept | {k: v for k, v in changed.items() if v is not None})


@dataclass(frozen=True)
class Seen:
    """One request as the service saw it; header names in lower case."""

    path: str
    headers: Mapping[str, str]


class Service:
    """The server. `answer` maps the start of a path to a reply or to a function of the request."""

    def __init__(self) -> None:
        self.seen: list[Seen] = []
        self.asked = threading.Event()
        self.closing = threading.Event()
        self._replies: dict[str, Reply | Callable[[Seen], Reply]] = {}
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = True
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.01,))
        self._thread.start()

    @property
    def base(self) -> str:
        """The address, without a closing slash."""
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def answer(self, start: str, reply: Reply | Callable[[Seen], Reply]) -> None:
        """From now on answer paths that start so with this."""
        self._replies[start] = reply

    def close(self) -> None:
        """End every answer still dripping, and the server."""
        self.closing.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def _reply(self, seen: Seen) -> Reply:
        fitting = [start for start in self._replies if seen.path.startswith(start)]
        if not fitting:
            return Reply(599, {}, b"no such path in this test")
        found = self._replies[max(fitting, key=len)]
        return found if isinstance(found, Reply) else found(seen)

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        service = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:
                seen = Seen(self.path, {k.lower(): v for k, v in self.headers.items()})
                service.seen.append(seen)
                service.asked.set()
                self.close_connection = True
                try:
                    _send(self, service._reply(seen), service.closing)
                except OSError:  # the other side has gone, as it should
                    return

            def log_message(self, *args: object) -> None:
                """Say nothing."""

        return Handler


def _send(to: BaseHTTPRequestHandler, reply: Reply, closing: threading.Event) -> None:
    if reply.fault == "silent":
        closing.wait()
        return
    if reply.fault == "reset":
        _reset(to.connection)
        return
    if reply.fault == "drip headers":
        _drip(to, f"HTTP/1.1 {reply.status} Slow\r\nX-Slow: ".encode() + b"a" * 60_000, closing)
        return
    to.send_response_only(reply.status)
    for name, value in reply.headers.items():
        to.send_header(name, value)
    if reply.status != 304 and reply.tells_length:
        to.send_header("Content-Length", str(len(reply.body)))
    to.send_header("Connection", "close")
    to.end_headers()
    _send_body(to, reply, closing)


def _send_body(to: BaseHTTPRequestHandler, reply: Reply, closing: threading.Event) -> None:
    if reply.fault == "silent after headers":
        closing.wait()
    elif reply.fault == "cut short":
        to.wfile.write(reply.body[: len(reply.body) // 2])
    elif reply.fault == "drip":
        _drip(to, reply.body, closing)
    elif reply.status != 304:
        to.wfile.write(reply.body)


def _drip(to: BaseHTTPRequestHandler, data: bytes, closing: threading.Event) -> None:
    for byte in data:
        to.wfile.write(bytes([byte]))
        to.wfile.flush()
        if closing.wait(0.01):
            return


def _reset(connection: socket.socket) -> None:
    """Close so that the other side gets a reset rather than an end."""
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
    connection.close()


@contextmanager
def service() -> Iterator[Service]:
    """Run a service for the length of a test."""
    running = Service()
    try:
        yield running
    finally:
        running.close()


@dataclass(frozen=True)
class Rerouted:
    """A real source whose questions go to the service on this computer."""

    real: Source
    base: str

    @property
    def id(self) -> str:
        return self.real.id

    @property
    def name(self) -> str:
        return self.real.name

    @property
    def credit(self) -> str:
        return self.real.credit

    @property
    def terms(self) -> str:
        return self.real.terms

    @property
    def opt_in(self) -> bool:
        return self.real.opt_in

    def requests(self, place: Place, now_s: float, key: str = "") -> tuple[Ask, ...]:
        return tuple(self._here(ask) for ask in self.real.requests(place, now_s, key))

    def parse(
        self, kind: str, body: bytes, place: Place, fetched_s: float, earlier: Forecast | None
    ) -> Forecast | FollowUp:
        parsed = self.real.parse(kind, body, place, fetched_s, earlier)
        if isinstance(parsed, FollowUp):
            return FollowUp(tuple(self._here(ask) for ask in parsed.asks))
        return parsed

    def _here(self, ask: Ask) -> Ask:
        parts, here = urlsplit(ask.url), urlsplit(self.base)
        url = urlunsplit((here.scheme, here.netloc, parts.path, parts.query, ""))
        instead = None if ask.instead is None else self._here(ask.instead)
        return replace(ask, url=url, instead=instead)


def only_this_computer(monkeypatch: pytest.MonkeyPatch, refused: BaseException) -> None:
    """Let sockets reach the loopback address and nothing else; no proxy either."""
    real = socket.socket.connect

    def connect(self: socket.socket, address: tuple[str, int]) -> None:
        if address[0] != "127.0.0.1":
            raise refused
        real(self, address)

    monkeypatch.setattr(socket.socket, "connect", connect)
    for name in ("HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY", "http_proxy", "https_proxy"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("NO_PROXY", "*")
