"""Under whose name entries are kept: asked once, before the first of them, and shown after."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from advisor.ui.widgets.parts import capital
from advisor.ui.widgets.who import Who

if TYPE_CHECKING:
    from advisor.ui.desk import Desk


class Naming(QObject):
    """The name in the settings, shown in one or more places of a pane."""

    def __init__(self, desk: Desk, places: Sequence[Who]) -> None:
        super().__init__()
        self._desk, self._places = desk, places
        #: What is to be done, and the job it was pressed in.
        self._waiting: dict[str, tuple[str, Callable[[], None]]] = {}
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

    def waits(self, what: str) -> bool:
        """Whether something of this name waits until it is known who is writing."""
        return what in self._waiting

    def first(self, then: Callable[[], None], what: str = "") -> None:
        """Do it once it is known who is writing; at once from the second time on.

        Until then one of each `what` waits, the newest, and it is said so; they are done in order.
        What is pressed in one job is not kept in another.
        """
        if self.known:
            then()
            return
        if what:
            self._desk.messages.note(f"{capital(what)}: kept once you say who is writing.")
        self._waiting.pop(what, None)
        self._waiting[what] = self._job_id(), then
        for place in self._places:
            page = place.parentWidget()  # the place itself may be left out for want of height
            if page is not None and page.isVisible():
                place.ask()

    def _keep(self, name: str) -> None:
        settings = self._desk.bench.settings
        self._desk.operations.write(
            lambda: settings.set("person", name), lambda _: self._kept(name)
        )

    def _kept(self, name: str) -> None:
        for place in self._places:
            place.show_name(name)
        self._go_on()

    def _go_on(self) -> None:
        waiting, self._waiting = self._waiting, {}
        for what, (job_id, then) in waiting.items():
            if job_id == self._job_id():
                then()
            elif what:
                self._desk.messages.error(
                    f"{capital(what)}: not kept, another job was opened meanwhile."
                )

    def _job_id(self) -> str:
        job = self._desk.bench.job()
        return "" if job is None else job.id
