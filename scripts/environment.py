"""The program's own environment in `.venv`, made once and reused. Standard library only.

Python's venv and pip do the work with whatever network settings this machine has.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import os
import platform
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

try:
    import fcntl
except ImportError:  # Windows has none
    fcntl = None  # type: ignore[assignment]

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

ROOT = Path(__file__).resolve().parents[1]
VENV = ROOT / ".venv"
LOCK = ROOT / "scripts" / "requirements.lock"
STAMP = VENV / "installed.txt"
OLDEST = (3, 11)

#: Shared libraries that Qt loads, with the Debian and Ubuntu packages that have them.
QT_LIBRARIES = (
    ("libEGL.so.1", "libegl1"),
    ("libGL.so.1", "libgl1"),
    ("libxkbcommon.so.0", "libxkbcommon0"),
    ("libdbus-1.so.3", "libdbus-1-3"),
    ("libfontconfig.so.1", "libfontconfig1"),
    ("libglib-2.0.so.0", "libglib2.0-0"),
)
#: What Qt loads besides to open a window on an X display.
X_LIBRARIES = (
    ("libxcb-cursor.so.0", "libxcb-cursor0"),
    ("libxcb-icccm.so.4", "libxcb-icccm4"),
    ("libxcb-image.so.0", "libxcb-image0"),
    ("libxcb-keysyms.so.1", "libxcb-keysyms1"),
    ("libxcb-render-util.so.0", "libxcb-render-util0"),
    ("libxcb-shape.so.0", "libxcb-shape0"),
    ("libxcb-xkb.so.1", "libxcb-xkb1"),
    ("libxkbcommon-x11.so.0", "libxkbcommon-x11-0"),
)
FONT_PACKAGE = "fonts-dejavu-core"


def say(*lines: str) -> None:
    """Print to the error stream, so that a program's own output stays clean."""
    print(*lines, sep="\n", file=sys.stderr, flush=True)


def stop(*lines: str) -> None:
    """Say why it cannot go on and leave."""
    say(*lines)
    raise SystemExit(1)


def require_python() -> None:
    """Stop with a sentence when this Python is too old."""
    if sys.version_info < OLDEST:
        found = platform.python_version()
        stop(f"Python {OLDEST[0]}.{OLDEST[1]} or newer is needed; this is {found}.")


def on_linux() -> bool:
    """Tell whether this is Linux."""
    return sys.platform.startswith("linux")


def missing_packages(libraries: Iterable[tuple[str, str]]) -> list[str]:
    """Name the Debian packages of the libraries (and a font) that cannot be found."""
    if not on_linux():
        return []
    missing = [package for library, package in libraries if not _loads(library)]
    return missing if _has_font() else [*missing, FONT_PACKAGE]


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _has_font() -> bool:
    folders = [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), Path.home() / ".fonts"]
    folders.append(Path.home() / ".local/share/fonts")
    return any(next(f.rglob(f"*.{end}"), None) for f in folders for end in ("ttf", "otf", "pfb"))


def apt_install(packages: Sequence[str]) -> bool:
    """Install Debian packages as root; False when apt-get is not there or fails."""
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    try:
        subprocess.run(["apt-get", "update"], env=environment, stdout=sys.stderr, check=False)
        done = subprocess.run(install, env=environment, stdout=sys.stderr, check=False)
    except OSError:
        return False
    return done.returncode == 0


def may_install() -> bool:
    """Tell whether this is an automatic run as root, which may change its own machine."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    return on_linux() and root and os.environ.get("CI") == "true"


def prepare(*, tests: bool) -> Path:
    """Make or reuse `.venv` with the program in it; return its Python."""
    require_python()
    with _one_at_a_time():
        wanted = _wanted(tests)
        python = _venv_python()
        if _stamp_fits(wanted, tests) and python.is_file():
            return python
        _make_venv()
        _install(python, tests)
        STAMP.write_text(wanted, encoding="utf-8")
    return python


@contextlib.contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two set-ups at once would break each other: the second waits. Without locks, it may not."""
    if fcntl is None:
        yield
        return
    with (ROOT / ".setup.lock").open("w", encoding="utf-8") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def _venv_python() -> Path:
    return VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def _wanted(tests: bool) -> str:
    """Describe an environment by what it is made from; the checkout's place counts too."""
    digest = hashlib.sha256()
    for part in (ROOT / "pyproject.toml", LOCK):
        digest.update(part.read_bytes() if part.is_file() else b"-")
    kind = "program and tests" if tests else "program"
    return f"{digest.hexdigest()}\n{sys.version}\n{ROOT}\n{kind}\n"


def _stamp_fits(wanted: str, tests: bool) -> bool:
    """Tell whether the stamp says what is wanted; one with the tests serves the program too."""
    found = STAMP.read_text(encoding="utf-8") if STAMP.is_file() else ""
    return found == wanted or (not tests and found == _wanted(True))


def _make_venv() -> None:
    say(f"Setting up {VENV} (once; a few minutes) ...")
    command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    if _run(command):
        return
    package = "python3-venv"
    if may_install() and apt_install([package]) and _run(command):
        return
    stop(
        "Python could not make an environment for the program.",
        f"On Debian and Ubuntu: sudo apt-get install {package}",
    )


def _install(python: Path, tests: bool) -> None:
    """Install by the lock where it fits this Python, else by pyproject's ranges."""
    pip = [str(python), "-m", "pip", "install", "--disable-pip-version-check", "--quiet"]
    if lock_fits():
        done = _install_locked(pip, tests)
    else:
        say("The lock is for Linux x86_64 and other Pythons: installing without it, unhashed.")
        done = _run([*pip, "-e", f"{ROOT}[test]" if tests else str(ROOT)])
    if not done:
        stop(
            "Installing the program's parts failed; pip's words are above.",
            "Check the network and pip's own settings (pip config list), then run this again.",
        )


def _install_locked(pip: list[str], tests: bool) -> bool:
    with tempfile.TemporaryDirectory() as folder:
        part = Path(folder, "requirements.txt")
        part.write_text(lock_lines(tests), encoding="utf-8")
        hashed = [*pip, "--require-hashes", "--no-deps", "-r", str(part)]
        own = [*pip, "--no-deps", "--no-build-isolation", "-e", str(ROOT)]
        return _run(hashed) and _run(own) and _run([*pip[:3], "check"], quiet=True)


def lock_fits() -> bool:
    """Tell whether the lock was made for this system and Python (its first lines say)."""
    if not LOCK.is_file():
        return False
    found = re.search(r"^# for: (\S+) (\S+) Python (.*)$", LOCK.read_text("utf-8"), re.MULTILINE)
    here = (platform.system().lower(), platform.machine().lower())
    version = f"{sys.version_info[0]}.{sys.version_info[1]}"
    return bool(found and (found[1], found[2]) == here and version in found[3].split())


def lock_lines(tests: bool) -> str:
    """Return the lock's lines: the program's part, or all of it."""
    text = LOCK.read_text(encoding="utf-8")
    return text if tests else text.split("# == tests ==")[0]


def _run(command: Sequence[str], *, quiet: bool = False) -> bool:
    output = subprocess.DEVNULL if quiet else sys.stderr
    return subprocess.run(command, cwd=ROOT, stdout=output, check=False).returncode == 0
