"""Tab goes as one reads: row by row from the top left, a column that stands by itself whole."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtWidgets import QApplication, QScrollArea, QWidget


class ReadingOrder(QWidget):
    """A page whose Tab follows what is on show, not the order in which it was made.

    Qt's own chain leaves out whatever was made before the widget that stands for a pane's focus,
    and puts what was added later at its end.
    """

    def focusNextPrevChild(self, next: bool) -> bool:  # noqa: N802
        """Go to the next stop, or the one before; after the last comes the first."""
        found, here = list(stops(self)), QApplication.focusWidget()
        if not found:
            return False
        if here in found:
            goal = found[(found.index(here) + (1 if next else -1)) % len(found)]
        else:
            goal = _beside(found, here, ahead=next)
        reason = Qt.FocusReason.TabFocusReason if next else Qt.FocusReason.BacktabFocusReason
        goal.setFocus(reason)
        _show(goal)
        return True


def stops(page: QWidget) -> Iterator[QWidget]:
    """Yield what takes the keyboard inside a page, as one reads.

    An area that scrolls is a stop only where nothing in it is one.
    """
    for child in _as_read(page):
        inner = list(stops(child))
        if _takes(child) and not (inner and isinstance(child, QScrollArea)):
            yield child
        yield from inner


def _takes(widget: QWidget) -> bool:
    policy = widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    return bool(policy) and widget.isEnabled() and widget.focusProxy() is None


def _as_read(page: QWidget) -> list[QWidget]:
    """Return the parts of a page that are on show: rows from the top, each from the left."""
    inner = (child for child in page.children() if isinstance(child, QWidget))
    parts = [child for child in inner if child.isVisible() and not child.isWindow()]
    rows: list[tuple[QRect, list[QWidget]]] = []
    for part in sorted(parts, key=lambda one: (one.y(), one.x())):
        place = part.geometry()
        if rows and place.center().y() <= rows[-1][0].bottom():
            row, beside = rows.pop()
            rows.append((row.united(place), [*beside, part]))
        else:
            rows.append((place, [part]))
    return [part for _, row in rows for part in sorted(row, key=lambda one: (one.x(), one.y()))]


def _beside(found: list[QWidget], here: QWidget | None, *, ahead: bool) -> QWidget:
    """Return the stop nearest to a widget that is none, such as one Tab leaves out."""
    if here is None:
        return found[0] if ahead else found[-1]
    at = here.mapToGlobal(QPoint(0, 0))
    after = [one for one in found if _key(one) > (at.y(), at.x())]
    before = [one for one in found if _key(one) < (at.y(), at.x())]
    return (after or found)[0] if ahead else (before or found)[-1]


def _key(widget: QWidget) -> tuple[int, int]:
    at = widget.mapToGlobal(QPoint(0, 0))
    return at.y(), at.x()


def _show(goal: QWidget) -> None:
    """Scroll every area round a widget until it is in sight."""
    around = goal.parentWidget()
    while around is not None:
        if isinstance(around, QScrollArea):
            around.ensureWidgetVisible(goal)
        around = around.parentWidget()
