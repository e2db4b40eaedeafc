"""What the painter knows of the shop, and what may be done to its air."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from advisor.base.errors import RangeError
from advisor.climate.place import Place

ShopKind = Literal["open shelter", "tent", "stone shed", "timber shed", "metal shed", "insulated"]
KINDS: tuple[ShopKind, ...] = (
    "open shelter", "tent", "stone shed", "timber shed", "metal shed", "insulated",
)  # fmt: skip


@dataclass(frozen=True)
class Shop:
    """Kind and size of the shop, and where it stands (None: not said, so no forecast)."""

    kind: ShopKind = "timber shed"
    volume_m3: float = 200.0
    place: Place | None = None

    def __post_init__(self) -> None:
        """Refuse a shop that cannot be."""
        if self.kind not in KINDS:
            raise RangeError("shop kind", repr(self.kind), ", ".join(KINDS))
        if not 1.0 <= self.volume_m3 <= 1e6:
            raise RangeError("volume_m3", f"{self.volume_m3:g}", "1 to 1 000 000")


HeaterKind = Literal["electric", "vented", "unvented"]
#: Where the work goes; "" where it stays.
Move = Literal["", "indoors", "outdoors"]


@dataclass(frozen=True)
class Change:
    """What if: what is done to the shop's air, all of it nothing by default.

    Heater and dehumidifier run from `from_s` to `until_s` (UTC seconds), or the whole time where
    None. `air_changes` multiplies the shop's own air change (doors, fans: above 1). A damp
    floor holds `damp_litres` spread over `damp_m2` at `from_s`. `tent_m3` is the volume of a tent
    or sheet hung round the work inside the shop; 0 is none. `move` takes the work into the shop
    or into the yard in those hours.
    """

    heater_kw: float = 0.0
    heater_kind: HeaterKind = "electric"
    dehumidifier_l_per_day: float = 0.0
    air_changes: float = 1.0
    damp_litres: float = 0.0
    damp_m2: float = 0.0
    tent_m3: float = 0.0
    from_s: float | None = None
    until_s: float | None = None
    move: Move = ""
