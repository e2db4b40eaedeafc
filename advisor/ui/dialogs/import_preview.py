"""What the importer understood, shown: choices in words, rows in numbers, first rows as a table."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHeaderView, QTableWidget, QTableWidgetItem, QVBoxLayout

from advisor.base import units as u
from advisor.climate.readings import Flag, ImportedFile, ImportReport, ReadingTable
from advisor.planning.words import Words
from advisor.ui.theme import TARGET
from advisor.ui.widgets.parts import text

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
    """One line for each choice the importer made."""
    return "\n".join(f"{column_words(name)}: {why}" for name, why in report.mapping.items())


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
        self.table = QTableWidget()
        self.table.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.table.setAccessibleName("First rows of the file")
        self.table.setMinimumHeight(6 * TARGET)
        self.table.verticalHeader().hide()
        column = QVBoxLayout(self)
        column.addWidget(text("What was understood", "title"))
        for part in (self.rows, self.choices, self.dropped_title, self.dropped):
            column.addWidget(part)
        column.addWidget(text(f"First {MOST_ROWS} rows", "title"))
        column.addWidget(self.table)

    def show_file(self, imported: ImportedFile, words: Words) -> None:
        """Show what a file held."""
        report = imported.report
        self.rows.setText(rows_sentence(report, words))
        self.choices.setText(choices_text(report))
        left_out = dropped_text(report)
        self.dropped.setText(left_out)
        for part in (self.dropped, self.dropped_title):
            part.setVisible(bool(left_out))
        self._fill(imported.table, words)

    def _fill(self, table: ReadingTable, words: Words) -> None:
        shown = [each for each in COLUMNS if not np.isnan(table.column(each[0])).all()]
        heads = [f"{name}, {u.label(quantity, words.units)}" for _, name, quantity in shown]
        count = min(MOST_ROWS, len(table))
        self.table.clear()
        self.table.setColumnCount(len(heads) + 2)
        self.table.setHorizontalHeaderLabels(["Time", *heads, "Doubt"])
        self.table.setRowCount(count)
        for k in range(count):
            cells = [day_clock(float(table.time_s[k]), words)]
            cells += [
                u.format_value(float(table.column(key)[k]), quantity, words.units, with_label=False)
                for key, _, quantity in shown
            ]
            self._row(k, [*cells, flag_words(int(table.flags[k]))])
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)

    def _row(self, k: int, cells: list[str]) -> None:
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        for column, words in enumerate(cells):
            item = QTableWidgetItem(words)
            if 0 < column < len(cells) - 1:
                item.setTextAlignment(right)
            self.table.setItem(k, column, item)
