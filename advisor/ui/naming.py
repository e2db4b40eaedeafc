"""Under whose name entries are kept: asked once, before the first of them, and shown after."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from advisor.ui.widgets.who import Who

if TYPE_CHECKING:
    from advisor.ui.desk import Desk


class Naming(QObject):
    """The name in the settings, shown in one or more places of a pane."""

    def __init__(self, desk: Desk, places: Sequence[Who]) -> None:
        super().__init__()
        self._desk, self._places = desk, places
        self._then: Callable[[], None] | None = None
        for place in places:
            place.given.connect(self._keep)

    @property
    def known(self) -> bool:
        """Whether somebody said who is writing."""
        return bool(self._desk.bench.settings.text("person"))

    def refresh(self) -> None:
        """Show the name in force; what waited for one given elsewhere is done."""
        name = self._desk.bench.settings.text("person")
        for place in self._places:
            if name != place.name or not place.asking:  # a name being typed is left alone
                place.show_name(name)
        if name:
            self._go_on()

    def first(self, then: Callable[[], None]) -> None:
        """Do it once it is known who is writing; at once from the second time on."""
        if self.known:
            then()
            return
        self._then = then
        for place in self._places:
            page = place.parentWidget()  # the place itself may be left out for want of height
            if page is not None and page.isVisible():
                place.ask()

    def _keep(self, name: str) -> None:
        self._desk.bench.settings.set("person", name)
        for place in self._places:
            place.show_name(name)
        self._go_on()

    def _go_on(self) -> None:
        then, self._then = self._then, None
        if then is not None:
            then()
