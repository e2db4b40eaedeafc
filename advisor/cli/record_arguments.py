"""Options of `advisor record`."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TypeAlias

from advisor.cli.values import file_path

Make: TypeAlias = "Callable[[str, str], argparse.ArgumentParser]"

VERIFY_HELP = "Check an exported record: was anything in it altered"
EXPORT_HELP = "Write the record: a FILE.jsonl alone, or a new folder with files and verifier"
RESCUE_HELP = "Save what can be read of a damaged database into a new one, and say what is missing"


def add_record(make: Make) -> None:
    """Add the actions; `make` makes one from its name and what it does."""
    _add_verify(make)
    _add_export(make)
    _add_show(make)
    _add_add(make)
    _add_correct(make)
    _add_photo(make)
    _add_sign(make)
    review = make("review", "Was every coat inside its limits, by what was read")
    review.add_argument("--coat", metavar="ID")
    backup = make("backup", "Make a verified copy of the database now")
    backup.add_argument("--list", action="store_true", help="list the copies there are")
    restore = make("restore", "Go back to a copy; what is there now is put aside, not lost")
    restore.add_argument("file", type=file_path, metavar="FILE")
    rescue = make("rescue", RESCUE_HELP)
    rescue.add_argument("damaged", type=file_path, metavar="DAMAGED")
    rescue.add_argument("new", type=file_path, metavar="NEW")


def _add_verify(make: Make) -> None:
    verify = make("verify", VERIFY_HELP)
    verify.add_argument("file", type=file_path, metavar="FILE")
    verify.add_argument("--head", default="", metavar="HASH",
                        help="a head noted earlier: is it on this chain?")  # fmt: skip
    verify.add_argument("--key", default="", metavar="HEX",
                        help="a public key: is a signature by it?")  # fmt: skip


def _add_export(make: Make) -> None:
    export = make("export", EXPORT_HELP)
    export.add_argument("file", type=file_path, metavar="FILE.jsonl|FOLDER")
    export.add_argument("--report", action="store_true",
                        help="put the report (PDF, JSON, CSV) into the folder too")  # fmt: skip


def _add_show(make: Make) -> None:
    show = make("show", "Print the record, corrections beside what was said first")
    show.add_argument("--kind", metavar="KIND")
    show.add_argument("--coat", metavar="ID")
    show.add_argument("--last", type=int, metavar="N", help="the last N entries alone")
    show.add_argument("--entry", metavar="NUMBER", help="one entry in full")


def _add_add(make: Make) -> None:
    add = make("add", "Keep an entry; without a field, list the fields of the kind")
    add.add_argument("kind", metavar="KIND", help=f"one of: {', '.join(_kinds())}")
    add.add_argument("fields", nargs="*", metavar="FIELD=VALUE",
                     help='such as air_temp=18.5; rows as "part:base,batch:B12", '
                     "once for each row; readings=100,105,98")  # fmt: skip
    _add_place_and_time(add, "when it happened")


def _add_place_and_time(action: argparse.ArgumentParser, when: str) -> None:
    where = "its short name in the job; a wrong one lists those there are"
    action.add_argument("--coat", default="", metavar="ID", help=where)
    action.add_argument("--area", default="", metavar="ID", help=where)
    action.add_argument("--at", metavar="TIME", help=f"{when}; now without")
    _add_by(action)


def _add_by(action: argparse.ArgumentParser) -> None:
    action.add_argument("--by", metavar="NAME", help="who is writing this entry; as set without")


def _kinds() -> list[str]:
    from advisor.record.kinds import KINDS

    return [kind.key for kind in KINDS.values() if kind.by_hand]


def _add_correct(make: Make) -> None:
    correct = make("correct", "Correct an entry; what was said first stays")
    correct.add_argument("number", metavar="NUMBER")
    correct.add_argument("fields", nargs="*", metavar="FIELD=VALUE",
                         help="fields of the entry, or at, coat, area; nothing after = "
                         "strikes the field out")  # fmt: skip
    correct.add_argument("--reason", required=True, metavar="WHY")
    correct.add_argument("--strike-out", action="store_true", help="take the whole entry back")
    _add_by(correct)


def _add_photo(make: Make) -> None:
    photo = make("photo", "Keep a photo by its hash, with an entry")
    photo.add_argument("file", type=file_path, metavar="FILE")
    photo.add_argument("--caption", default="", metavar="TEXT")
    photo.add_argument("--of", default="", metavar="NUMBER", help="the entry it shows")
    _add_place_and_time(photo, "when it was taken")


def _add_sign(make: Make) -> None:
    sign = make("sign", "Sign off all entries so far")
    sign.add_argument("--name", required=True, metavar="NAME")
    sign.add_argument("--role", default="", metavar="TEXT")
    sign.add_argument("--statement", default="", metavar="TEXT")
    sign.add_argument("--key", default="", metavar="NAME",
                      help="sign with the key kept under this name (Ed25519)")  # fmt: skip
    sign.add_argument("--new-key", action="store_true", help="make that key first")
    sign.add_argument("--passphrase-file", type=file_path, metavar="FILE",
                      help="its first line unlocks the key")  # fmt: skip
