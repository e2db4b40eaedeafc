"""What each column is: quantity, unit, place; and which columns make the time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from advisor.climate.logs.structure import Structure
from advisor.climate.logs.units import KIND_OF, TO_HOUSE, split_header, unit_of
from advisor.climate.logs.vocabulary import (
    CHANNEL_WORDS,
    DOUBTFUL_WORDS,
    EVENT_WORDS,
    INDOOR_WORDS,
    OUTDOOR_WORDS,
    PARTS,
    QUANTITIES,
    STATION_WORDS,
    SURFACE_WORDS,
    TIME_WORDS,
    VALUE_WORDS,
)
from advisor.climate.logs.words import fold, has_word, quantity_of
from advisor.climate.readings import COLUMNS

_BY_UNIT_KIND = MappingProxyType(
    {"temperature": "air_temp_c", "humidity": "rh_pct", "pressure": "pressure_hpa"}
)
_AREA = re.compile(r"(?:utc|gmt)\s*([+\-−]\s?\d{1,2}(?::?\d{2})?)?(?![a-z])", re.IGNORECASE)


@dataclass(frozen=True)
class Column:
    """One column as its header describes it.

    `quantity` a house name or one of `wet_bulb`, `gust`, …; or None. `unit` a unit code or None
    when the header does not tell. `place` is `surface`, `outdoor`, `indoor` or ``. `key` is what
    is left of the name and ties a humidity to its temperature (`1` of `T1`, `RH1`). `named` is
    false where only the unit tells the quantity.
    """

    index: int
    header: str
    quantity: str | None
    unit: str | None
    place: str
    key: str
    canonical: bool
    doubtful: bool
    named: bool = True


@dataclass(frozen=True)
class TimeColumns:
    """Which columns hold the time.

    `form`: `stamp` one column, `apart` date and clock, `parts` year, month, day, hour (minute,
    second), `number` epoch, serial or elapsed in one column. `zone_hint` is a fixed zone named in
    the header or ``.
    """

    form: str
    indexes: tuple[int, ...]
    why: str
    zone_hint: str


def describe(structure: Structure) -> list[Column]:
    """Describe every column of the file."""
    return [
        describe_name(index, name, structure.unit_row[index])
        for index, name in enumerate(structure.names)
    ]


def describe_name(index: int, name: str, unit_cell: str = "") -> Column:
    """Describe one column by its header and the cell under it in a units row."""
    plain = name.strip()
    if plain in COLUMNS:
        kind = KIND_OF[plain]
        house_unit = next(code for code, (of, _, _) in TO_HOUSE.items() if of == kind)
        place = "surface" if plain == "surface_temp_c" else ""
        return Column(index, plain, plain, house_unit, place, "", True, False)
    named = split_header(plain)
    folded = fold(named.rest)
    unit = unit_of(unit_cell) or named.unit
    quantity = _quantity(folded, unit)
    place = _place(folded, quantity)
    if place == "surface":
        quantity = "surface_temp_c"
    return Column(
        index,
        plain,
        quantity,
        unit,
        place,
        _key(folded),
        False,
        has_word(folded, DOUBTFUL_WORDS),
        quantity_of(folded) is not None or place == "surface",
    )


def _quantity(folded: str, unit: str | None) -> str | None:
    if has_word(folded, EVENT_WORDS):
        return None
    found = quantity_of(folded)
    if unit is None:
        return found
    kind = TO_HOUSE[unit][0]
    if kind == "density":
        return "abs_humidity"
    if found is not None and KIND_OF.get(found, kind) != kind:
        # `Humidity temperature (°C)` or `Dew point depression (%)`: the unit knows better.
        return _BY_UNIT_KIND.get(kind)
    return found or _BY_UNIT_KIND.get(kind)


def _place(folded: str, quantity: str | None) -> str:
    if quantity in ("air_temp_c", None) and has_word(folded, SURFACE_WORDS):
        return "surface" if quantity == "air_temp_c" else ""
    if has_word(folded, OUTDOOR_WORDS):
        return "outdoor"
    return "indoor" if has_word(folded, INDOOR_WORDS) else ""


def _key(folded: str) -> str:
    """What is left of a name without the words for quantities: the name of the probe."""
    numbers = " ".join(re.findall(r"\d+", folded))
    words = [re.sub(r"\d+", "", token) for token in folded.split()]
    known = {word for group in QUANTITIES.values() for full in group for word in full.split()}
    rest = [
        word
        for word in words
        if word and word not in known and word not in ("relative", "air", "rel", "sensor", "of")
    ]
    return " ".join([*rest, numbers]).strip()


def find_time(structure: Structure, columns: Sequence[Column]) -> TimeColumns | None:
    """Choose the time: a stamp with zone before one without, before apart, before split parts."""
    kinds, names = structure.kinds, [fold(name) for name in structure.names]
    stamps = [index for index, kind in enumerate(kinds) if kind == "D"]
    parts = _parts(names, kinds)
    zoned = [index for index in stamps if _zoned(structure, index)]
    if zoned:
        index = _best_named(zoned, names)
        why = "its stamps carry the zone"
        if parts:
            why += "; the columns for year, month, day and hour are not needed"
        return _one(structure, "stamp", index, why)
    if stamps:
        return _one(structure, "stamp", _best_named(stamps, names), "date and clock in one column")
    if parts:
        return TimeColumns("parts", parts, _listed(structure, parts) + " put together", "")
    apart = _apart(structure, names)
    if apart is not None:
        return apart
    return _numeric(structure, columns, names)


def _one(structure: Structure, form: str, index: int, why: str) -> TimeColumns:
    name = structure.names[index]
    return TimeColumns(form, (index,), f"{name!r}: {why}", zone_hint(name))


def zone_hint(text: str) -> str:
    """Return a zone named in a header or metadata line (`GMT+02:00`, `UTC`), else ``."""
    match = _AREA.search(text.replace("_", " "))
    if match is None or re.search(r"[a-z]$", text[: match.start()], re.IGNORECASE):
        return ""
    return (match[1] or "UTC").replace(" ", "")


def _zoned(structure: Structure, index: int) -> bool:
    cells = [row[index].strip() for row in structure.sample if row[index].strip()]
    carrying = [cell for cell in cells if re.search(r"\d\s?(Z|z|UTC|GMT|[+\-−]\d\d:?\d\d)$", cell)]
    return len(carrying) > len(cells) / 2 and all(":" in cell or "T" in cell for cell in carrying)


def _best_named(indexes: Sequence[int], names: Sequence[str]) -> int:
    named = [index for index in indexes if has_word(names[index], TIME_WORDS)]
    exact = [index for index in named if names[index] in ("time", "timestamp", "time utc")]
    return (exact or named or list(indexes))[0]


def _parts(names: Sequence[str], kinds: str) -> tuple[int, ...]:
    found = []
    for part, words in PARTS.items():
        for index, name in enumerate(names):
            if name in words and index not in found and kinds[index] in "nx":
                found.append(index)
                break
        else:
            if part in ("year", "month", "day"):
                return ()
            break
    return tuple(found)


def _listed(structure: Structure, indexes: Sequence[int]) -> str:
    return ", ".join(repr(structure.names[index]) for index in indexes)


def _apart(structure: Structure, names: Sequence[str]) -> TimeColumns | None:
    dates = [index for index, kind in enumerate(structure.kinds) if kind == "d"]
    if not dates:
        return None
    date = _best_named(dates, names)
    clocks = [index for index, kind in enumerate(structure.kinds) if kind == "c"]
    if not clocks:
        clocks = [
            index
            for index, name in enumerate(names)
            if index != date and has_word(name, TIME_WORDS) and structure.kinds[index] in "nxd"
        ]
    hint = zone_hint(structure.names[date])
    if not clocks:
        why = f"{structure.names[date]!r}: dates without a clock, taken as midnight"
        return TimeColumns("stamp", (date,), why, hint)
    clock = _best_named(clocks, names)
    indexes = (date, clock)
    hint = hint or zone_hint(structure.names[clock])
    return TimeColumns("apart", indexes, _listed(structure, indexes) + " put together", hint)


def _numeric(
    structure: Structure, columns: Sequence[Column], names: Sequence[str]
) -> TimeColumns | None:
    for index, name in enumerate(names):
        timely = has_word(name, TIME_WORDS) and columns[index].quantity is None
        if structure.kinds[index] == "n" and timely:
            return TimeColumns("number", (index,), f"{structure.names[index]!r}", "UTC")
    return None


def role_column(
    structure: Structure, words: Sequence[str], used: Sequence[int], letters: str
) -> int | None:
    """Find the first unused column named by one of the words whose cells are of these kinds."""
    for index, name in enumerate(structure.names):
        if index in used or structure.kinds[index] not in letters:
            continue
        if has_word(fold(name), tuple(words)):
            return index
    return None


def station_column(structure: Structure, used: Sequence[int]) -> int | None:
    """The column that names the station, if there is one."""
    return role_column(structure, STATION_WORDS, used, "xn")


def long_columns(structure: Structure, used: Sequence[int]) -> tuple[int, int] | None:
    """Channel and value columns of a long file (time, channel, value), if it is one."""
    channel = role_column(structure, CHANNEL_WORDS, used, "x")
    if channel is None:
        return None
    value = role_column(structure, VALUE_WORDS, (*used, channel), "nx")
    if value is None:
        return None
    return channel, value
