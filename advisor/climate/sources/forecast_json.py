"""A forecast as compressed JSON, so that a year of them reads back in seconds.

Numbers keep every digit; holes are null. The answers they were parsed from are kept beside
them, see `archive`.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place

FloatArray = NDArray[np.float64]
_MEMBERS = b'"members":{'


def to_bytes(forecast: Forecast) -> bytes:
    """Return a forecast as gzip-compressed JSON, the same bytes each time."""
    place = forecast.place
    whole = {
        "source": forecast.source,
        "place": [place.lat_deg, place.lon_deg, place.altitude_m],
        "fetched_s": forecast.fetched_s,
        "issued_s": forecast.issued_s,
        "credit": forecast.credit,
        "notes": list(forecast.notes),
        **_values(forecast),
    }
    return gzip.compress(_text(whole), mtime=0)


def from_bytes(data: bytes, *, with_members: bool = True) -> Forecast:
    """Return the forecast that `to_bytes` wrote; its members need not be decoded."""
    text = gzip.decompress(data)
    whole = json.loads(text if with_members else _cut(text))
    hourly = Outdoor(
        whole["start_s"], whole["step_s"], _arrays(whole["columns"]), frozenset(whole["derived"])
    )
    return Forecast(
        source=whole["source"],
        place=Place(*whole["place"]),
        fetched_s=whole["fetched_s"],
        issued_s=whole["issued_s"],
        hourly=hourly,
        step_h=_array(whole["step_h"]),
        credit=whole["credit"],
        members=_arrays(whole["members"]),
        low10=_arrays(whole["low10"]),
        high90=_arrays(whole["high90"]),
        notes=tuple(whole["notes"]),
    )


def without_members(data: bytes) -> bytes:
    """Return what `to_bytes` would have written of the forecast without its members."""
    text = gzip.decompress(data)
    short = _cut(text)
    return data if len(short) == len(text) else gzip.compress(short, mtime=0)


def _cut(text: bytes) -> bytes:
    """Empty the members without decoding them.

    They hold names and numbers only, so the first brace that closes is theirs; inside a text
    the mark cannot stand, since JSON writes a quote there as \\".
    """
    before, mark, after = text.partition(_MEMBERS)
    return before + mark + after[after.index(b"}") :] if mark else text


def values_sha256(forecast: Forecast) -> str:
    """Return a hash of what the forecast says, whenever it was fetched."""
    return hashlib.sha256(_text(_values(forecast))).hexdigest()


def _values(forecast: Forecast) -> dict[str, Any]:
    hourly = forecast.hourly
    return {
        "start_s": int(hourly.start_s),
        "step_s": int(hourly.step_s),
        "columns": _lists(hourly.columns),
        "derived": sorted(hourly.derived),
        "step_h": _list(forecast.step_h),
        "members": _lists(forecast.members),
        "low10": _lists(forecast.low10),
        "high90": _lists(forecast.high90),
    }


def _text(whole: dict[str, Any]) -> bytes:
    return json.dumps(whole, separators=(",", ":"), allow_nan=False, sort_keys=True).encode()


def _lists(columns: Mapping[str, FloatArray]) -> dict[str, list[Any]]:
    return {name: _list(column) for name, column in columns.items()}


def _list(column: FloatArray) -> list[Any]:
    """Return nested lists with null for whatever is not a number."""
    if column.ndim > 1:
        return [_list(row) for row in column]
    return [x if math.isfinite(x) else None for x in column.tolist()]


def _arrays(columns: Mapping[str, Any]) -> dict[str, FloatArray]:
    return {name: _array(column) for name, column in columns.items()}


def _array(column: list[Any]) -> FloatArray:
    return np.array(column, dtype=np.float64)  # None becomes NaN
