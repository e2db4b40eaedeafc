"""One GET to a weather service: conditional, guarded, and never for ever.

requests-cache remembers answers with their validators, so that a service is asked "changed
since?" and can say no. Its cache is never what the program reads: see `archive`. Waiting is the
scheduler's business (`backoff`), so nothing here sleeps on `Retry-After`.

requests cannot be interrupted. Each GET therefore runs in a thread of its own that the caller
leaves alone when told to stop or when the guard is over; that thread looks at the same flag
between any two pieces of an answer, and ends by its own time-outs at the latest.
"""

from __future__ import annotations

import math
import threading
from pathlib import Path

from advisor import __version__
from advisor.base.errors import InputError
from advisor.climate.sources import http_cache
from advisor.climate.sources.source import Ask
from advisor.climate.sources.wire import Answer, Limits, NoAnswer, Question, Run

#: The name every request carries; the contact follows where the user gave one.
PROGRAM = f"painting-window-advisor/{__version__}"
#: How often a waiting caller looks at the stop flag.
_LOOK_S = 0.05


class Client:
    """Asks weather services, one GET at a time; may be used from any thread.

    Set `stop` and every GET returns at once. `own_machine` allows plain http to this computer,
    for tests; all else must be https.
    """

    def __init__(
        self,
        cache_file: Path,
        *,
        stop: threading.Event | None = None,
        limits: Limits | None = None,
        own_machine: bool = False,
    ) -> None:
        self.stop = threading.Event() if stop is None else stop
        self._cache_file = cache_file
        self._limits = Limits() if limits is None else limits
        self._own_machine = own_machine
        self._held: dict[str, int] = {}

    def get(self, ask: Ask, contact: str = "", *, fresh: bool = False) -> Answer | NoAnswer:
        """Ask; with `fresh` the remembered answer will do while it has not expired.

        Raises only our own bugs; whatever network and service do is an Answer or a NoAnswer.
        """
        run = Run(self._question(ask, contact), self._cache_file, self._limits, self.stop)
        work = threading.Thread(target=run.work, args=(fresh,), name="forecast GET", daemon=True)
        work.start()
        for _ in range(math.ceil(self._limits.guard_s / _LOOK_S)):
            if run.done.wait(_LOOK_S) or self.stop.is_set():
                break
        return run.leave()

    def forget(self, ask: Ask) -> None:
        """Drop the remembered answer: it was no good, so the next GET is unconditional."""
        asked = self._question(ask, "")
        http_cache.forget(self._cache_file, asked.url, asked.params, asked.headers)

    def tidy(self) -> None:
        """Drop remembered answers a month old: addresses change with the date."""
        http_cache.drop_old(self._cache_file)

    def hold(self, source_id: str, until_s: int) -> None:
        """Remember until when a source is left alone, where the database cannot be written."""
        self._held[source_id] = until_s

    def held_until(self, source_id: str) -> int:
        """Return what `hold` remembered; 0 for nothing."""
        return self._held.get(source_id, 0)

    def _question(self, ask: Ask, contact: str) -> Question:
        headers = {"Accept": "application/json", **ask.headers, "User-Agent": user_agent(contact)}
        return Question(ask.url, ask.params, headers, self._own_machine)


def user_agent(contact: str) -> str:
    """Return the User-Agent: program, version and the user's contact.

    InputError for a contact that cannot stand in a header.
    """
    contact = contact.strip()
    if not (contact.isascii() and contact.isprintable()):
        raise InputError(f"contact: found {contact!r}; accepted: one line of plain characters")
    return f"{PROGRAM} ({contact or 'no contact given'})"
