"""A real MQTT broker (Debian's mosquitto) on this computer, and a client that publishes to it."""

from __future__ import annotations

import shutil
import socket
import subprocess
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

#: Longest wait for anything of a broker on this computer, s: far over the second it takes.
WAIT_S = 20.0


def mosquitto() -> str | None:
    """Where the broker is installed: often outside a user's path."""
    return shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")


needs_broker = pytest.mark.skipif(
    mosquitto() is None, reason="mosquitto is not installed (apt install mosquitto)"
)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Broker:
    """The broker. It can be ended and started again on the same port."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self._folder = folder
        self._config = folder / "broker.conf"
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous true\nmax_queued_messages 0\n"
            f"persistence true\npersistence_location {folder}/\n",
            encoding="utf-8",
        )
        self._running: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        program = mosquitto()
        assert program is not None
        with (self._folder / "broker.log").open("ab") as log:
            self._running = subprocess.Popen(
                [program, "-c", str(self._config)], stdout=log, stderr=log
            )
        until(self._answers, "the broker to start")

    def stop(self) -> None:
        if self._running is not None:
            self._running.terminate()
            self._running.wait(WAIT_S)
            self._running = None

    def _answers(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0


class Publisher:
    """Publishes and waits until the broker has it."""

    def __init__(self, port: int) -> None:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion

        self._client = Client(CallbackAPIVersion.VERSION2, "logger")
        self._client.max_queued_messages_set(0)  # as many as asked for
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def send(self, topic: str, payload: str | bytes, *, retain: bool = False, qos: int = 1) -> None:
        self._client.publish(topic, payload, qos, retain).wait_for_publish(WAIT_S)

    def send_all(self, topic: str, payloads: list[str]) -> None:
        sent: list[Any] = [self._client.publish(topic, payload, 1) for payload in payloads]
        for one in sent:
            one.wait_for_publish(WAIT_S)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


def until(true: Callable[[], object], what: str, news: threading.Event | None = None) -> None:
    """Wait until something is true, looking again at each piece of news or 50 times a second."""
    pause = threading.Event()
    for _ in range(int(WAIT_S * 50)):
        if true():
            return
        (news or pause).wait(0.02)
    raise AssertionError(f"waited {WAIT_S:g} s in vain for {what}")
