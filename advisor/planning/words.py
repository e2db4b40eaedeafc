"""How numbers and moments are put to a person: units and clock of the reader."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor.base import units as u


@dataclass(frozen=True)
class Words:
    """The reader's units and time zone; `now_s` decides when a clock time needs its day."""

    units: u.Units
    zone: ZoneInfo
    now_s: float | None = None

    def value(self, value: float, unit: str) -> str:
        """Put a house value with its house unit into the reader's."""
        writers = {
            "°C": u.format_temperature,
            "K": u.format_difference,
            "%": u.format_humidity,
            "m/s": u.format_speed,
            "mm": u.format_rain,
        }
        writer = writers.get(unit)
        return writer(value, self.units) if writer else f"{value:.2f} {unit}".strip()

    def moment(self, time_s: float) -> str:
        """Return a clock time, with its day when it is not the day of `now_s`."""
        local = datetime.fromtimestamp(round(time_s), self.zone)
        clock = local.strftime("%H:%M")
        if self.now_s is None:
            return f"{local.strftime('%a')} {local.day} {clock}"
        days = (local.date() - datetime.fromtimestamp(self.now_s, self.zone).date()).days
        if days == 0:
            return clock
        # A week away the name of the day alone could be either.
        date = f" {local.day}" if abs(days) > 5 else ""
        return f"{local.strftime('%a')}{date} {clock}"

    def iso(self, time_s: float) -> str:
        """ISO 8601 with offset, to the second."""
        return datetime.fromtimestamp(round(time_s), self.zone).isoformat()


def duration(hours: float) -> str:
    """Hours in the words of the bench: minutes, hours, days."""
    minutes = round(hours * 60)
    if minutes < 60:
        return f"{minutes} min"
    if hours < 36:
        whole, rest = divmod(minutes, 60)
        return f"{whole} h" if rest == 0 else f"{whole} h {rest} min"
    return f"{hours / 24:.1f} days"
