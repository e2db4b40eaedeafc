"""The canonical CSV: `time` in ISO 8601 UTC and house columns."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from advisor.base.errors import StoreError
from advisor.climate.readings import COLUMNS, FloatArray, ReadingTable


def write_canonical(table: ReadingTable, path: Path) -> None:
    """Write a table as CSV, `time, air_temp_c, rh_pct, …`; empty where there is no value.

    Numbers are written in full, so that reading the file back gives the same table.
    """
    try:
        path.write_text(canonical_text(table), encoding="utf-8", newline="\n")
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise StoreError(f"{path}: cannot be written ({reason})") from error


def canonical_text(table: ReadingTable) -> str:
    """Return the text of such a file; lines end with LF."""
    names = [name for name in COLUMNS if name in table.columns]
    times = np.datetime_as_string(table.time_s.astype("datetime64[s]"), timezone="UTC")
    parts = [times.tolist(), *(_texts(table.columns[name]) for name in names)]
    lines = [",".join(("time", *names)), *map(",".join, zip(*parts, strict=True)), ""]
    return "\n".join(lines)


def _texts(values: FloatArray) -> list[str]:
    return ["" if math.isnan(value) else repr(value) for value in values.tolist()]
