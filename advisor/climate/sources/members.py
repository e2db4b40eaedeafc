"""Ensemble members out of the parallel arrays of an Open-Meteo answer.

The control has the plain name, members add `_member01`, `_member02`, …; where several models
were asked for, a model's name stands behind, and only the first model is used.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import Protocol

import numpy as np

from advisor.climate.sources.layers import Axis, FloatArray, dew_from

_MEMBER = re.compile(r"(?P<variable>[a-z0-9_]+?)_member(?P<number>\d{2,3})(?P<model>_[a-z0-9_]+)?")
_VARIABLES: Mapping[str, str] = MappingProxyType(
    {
        "air_temp_c": "temperature_2m",
        "dew_point_c": "dew_point_2m",
        "rh_pct": "relative_humidity_2m",
        "wind_m_s": "wind_speed_10m",
        "cloud_pct": "cloud_cover",
        "rain_mm": "precipitation",
    }
)
#: Fewer say nothing about spread.
LEAST_MEMBERS = 3


class Arrays(Protocol):
    """Named parallel arrays."""

    def names(self) -> list[str]:
        """Return the names of the arrays."""

    def column(self, name: str, column: str) -> FloatArray | None:
        """Return an array [m] in the house unit of `column`."""

    def laid(self, axis: Axis, values: FloatArray) -> FloatArray:
        """Return an array [m] laid on an axis [n]."""


def member_columns(table: Arrays, axis: Axis) -> dict[str, FloatArray]:
    """Return columns [members, n], the control first; every column has the same members.

    Empty where air or dew point has fewer than three. Hours an answer does not cover are NaN.
    """
    suffixes = _suffixes(table.names())
    found = {}
    for name, variable in _VARIABLES.items():
        columns = [table.column(variable + suffix, name) for suffix in suffixes]
        whole = [column for column in columns if column is not None]
        if len(whole) == len(suffixes) >= LEAST_MEMBERS:
            found[name] = np.stack([table.laid(axis, column) for column in whole])
    return _damp(found)


def _suffixes(names: list[str]) -> list[str]:
    """Return what stands behind the variable for control and members of the first model."""
    matches = [m for m in (_MEMBER.fullmatch(n) for n in names) if m is not None]
    own = [m for m in matches if m["variable"] == _VARIABLES["air_temp_c"]]
    if not own:
        return []
    model = own[0]["model"] or ""
    numbers = sorted({m["number"] for m in own if (m["model"] or "") == model})
    control = [model] if _VARIABLES["air_temp_c"] + model in names else []
    return control + [f"_member{number}{model}" for number in numbers]


def _damp(found: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Turn humidity into dew point where there is none, and keep it at or below the air."""
    rh = found.pop("rh_pct", None)
    air, dew = found.get("air_temp_c"), found.get("dew_point_c")
    if air is None or (dew is None and rh is None):
        return {}
    if dew is None:
        dew = np.full(air.shape, np.nan)
    if rh is not None:
        dew, _ = dew_from(air, dew, rh)
    found["dew_point_c"] = np.where(dew > air, air, dew)
    if "rain_mm" in found:
        found["rain_mm"] = np.where(np.isnan(air), np.nan, found["rain_mm"])
    return found
