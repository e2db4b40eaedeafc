"""A table of any length: pages come from a worker, and only a bounded number is kept."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import (
    QAbstractTableModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QFont, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from advisor.ui.operations import Failure, Operations
from advisor.ui.theme import TARGET, Look

#: Rows of one page, pages kept, pages that may wait: more than two screens, less than a megabyte.
PAGE, PAGES_KEPT, PAGES_WAITING = 200, 64, 3
#: Px at 100 % under which the column that takes the rest takes its own width instead.
REST_LEAST, REST_WIDE = 90, 220
#: In a cell whose page is not there yet.
COMING = "…"

_Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True)
class TableRow:
    """One row as shown. `struck` was corrected, `doubt` is set in bold; words say so as well.

    `key` tells which thing the row stands for; `told` is spoken and shown as the tooltip.
    """

    cells: tuple[str, ...]
    key: int | str | tuple[object, ...] = ""
    struck: bool = False
    doubt: bool = False
    told: str = ""


@dataclass(frozen=True)
class Heading:
    """A column: its words, its width in px at 100 % (0 takes the rest), whether figures."""

    words: str
    wide: int = 0
    figures: bool = False


class Pages(Protocol):
    """Where rows come from. `page` runs on a worker and must hold no widget."""

    @property
    def rows(self) -> int:
        """Return how many rows there are."""
        ...

    def page(self, first: int, count: int) -> Sequence[TableRow]:
        """Return up to `count` rows from position `first`."""
        ...


class PagedModel(QAbstractTableModel):
    """Rows by position; a cell that is not there yet reads "…" and is fetched.

    One page is fetched at a time, the one asked for last first, so that a long scroll does not
    leave a queue behind it. `shown` when a page came in, `failed` with the words where none did.
    """

    shown = Signal()
    failed = Signal(str)

    def __init__(self, headings: tuple[Heading, ...], work: Operations, look: Look) -> None:
        super().__init__()
        self.headings, self._work, self._look = headings, work, look
        self._pages: Pages | None = None
        self._kept: OrderedDict[int, Sequence[TableRow]] = OrderedDict()
        self._waiting: list[int] = []
        self._fetching: int | None = None
        self._key = f"page {id(self)}"

    def show_pages(self, pages: Pages | None) -> None:
        """Show other rows, or none."""
        self.beginResetModel()
        self._pages = pages
        self._forget()
        self.endResetModel()

    def row(self, at: int) -> TableRow | None:
        """Return a row; None while its page is on the way, or past the end."""
        number, place = divmod(at, PAGE)
        page = self._kept.get(number)
        if page is None:
            self._ask(number)
            return None
        self._kept.move_to_end(number)
        return page[place] if place < len(page) else None

    @property
    def pages_kept(self) -> int:
        """Return how many pages are held."""
        return len(self._kept)

    def rowCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: N802, B008
        """Return the number of rows."""
        return 0 if parent.isValid() or self._pages is None else self._pages.rows

    def columnCount(self, parent: _Index = QModelIndex()) -> int:  # noqa: N802, B008
        """Return the number of columns."""
        return 0 if parent.isValid() else len(self.headings)

    def headerData(  # noqa: N802
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        """Return the words over a column."""
        if orientation != Qt.Orientation.Horizontal or section >= len(self.headings):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.headings[section].words
        return _side(self.headings[section]) if role == Qt.ItemDataRole.TextAlignmentRole else None

    def data(self, index: _Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return the words, the side and the look of a cell."""
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _side(self.headings[index.column()])
        if role not in _ASKED:
            return None
        row = self.row(index.row())
        if row is None:
            return COMING if role == Qt.ItemDataRole.DisplayRole else None
        return self._told(row, index.column(), role)

    def _told(self, row: TableRow, column: int, role: int) -> object:
        if role == Qt.ItemDataRole.DisplayRole:
            return row.cells[column] if column < len(row.cells) else ""
        if role == Qt.ItemDataRole.UserRole:
            return row
        return self._font(row) if role == Qt.ItemDataRole.FontRole else row.told or None

    def _font(self, row: TableRow) -> QFont | None:
        if not row.doubt and not row.struck:
            return None
        font = self._look.font(15, bold=row.doubt)
        font.setStrikeOut(row.struck)
        return font

    # --- pages ---------------------------------------------------------------------------

    def _forget(self) -> None:
        self._kept.clear()
        self._waiting.clear()
        self._fetching = None
        self._work.cancel(self._key)

    def _ask(self, number: int) -> None:
        if number == self._fetching:
            return
        if number in self._waiting:
            self._waiting.remove(number)
        self._waiting.append(number)
        del self._waiting[:-PAGES_WAITING]
        self._next()

    def _next(self) -> None:
        pages = self._pages
        if self._fetching is not None or not self._waiting or pages is None:
            return
        number = self._fetching = self._waiting.pop()
        self._work.run(
            self._key,
            lambda: tuple(pages.page(number * PAGE, PAGE)),
            lambda rows: self._take(number, rows),
            self._missed,
        )

    def _take(self, number: int, rows: tuple[TableRow, ...]) -> None:
        self._kept[number] = rows
        while len(self._kept) > PAGES_KEPT:
            self._kept.popitem(last=False)
        self._fetching = None
        last = min((number + 1) * PAGE, self.rowCount()) - 1
        if last >= number * PAGE:
            corner = self.index(last, self.columnCount() - 1)
            self.dataChanged.emit(self.index(number * PAGE, 0), corner)
        self.shown.emit()
        self._next()

    def _missed(self, failure: Failure) -> None:
        """Stop asking: asking again at every repaint would never end."""
        self._pages = None
        self.show_pages(None)
        self.failed.emit(failure.text)


_ASKED = frozenset({
    Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.UserRole, Qt.ItemDataRole.FontRole,
    Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole,
})  # fmt: skip


def _side(heading: Heading) -> Qt.AlignmentFlag:
    side = Qt.AlignmentFlag.AlignRight if heading.figures else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter


class PagedTable(QTableView):
    """Rows high enough for gloves. `chosen` with the row under a tap or Enter."""

    chosen = Signal(object)

    def __init__(self, look: Look, headings: tuple[Heading, ...], work: Operations) -> None:
        super().__init__()
        self._look = look
        self._empty = ""
        self.rows_wished = 10
        self.pages = PagedModel(headings, work, look)
        self.setModel(self.pages)
        self.setObjectName("paged")
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.setWordWrap(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.horizontalHeader().setHighlightSections(False)
        self._fix_rows()
        self._fit()
        self.clicked.connect(self._choose)
        self.activated.connect(self._choose)
        self.pages.failed.connect(self.show_empty)
        look.changed.connect(self._relook)

    def show_pages(self, pages: Pages | None, empty: str = "") -> None:
        """Show rows, or the words that say why there are none. The place is kept."""
        place = self.verticalScrollBar().value()
        self._empty = empty
        self.pages.show_pages(pages)
        self.verticalScrollBar().setValue(place)
        self.viewport().update()

    def show_empty(self, words: str) -> None:
        """Say why there is nothing."""
        self._empty = words
        self.viewport().update()

    @property
    def empty_words(self) -> str:
        """Return what is said in place of rows, "" where there are rows."""
        return "" if self.pages.rowCount() else self._empty

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return room for the head and the rows wished for."""
        return QSize(self._look.px(600), self._look.px(TARGET) * (self.rows_wished + 1))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Draw the rows, or the words."""
        super().paintEvent(event)
        if not self.empty_words:
            return
        painter = QPainter(self.viewport())
        painter.setFont(self._look.font(15))
        painter.setPen(self._look.colour("grey"))
        side = self._look.px(24)
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        box = self.viewport().rect().adjusted(side, side, -side, -side)
        painter.drawText(box, int(flags), self._empty)
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fit the new width."""
        super().resizeEvent(event)
        self._fit()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802
        """Keep the widths when the style changes the font."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._fit()

    def _choose(self, index: QModelIndex) -> None:
        row = self.pages.row(index.row())
        if row is not None:
            self.chosen.emit(row)

    def _relook(self) -> None:
        self._fix_rows()
        self._fit()
        self.viewport().update()

    def _fix_rows(self) -> None:
        rows = self.verticalHeader()
        rows.hide()
        rows.setMinimumSectionSize(1)
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        rows.setDefaultSectionSize(self._look.px(TARGET))

    def _fit(self) -> None:
        """Give the last words what room is left, but never so little that nothing can be read."""
        heads, mode = self.horizontalHeader(), QHeaderView.ResizeMode
        given = sum(self._look.px(heading.wide) for heading in self.pages.headings)
        room = self.viewport().width() - given >= self._look.px(REST_LEAST)
        for k, heading in enumerate(self.pages.headings):
            rest = heading.wide == 0
            heads.setSectionResizeMode(k, mode.Stretch if rest and room else mode.Interactive)
            if not (rest and room):
                heads.resizeSection(k, self._look.px(heading.wide or REST_WIDE))
