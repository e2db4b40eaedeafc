"""`advisor record add|correct|photo|sign`: entries kept from the command line."""

from __future__ import annotations

import getpass
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.cli.printing import write_json
from advisor.cli.record import opened, refuse_unknown, zone_of
from advisor.cli.record_fields import read_changes, read_fields
from advisor.cli.request import Call
from advisor.work.moments import parse_moment

if TYPE_CHECKING:
    from advisor.record.entry import Entry
    from advisor.record.kinds import Kind
    from advisor.record.signing import SigningKey
    from advisor.work.workbench import Workbench


def add(call: Call) -> int:
    """Keep one entry with all that the same event changes; without fields, list them."""
    from advisor.record.kinds import kind_of
    from advisor.work.by_hand import ByHand, keep_by_hand

    options = call.options
    kind = kind_of(options.kind)
    if not options.fields:
        return _list_fields(call, kind)
    with opened(call) as bench:
        _written_by(call, bench)
        _check_place(bench, options.coat, options.area)
        data = read_fields(kind, options.fields, zone_of(call, bench))
        typed = ByHand(kind.key, data, _at_s(call, bench), options.area, options.coat)
        return _said(call, keep_by_hand(bench, typed, call.now_s))


def correct(call: Call) -> int:
    """Correct fields of an entry, or strike it out."""
    from advisor.record.kinds import kind_of

    options = call.options
    if options.strike_out == bool(options.fields):
        raise InputError("record correct: found neither or both of fields and --strike-out; "
                         "accepted: FIELD=VALUE, or --strike-out")  # fmt: skip
    with opened(call) as bench:
        _written_by(call, bench)
        record = bench.record
        if options.strike_out:
            return _said(call, record.strike_out(options.number, options.reason, call.now_s))
        kind = kind_of(record.told(options.number).entry.kind)
        changes = read_changes(kind, options.fields, zone_of(call, bench))
        return _said(call, record.correct(options.number, changes, options.reason, call.now_s))


def photo(call: Call) -> int:
    """Keep a photo and its entry."""
    from advisor.work.photos import Photo

    options = call.options
    with opened(call) as bench:
        _written_by(call, bench)
        _check_place(bench, options.coat, options.area)
        found = Photo(options.file, options.caption, options.coat, options.area, options.of)
        entry = bench.record.attach_photo(found, call.now_s, _at_s(call, bench))
    _said(call, entry)
    if entry.data.get("flags") and not call.options.json:
        call.out.write(f"In doubt: {entry.data['flags']}.\n")
    return 0


def sign(call: Call) -> int:
    """Sign off all entries so far, with a key where one is named."""
    options = call.options
    if options.new_key and not options.key:
        raise InputError("--new-key: found no --key; accepted: both together")
    with opened(call) as bench:
        bench.record.writer = options.name
        key = _key(call, bench.record.keys_folder) if options.key else None
        entry = bench.record.sign_off(
            options.name, call.now_s, role=options.role, statement=options.statement, key=key
        )
    _said(call, entry)
    if not call.options.json:
        call.out.write(f"Head, to be noted elsewhere:\n  {entry.hash}\n")
        if key is not None:
            call.out.write(f"Public key, to be given to who checks it:\n  {key.public_hex}\n")
    return 0


# --- inner -----------------------------------------------------------------------------------


def _said(call: Call, entry: Entry) -> int:
    """Say that an entry is on the disk; nothing is said before it is."""
    if call.options.json:
        doubt = {"flags": entry.data["flags"]} if entry.data.get("flags") else {}
        write_json(call.out, {"number": entry.number, "hash": entry.hash, "kind": entry.kind,
                              **doubt})  # fmt: skip
    else:
        call.out.write(f"Entry {entry.number} kept.\n")
    return 0


def _written_by(call: Call, bench: Workbench) -> None:
    """Every entry has a name beside it; one given here is of this entry alone."""
    name = (call.options.by or "").strip()
    bench.record.writer = name
    if not bench.record.by:
        raise InputError("--by: found nobody's name; accepted: --by NAME, or set a name in the "
                         "window (Record, Change)")  # fmt: skip


def _at_s(call: Call, bench: Workbench) -> float:
    text = call.options.at
    return call.now_s if text is None else parse_moment(text, zone_of(call, bench), "--at")


def _check_place(bench: Workbench, coat_id: str, area_id: str) -> None:
    job = bench.job_in_hand()
    for option, wanted, known in (("--coat", coat_id, job.coats), ("--area", area_id, job.areas)):
        if wanted:
            refuse_unknown(option, wanted, known)


def _list_fields(call: Call, kind: Kind) -> int:
    if call.options.json:
        write_json(call.out, {"kind": kind.key, "fields": [
            {"name": f.key, "label": f.label, "type": f.type, "unit": f.unit,
             "required": f.required, "choices": list(f.choices), "keys": list(f.keys)}
            for f in kind.fields]})  # fmt: skip
        return 0
    call.out.write(f"{kind.label}, of the {kind.of}. Fields:\n")
    for f in kind.fields:
        more = ", ".join(f.choices or f.keys) or f.unit
        needed = " (required)" if f.required else ""
        call.out.write(f"  {f.key}: {f.label}{needed}{f'; {more}' if more else ''}\n")
    return 0


def _key(call: Call, folder: Path) -> SigningKey:
    from advisor.record.signing import load_key, make_key

    options = call.options
    if options.new_key:
        return make_key(folder, options.key, _passphrase(call, "New passphrase, may be empty: "))
    if options.passphrase_file is None:
        try:
            return load_key(folder, options.key)
        except InputError as error:
            if "no passphrase" not in str(error) or not sys.stdin.isatty():
                raise
    return load_key(folder, options.key, _passphrase(call, "Passphrase: "))


def _passphrase(call: Call, prompt: str) -> str:
    file: Path | None = call.options.passphrase_file
    if file is None:
        return getpass.getpass(prompt) if sys.stdin.isatty() else ""
    try:
        return file.read_text(encoding="utf-8").splitlines()[0]
    except IndexError:
        raise InputError(f"{file}: found nothing in it; accepted: the passphrase") from None
    except (OSError, ValueError) as error:
        raise InputError(f"{file}: found no text to read; accepted: the passphrase") from error
