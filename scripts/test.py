"""The one check command: set up, run all checks, then all tests.

    python3 scripts/test.py                 everything
    python3 scripts/test.py --only-tests    without the checks
    python3 scripts/test.py tests/unit -k dew    arguments for pytest, without the checks

pytest's summary is the last line; the exit code is not 0 if a check or a test failed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from environment import (
    QT_LIBRARIES,
    ROOT,
    apt_install,
    may_install,
    missing_packages,
    prepare,
    say,
    stop,
)


def system_libraries() -> None:
    """Make sure that Qt can load; install what is missing only on a machine of its own."""
    missing = missing_packages(QT_LIBRARIES)
    if missing and may_install():
        apt_install(missing)
        missing = missing_packages(QT_LIBRARIES)
    if missing:
        stop(
            "The tests need system libraries that are not here. On Debian and Ubuntu:",
            f"  sudo apt-get install {' '.join(missing)}",
        )


#: Programs that some tests run against; without them those tests are left out, and say so.
OUTSIDE_PROGRAMS = ("mosquitto", "strace")


def outside_programs() -> None:
    """Look for the broker and the tracer; install them only on a machine of its own."""
    missing = [name for name in OUTSIDE_PROGRAMS if not _found(name)]
    if missing and may_install():
        apt_install(missing)
        missing = [name for name in OUTSIDE_PROGRAMS if not _found(name)]
    if missing:
        say(
            f"The tests that need {' and '.join(missing)} are left out. On Debian and Ubuntu:",
            f"  sudo apt-get install {' '.join(missing)}",
        )


def _found(program: str) -> bool:
    """Debian keeps servers where an ordinary user's PATH does not look."""
    return shutil.which(program) is not None or Path("/usr/sbin", program).is_file()


def main(arguments: list[str]) -> int:
    """Set up, check, test."""
    system_libraries()
    outside_programs()
    python = str(prepare(tests=True))
    for_pytest = [word for word in arguments if word != "--only-tests"]
    failed = 0
    if not arguments:
        failed = subprocess.run([python, "scripts/check.py"], cwd=ROOT, check=False).returncode
        if failed:
            say("The checks above failed; the tests run all the same.")
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    command = [python, "-m", "pytest", "-n", "2", "--dist", "worksteal", *for_pytest]
    sys.stdout.flush()
    tested = subprocess.run(command, cwd=ROOT, env=environment, check=False).returncode
    return tested or failed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
