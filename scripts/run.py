"""Set the program up beside itself and start it on the demo job.

python3 scripts/run.py             the demo job in a window (as text without a display)
python3 scripts/run.py check ...   any command of the program instead
"""

from __future__ import annotations

import os
import subprocess
import sys

from environment import QT_LIBRARIES as LIBRARIES
from environment import ROOT, X_LIBRARIES, missing_packages, on_linux, prepare, say, stop


def has_display() -> bool:
    """Tell whether a window can be shown."""
    return not on_linux() or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def main(arguments: list[str]) -> int:
    """Set up, start, and return the program's exit code."""
    missing = missing_packages(LIBRARIES + X_LIBRARIES) if has_display() else []
    if missing and not arguments:
        stop(
            "The window needs system libraries that are not here. On Debian and Ubuntu:",
            f"  sudo apt-get install {' '.join(missing)}",
        )
    python = prepare(tests=False)
    if not has_display() and not arguments:
        say("No display: the demo plan comes as text.")
    command = [str(python), "-m", "advisor", *(arguments or ["--demo"])]
    return subprocess.run(command, cwd=None if arguments else ROOT, check=False).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
