"""Sounds an alarm until told to stop; never holds the window up."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QObject, QProcess, QTimer, Signal
from PySide6.QtWidgets import QApplication

BEEP_EVERY_MS = 3_000
SILENT = "No sound device was found: this alarm is only shown. Keep the screen in sight."


class Sound(QObject):
    """`silent` with what to tell when no sound device answers; the system's beep is tried then."""

    silent = Signal(str)

    def __init__(self, program: Path | None = None) -> None:
        super().__init__()
        self._program = program or Path(__file__).with_name("tone.py")
        self._process: QProcess | None = None
        self._kind = ""
        self._beeps = QTimer(self)
        self._beeps.setInterval(BEEP_EVERY_MS)
        self._beeps.timeout.connect(QApplication.beep)

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
        process = QProcess(self)
        process.setStandardErrorFile(QProcess.nullDevice())  # sound libraries talk a lot
        process.setStandardOutputFile(QProcess.nullDevice())
        process.finished.connect(lambda: self._ended(process))
        process.errorOccurred.connect(lambda _: self._ended(process))
        self._process = process
        process.start(sys.executable, ["-P", str(self._program), kind])

    def _ended(self, process: QProcess) -> None:
        if process is not self._process:
            return
        self._process = None
        process.deleteLater()
        self._beeps.start()
        QApplication.beep()
        self.silent.emit(SILENT)

    def _stop(self) -> None:
        self._beeps.stop()
        process, self._process = self._process, None
        if process is not None:
            process.closeWriteChannel()  # it ends by itself, and is let go of when it has
            process.finished.connect(process.deleteLater)

    def close(self) -> None:
        """End the sound; waits shortly for its program."""
        process = self._process
        self.sound("")
        if process is not None and process.state() != QProcess.ProcessState.NotRunning:
            process.kill()
            process.waitForFinished(1_000)
