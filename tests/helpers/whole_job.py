"""An invented job of eight coats over three weeks: its file, its logger's file, what was done when.

The gig Dunlin again, in May of a year to come, in a shed whose night before the first gloss is
clear and damp: the surface falls below the dew point. The logger stands still for one afternoon.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

DAY = datetime(2031, 5, 5, tzinfo=UTC)
#: The logger is read out on the last morning.
DAYS = 21
STEP_MIN = 10
#: Hours from DAY in which the shed was damp enough for dew, and in which the logger stood still.
DAMP_H = (10 * 24 + 1.0, 10 * 24 + 5.0)
STOPPED_H = (12 * 24 + 14.0, 12 * 24 + 19.0)


@dataclass(frozen=True)
class Day:
    """One coat: its id, day from DAY, hour of mixing (UTC), hours to lay it, its area."""

    coat: str
    day: int
    hour: float
    hours: float
    area: str


COATS = (
    Day("sealer", 0, 9.0, 1.0, "port"),
    Day("primer-1", 1, 9.5, 1.0, "port"),
    Day("primer-2", 3, 9.0, 1.0, "port"),
    Day("undercoat", 7, 9.0, 1.0, "port"),
    Day("gloss-1", 9, 10.0, 1.25, "port"),
    Day("gloss-2", 12, 9.0, 1.25, "port"),
    Day("stripe-gloss", 15, 9.0, 0.5, "sheer-stripe"),
    Day("stripe", 18, 9.0, 0.75, "sheer-stripe"),
)

_NAMES = {
    "sealer": ("epoxy sealer", "demo-epoxy-sealer"),
    "primer-1": ("first high-build primer", "demo-high-build-primer"),
    "primer-2": ("second high-build primer", "demo-high-build-primer"),
    "undercoat": ("undercoat", "demo-undercoat"),
    "gloss-1": ("first gloss", "demo-two-part-gloss"),
    "gloss-2": ("second gloss", "demo-two-part-gloss"),
    "stripe-gloss": ("gloss under the stripe", "demo-two-part-gloss"),
    "stripe": ("contrasting stripe", "demo-stripe-gloss"),
}
_HEAD = """schema = 1
id = "gig-may"
name = "Pilot gig Dunlin, May"
place = "tide-mill shed"
time_zone = "Europe/London"
working_hours = "08:00-20:00"

[[area]]
id = "port"
name = "port side"
area_m2 = 9.4

[[area]]
id = "sheer-stripe"
name = "sheer stripe"
area_m2 = 1.8
"""


def job_toml() -> str:
    """The job's file."""
    rows = [_HEAD]
    for one in COATS:
        name, product = _NAMES[one.coat]
        size = 9.4 if one.area == "port" else 1.8
        rows.append(
            f'\n[[coat]]\nid = "{one.coat}"\nname = "{name}"\narea = "{one.area}"\n'
            f'product = "{product}"\npace_m2_per_h = {size / one.hours:g}\nmethod = "roll"\n'
        )
    return "".join(rows)


def air(hour: float) -> tuple[float, float, float]:
    """Return air and dew point and coldest spot of the shed, °C, at an hour from DAY."""
    warm = math.cos((hour % 24 - 15) / 12 * math.pi)
    air_c = 16.5 + 2.0 * warm
    surface_c = 16.0 + 1.4 * math.cos((hour % 24 - 17) / 12 * math.pi)
    dew_c = 7.5 + 0.5 * math.sin(hour / 19)
    if DAMP_H[0] <= hour <= DAMP_H[1]:
        dew_c = min(surface_c + 0.4, air_c - 0.1)
    return air_c, dew_c, surface_c


def write_log(path: Path) -> Path:
    """Write what the logger kept, every ten minutes, with its stop."""
    lines = ["time,air_temp_c,dew_point_c,surface_temp_c"]
    for step in range(DAYS * 24 * 60 // STEP_MIN):
        hour = step * STEP_MIN / 60
        if STOPPED_H[0] <= hour < STOPPED_H[1]:
            continue
        at = DAY + timedelta(hours=hour)
        values = ",".join(f"{value:.2f}" for value in air(hour))
        lines.append(f"{at:%Y-%m-%dT%H:%M:%SZ},{values}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def moment(day: int, hour: float) -> datetime:
    """Return a moment of the job, UTC."""
    return DAY + timedelta(days=day, hours=hour)
