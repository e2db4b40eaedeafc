"""The window on an invented live bench, without sound and without holding sleep off."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass

import pytest

from advisor.ui.main_window import MainWindow
from advisor.ui.panes.batch import BatchPane
from advisor.ui.sound import Sound
from advisor.work.live_views import LiveBench
from advisor.work.workbench import Workbench

from .conftest import Settle
from .live_bench import InventedLive

#: Who is writing in a window under test.
PERSON = "J. Hand"


@dataclass
class Shown:
    """The window, its pane and what stands behind it; `see` shows another state of the bench."""

    window: MainWindow
    pane: BatchPane
    live: InventedLive
    see: Callable[[LiveBench], None]
    settle: Settle


def quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sound nothing and leave the computer's sleep alone."""
    monkeypatch.setattr(Sound, "_start", lambda self, kind: None)
    held: Callable[[], AbstractContextManager[bool]] = lambda: nullcontext(True)  # noqa: E731
    monkeypatch.setattr("advisor.ui.awake.screen_on", held)


def shown(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, bench: Workbench
) -> Shown:
    """Open the window on an empty bench, at the bench."""
    quiet(monkeypatch)
    live = InventedLive()
    bench.__dict__["live"] = live
    bench.settings.set("person", PERSON)
    window: MainWindow = request.getfixturevalue("window")
    settle: Settle = request.getfixturevalue("settle")
    window.open_pane("batch")
    pane = window.late.pane("batch")
    assert isinstance(pane, BatchPane)
    settle(window)

    def see(view: LiveBench) -> None:
        live.shown = view
        window.desk.watch.ask()
        settle(window)

    return Shown(window, pane, live, see, settle)
