"""Units of the sources into house units, and what is plausible outdoors."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from advisor.climate.sources.answer import Node
from advisor.physics.moist_air import AIR_RANGE_C

_Scale = tuple[float, float]  # house value = scale * value + shift

_TEMPERATURE: Mapping[str, _Scale] = MappingProxyType(
    dict.fromkeys(("celsius", "degc", "°c", "c"), (1.0, 0.0))
    | dict.fromkeys(("fahrenheit", "degf", "°f", "f"), (5.0 / 9.0, -160.0 / 9.0))
    | dict.fromkeys(("kelvin", "k"), (1.0, -273.15))
)
_PERCENT: Mapping[str, _Scale] = MappingProxyType(dict.fromkeys(("%", "percent"), (1.0, 0.0)))
_SPEED: Mapping[str, _Scale] = MappingProxyType(
    dict.fromkeys(("m/s", "m_s-1", "ms-1", "ms"), (1.0, 0.0))
    | dict.fromkeys(("km/h", "km_h-1", "kmh"), (1.0 / 3.6, 0.0))
    | dict.fromkeys(("mph", "mp/h", "mi_h-1"), (0.44704, 0.0))
    | dict.fromkeys(("kn", "kt", "knots"), (1852.0 / 3600.0, 0.0))
)
_DEPTH: Mapping[str, _Scale] = MappingProxyType(
    {"mm": (1.0, 0.0), "inch": (25.4, 0.0), "in": (25.4, 0.0), "m": (1000.0, 0.0)}
)
_PRESSURE: Mapping[str, _Scale] = MappingProxyType({"hpa": (1.0, 0.0), "pa": (0.01, 0.0)})
_FLUX: Mapping[str, _Scale] = MappingProxyType(
    dict.fromkeys(("w/m²", "w/m2", "w_m-2"), (1.0, 0.0)) | {"kwh/m²": (1000.0, 0.0)}
)
_UNITS: Mapping[str, Mapping[str, _Scale]] = MappingProxyType(
    {
        "air_temp_c": _TEMPERATURE,
        "dew_point_c": _TEMPERATURE,
        "rh_pct": _PERCENT,
        "cloud_pct": _PERCENT,
        "wind_m_s": _SPEED,
        "rain_mm": _DEPTH,
        "sun_w_m2": _FLUX,
        "pressure_hpa": _PRESSURE,
    }
)
#: Outside these an answer is broken (°C, %, m/s, mm per step, W/m², hPa). RH a little above
#: 100 is a model's overshoot; the strongest mean wind measured is 85 m/s and the wettest hour
#: 305 mm (WMO, from memory); the sun outside the atmosphere gives 1 361 W/m².
RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "air_temp_c": AIR_RANGE_C,
        "dew_point_c": (-90.0, AIR_RANGE_C[1]),
        "rh_pct": (0.0, 105.0),
        "cloud_pct": (0.0, 101.0),
        "wind_m_s": (0.0, 110.0),
        "rain_mm": (0.0, 1500.0),
        "sun_w_m2": (-5.0, 1500.0),
        "pressure_hpa": (450.0, 1100.0),
    }
)
#: Values this little outside are set onto the limit.
_CLAMPS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"rh_pct": (0.0, 100.0), "cloud_pct": (0.0, 100.0), "sun_w_m2": (0.0, 1500.0)}
)


def house_value(node: Node | None, column: str, unit: str | Node) -> float:
    """Return a value in the house unit of `column`; NaN where absent or null.

    Raises BadAnswer where it is no number, the unit is unknown or the value is not plausible.
    """
    number = math.nan if node is None else node.number()
    if node is None or math.isnan(number):
        return math.nan
    scale, shift = _scale(node, column, unit)
    value = scale * number + shift
    low, high = RANGES[column]
    if not low <= value <= high:
        raise node.bad(f"{column} from {low:g} to {high:g}")
    low, high = _CLAMPS.get(column, (low, high))
    return min(max(value, low), high)


def _scale(node: Node, column: str, unit: str | Node) -> _Scale:
    """Return scale and shift; a unit may stand behind a namespace ("wmoUnit:degC")."""
    text = unit.text() if isinstance(unit, Node) else unit
    found = _UNITS[column].get(text.rsplit(":", 1)[-1].strip().lower())
    if found is None:
        place = unit if isinstance(unit, Node) else Node(node.source, f"{node.where} unit", text)
        raise place.bad(f"a unit of {column}: {', '.join(_UNITS[column])}")
    return found
