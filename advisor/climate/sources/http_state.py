"""What is remembered of each source between two runs of the program: see `backoff.State`."""

from __future__ import annotations

import hashlib
import sqlite3
from urllib.parse import urlsplit

from advisor.base.store import Store
from advisor.climate.place import Place
from advisor.climate.sources.backoff import State, may_ask
from advisor.climate.sources.source import Ask

#: How long a window that is asking keeps others from asking the same.
CLAIM_S = 60
KEPT_S = 7 * 86400

_COLUMNS = "next_allowed_s, expires_s, failures, last_status, last_error, stopped_for"


def question(ask: Ask) -> str:
    """Return the name of a question: its address with parameters, without any key."""
    told = sorted((name, value) for name, value in ask.params.items() if name != "apikey")
    return ask.url + "".join(f"&{name}={value}" for name, value in told)


def service(ask: Ask, key: str = "") -> str:
    """Return the name of a server as a whole; another key or server starts anew."""
    host = urlsplit(ask.url).netloc
    return f"server {host} {hashlib.sha256(key.encode()).hexdigest()[:16]}" if key else host


def place_name(place: Place) -> str:
    """Return the name of a place, asked about in however many questions."""
    cut = place.cut()
    return f"place {cut.lat_deg!r} {cut.lon_deg!r} {cut.altitude_m!r}"


def load(store: Store, source_id: str, url: str) -> State:
    """Return what is remembered; a blank state when nothing is."""
    with store.read() as db:
        return _load(db, source_id, url)


def save(store: Store, source_id: str, states: dict[str, State]) -> None:
    """Remember states by question, all or none."""
    with store.write() as db:
        for url, state in states.items():
            _save(db, source_id, url, state)


def tidy(store: Store, now_s: int) -> None:
    """Drop what no longer says anything, such as yesterday's addresses."""
    with store.write() as db:
        db.execute(
            "DELETE FROM http_state WHERE stopped_for = '' AND max(next_allowed_s, expires_s) < ?",
            (now_s - KEPT_S,),
        )


def claim(store: Store, source_id: str, name: str, settings_id: str, now_s: int) -> bool:
    """Take the right to ask now; False when another window has just taken it."""
    with store.write() as db:
        state = _load(db, source_id, name)
        if not may_ask(state, now_s, settings_id):
            return False
        db.execute(
            "INSERT INTO http_state (source, url, next_allowed_s) VALUES (?, ?, ?) "
            "ON CONFLICT (source, url) DO UPDATE SET next_allowed_s = excluded.next_allowed_s",
            (source_id, name, now_s + CLAIM_S),
        )
    return True


def _load(db: sqlite3.Connection, source_id: str, url: str) -> State:
    row = db.execute(
        f"SELECT {_COLUMNS} FROM http_state WHERE source = ? AND url = ?", (source_id, url)
    ).fetchone()
    return State() if row is None else State(*row)


def _save(db: sqlite3.Connection, source_id: str, url: str, state: State) -> None:
    db.execute(
        f"INSERT OR REPLACE INTO http_state (source, url, {_COLUMNS}) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            source_id,
            url,
            state.next_allowed_s,
            state.expires_s,
            state.failures,
            state.last_status,
            state.last_error,
            state.stopped_for,
        ),
    )
