"""Columns to house units: stated, guessed and changing units."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from advisor.climate.logs.units import HOUSE_UNIT, KIND_OF, TO_HOUSE, unit_of
from advisor.climate.logs.values import Cells
from advisor.climate.readings import FloatArray

_TOLD = re.compile(
    r"(?i)(?:temp\w*\s*)?(?:unit|einheit|unite|unità|unidad)\w*\s*[:=;,\t]+\s*\"?"
    r"(°?\s?[CF]|deg\s?[CF]|celsius|fahrenheit)\b"
)
#: A change of unit in mid-file shows as a step that the other unit undoes to within this.
SWITCH_FIT_K, SWITCH_STEP_K, SWITCH_STEADY = 2.0, 12.0, 4.0


@dataclass(frozen=True)
class Unit:
    """A unit code and why it was taken."""

    code: str
    why: str


def told_in(metadata: Sequence[str]) -> str | None:
    """Find the temperature unit in metadata lines (`Unit: °F`)."""
    for line in metadata:
        match = _TOLD.search(line)
        if match is not None:
            return unit_of(match[1])
    return None


def decide_units(
    stated: Mapping[str, str | None], values: Mapping[str, Cells], told: str | None
) -> dict[str, Unit]:
    """Give each house column its unit: header, cells, metadata, else a guess by range."""
    units: dict[str, Unit] = {}
    for house, code in stated.items():
        kind = KIND_OF[house]
        in_cells = _in_cells(values[house], kind)
        if code is not None and TO_HOUSE[code][0] == kind:
            units[house] = Unit(code, "unit in the header")
        elif in_cells is not None:
            units[house] = Unit(in_cells, "unit in the cells")
        elif kind == "temperature" and told is not None:
            units[house] = Unit(told, "unit in the lines above the header")
    _guess_temperatures(stated, values, units)
    imperial = any(unit.code == "°F" for unit in units.values())
    for house in stated:
        if house not in units:
            units[house] = _guess(house, values[house].values, imperial)
    return units


def _in_cells(cells: Cells, kind: str) -> str | None:
    codes = [code for code in cells.units.values() if TO_HOUSE[code][0] == kind]
    return max(set(codes), key=codes.count) if codes else None


def _guess_temperatures(
    stated: Mapping[str, str | None], values: Mapping[str, Cells], units: dict[str, Unit]
) -> None:
    open_ones = [h for h in stated if KIND_OF[h] == "temperature" and h not in units]
    if not open_ones:
        return
    sure = [unit for house, unit in units.items() if KIND_OF[house] == "temperature"]
    guess = Unit(sure[0].code, "as the other temperature") if sure else _by_damp(values)
    if guess is None:
        guess = _by_range(np.concatenate([values[house].values for house in open_ones]))
    for house in open_ones:
        units[house] = guess


def _by_damp(values: Mapping[str, Cells]) -> Unit | None:
    """Temperature, humidity and dew point of one row agree in one unit only."""
    if not {"air_temp_c", "rh_pct", "dew_point_c"} <= set(values):
        return None
    air, dew = values["air_temp_c"].values, values["dew_point_c"].values
    humidity = values["rh_pct"].values
    off: dict[str, float] = {}
    for code in ("°C", "°F"):
        _, factor, shift = TO_HOUSE[code]
        both = [np.clip(part * factor + shift, -100.0, 200.0) for part in (air, dew)]
        with np.errstate(invalid="ignore", over="ignore"):
            error = np.abs(100.0 * np.exp(_magnus(both[1]) - _magnus(both[0])) - humidity)
        error = error[np.isfinite(error)]
        if len(error) < 3:
            return None
        off[code] = float(np.median(error))
    best = min(off, key=lambda code: off[code])
    worst = max(off.values())
    if off[best] > 3.0 or worst < 2.0 * off[best] + 1.0:
        return None
    return Unit(best, f"guessed: temperature, humidity and dew point only agree in {best}")


def _magnus(temp_c: FloatArray) -> FloatArray:
    """Logarithm of the saturation pressure but for a constant; WMO coefficients over water."""
    result: FloatArray = 17.62 * temp_c / (243.12 + temp_c)
    return result


def _by_range(values: FloatArray) -> Unit:
    good = values[np.isfinite(values)]
    if not len(good):
        return Unit("°C", "guessed: no value to tell")
    high = float(np.percentile(good, 95))
    if float(np.median(good)) > 200.0:
        return Unit("K", "guessed by range")
    if high > 50.0:
        return Unit("°F", f"guessed by range: values reach {high:.0f}")
    return Unit("°C", f"guessed by range: no value far above {high:.0f}")


def _guess(house: str, values: FloatArray, imperial: bool) -> Unit:
    good = values[np.isfinite(values)]
    middle = float(np.median(good)) if len(good) else 0.0
    kind = KIND_OF[house]
    if kind == "humidity":
        fraction = len(good) > 0 and 0.0 < float(good.max()) <= 1.05
        return Unit("fraction" if fraction else "%", "guessed by range")
    if kind == "pressure":
        for limit, code in ((40.0, "inHg"), (120.0, "kPa"), (500.0, "hPa"), (800.0, "mmHg")):
            if middle < limit:
                return Unit(code, "guessed by range")
        return Unit("Pa" if middle > 2000.0 else "hPa", "guessed by range")
    if kind == "speed":
        return _with_temperature("mph" if imperial else "m/s", imperial)
    return _with_temperature("in" if imperial else "mm", imperial)


def _with_temperature(code: str, imperial: bool) -> Unit:
    return Unit(code, f"guessed: temperatures are in {'°F' if imperial else '°C'}")


def to_house(house: str, cells: Cells, codes: Sequence[tuple[int, str]]) -> FloatArray:
    """Convert a column to its house unit.

    `codes` lists (first row, unit code), the first at row 0; a unit in a cell wins for that cell.
    """
    values = np.empty_like(cells.values)
    ends = [row for row, _ in codes[1:]] + [len(values)]
    for (start, code), end in zip(codes, ends, strict=True):
        values[start:end] = _linear(cells.values[start:end], code)
    for row, code in cells.units.items():
        if TO_HOUSE[code][0] == KIND_OF[house]:
            values[row] = _linear(cells.values[row : row + 1], code)[0]
    return values


def _linear(values: FloatArray, code: str) -> FloatArray:
    _, factor, shift = TO_HOUSE[code]
    if factor == 1.0 and shift == 0.0:
        return values
    result: FloatArray = values * factor + shift
    return result


def find_switches(values: FloatArray, code: str) -> list[tuple[int, str]]:
    """Rows where a temperature column silently changes between °C and °F.

    Both sides must be steady and meet in the other unit only, so that a door opened in winter is
    never taken for a change of settings. Returns `codes` for `to_house`.
    """
    codes = [(0, code)]
    if code not in ("°C", "°F"):
        return codes
    good, rows = values, np.arange(len(values))
    if np.isnan(values).any():
        rows = np.flatnonzero(np.isfinite(values))
        good = values[rows]
    for place in np.flatnonzero(np.abs(np.diff(good)) > SWITCH_STEP_K):
        now = codes[-1][1]
        other = "°F" if now == "°C" else "°C"
        before, after = good[max(0, place - 3) : place + 1], good[place + 1 : place + 5]
        if min(len(before), len(after)) < 4 or max(np.ptp(before), np.ptp(after)) > SWITCH_STEADY:
            continue
        level = _level(before, now)
        if abs(_level(after, other) - level) < SWITCH_FIT_K < abs(_level(after, now) - level) / 3:
            codes.append((int(rows[place + 1]), other))
    return codes


def _level(values: FloatArray, code: str) -> float:
    return float(np.median(_linear(values, code)))


def unit_words(house: str, unit: Unit) -> str:
    """Say the unit, and the house unit it was changed to."""
    target = HOUSE_UNIT[KIND_OF[house]]
    changed = "" if unit.code == target else f", changed to {target}"
    return f"{unit.code}{changed} ({unit.why})"
