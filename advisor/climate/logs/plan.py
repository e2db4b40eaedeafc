"""All choices about a file, made once: what every column is and how it is read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from advisor.base.errors import FileFormatError, InputError
from advisor.climate.logs.channels import Choice, choose
from advisor.climate.logs.convert import Unit, decide_units, told_in, unit_words
from advisor.climate.logs.decode import Decoded
from advisor.climate.logs.delimiter import Delimiter, Grid
from advisor.climate.logs.header import (
    Column,
    describe,
    describe_name,
    find_time,
    long_columns,
    role_column,
    station_column,
    zone_hint,
)
from advisor.climate.logs.stamps import DateOrder
from advisor.climate.logs.structure import Structure
from advisor.climate.logs.times import Timed, TimePlan, Wall, plan_time
from advisor.climate.logs.values import Cells, Decimal, decide_decimal, to_cells
from advisor.climate.logs.vocabulary import UNIT_WORDS
from advisor.climate.readings import FloatArray

MAX_STATIONS = 50


@dataclass(frozen=True)
class Options:
    """What the user told about the file."""

    time_zone: str | None
    station: str | None
    date_order: DateOrder | None
    columns: Mapping[str, str] | None


@dataclass(frozen=True)
class Source:
    """Where a house column comes from: a column, and in a long file the channel's name."""

    house: str
    index: int
    channel: str | None
    unit: Unit


@dataclass(frozen=True, eq=False)
class Plan:
    """Every choice about the file; `mapping` and `notes` say them in words.

    `units_by_value` is whether a change between °C and °F may be told from the values alone.
    """

    file: str
    structure: Structure
    delimiter: Delimiter
    decimal: Decimal
    time: TimePlan
    first_wall: Wall
    sources: tuple[Source, ...]
    channel_index: int | None
    station_index: int | None
    station: str | None
    zone_hint: str
    mapping: dict[str, str]
    notes: list[str]
    units_by_value: bool = True


def make_plan(
    decoded: Decoded, delimiter: Delimiter, structure: Structure, grid: Grid, options: Options
) -> Plan:
    """Decide everything from the first block of the file (most often all of it)."""
    file, notes = decoded.file, list(decoded.notes)
    columns = describe(structure)
    times = find_time(structure, columns)
    if times is None:
        raise _no_time(file, structure)
    decimal, why_decimal = decide_decimal(
        row[index]
        for row in structure.sample
        for index in range(structure.width)
        if index not in times.indexes
    )
    timed = plan_time(times, grid.columns, structure.metadata, options.date_order, file)
    time = timed.plan
    station_index, station = _station(structure, grid, timed, options.station, file)
    taken = times.indexes if station_index is None else (*times.indexes, station_index)
    long = long_columns(structure, taken)
    usable = _usable(columns, taken, structure, grid, long, decimal)
    chosen, aside = choose(usable, options.columns, file)
    if not chosen:
        raise _nothing_known(file, structure)
    sources = _sources(chosen, grid, long, decimal, structure.metadata)
    mapping = _words(decoded, delimiter, structure, why_decimal, time)
    mapping |= {source.house: _source_words(source, chosen[source.house]) for source in sources}
    if station is not None:
        mapping["station"] = station
    return Plan(
        file,
        structure,
        delimiter,
        decimal,
        time,
        timed.wall,
        tuple(sources),
        long[0] if long is not None else None,
        station_index if station is not None else None,
        station,
        time.columns.zone_hint or _metadata_zone(structure),
        mapping,
        notes + aside,
    )


def _usable(
    columns: Sequence[Column],
    taken: Sequence[int],
    structure: Structure,
    grid: Grid,
    long: tuple[int, int] | None,
    decimal: Decimal,
) -> list[Column]:
    """Columns that may hold values: the channels of a long file, else all but time and station."""
    if long is not None:
        return _channels(structure, grid, long)
    usable = [c for c in columns if c.index not in taken]
    return guess_columns(usable, structure, decimal) if structure.header_line is None else usable


def _source_words(source: Source, choice: Choice) -> str:
    return f"{choice.column.header!r} in {unit_words(source.house, source.unit)}; {choice.why}"


def _no_time(file: str, structure: Structure) -> FileFormatError:
    names = ", ".join(name for name in structure.names if name) or "no names"
    return FileFormatError(
        file,
        f"line {structure.header_line or structure.data_line}",
        f"no time among the columns ({names})",
        "a column of dates with a clock, date and clock apart, year/month/day/hour, epoch "
        "seconds, spreadsheet days, or elapsed seconds with the start above the header",
    )


def _nothing_known(file: str, structure: Structure) -> FileFormatError:
    names = ", ".join(repr(name) for name in structure.names if name)
    return FileFormatError(
        file,
        f"line {structure.header_line or structure.data_line}",
        f"no temperature or humidity among the columns {names}",
        "headers with words such as temperature, humidity, dew point, surface, or columns told "
        "by name (air_temp_c=HEADER)",
    )


def _metadata_zone(structure: Structure) -> str:
    for line in structure.metadata:
        if structure.header_line is None or "zone" in line.casefold() or "GMT" in line:
            hint = zone_hint(line)
            if hint:
                return hint
    return ""


def _words(
    decoded: Decoded, delimiter: Delimiter, structure: Structure, decimal: str, time: TimePlan
) -> dict[str, str]:
    if structure.header_line is None:
        header = "none; columns guessed by their values"
    else:
        above = len(structure.metadata)
        header = f"line {structure.header_line}, readings from line {structure.data_line}"
        header += f"; {above} lines above the readings" if above > 1 else ""
    return {
        "encoding": decoded.encoding,
        "line ends": decoded.line_ends,
        "delimiter": delimiter.why,
        "decimal": decimal,
        "header": header,
        **dict(time.mapping),
    }


def _station(
    structure: Structure, grid: Grid, timed: Timed, wanted: str | None, file: str
) -> tuple[int | None, str | None]:
    """Column and name of the station; InputError when the user has to choose."""
    index = station_column(structure, timed.plan.columns.indexes)
    if index is None:
        if wanted is not None:
            raise InputError(f"{file}: found no station column; leave out station {wanted!r}")
        return None, None
    counts = Counter(cell.strip() for cell in grid.columns[index])
    header = structure.names[index].strip()
    names = sorted(name for name in counts if name and name != header)
    if wanted is not None:
        if wanted not in names:
            raise InputError(f"{file}: found no station {wanted!r}; accepted: {_some(names)}")
        return index, wanted
    if not 2 <= len(names) <= MAX_STATIONS or not _overlap(grid, timed.wall, index, names):
        return index, None
    raise InputError(
        f"{file}: {len(names)} stations in column {header!r}; name one as the station: "
        f"{_some(names)}"
    )


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:20]) + (", …" if len(names) > 20 else "")


def _overlap(grid: Grid, wall: Wall, index: int, names: Sequence[str]) -> bool:
    """Whether two stations report for the same span of time."""
    cells = np.array([cell.strip() for cell in grid.columns[index]])
    spans = []
    for name in names:
        times = wall.wall_s[(cells == name) & wall.valid]
        if len(times):
            spans.append((int(times.min()), int(times.max())))
    spans.sort()
    return any(later[0] <= earlier[1] for earlier, later in pairwise(spans))


def _channels(structure: Structure, grid: Grid, long: tuple[int, int]) -> list[Column]:
    """Channels of a long file as if each were a column, with the unit of a unit column."""
    cells = [cell.strip() for cell in grid.columns[long[0]]]
    unit_index = role_column(structure, UNIT_WORDS, long, "xmn")
    units = grid.columns[unit_index] if unit_index is not None else [""] * len(cells)
    first_unit = dict(zip(reversed(cells), reversed(list(units)), strict=True))
    names = [name for name, _ in Counter(cells).most_common(200) if name]
    return [
        describe_name(place, name, first_unit[name].strip()) for place, name in enumerate(names)
    ]


def _sources(
    chosen: Mapping[str, Choice],
    grid: Grid,
    long: tuple[int, int] | None,
    decimal: Decimal,
    metadata: Sequence[str],
) -> list[Source]:
    cells: dict[str, Cells] = {}
    for house, choice in chosen.items():
        column = grid.columns[long[1] if long else choice.column.index]
        if long is not None:
            names = grid.columns[long[0]]
            header = choice.column.header
            column = [v for v, name in zip(column, names, strict=True) if name.strip() == header]
        cells[house] = to_cells(column[:20_000], decimal)
    stated = {house: choice.column.unit for house, choice in chosen.items()}
    units = decide_units(stated, cells, told_in(metadata))
    return [
        Source(
            house,
            long[1] if long else choice.column.index,
            choice.column.header if long else None,
            units[house],
        )
        for house, choice in chosen.items()
    ]


def guess_columns(
    columns: Sequence[Column], structure: Structure, decimal: Decimal
) -> list[Column]:
    """Without a header: temperature first, then humidity, then a dew point never above it."""
    numbers: list[tuple[Column, FloatArray]] = []
    for column in columns:
        values = to_cells([row[column.index] for row in structure.sample], decimal).values
        steps = np.diff(values)
        counting = len(steps) > 1 and bool((steps == 1).all())
        if structure.kinds[column.index] == "n" and not counting and np.isfinite(values).any():
            numbers.append((column, values))
    found: list[Column] = []
    for (column, _), house in zip(numbers, _by_values([v for _, v in numbers]), strict=True):
        if house is not None:
            found.append(Column(column.index, column.header, house, None, "", "", False, False))
    return found


def _by_values(values: Sequence[FloatArray]) -> list[str | None]:
    houses: list[str | None] = []
    middles = [float(np.nanmedian(column)) for column in values]
    air: FloatArray | None = None
    for column, middle in zip(values, middles, strict=True):
        house: str | None = None
        if 850.0 < middle < 1100.0 and "pressure_hpa" not in houses:
            house = "pressure_hpa"
        elif air is None and -40.0 <= middle <= 110.0:
            house, air = "air_temp_c", column
        elif "rh_pct" not in houses and 1.0 < middle <= 100.0:
            house = "rh_pct"
        elif air is not None and "dew_point_c" not in houses and bool((column <= air).all()):
            house = "dew_point_c"
        houses.append(house)
    if air is not None and "rh_pct" in houses:
        first, second = houses.index("air_temp_c"), houses.index("rh_pct")
        if middles[first] > 45.0 > middles[second]:
            houses[first], houses[second] = "rh_pct", "air_temp_c"
    return houses
