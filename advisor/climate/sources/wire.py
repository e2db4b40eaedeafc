"""What happens inside one GET: the thread, the piece-by-piece reading, the remembered answer.

`client` is the door; nothing else uses this. requests, urllib3 and requests-cache are imported
inside functions: they take longer than showing the window.
"""

from __future__ import annotations

import io
import socket
import threading
from collections.abc import Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import urljoin, urlsplit

from advisor.climate.sources import http_cache
from advisor.climate.sources.backoff import http_date_s

_MOST_HOPS = 3
_HOPS = frozenset({301, 302, 303, 307, 308})
_OWN_MACHINE = frozenset({"127.0.0.1", "::1", "localhost"})
_PIECE = 65536
#: Set anew for the body once it is unpacked and whole.
_OF_THE_WIRE = frozenset({"content-encoding", "content-length", "transfer-encoding"})


@dataclass(frozen=True)
class Limits:
    """Seconds for connecting, between two pieces of an answer and in all; most bytes."""

    connect_s: float = 5.0
    read_s: float = 20.0
    guard_s: float = 30.0
    most_bytes: int = 20_000_000
    pause_s: float = 1.0


@dataclass(frozen=True)
class Question:
    """One GET with all its headers. `own_machine` allows plain http to this computer."""

    url: str
    params: Mapping[str, str]
    headers: Mapping[str, str]
    own_machine: bool = False


@dataclass(frozen=True)
class Answer:
    """What came back. Header names are in lower case.

    `asked` is false when the cache answered by itself, `unchanged` true when the service said
    "not modified"; `headers` are then those of that answer and `body` is the remembered one.
    """

    status: int
    headers: Mapping[str, str]
    body: bytes
    asked: bool = True
    unchanged: bool = False


@dataclass(frozen=True)
class NoAnswer:
    """Nothing came back, and why in words for the user."""

    reason: str
    stopped: bool = False


class _LeaveError(BaseException):
    """The run ends here, with a reason for the user.

    No plain Exception: requests-cache would catch it, write the address with its key to the
    log, and answer with what it remembers as if nothing had happened.
    """


class Run:
    """One GET in a thread of its own. `work` fills it; whoever waits calls `leave`."""

    def __init__(
        self, question: Question, cache_file: Path, limits: Limits, stop: threading.Event
    ) -> None:
        self.question = question
        self.limits = limits
        self.done = threading.Event()
        self._cache_file = cache_file
        self._stop = stop
        self._left = threading.Event()
        self._result: Answer | NoAnswer | BaseException | None = None
        self._wire: tuple[int, Mapping[str, str]] | None = None
        self._socket: socket.socket | None = None

    def leave(self) -> Answer | NoAnswer:
        """Return the result; where there is none yet, let the thread end by itself."""
        if not self.done.is_set():
            self._left.set()
            self._wake()
            if self._stop.is_set():
                return NoAnswer("stopped", stopped=True)
            return NoAnswer(f"no whole answer within {self.limits.guard_s:g} s")
        if isinstance(self._result, BaseException):
            raise self._result
        assert self._result is not None
        return self._result

    def work(self, fresh: bool) -> None:
        """Ask, in this thread; never raises."""
        try:
            self._result = self._asked(fresh)
        except BaseException as error:
            self._result = error
        finally:
            self.done.set()

    def check(self) -> None:
        """Raise _LeaveError when nobody waits any more."""
        if self._left.is_set() or self._stop.is_set():
            raise _LeaveError("stopped")

    def pause(self, seconds: float) -> None:
        """Wait between two tries, but not when told to stop."""
        self._stop.wait(seconds)
        self.check()

    def opened(self, connected: socket.socket) -> None:
        """Remember the connection, so that leaving can end a read that waits on it."""
        self._socket = connected
        self.check()

    def received(self, raw: Any) -> bytes:
        """Read a body piece by piece; a drip of single bytes does not hold anyone."""
        try:
            return self._pieces(raw)
        finally:
            raw.close()

    def note(self, status: int, headers: Mapping[str, str]) -> None:
        """Remember what came over the wire, since the cache hides it."""
        self._wire = (status, MappingProxyType({k.lower(): v for k, v in headers.items()}))

    def _pieces(self, raw: Any) -> bytes:
        found = bytearray()
        while True:
            self.check()
            piece = raw.read1(_PIECE, decode_content=True)
            if not piece:
                self.check()  # a read that was woken up ends like a whole one
                return bytes(found)
            found += piece
            if len(found) > self.limits.most_bytes:
                raise _LeaveError(f"the answer is longer than {self.limits.most_bytes} bytes")

    def _wake(self) -> None:
        """End whatever the thread waits for on the wire, headers or body."""
        connected = self._socket
        if connected is not None:
            with suppress(OSError, ValueError):  # it has just ended by itself
                connected.shutdown(socket.SHUT_RDWR)

    def _asked(self, fresh: bool) -> Answer | NoAnswer:
        try:
            return self._with_or_without_cache(fresh)
        except _LeaveError as error:
            return NoAnswer(str(error), stopped=self._stop.is_set())

    def _with_or_without_cache(self, fresh: bool) -> Answer:
        import requests

        try:
            with http_cache.session(self._cache_file) as session:
                _mount(session, self)
                return self._hops(session, fresh)
        except Exception as error:
            # Full disk, damage found late, a header the cache chokes on: the forecast does not
            # depend on it. A bug of our own comes up again without the cache.
            http_cache.drop_damaged(self._cache_file, error)
            with closing(requests.Session()) as session:
                _mount(session, self)
                return self._hops(session, fresh)

    def _hops(self, session: Any, fresh: bool) -> Answer:
        """Follow a service that sends us on, a few times and never away from https."""
        url, params = self.question.url, dict(self.question.params)
        for _ in range(_MOST_HOPS + 1):
            _refuse_open(url, self.question.own_machine)
            answer = self._once(session, url, params, fresh)
            onward = answer.headers.get("location")
            if answer.status not in _HOPS or not onward:
                return answer
            url, params = _joined(url, onward), {}
        raise _LeaveError("the service sends us on and on")

    def _once(self, session: Any, url: str, params: dict[str, str], fresh: bool) -> Answer:
        """Ask the service, or the cache where `fresh` allows and the answer has not expired."""
        self._wire = None
        response = self._got(session, url, params, fresh)
        if self._wire is None and not fresh:
            # It has no validator, so the cache thinks it good for longer than we do.
            session.cache.delete(response.cache_key)
            response = self._got(session, url, params, fresh)
        cached = bool(getattr(response, "from_cache", False))
        if self._wire is None:
            lower = {k.lower(): v for k, v in response.headers.items()}
            return Answer(response.status_code, lower, response.content, asked=False)
        status, headers = self._wire
        if status == 304 and cached:
            return Answer(response.status_code, headers, response.content, unchanged=True)
        return Answer(status, headers, response.content)

    def _got(self, session: Any, url: str, params: dict[str, str], fresh: bool) -> Any:
        self.check()
        more: dict[str, Any] = {} if not hasattr(session, "cache") else {"refresh": not fresh}
        return session.get(
            url,
            params=params,
            headers=dict(self.question.headers),
            timeout=(self.limits.connect_s, self.limits.read_s),
            allow_redirects=False,
            **more,
        )


def _refuse_open(url: str, own_machine: bool) -> None:
    try:
        parts = urlsplit(url)
        host = parts.hostname
    except ValueError:
        raise _LeaveError("the service's address cannot be read") from None
    if parts.scheme == "https" and host:
        return
    if not (own_machine and parts.scheme == "http" and host in _OWN_MACHINE):
        raise _LeaveError("refused: an address without https")


def _joined(url: str, onward: str) -> str:
    try:
        return urljoin(url, onward)
    except ValueError:
        raise _LeaveError("the service sends us to an address that cannot be read") from None


def _mount(session: Any, run: Run) -> None:
    """Let every request of this session be read by the run, with its tries."""
    tries, adapter = _tries(run), _adapter(run)
    for scheme in ("https://", "http://"):
        session.mount(scheme, adapter(max_retries=tries))


def _tries(run: Run) -> Any:
    """Return urllib3's retries: a few, with pauses that a stop ends.

    Nothing sleeps on Retry-After: an hour's wait belongs to the scheduler.
    """
    from urllib3.util.retry import Retry

    class Tries(Retry):
        """A few tries with a pause between them that a stop ends."""

        def sleep(self, response: Any = None) -> None:
            run.pause(self.get_backoff_time())

        def increment(self, *args: Any, **kwargs: Any) -> Any:
            more = super().increment(*args, **kwargs)
            if kwargs.get("response") is not None:
                kwargs["response"].close()  # urllib3 would read it to its end, however slow
            return more

    return Tries(
        total=2,
        connect=2,
        read=1,
        status=2,
        status_forcelist=(500, 502, 503, 504),
        allowed_methods={"GET"},
        backoff_factor=run.limits.pause_s,
        backoff_jitter=run.limits.pause_s,
        raise_on_status=False,
        respect_retry_after_header=False,
    )


def _adapter(run: Run) -> Any:
    """Return a kind of adapter that lets the run read every body."""
    from requests import RequestException
    from requests.adapters import HTTPAdapter
    from urllib3.exceptions import HTTPError

    class Adapter(HTTPAdapter):  # type: ignore[misc]
        """Reads the whole body itself, so that stop, guard and size hold for every byte."""

        def get_connection_with_tls_context(self, *args: Any, **kwargs: Any) -> Any:
            pool = super().get_connection_with_tls_context(*args, **kwargs)
            pool.ConnectionCls = _watched(pool.ConnectionCls, run)
            return pool

        def send(self, request: Any, *args: Any, **kwargs: Any) -> Any:
            request.headers.pop("Cache-Control", None)  # a note of the cache to itself
            try:
                response = super().send(request, *args, **kwargs)
                run.note(response.raw.status, dict(response.raw.headers))
                body = run.received(response.raw)
            except (RequestException, HTTPError, OSError) as error:
                raise _LeaveError(_plain(error, run.limits)) from error
            return _whole(response, request.url, body)

    return Adapter


def _watched(kind: Any, run: Run) -> Any:
    """Return a kind of connection that shows its socket to the run."""

    class Watched(kind):  # type: ignore[misc]
        """The same, and the run can end it."""

        def connect(self) -> None:
            super().connect()
            run.opened(self.sock)

    return Watched


def _whole(response: Any, url: str, body: bytes) -> Any:
    """Return the response with a body that is whole and unpacked."""
    from urllib3 import HTTPResponse

    raw = response.raw
    for name in _OF_THE_WIRE:
        response.headers.pop(name, None)
    if not http_date_s(response.headers.get("Expires")):
        response.headers.pop("Expires", None)  # requests-cache 1.3 raises on what is no date
    response.raw = HTTPResponse(
        body=io.BytesIO(body),
        headers=dict(response.headers),
        status=raw.status,
        version=raw.version,
        reason=raw.reason,
        preload_content=False,
        request_url=url,
    )
    return response


def _plain(error: Exception, limits: Limits) -> str:
    """Say what went wrong with the connection, without the address (it may hold a key)."""
    from requests import exceptions as asking
    from urllib3 import exceptions as reading

    silent = f"the service was silent for {limits.read_s:g} s"
    table: tuple[tuple[type[Exception], str], ...] = (
        (asking.ProxyError, "the proxy did not let us through"),
        (asking.SSLError, "the secure connection failed; check this computer's clock"),
        (asking.ConnectTimeout, f"no connection within {limits.connect_s:g} s"),
        (asking.Timeout, silent),
        (asking.ConnectionError, _plain_connection(error, silent)),
        (reading.ReadTimeoutError, silent),
        (reading.DecodeError, "the answer cannot be unpacked"),
        (reading.HTTPError, "the answer broke off"),
        (OSError, "no connection"),
    )
    # RequestException is an OSError too, so what is left of it ends in the last row.
    return next(words for kind, words in table if isinstance(error, kind))


def _plain_connection(error: Exception, silent: str) -> str:
    from urllib3.exceptions import NameResolutionError, ReadTimeoutError

    cause = getattr(error.args[0] if error.args else None, "reason", None)
    if isinstance(cause, NameResolutionError):
        return "its name was not found; is there a connection to the internet?"
    return silent if isinstance(cause, ReadTimeoutError) else "no connection"
