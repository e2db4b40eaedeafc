"""What holds for every test: no network, no machine zone, no user's files, no screen."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Iterator
from pathlib import Path

# Before anything imports Qt or asks for the local time: tests must not depend on the machine.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["TZ"] = "Pacific/Chatham"  # +12:45 or +13:45: a forgotten zone shows at once
if hasattr(time, "tzset"):
    time.tzset()

import pytest
from hypothesis import settings

from advisor.base.store import Store

# Repeatable on any machine, however slow; `HYPOTHESIS_PROFILE=long` digs deeper.
settings.register_profile("quick", deadline=None, derandomize=True, database=None, max_examples=60)
settings.register_profile("long", deadline=None, database=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "quick"))


@pytest.fixture(autouse=True)
def _own_folders(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Send the user's folders to a temporary one."""
    home = tmp_path_factory.mktemp("home")
    for name in ("XDG_DATA_HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(home / name))


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Refuse every connection that is not to a local socket file."""
    real = socket.socket.connect

    def connect(self: socket.socket, address: object) -> None:
        if self.family != getattr(socket, "AF_UNIX", None):
            raise AssertionError(f"a test asked for the network: {address}")
        real(self, address)  # type: ignore[arg-type]

    monkeypatch.setattr(socket.socket, "connect", connect)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A fresh, empty database."""
    with Store(tmp_path / "shop.sqlite3") as opened:
        yield opened


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the checkout."""
    return Path(__file__).resolve().parents[1]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what needs Qt, so that `-m "not gui"` is the fast set."""
    for item in items:
        names = set(getattr(item, "fixturenames", ()))
        if names & {"qapp", "qtbot"} or "gui" in item.path.parts:
            item.add_marker("gui")
