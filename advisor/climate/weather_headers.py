"""Which column of a TMY3 or EPW file is what, in which unit, and what stands for "missing".

Sun and cloud are read only where a file is the weather outdoors: they are no readings of a shop.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from advisor.base.errors import FileFormatError

#: TMY3 columns by header name, lower case; the units are part of the name in that format.
_TMY3_COLUMNS = MappingProxyType(
    {
        "air_temp_c": "dry-bulb (c)",
        "dew_point_c": "dew-point (c)",
        "rh_pct": "rhum (%)",
        "pressure_hpa": "pressure (mbar)",
        "wind_m_s": "wspd (m/s)",
        "rain_mm": "lprecip depth (mm)",
    }
)
#: Sun: the sum of the hour before the stamp, so its mean in W. Cloud: as seen at the stamp.
_TMY3_OUTDOORS = MappingProxyType({"sun_w_m2": "ghi (w/m^2)", "cloud_pct": "totcld (tenths)"})
#: EPW fields by position from 0 (that format has no header row).
_EPW_COLUMNS = MappingProxyType(
    {
        "air_temp_c": 6,
        "dew_point_c": 7,
        "rh_pct": 8,
        "pressure_hpa": 9,
        "wind_m_s": 21,
        "rain_mm": 33,
    }
)
_EPW_OUTDOORS = MappingProxyType({"sun_w_m2": 13, "cloud_pct": 22})
_FILLERS = frozenset({-9900.0, -9999.0, -999.0, 9999.0, 9999.9, 99999.0, 999999.0})
_OUTDOORS_MISSING = MappingProxyType({"sun_w_m2": _FILLERS, "cloud_pct": _FILLERS | {99.0}})
_TMY3_MISSING = MappingProxyType(dict.fromkeys(_TMY3_COLUMNS, _FILLERS) | dict(_OUTDOORS_MISSING))
_EPW_MISSING = MappingProxyType(
    {
        "air_temp_c": _FILLERS | {99.9, 999.0},
        "dew_point_c": _FILLERS | {99.9, 999.0},
        "rh_pct": _FILLERS | {999.0},
        # 99999 Pa is an ordinary pressure, so it is no filler here.
        "pressure_hpa": (_FILLERS | {999.0}) - {99999.0},
        "wind_m_s": _FILLERS | {999.0, 999.9},
        "rain_mm": _FILLERS | {999.0, 999.9},
        **_OUTDOORS_MISSING,
    }
)
#: Tenths of the sky; sun above the atmosphere is 1 361 W/m², a broken cloud's rim adds to it.
_SCALE = MappingProxyType({"cloud_pct": 10.0})
_POSSIBLE = MappingProxyType({"sun_w_m2": (0.0, 1500.0), "cloud_pct": (0.0, 100.0)})


@dataclass(frozen=True)
class Header:
    """What the lines above the rows say. `columns` maps our name to the field's position.

    `possible` names the values, after scaling, outside which one cannot be true.
    """

    kind: str
    station: str
    offset_h: float
    columns: Mapping[str, int]
    sources: Mapping[str, str]
    missing: Mapping[str, frozenset[float]]
    scale: Mapping[str, float]
    possible: Mapping[str, tuple[float, float]]


def tmy3_header(path: Path, first: list[str], second: list[str], *, outdoors: bool) -> Header:
    """Return what the two header lines of a TMY3 file say; FileFormatError where they do not."""
    if len(first) < 4:
        raise FileFormatError(
            path.name, "line 1", f"{len(first)} fields", "site, name, state, time zone, ..."
        )
    places = {name.strip().lower(): place for place, name in enumerate(second)}
    wanted = {**_TMY3_COLUMNS, **(_TMY3_OUTDOORS if outdoors else {})}
    columns = {ours: places[theirs] for ours, theirs in wanted.items() if theirs in places}
    if "air_temp_c" not in columns or not {"dew_point_c", "rh_pct"} & set(columns):
        raise FileFormatError(
            path.name,
            "line 2",
            "no Dry-bulb (C) with Dew-point (C) or RHum (%)",
            "a TMY3 header with air temperature and dew point or RH",
        )
    return Header(
        kind="TMY3",
        station=" ".join(part.strip() for part in first[:3] if part.strip()),
        offset_h=_offset_h(path, first[3]),
        columns=columns,
        sources={ours: f"column '{second[place].strip()}'" for ours, place in columns.items()},
        missing=_TMY3_MISSING,
        scale=_SCALE,
        possible=_POSSIBLE,
    )


def epw_header(path: Path, first: list[str], *, outdoors: bool) -> Header:
    """Return what the location line of an EPW file says."""
    columns = {**_EPW_COLUMNS, **(_EPW_OUTDOORS if outdoors else {})}
    return Header(
        kind="EPW",
        station=" ".join(first[i].strip() for i in (5, 1, 3) if first[i].strip()),
        offset_h=_offset_h(path, first[8]),
        columns=columns,
        sources={ours: f"field {place + 1}" for ours, place in columns.items()},
        missing=_EPW_MISSING,
        scale={**_SCALE, "pressure_hpa": 0.01},
        possible=_POSSIBLE,
    )


def _offset_h(path: Path, text: str) -> float:
    accepted = "hours from UTC between -12 and 14, such as -5.0"
    try:
        offset = float(text)
    except ValueError:
        offset = float("nan")
    if not -12.0 <= offset <= 14.0:
        raise FileFormatError(path.name, "line 1, time zone", repr(text.strip()), accepted)
    return offset
