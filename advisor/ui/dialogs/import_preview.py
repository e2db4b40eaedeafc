"""What the importer understood, shown: choices in words, rows in numbers, first rows as a table."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout

from advisor.base import units as u
from advisor.climate.readings import Flag, ImportedFile, ImportReport, ReadingTable
from advisor.planning.words import Words
from advisor.ui.widgets.parts import clear, text

#: Rows and reasons shown; the rest is counted.
MOST_ROWS = 20
MOST_REASONS = 20

#: House name, words on screen, quantity.
COLUMNS = (
    ("air_temp_c", "Air", u.TEMPERATURE),
    ("rh_pct", "Humidity", u.HUMIDITY),
    ("dew_point_c", "Dew point", u.TEMPERATURE),
    ("surface_temp_c", "Coldest spot", u.TEMPERATURE),
    ("surface_hot_c", "Hottest spot", u.TEMPERATURE),
    ("pressure_hpa", "Pressure", u.PRESSURE),
    ("wind_m_s", "Wind", u.SPEED),
    ("rain_mm", "Rain", u.RAIN),
)
_FIRST = ("time", "zone", "step", "station")
_FLAGS = (
    (Flag.CLAMPED, "humidity over 100"),
    (Flag.FAULT, "fault"),
    (Flag.STUCK, "stuck"),
    (Flag.SPIKE, "spike"),
    (Flag.SWAPPED, "exchanged?"),
    (Flag.DEW_ABOVE_AIR, "dew point above air"),
    (Flag.AMBIGUOUS_TIME, "repeated hour"),
)


def column_words(name: str) -> str:
    """Words on screen of a house name or of a choice of the importer."""
    known = {key: words for key, words, _ in COLUMNS}
    plain = name.replace("_", " ")
    return known.get(name, plain[:1].upper() + plain[1:])


def has_surface(table: ReadingTable) -> bool:
    """Whether any row has a surface temperature."""
    return not bool(np.isnan(table.column("surface_temp_c")).all())


def rows_sentence(report: ImportReport, words: Words) -> str:
    """Rows read, used, left out and doubtful, and from when to when."""
    told = [f"{report.rows_read} rows read", f"{report.rows_used} used"]
    told.append(f"{report.rows_dropped} left out")
    if report.flagged:
        told.append(f"{report.flagged} doubtful, kept and marked")
    text_ = ", ".join(told) + "."
    if report.first_s is not None and report.last_s is not None:
        text_ += f" From {day_clock(report.first_s, words)} to {day_clock(report.last_s, words)}."
    return text_


def day_clock(time_s: float, words: Words) -> str:
    """Date and clock in the reader's zone."""
    return words.iso(time_s)[:16].replace("T", " ")


def choices_text(report: ImportReport) -> str:
    """One line for each choice the importer made: what matters to a painter first."""
    names = [key for key in (*_FIRST, *(c[0] for c in COLUMNS)) if key in report.mapping]
    names += [key for key in report.mapping if key not in names]
    return "\n".join(f"{column_words(name)}: {report.mapping[name]}" for name in names)


def dropped_text(report: ImportReport) -> str:
    """Say why rows were left out, by line, the rest counted; then the importer's notes."""
    lines = [f"Line {row.line}: {row.reason}" for row in report.dropped[:MOST_REASONS]]
    rest = report.rows_dropped - len(lines)
    if rest > 0:
        lines.append(f"and {rest} more")
    return "\n".join([*lines, *report.notes])


def flag_words(flags: int) -> str:
    """Why a row is doubtful."""
    return ", ".join(words for flag, words in _FLAGS if flags & flag)


class ImportPreview(QFrame):
    """Shows one imported file."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        self.rows = text("", "strong", wrap=True)
        self.choices = text("", "", wrap=True)
        self.dropped_title = text("Left out and noted", "title")
        self.dropped = text("", "", wrap=True)
        frame = QFrame()
        frame.setObjectName("inset")
        self.table = QGridLayout(frame)
        self.table.setHorizontalSpacing(20)
        column = QVBoxLayout(self)
        column.addWidget(text("What was understood", "title"))
        for part in (self.rows, self.choices, self.dropped_title, self.dropped):
            column.addWidget(part)
        column.addWidget(text(f"First {MOST_ROWS} rows", "title"))
        column.addWidget(frame)

    def show_file(self, imported: ImportedFile, words: Words) -> None:
        """Show what a file held."""
        report = imported.report
        self.rows.setText(rows_sentence(report, words))
        self.choices.setText(choices_text(report))
        left_out = dropped_text(report)
        self.dropped.setText(left_out)
        for part in (self.dropped, self.dropped_title):
            part.setVisible(bool(left_out))
        self._fill(first_rows(imported.table, words))

    def _fill(self, rows: list[list[str]]) -> None:
        clear(self.table)
        for k, cells in enumerate(rows):
            for column, words in enumerate(cells):
                label = text(words, "small" if k == 0 else "")
                if 0 < column < len(cells) - 1:
                    label.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.addWidget(label, k, column)
        self.table.setColumnStretch(len(rows[0]), 1)


def first_rows(table: ReadingTable, words: Words) -> list[list[str]]:
    """Heads and the first rows in the reader's units, a column for every quantity there is."""
    shown = [each for each in COLUMNS if not np.isnan(table.column(each[0])).all()]
    heads = [f"{name}, {u.label(quantity, words.units)}" for _, name, quantity in shown]
    rows = [["Time", *heads, "Doubt"]]
    for k in range(min(MOST_ROWS, len(table))):
        cells = [
            u.format_value(float(table.column(key)[k]), quantity, words.units, with_label=False)
            for key, _, quantity in shown
        ]
        clock = day_clock(float(table.time_s[k]), words)
        rows.append([clock, *cells, flag_words(int(table.flags[k]))])
    return rows
