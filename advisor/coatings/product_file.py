"""Reads and writes product files (TOML, schema 1).

A blank cell `"-"` becomes NaN and refuses later; `"unlimited"` becomes infinity. Every
fault is one FileFormatError line.
"""

from __future__ import annotations

import datetime as dt
import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

from advisor.base.errors import FileFormatError
from advisor.base.toml_file import parse_toml, read_toml_text
from advisor.coatings.product import (
    TIME_COLUMNS,
    WATERBORNE,
    Film,
    Hazards,
    Limits,
    Method,
    Mix,
    NextCoat,
    Prepare,
    Product,
    Source,
    Span,
    Times,
)
from advisor.coatings.schema import check, product_schema, shown

Table = Mapping[str, Any]

_RATIO_ACCEPTED = 'base first, such as "2:1", [2, 1] or "88:12", every part above 0'


def read_product(path: Path) -> Product:
    """Read one product file; raises FileFormatError naming the file, key, found, accepted."""
    return parse_product(read_toml_text(path, "product"), path.name or str(path))


@functools.lru_cache(maxsize=256)
def parse_product(text: str, file_name: str) -> Product:
    """Parse the text of a product file; `file_name` is only named in errors."""
    table = parse_toml(text, file_name)
    check(table, product_schema(), file_name)
    return _Reader(file_name, table).product()


def _value(cell: float | str) -> float:
    if isinstance(cell, str):
        return math.inf if cell == "unlimited" else math.nan
    return float(cell)


class _Reader:
    """Builds the product from a table that fits the schema, and checks what it cannot say."""

    def __init__(self, file_name: str, table: Table) -> None:
        self.file_name, self.table = file_name, table
        self.temp_c = self._temperatures(table["times"]["temp_c"])

    def product(self) -> Product:
        table = self.table
        limits = self._limits(table["limits"], "limits", self._default_limits())
        return Product(
            id=table["id"],
            name=table["name"],
            product_class=table["class"],
            status=table["status"],
            limits=limits,
            times=Times(self.temp_c, self._times()),
            source=self._source(table.get("source", {})),
            mix=self._mix(table.get("mix", {})),
            film=self._film(table.get("film", {})),
            next_coats=self._next_coats(table.get("next", [])),
            methods=self._methods(limits),
            prepare=Prepare(**_floats(table.get("prepare", {}))),
            hazards=Hazards(**_floats(table.get("hazards", {}))),
        )

    def _wrong(self, where: str, found: str, accepted: str) -> FileFormatError:
        return FileFormatError(self.file_name, where, found, accepted)

    def _temperatures(self, cells: Sequence[float]) -> tuple[float, ...]:
        for index, (colder, warmer) in enumerate(pairwise(cells), start=1):
            if not warmer > colder:
                found = f"{shown(warmer)} after {shown(colder)}"
                raise self._wrong(
                    f"times.temp_c[{index}]", found, "each row warmer than the one before"
                )
        return tuple(float(cell) for cell in cells)

    def _row(self, cells: Sequence[float | str], where: str) -> tuple[float, ...]:
        if len(cells) != len(self.temp_c):
            accepted = f'{len(self.temp_c)}, one for each row of times.temp_c ("-" for a blank)'
            raise self._wrong(where, f"{len(cells)} values", accepted)
        return tuple(_value(cell) for cell in cells)

    def _columns(self, table: Table, where: str) -> dict[str, tuple[float, ...]]:
        known = (column for column in TIME_COLUMNS if column in table)
        return {column: self._row(table[column], f"{where}.{column}") for column in known}

    def _times(self) -> dict[str, tuple[float, ...]]:
        columns = self._columns(self.table["times"], "times")
        if not {"tack_free_h", "sandable_h"} & columns.keys():
            raise self._wrong(
                "times", "neither of the two", "a tack_free_h row (a filler: sandable_h)"
            )
        return columns

    def _span(self, cells: Sequence[float] | None, where: str) -> Span | None:
        if cells is None:
            return None
        low, high = cells
        if low > high:
            raise self._wrong(where, f"[{shown(low)}, {shown(high)}]", "the lower value first")
        return float(low), float(high)

    def _default_limits(self) -> Limits:
        waterborne = self.table["class"] in WATERBORNE
        return Limits(rh_floor_until="tack_free" if waterborne else "application")

    def _limits(self, table: Table, where: str, base: Limits) -> Limits:
        changes: dict[str, Any] = dict(table)
        for key in ("air_temp_c", "surface_temp_c", "rh_pct"):
            if key in table:
                changes[key] = self._span(table[key], f"{where}.{key}")
        changes = _floats(changes)
        if "margin_k" in table:
            changes["margin_given"] = True
        if "hold_margin_k" in table:
            changes["hold_given"] = True
        return replace(base, **changes)

    def _source(self, table: Table) -> Source:
        texts = {key: value for key, value in table.items() if isinstance(value, str)}
        if isinstance(table.get("issued"), dt.date):
            texts["issued"] = table["issued"].isoformat()
        return Source(**texts)

    def _mix(self, table: Table) -> Mix:
        changes = _floats({key: value for key, value in table.items() if key != "ratio"})
        if "ratio" in table:
            changes["ratio"] = self._ratio(table["ratio"])
        return Mix(**changes)

    def _ratio(self, given: str | Sequence[float]) -> tuple[float, ...]:
        parts = given.split(":") if isinstance(given, str) else given
        try:
            ratio = tuple(float(part) for part in parts)
        except ValueError:
            ratio = ()
        if not 1 <= len(ratio) <= 4 or not all(0 < part <= 10000 for part in ratio):
            raise self._wrong("mix.ratio", shown(given), _RATIO_ACCEPTED)
        return ratio

    def _film(self, table: Table) -> Film:
        changes = _floats(table)
        if "dft_um" in table:
            changes["dft_um"] = self._span(table["dft_um"], "film.dft_um")
        return Film(**changes)

    def _next_coats(self, tables: Sequence[Table]) -> tuple[NextCoat, ...]:
        seen: dict[str, int] = {}
        for index, table in enumerate(tables):
            over = table["over"]
            if over in seen:
                found = f'"{over}" again (already next[{seen[over]}])'
                raise self._wrong(f"next[{index}].over", found, "each next product once")
            seen[over] = index
        return tuple(self._next(table, f"next[{i}]") for i, table in enumerate(tables))

    def _next(self, table: Table, where: str) -> NextCoat:
        rows: dict[str, Any] = {
            key: self._row(table[key], f"{where}.{key}") for key in ROWS if key in table
        }
        rest = {key: table[key] for key in ("over", "prepare", "forbidden") if key in table}
        return NextCoat(**rows, **rest, after_max=tuple(table.get("after_max", ())))

    def _methods(self, base: Limits) -> dict[str, Method]:
        tables = self.table.get("method", {})
        return {name: self._method(table, f"method.{name}", base) for name, table in tables.items()}

    def _method(self, table: Table, where: str, base: Limits) -> Method:
        limits = self._limits(table.get("limits", {}), f"{where}.limits", base)
        keep = _floats({key: table[key] for key in PERCENTS if key in table})
        return Method(
            times=self._columns(table.get("times", {}), f"{where}.times"),
            limits=None if limits == base else limits,
            **keep,
        )


ROWS = ("min_h", "max_h")
PERCENTS = ("thinner_max_pct", "loss_pct")


def _floats(table: Table) -> dict[str, Any]:
    """Turn whole numbers into floats; leave everything else."""
    return {
        key: float(value) if isinstance(value, int) and not isinstance(value, bool) else value
        for key, value in table.items()
    }


def product_to_toml(product: Product) -> str:
    """Write a product as a file that `parse_product` reads back to an equal product."""
    head = {
        "schema": 1,
        "id": product.id,
        "name": product.name,
        "class": product.product_class,
        "status": product.status,
    }
    blocks = [_lines(head), *_body_blocks(product), *map(_next_block, product.next_coats)]
    for name, method in product.methods.items():
        blocks += _method_blocks(f"method.{name}", method, product)
    blocks.append(_block("prepare", _changed(product.prepare, Prepare())))
    blocks.append(_block("hazards", _changed(product.hazards, Hazards())))
    return "\n\n".join(block for block in blocks if block) + "\n"


def _body_blocks(product: Product) -> list[str]:
    times = {"temp_c": product.times.temp_c, **product.times.columns}
    default = Limits(
        rh_floor_until="tack_free" if product.product_class in WATERBORNE else "application"
    )
    return [
        _block("source", _changed(product.source, Source())),
        _block("mix", _changed(product.mix, Mix())),
        _block("limits", _limit_keys(product.limits, default)),
        _block("film", _changed(product.film, Film())),
        _block("times", times),
    ]


def _next_block(row: NextCoat) -> str:
    given = _changed(row, NextCoat(over=""))
    return "[[next]]\n" + _lines(given)


def _method_blocks(name: str, method: Method, product: Product) -> list[str]:
    own = {
        key: value
        for key, value in (
            ("thinner_max_pct", method.thinner_max_pct),
            ("loss_pct", method.loss_pct),
        )
        if value is not None
    }
    limits = {} if method.limits is None else _limit_keys(method.limits, product.limits)
    head = f"[{name}]" + (f"\n{_lines(own)}" if own else "")
    return [head, _block(f"{name}.times", method.times), _block(f"{name}.limits", limits)]


def _limit_keys(limits: Limits, base: Limits) -> dict[str, object]:
    """Keys that differ from `base`, and a margin that equals the default but was given."""
    keys = _changed(limits, base)
    if keys.pop("margin_given", False):
        keys["margin_k"] = limits.margin_k
    if keys.pop("hold_given", False):
        keys["hold_margin_k"] = limits.hold_margin_k
    return keys


def _changed(item: Any, default: Any) -> dict[str, object]:
    names = [each.name for each in fields(item)]
    return {
        name: getattr(item, name) for name in names if getattr(item, name) != getattr(default, name)
    }


def _block(name: str, table: Mapping[str, object]) -> str:
    return f"[{name}]\n{_lines(table)}" if table else ""


def _lines(table: Mapping[str, object]) -> str:
    return "\n".join(f"{key} = {_written(value)}" for key, value in table.items())


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, Sequence):
        return "[" + ", ".join(_written(item) for item in value) + "]"
    return str(value)


def _number(value: float) -> str:
    if math.isnan(value):
        return '"-"'
    if math.isinf(value):
        return '"unlimited"'
    return str(int(value)) if value.is_integer() else repr(value)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08X}" for c in escaped) + '"'
