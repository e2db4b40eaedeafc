"""Of several channels, which one becomes which house column, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from advisor.base.errors import FileFormatError, InputError
from advisor.climate.logs.header import Column
from advisor.climate.logs.units import KIND_OF
from advisor.climate.logs.words import fold
from advisor.climate.readings import COLUMNS


@dataclass(frozen=True)
class Choice:
    """A chosen channel and the reason in words."""

    column: Column
    why: str


def choose(
    columns: Sequence[Column], told: Mapping[str, str] | None, file: str
) -> tuple[dict[str, Choice], list[str]]:
    """Return house name -> choice, and notes on the channels left aside."""
    chosen = _told(columns, told or {}, file)
    for column in columns:
        if column.canonical and column.quantity is not None:
            chosen.setdefault(column.quantity, Choice(column, "house name in the header"))
    notes: list[str] = []
    _choose_air(columns, chosen, notes)
    _choose_other(columns, chosen)
    notes += _left_aside(columns, chosen)
    return chosen, notes


def _told(columns: Sequence[Column], told: Mapping[str, str], file: str) -> dict[str, Choice]:
    chosen = {}
    for house, header in told.items():
        if house not in COLUMNS:
            raise InputError(f"columns: found {house!r}; accepted: {', '.join(COLUMNS)}")
        match = [column for column in columns if column.header == header] or [
            column for column in columns if fold(column.header) == fold(header)
        ]
        if not match:
            names = ", ".join(column.header for column in columns if column.header)
            raise FileFormatError(file, "header", f"no column {header!r}", f"one of {names}")
        column = match[0]
        if column.quantity is not None and KIND_OF.get(column.quantity) != KIND_OF[house]:
            column = replace(column, unit=None)
        chosen[house] = Choice(column, "chosen by you")
    return chosen


def _of(columns: Sequence[Column], quantity: str) -> list[Column]:
    return [column for column in columns if column.quantity == quantity]


def _choose_air(columns: Sequence[Column], chosen: dict[str, Choice], notes: list[str]) -> None:
    """Choose air, humidity and dew point from one place: never indoor air with outdoor humidity."""
    air = _of(columns, "air_temp_c")
    damp = _of(columns, "rh_pct") + _of(columns, "dew_point_c")
    if "air_temp_c" not in chosen and air:
        column = max(air, key=lambda column: _rank(column, damp))
        chosen["air_temp_c"] = Choice(column, _why(column, air))
    base = chosen["air_temp_c"].column if "air_temp_c" in chosen else None
    for house in ("rh_pct", "dew_point_c"):
        options = _of(columns, house)
        if house in chosen or not options:
            continue
        same = [column for column in options if base is None or _same_place(column, base)]
        if same:
            column = max(same, key=lambda column: _partner_rank(column, base))
            chosen[house] = Choice(column, _why(column, options))
        else:
            names = ", ".join(repr(column.header) for column in options)
            notes.append(
                f"{names} not used: measured in another place than {base.header!r}"
                if base
                else f"{names} not used"
            )


def _rank(column: Column, damp: Sequence[Column]) -> tuple[bool, bool, bool, bool, int]:
    return (
        column.named and not column.doubtful,
        column.place != "outdoor",
        column.place == "indoor",
        any(other.key == column.key and _same_place(other, column) for other in damp),
        -column.index,
    )


def _partner_rank(column: Column, base: Column | None) -> tuple[bool, bool, bool, int]:
    same_key = base is not None and column.key == base.key
    return (column.named and not column.doubtful, same_key, column.place == "indoor", -column.index)


def _same_place(one: Column, other: Column) -> bool:
    return (one.place == "outdoor") == (other.place == "outdoor")


def _why(column: Column, options: Sequence[Column]) -> str:
    if len(options) == 1:
        return "the only column of its kind"
    others = ", ".join(repr(other.header) for other in options if other is not column)
    place = {"indoor": "an indoor sensor", "outdoor": "an outdoor sensor"}.get(
        column.place, "the first that fits"
    )
    return f"{place}, preferred to {others}"


def _choose_other(columns: Sequence[Column], chosen: dict[str, Choice]) -> None:
    for house in ("surface_temp_c", "pressure_hpa", "wind_m_s", "rain_mm"):
        options = _of(columns, house)
        if house in chosen or not options:
            continue
        column = max(
            options, key=lambda column: (column.named and not column.doubtful, -column.index)
        )
        chosen[house] = Choice(column, _why(column, options))


def _left_aside(columns: Sequence[Column], chosen: Mapping[str, Choice]) -> list[str]:
    used = {choice.column.index for choice in chosen.values()}
    unused = [
        column.header
        for column in columns
        if column.quantity is not None and column.index not in used
    ]
    return [f"not used: {', '.join(unused)}"] if unused else []
