"""A window redrawn for hours must not use up None (see advisor/ui/constants_kept.py)."""

from __future__ import annotations

import subprocess
import sys

#: More calls that return None, True or False than a bare interpreter has references to them.
CODE = """
from PySide6.QtCore import QTimer
import advisor.ui
timer = QTimer()
for _ in range(200_000):
    timer.setInterval(5)
    timer.isActive()
    timer.signalsBlocked()
print("alive")
"""


def test_calls_without_number_leave_the_interpreter_alive() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.strip()) == (0, "alive"), done.stderr
