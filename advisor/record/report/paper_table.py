"""Tables on paper: cells wrap, heads come again on the next page, long rows are carried over."""

from __future__ import annotations

from advisor.record.report.blocks import Cell, Row, Run, Table, cell
from advisor.record.report.sheet import MARGIN, TOP, Sheet, line_height

#: Size of letters in tables, and of paragraphs.
TABLE_PT, TEXT_PT = 7.5, 8.5
#: Above and below what stands in a row, and beside what stands in a column, mm.
_PAD, _BESIDE = 0.5, 0.8
_RULE = (150, 150, 150)
_HEAD_FILL = (228, 232, 236)
_LINE = line_height(TABLE_PT)

#: A first row up to this high stays with the head above it.
_MOST_KEPT_MM = 80.0

Lines = list[list[Run]]


def print_table(sheet: Sheet, table: Table) -> None:
    """Print a table, or the sentence that stands for one without rows."""
    if not table.rows:
        sheet.need(_LINE + 2)
        sheet.line(cell(table.empty, "quiet"), MARGIN, sheet.y, TABLE_PT + 0.5)
        sheet.y += _LINE + 1.5
        return
    widths = _widths(sheet, table)
    head = _broken(sheet, tuple(cell(text, bold=True) for text in table.heads), widths)
    body = [_broken(sheet, row, widths) for row in table.rows]
    # A head never stands alone at the foot of a page, nor with one row of many.
    sheet.need(_beginning(head, body))
    _print_head(sheet, head, widths)
    for row, after in zip(body, (*body[1:], None), strict=True):
        if after is body[-1] and _would_part(sheet, row, after):
            sheet.new_page()
            _print_head(sheet, head, widths)
        _print_row(sheet, row, head, widths)
    sheet.y += 2


def _would_part(sheet: Sheet, row: list[Lines], last: list[Lines]) -> bool:
    """Whether the last row would stand on the next page alone, and short enough to be moved."""
    height = _height(row)
    both = height + _height(last)
    return height <= sheet.room < both <= _MOST_KEPT_MM


def prose_height(sheet: Sheet, runs: Cell, size_pt: float = TEXT_PT) -> float:
    """Return the height of the lines of a paragraph that stay with the heading above, mm."""
    lines = len(sheet.broken(runs, sheet.width, size_pt))
    return min(lines, 3) * line_height(size_pt)


def first_height(sheet: Sheet, table: Table) -> float:
    """Return the height of head and first rows, which stay with the heading above, mm."""
    if not table.rows:
        return _LINE
    widths = _widths(sheet, table)
    head = _broken(sheet, tuple(cell(text, bold=True) for text in table.heads), widths)
    return _beginning(head, [_broken(sheet, row, widths) for row in table.rows[:2]])


def _beginning(head: list[Lines], body: list[list[Lines]]) -> float:
    """Return the height of head and the first rows that stay with it, mm."""
    first = _height(body[0])
    both = first + (_height(body[1]) if len(body) > 1 else 0.0)
    return _height(head) + (both if both <= _MOST_KEPT_MM else min(first, _MOST_KEPT_MM))


def _widths(sheet: Sheet, table: Table) -> tuple[float, ...]:
    whole = sum(table.widths)
    return tuple(sheet.width * share / whole for share in table.widths)


def _broken(sheet: Sheet, row: Row, widths: tuple[float, ...]) -> list[Lines]:
    return [
        sheet.broken(shown, width - 2 * _BESIDE, TABLE_PT)
        for shown, width in zip(row, widths, strict=False)
    ]


def _height(row: list[Lines]) -> float:
    return max((len(lines) for lines in row), default=0) * _LINE + 2 * _PAD if row else 0.0


def _print_head(sheet: Sheet, head: list[Lines], widths: tuple[float, ...]) -> None:
    if head:
        sheet.pdf.set_fill_color(*_HEAD_FILL)
        sheet.pdf.rect(MARGIN, sheet.y, sheet.width, _height(head), style="F")
        _print_cells(sheet, head, widths)


def _print_row(
    sheet: Sheet, row: list[Lines], head: list[Lines], widths: tuple[float, ...]
) -> None:
    """Print a row; one higher than what is left of a page goes on the next, in parts if it must."""
    while True:
        height = _height(row)
        if height <= sheet.room:
            _print_cells(sheet, row, widths)
            return
        whole_page = sheet.bottom - TOP - _height(head)
        fits = int((sheet.room - 2 * _PAD) / _LINE)
        if height > whole_page and fits >= 3:
            _print_cells(sheet, [lines[:fits] for lines in row], widths)
            row = [lines[fits:] for lines in row]
        sheet.new_page()
        _print_head(sheet, head, widths)


def _print_cells(sheet: Sheet, row: list[Lines], widths: tuple[float, ...]) -> None:
    x, top, height = MARGIN, sheet.y, _height(row)
    for lines, width in zip(row, widths, strict=False):
        for n, line in enumerate(lines):
            sheet.line(line, x + _BESIDE, top + _PAD + n * _LINE, TABLE_PT)
        x += width
    sheet.stroke(_RULE, 0.15)
    sheet.pdf.line(MARGIN, top + height, MARGIN + sheet.width, top + height)
    sheet.y += height


def print_prose(sheet: Sheet, runs: Cell, size_pt: float = TEXT_PT) -> None:
    """Print a paragraph over as many pages as it takes; no line of it stands alone on one."""
    lines, step = sheet.broken(runs, sheet.width, size_pt), line_height(size_pt)
    while lines:
        fits = _fitting(len(lines), int(sheet.room / step), fresh=sheet.fresh)
        for line in lines[:fits]:
            sheet.line(line, MARGIN, sheet.y, size_pt)
            sheet.y += step
        lines = lines[fits:]
        if lines:
            sheet.new_page()
    sheet.y += 1.2


def _fitting(count: int, fits: int, *, fresh: bool) -> int:
    """Return how many of `count` lines go where `fits` have room: two or more before and after."""
    if count <= fits:
        return count
    kept = min(fits, count - 2)
    return kept if kept >= 2 or fresh else 0
