"""Start of the program: the window, or a command without it. Everything is imported late."""

from __future__ import annotations

import os
import sys
import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

NO_DISPLAY = "No display was found (neither DISPLAY nor WAYLAND_DISPLAY is set)."


def main(argv: list[str] | None = None) -> int:
    """Run the program; returns its exit code."""
    argv = sys.argv[1:] if argv is None else argv
    from advisor.cli import main as cli

    _tolerant(sys.stdout)
    _tolerant(sys.stderr)
    try:
        return cli.guarded(lambda: _start(argv), sys.stderr)
    except SystemExit as done:  # after --help and --version
        return int(done.code or 0)
    except KeyboardInterrupt:
        return 130


def _start(argv: list[str]) -> int:
    from advisor.cli import main as cli

    options = cli.parse(argv)
    if options.command is not None:
        return cli.run(options, time.time())
    return _window(argv, options)


def _window(argv: list[str], options: argparse.Namespace) -> int:
    why = "" if _has_display() else NO_DISPLAY
    if not why:
        try:
            from advisor.ui.app import run
        except ImportError as error:
            why = f"The window cannot open on this computer ({error})."
    if why:
        from advisor.cli.no_display import print_plan
        from advisor.cli.request import Call

        return print_plan(Call(options, time.time(), sys.stdout), why)
    from advisor.base.paths import default_database, resources_dir

    # The demo's invented readings and coats must never mix with the user's own.
    own = default_database()
    database = options.database or (own.with_name("demo.sqlite3") if options.demo else own)
    return int(run(argv, database=database, resources=resources_dir(), demo=options.demo))


def _has_display() -> bool:
    """On Linux without a display Qt would abort the process, so it must not be tried."""
    if not sys.platform.startswith("linux"):
        return True
    return any(os.environ.get(n) for n in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"))


def _tolerant(stream: object) -> None:
    """Let an old console show a ? where it has no sign for ° or ±, rather than fail."""
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")


if __name__ == "__main__":
    sys.exit(main())
