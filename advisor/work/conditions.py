"""A file of conditions as a series: read, flagged, laid on the grid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from advisor.base.errors import FileFormatError
from advisor.climate.conditions_file import read_conditions
from advisor.climate.readings import ImportReport, ReadingTable
from advisor.climate.series import STEP_H, Series, series_from_table
from advisor.physics.surfaces import first_order_lag

HOW_TO_MEASURE = (
    "hold a contact probe on the coldest spot you will paint until it is steady, or read "
    "an infra-red thermometer on a patch of matt tape there"
)


@dataclass(frozen=True, eq=False)
class Conditions:
    """What a file says, on the five-minute grid and as it was read."""

    series: Series
    table: ReadingTable
    report: ImportReport
    file_name: str

    def notes(self) -> tuple[str, ...]:
        """What the reader should know of the file: rows left out, flags, no surface."""
        found = list(self.report.notes)
        if self.report.rows_dropped:
            found.append(f"{self.report.rows_dropped} rows of {self.file_name} could not be used")
        if np.isnan(self.series.surface_temp_c).all():
            found.append(
                f"{self.file_name} has no surface temperature: {HOW_TO_MEASURE}, or give "
                "--surface-lag-h to assume one"
            )
        return tuple(found)

    def newest_s(self, name: str) -> float | None:
        """UTC seconds of the newest row with a value in a column; dew point counts RH too."""
        values = self.table.column(name)
        if name == "dew_point_c":
            known = ~(np.isnan(values) & np.isnan(self.table.column("rh_pct")))
        else:
            known = ~np.isnan(values)
        times = self.table.time_s[known]
        return float(times[-1]) if len(times) else None


def load_conditions(
    path: Path,
    *,
    time_zone: str | None = None,
    station: str | None = None,
    surface_lag_h: float | None = None,
    date_order: Literal["dmy", "mdy"] | None = None,
) -> Conditions:
    """Read a log or weather file; FileFormatError when nothing in it can be used."""
    imported = read_conditions(path, time_zone=time_zone, station=station, date_order=date_order)
    if len(imported.table) == 0:
        accepted = "rows of time, air temperature and RH or dew point"
        raise FileFormatError(str(path), "", "no row that can be used", accepted)
    series = _with_surface(imported.table, surface_lag_h)
    return Conditions(series, imported.table, imported.report, path.name)


def _with_surface(table: ReadingTable, surface_lag_h: float | None) -> Series:
    """Fill only what was not measured: an assumption never replaces a reading."""
    if surface_lag_h is None or np.isnan(table.column("surface_temp_c")).all():
        return series_from_table(table, surface_lag_h=surface_lag_h)
    series = series_from_table(table)
    lagged = first_order_lag(series.air_temp_c, STEP_H, surface_lag_h)
    missing = np.isnan(series.surface_temp_c) & ~np.isnan(lagged)
    if not missing.any():
        return series
    note = f"surface assumed, where not measured, to follow air with a lag of {surface_lag_h:g} h"
    filled = np.where(missing, lagged, series.surface_temp_c)
    return replace(series, surface_temp_c=filled, assumptions=(*series.assumptions, note))
