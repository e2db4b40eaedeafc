"""What a forecast source is: what it asks for and how its answers are read.

A source never fetches. It says what to ask (`Ask`), and turns the bytes of each answer into a
`Forecast`, or into further asks (`FollowUp`). Anything it cannot use is a `BadAnswer`, never
another exception, so that a broken answer can never replace a good forecast.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import ROUND_DOWN, Decimal
from typing import Protocol
from urllib.parse import urlsplit

from advisor.base.errors import InputError, RangeError
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place

#: Services take at most four decimals (MET Norway answers five with 403).
MOST_DECIMALS = 4
#: About a kilometre: enough for a forecast, and the service does not learn which shed it is.
USUAL_DECIMALS = 2


@dataclass
class BadAnswer(InputError):  # noqa: N818  (a name of the trade: the answer is bad)
    """An answer that cannot be used: source, place in the answer, found, accepted."""

    source: str
    where: str
    found: str
    accepted: str

    def __str__(self) -> str:
        """One line: source, place, found, accepted."""
        place = f"{self.source}: {self.where}" if self.where else self.source
        return f"{place}: found {self.found}; accepted: {self.accepted}"


@dataclass(frozen=True)
class Ask:
    """One GET. `headers` holds Accept; the User-Agent is the client's.

    `kind` goes back into `Source.parse` with the body. When it fails (status, time-out or
    `BadAnswer`), ask `instead`; where there is none, an `optional` ask is left out and the
    forecast of the earlier asks stands.
    """

    url: str
    params: Mapping[str, str]
    headers: Mapping[str, str]
    kind: str
    optional: bool = False
    instead: Ask | None = None


@dataclass(frozen=True)
class FollowUp:
    """An answer that only says where to ask next."""

    asks: tuple[Ask, ...]


class Source(Protocol):
    """A forecast service."""

    @property
    def id(self) -> str:
        """Short name in settings and the archive."""

    @property
    def name(self) -> str:
        """Name on screen."""

    @property
    def credit(self) -> str:
        """Licence line that must stand beside the numbers."""

    @property
    def terms(self) -> str:
        """What the user should know before choosing it."""

    @property
    def opt_in(self) -> bool:
        """Whether the user must have agreed to `terms` first."""

    def requests(self, place: Place, now_s: float, key: str = "") -> tuple[Ask, ...]:
        """Return what to ask, in order; coordinates are cut here."""

    def parse(
        self, kind: str, body: bytes, place: Place, fetched_s: float, earlier: Forecast | None
    ) -> Forecast | FollowUp:
        """Read one answer, or raise `BadAnswer`.

        `earlier` is the forecast the asks before this one gave; an answer that adds to it
        (ensemble members, past hours) returns the joined forecast.
        """


@dataclass(frozen=True)
class Where:
    """Coordinates as text for an address."""

    lat: str
    lon: str
    altitude: str = field(default="")


def cut_text(degrees: float, decimals: int = USUAL_DECIMALS) -> str:
    """Write degrees cut, not rounded, to at most four decimals without trailing zeros."""
    step = Decimal(1).scaleb(-min(max(decimals, 0), MOST_DECIMALS))
    text = format(Decimal(repr(float(degrees))).quantize(step, rounding=ROUND_DOWN), "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in {"-0", ""} else text


def cut_place(place: Place, decimals: int = USUAL_DECIMALS) -> Where:
    """Return the coordinates to send; altitude in whole metres, empty at 0 (not told)."""
    whole = str(round(place.altitude_m))
    lat, lon = (cut_text(x, decimals) for x in (place.lat_deg, place.lon_deg))
    return Where(lat, lon, "" if whole in {"0", "-0"} else whole)


def checked_server(address: str) -> str:
    """Return a server's base address without a closing slash; https, as its setting asks."""
    accepted = "an address such as https://forecast.example.org"
    try:
        parts = urlsplit(address.strip())
        host = parts.hostname or ""
    except ValueError:
        raise RangeError("server", repr(address), accepted) from None
    if not host or parts.scheme != "https" or parts.query or parts.fragment:
        raise RangeError("server", repr(address), accepted)
    return address.strip().rstrip("/")
