"""The ratio a batch was mixed in, against the one asked for, as both are kept with it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from advisor.record.entry import Data

#: A ratio further off than this is told, share (common practice: a cup's marks are as good).
RATIO_OFF = 0.05
#: What the ratio kept may be off by itself: it is written down to three digits.
RATIO_ROUNDED = 0.005
#: Name of the part that no ratio counts.
THINNER = "thinner"
#: Units by what they measure, with their size in L or kg.
UNITS = MappingProxyType(
    {
        "L": ("volume", 1.0),
        "ml": ("volume", 0.001),
        "US gal": ("volume", 3.785411784),
        "fl oz": ("volume", 0.0295735295625),
        "kg": ("mass", 1.0),
        "g": ("mass", 0.001),
        "lb": ("mass", 0.45359237),
        "oz": ("mass", 0.028349523125),
    }
)


def parts_of(text: object) -> tuple[float, ...] | None:
    """Return the parts of a ratio such as "2 : 1 by volume", base first; None where it is none."""
    try:
        parts = tuple(float(part) for part in str(text).split(" by ")[0].split(":"))
    except ValueError:
        return None
    good = len(parts) > 1 and all(math.isfinite(part) and part > 0 for part in parts)
    return parts if good else None


def off(asked: Sequence[float], mixed: Sequence[float]) -> tuple[int, float]:
    """Return the component furthest off and by what share, more than asked above 0.

    Both base first and of equal length; each component is held against the first.
    """
    shares = [(m / mixed[0]) / (a / asked[0]) - 1.0 for a, m in zip(asked, mixed, strict=True)]
    worst = max(range(len(shares)), key=lambda k: abs(shares[k]))
    return worst, shares[worst]


def wrong_way(data: Data) -> bool:
    """Whether components were weighed where the ratio is by volume, or the other way round."""
    rows, by_mass = data.get("parts"), data.get("ratio_by") == "mass"
    return any(
        (UNITS.get(str(row["unit"]), ("volume", 1.0))[0] == "mass") != by_mass
        for row in (rows if isinstance(rows, Sequence) else ())
        if isinstance(row, Mapping) and row.get("part") != THINNER and row.get("unit")
    )
