"""Sounds an alarm until told to stop; never holds the window up."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QApplication

# The window is drawn before what only an alarm needs is imported.
if TYPE_CHECKING:
    import subprocess

#: How often the program that sounds is looked after, and the system's beep comes without it, ms.
LOOK_MS, BEEP_EVERY_MS = 500, 3_000
#: How long closing waits for the program, s.
PATIENCE_S = 1.0
SILENT = "No sound device was found: this alarm is only shown. Keep the screen in sight."


class Sound(QObject):
    """`silent` with what to tell when no sound device answers; the system's beep is tried then."""

    silent = Signal(str)

    def __init__(self, program: Path | None = None) -> None:
        super().__init__()
        self._program = program or Path(__file__).with_name("tone.py")
        self._process: subprocess.Popen[bytes] | None = None
        self._ending: list[subprocess.Popen[bytes]] = []
        self._kind = ""
        self._looks = self._timer(LOOK_MS, self.look)
        self._beeps = self._timer(BEEP_EVERY_MS, QApplication.beep)

    def _timer(self, every_ms: int, action: object) -> QTimer:
        timer = QTimer(self)
        timer.setInterval(every_ms)
        timer.timeout.connect(action)
        return timer

    @property
    def kind(self) -> str:
        """Return what sounds: "usual", "urgent", "" nothing."""
        return self._kind

    def sound(self, kind: str) -> None:
        """Sound "usual" or "urgent" from now on, or nothing for ""."""
        if kind == self._kind:
            return
        self._stop()
        self._kind = kind
        if kind:
            self._start(kind)

    def _start(self, kind: str) -> None:
        import subprocess

        quiet = subprocess.DEVNULL  # sound libraries talk a lot
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-P", str(self._program), kind],
                stdin=subprocess.PIPE, stdout=quiet, stderr=quiet,
            )  # fmt: skip
        except OSError:
            self._beep()
            return
        self._looks.start()

    def look(self) -> None:
        """Look after the programs: one that ended by itself found no sound device."""
        self._ending = [process for process in self._ending if process.poll() is None]
        if self._process is not None and self._process.poll() is not None:
            _close_input(self._process)
            self._process = None
            self._beep()
        if self._process is None and not self._ending:
            self._looks.stop()

    def _beep(self) -> None:
        self._beeps.start()
        QApplication.beep()
        self.silent.emit(SILENT)

    def _stop(self) -> None:
        self._beeps.stop()
        process, self._process = self._process, None
        if process is not None:
            _close_input(process)  # it ends by itself, and is let go of when it has
            self._ending.append(process)

    def close(self) -> None:
        """End the sound; waits shortly for its program."""
        self.sound("")
        self._looks.stop()
        if self._ending:
            self._wait()

    def _wait(self) -> None:
        import subprocess

        for process in self._ending:
            try:
                process.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        self._ending.clear()


def _close_input(process: subprocess.Popen[bytes]) -> None:
    assert process.stdin is not None
    process.stdin.close()
