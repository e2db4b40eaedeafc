"""Runs one command and turns what the user can mend into one line and exit code 2."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import traceback
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, TextIO

from advisor.base.errors import AdvisorError
from advisor.cli.arguments import LATER, build_parser

if TYPE_CHECKING:
    from advisor.cli.request import Command

DONE, BUG, BAD_INPUT = 0, 1, 2
#: Where each command lives; imported only when called, since they load NumPy and more.
COMMANDS: Mapping[tuple[str, str], tuple[str, str]] = MappingProxyType(
    {
        ("check", ""): ("advisor.cli.check", "check"),
        ("windows", ""): ("advisor.cli.windows", "windows"),
        ("outlook", ""): ("advisor.cli.outlook", "outlook"),
        ("readings", "import"): ("advisor.cli.readings", "import_file"),
        ("readings", "export"): ("advisor.cli.readings", "export_file"),
        ("products", "list"): ("advisor.cli.products", "list_products"),
        ("products", "show"): ("advisor.cli.products", "show_product"),
        ("products", "lint"): ("advisor.cli.products", "lint_products"),
        ("record", "verify"): ("advisor.cli.record", "verify"),
        ("record", "export"): ("advisor.cli.record", "export"),
        ("record", "show"): ("advisor.cli.record", "show"),
        ("record", "add"): ("advisor.cli.record_entry", "add"),
        ("record", "correct"): ("advisor.cli.record_entry", "correct"),
        ("record", "photo"): ("advisor.cli.record_entry", "photo"),
        ("record", "sign"): ("advisor.cli.record_entry", "sign"),
        ("record", "review"): ("advisor.cli.record", "review"),
        ("record", "backup"): ("advisor.cli.record_copies", "backup"),
        ("record", "restore"): ("advisor.cli.record_copies", "restore"),
        ("record", "rescue"): ("advisor.cli.record_copies", "rescue"),
    }
)


def parse(argv: Sequence[str]) -> argparse.Namespace:
    """Return the options; InputError in one line, SystemExit after --help and --version."""
    parser = build_parser()
    options, unknown = parser.parse_known_args(argv)
    if hasattr(options, "fields") and not any(word.startswith("-") for word in unknown):
        options.fields += unknown  # FIELD=VALUE may stand on both sides of an option
        unknown = []
    if unknown and options.command not in LATER:
        parser.error(f"found {' '.join(unknown)}; accepted: the options of this command")
    return options


def run(
    options: argparse.Namespace, now_s: float, out: TextIO | None = None, err: TextIO | None = None
) -> int:
    """Run the command of parsed options; returns the exit code."""
    out, err = out or sys.stdout, err or sys.stderr
    if options.command in LATER:
        err.write(f"advisor {options.command}: comes in a later version of this program\n")
        return BAD_INPUT
    return guarded(lambda: _called(options, now_s, out, err), err)


def guarded(work: Callable[[], int], err: TextIO) -> int:
    """Run something and give every error its exit code and its line."""
    try:
        return work()
    except AdvisorError as error:
        err.write(f"advisor: {one_line(error)}\n")
        return BAD_INPUT
    except BrokenPipeError:
        # The reader (head, less) has seen enough: nothing went wrong.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as error:  # the last line of defence: told as our own bug
        if os.environ.get("ADVISOR_DEBUG"):
            traceback.print_exc(file=err)
        kind = type(error).__name__
        err.write(f"advisor: a fault of this program ({kind}: {one_line(error)}); "
                  "ADVISOR_DEBUG=1 shows where\n")  # fmt: skip
        return BUG


def one_line(error: BaseException) -> str:
    """Return the message of an error on one line, without control characters."""
    text = " ".join(str(error).split())
    return "".join(c if c.isprintable() else "?" for c in text)


def _called(options: argparse.Namespace, now_s: float, out: TextIO, err: TextIO) -> int:
    from advisor.base.paths import default_database
    from advisor.base.swap import finished
    from advisor.cli.request import Call

    # Before any command asks whether there is a database.
    said = finished(options.database or default_database())
    if said:
        err.write(f"advisor: {one_line(Exception(said))}\n")
    return _command(options)(Call(options, now_s, out))


def _command(options: argparse.Namespace) -> Command:
    module, name = COMMANDS[(options.command, getattr(options, "action", "") or "")]
    found: Command = getattr(importlib.import_module(module), name)
    return found
