"""Panes that are made when first opened, so that the window's start pays nothing for them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Protocol, cast

from PySide6.QtWidgets import QStackedWidget, QWidget

from advisor.ui.desk import Desk


class Late(Protocol):
    """What the window asks of such a pane."""

    def refresh(self) -> None:
        """Work it out anew: it was opened, or job, products or readings changed."""

    def tick(self) -> None:
        """Half a minute went by."""


def _batch(desk: Desk) -> QWidget:
    from advisor.ui.panes.batch import BatchPane

    return BatchPane(desk)


def _readings(desk: Desk) -> QWidget:
    from advisor.ui.panes.readings import ReadingsPane

    return ReadingsPane(desk)


def _record(desk: Desk) -> QWidget:
    from advisor.ui.panes.record import RecordPane

    return RecordPane(desk)


MAKERS: Mapping[str, Callable[[Desk], QWidget]] = MappingProxyType(
    {"batch": _batch, "readings": _readings, "record": _record}
)


class LatePanes:
    """Makes each pane once and puts it onto the window's stack."""

    def __init__(self, desk: Desk, stack: QStackedWidget) -> None:
        self._desk, self._stack = desk, stack
        self._made: dict[str, QWidget] = {}

    def pane(self, key: str) -> QWidget:
        """Return a pane, made now if it was not yet."""
        if key not in self._made:
            self._made[key] = MAKERS[key](self._desk)
            self._stack.addWidget(self._made[key])
        return self._made[key]

    def made(self) -> tuple[str, ...]:
        """Return which were made so far."""
        return tuple(self._made)

    def refresh(self, key: str) -> None:
        """Work a pane out anew."""
        cast(Late, self.pane(key)).refresh()

    def tick(self, widget: QWidget | None) -> None:
        """Tell the pane on show that half a minute went by, if it is one of these."""
        if widget in self._made.values():
            cast(Late, widget).tick()
