"""A reading as an entry: what was read, and the dew point and margin reckoned from it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from advisor.base.errors import AdvisorError
from advisor.record.canonical import Json
from advisor.record.entry import Draft, number_of, quantity
from advisor.record.in_force import number_text
from advisor.work import instrument_list
from advisor.work.known import known_of_values
from advisor.work.views import Reading

if TYPE_CHECKING:
    from advisor.planning.job import Job
    from advisor.work.kept import Kept

#: How the dew point is reckoned, as the entry states it.
FORMULA = "MetPy saturation pressure (Ambaum 2020) over water, solved for the dew point"
_READ = (
    ("air_temp_c", "air_temp", "°C"),
    ("rh_pct", "rh", "%"),
    ("surface_temp_c", "surface_temp", "°C"),
    ("surface_hot_c", "surface_hot", "°C"),
)


def reading_draft(
    bench: Kept, reading: Reading, now_s: float, area_id: str, said: Mapping[str, str]
) -> Draft:
    """Return the entry of a reading; values that cannot be reckoned are left out."""
    kept = instrument_list.instruments_kept(bench.store)
    data: dict[str, Json] = {}
    for name, field, unit in _READ:
        value = getattr(reading, name)
        if value is not None:
            instrument = instrument_list.reads_with(kept, field)
            told = quantity(number_text(value), unit, reading.origin, instrument)
            data[field] = {**told, **_as_entered(reading, name, value)}
    data |= _reckoned(reading, bench.job_in_hand())
    data |= {field: text for field, text in said.items() if text}
    return bench.record.draft("reading", data, at_s=reading.taken_s, now_s=now_s,
                              area_id=area_id, known=known_of_values(bench, now_s))  # fmt: skip


def _as_entered(reading: Reading, name: str, value: float) -> Mapping[str, Json]:
    """Digits and unit of a value that a person typed, nothing where it was not this one."""
    typed = reading.entered.get(name, {})
    return typed if number_of(typed) == value else {}


def reading_of(data: Mapping[str, Json], at_s: float) -> Reading:
    """Return what an entry's data says was read, at a moment."""
    air, rh, cold, hot = (number_of(data.get(field)) for _, field, _ in _READ)
    return Reading(at_s, air, rh, cold, hot)


def _reckoned(reading: Reading, job: Job) -> dict[str, Json]:
    """Dew or frost point, room above it, formula and the air's pressure."""
    from advisor.physics import moist_air

    if reading.air_temp_c is None or reading.rh_pct is None:
        return {}
    try:
        dew = moist_air.dew_point_c(reading.air_temp_c, reading.rh_pct)
        wet = moist_air.wet_point_c(reading.air_temp_c, dew)
        pressure = moist_air.pressure_at_altitude_hpa(altitude_m(job))
    except AdvisorError:
        return {}
    found: dict[str, Json] = {
        "dew_point": quantity(number_text(dew, 1), "°C", "computed"),
        "formula": FORMULA,
        "pressure": quantity(number_text(pressure, 1), "hPa", "estimated"),
    }
    if wet > dew:
        found["frost_point"] = quantity(number_text(wet, 1), "°C", "computed")
    if reading.surface_temp_c is not None:
        margin = number_text(reading.surface_temp_c - wet, 1)
        found["margin"] = quantity(margin, "K", "computed")
    return found


def from_wet_bulb(bench: Kept, data: Mapping[str, Json]) -> dict[str, Json]:
    """Return the humidity of a psychrometer's two thermometers, where none was read itself."""
    from advisor.physics.moist_air import pressure_at_altitude_hpa, rh_from_wet_bulb

    air, wet, rh = (number_of(data.get(key)) for key in ("air_temp", "wet_bulb", "rh"))
    if air is None or wet is None or rh is not None:
        return {}
    pressure = number_of(data.get("pressure"))
    if pressure is None:
        pressure = pressure_at_altitude_hpa(altitude_m(bench.job_in_hand()))
    return {"rh": quantity(number_text(rh_from_wet_bulb(air, wet, pressure), 1), "%", "computed")}


def altitude_m(job: Job) -> float:
    """Height of the shop; at sea level where nobody said."""
    if job.shop is None or job.shop.place is None:
        return 0.0
    return job.shop.place.altitude_m
