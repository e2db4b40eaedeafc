"""Small parts: labels by role, cards, buttons, clearing a layout."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QSize, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QDialog,
    QFrame,
    QGraphicsOpacityEffect,
    QLabel,
    QLayout,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)


def restyle(widget: QWidget, name: str, value: object) -> None:
    """Set a property the style looks at and apply the style anew."""
    if widget.property(name) == value:
        return
    widget.setProperty(name, value)
    widget.style().unpolish(widget)
    widget.style().polish(widget)


def text(words: str = "", role: str = "", *, wrap: bool = False) -> QLabel:
    """Make a label with a role of the style: title, small, grey, strong, verdict…"""
    label = QLabel(words)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(wrap)
    if role:
        label.setProperty("role", role)
    if wrap:
        label.setMinimumWidth(40)
        label.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        policy = label.sizePolicy()
        policy.setHeightForWidth(True)
        label.setSizePolicy(policy)
    return label


def card(name: str = "card") -> tuple[QFrame, QVBoxLayout]:
    """Make a card and the column inside it."""
    frame = QFrame()
    frame.setObjectName(name)
    column = QVBoxLayout(frame)
    column.setContentsMargins(18, 14, 18, 14)
    column.setSpacing(8)
    return frame, column


def capital(words: str) -> str:
    """Begin with a capital, leave the rest."""
    return words[:1].upper() + words[1:]


class Tall(QWidget):
    """A page inside a scroll area: as tall as its wrapped texts need at the width it has.

    Without this the scroll area takes the height the texts would need at their narrowest.
    """

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("paper")

    def fit(self) -> None:
        """Take the height the layout needs."""
        layout = self.layout()
        if layout is not None and layout.hasHeightForWidth():
            self.setMinimumHeight(layout.totalHeightForWidth(self.width()))

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Fit the new width."""
        super().resizeEvent(event)
        self.fit()

    def event(self, event: QEvent) -> bool:
        """Fit when something inside changed."""
        if event.type() == QEvent.Type.LayoutRequest:
            self.fit()
        return super().event(event)


def size_to_screen(dialog: QDialog, wide: int, high: int, scale_pct: int = 100) -> None:
    """Give a dialog its size in px at 100 %, or what the screen has: its buttons stay in reach.

    A window larger than the screen says it is, as on some remote desktops, counts as seen.
    """
    parent = dialog.parentWidget()
    room = dialog.screen().availableSize()
    if parent is not None:
        room = room.expandedTo(parent.window().size())
    wanted = QSize(wide, high) * (scale_pct / 100)
    dialog.resize(wanted.boundedTo(room))


def fade(widgets: Sequence[QWidget], on: bool) -> None:
    """Fade what was true before a change, or bring it back; nothing moves."""
    for widget in widgets:
        if on:
            effect = QGraphicsOpacityEffect(widget)
            effect.setOpacity(0.25)
            widget.setGraphicsEffect(effect)
        else:
            widget.setGraphicsEffect(None)  # type: ignore[arg-type]


def clear(layout: QLayout) -> None:
    """Take everything out of a layout."""
    while (item := layout.takeAt(0)) is not None:
        widget, inner = item.widget(), item.layout()
        if widget is not None:
            widget.hide()
            widget.setParent(None)
            widget.deleteLater()
        elif inner is not None:
            clear(inner)


class BigButton(QPushButton):
    """A button for gloves; the main one of a page is filled."""

    def __init__(self, words: str, *, main: bool = False) -> None:
        super().__init__(words)
        self.setProperty("big", True)
        self.setProperty("main", main)
        self.setAccessibleName(words.replace("&", ""))
