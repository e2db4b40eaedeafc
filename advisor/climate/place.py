"""Where the shop stands."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal

from advisor.base.errors import RangeError


@dataclass(frozen=True)
class Place:
    """A point on the earth: degrees north and east (WGS 84), metres above the sea."""

    lat_deg: float
    lon_deg: float
    altitude_m: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is not on the earth."""
        for name, low, high in (
            ("lat_deg", -90.0, 90.0),
            ("lon_deg", -180.0, 180.0),
            ("altitude_m", -430.0, 5500.0),
        ):
            value = getattr(self, name)
            if not low <= value <= high:  # NaN fails too
                raise RangeError(name, f"{value:g}", f"{low:g} to {high:g}")

    def cut(self, decimals: int = 2) -> Place:
        """Return the place with its coordinates cut (not rounded) for asking a service.

        Two decimals are about a kilometre: enough for a forecast, and the service does not
        learn which shed it is.
        """
        step = Decimal(1).scaleb(-decimals)  # by decimals: 1.15 is 1.1499… as a float
        lat, lon = (
            float(Decimal(repr(x)).quantize(step, rounding=ROUND_DOWN))
            for x in (float(self.lat_deg), float(self.lon_deg))
        )
        return Place(lat, lon, self.altitude_m)
