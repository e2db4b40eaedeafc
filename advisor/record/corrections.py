"""What a correction may change: with it the entry must still read as one of its kind."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.base.errors import InputError, RangeError
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY, PLACES, STRUCK_OUT, Effective, value_of
from advisor.record.kinds import check, check_moment, kind_of

#: Kinds that stand as they are: a signature over them, or a hash in them, would no longer fit.
STANDING = ("sign-off", "import", "photo", "correction")


def check_changes(told: Effective, changes: Mapping[str, Json], reason: str) -> None:
    """Refuse (InputError) what cannot be a correction of an entry as it counts now.

    `changes` has a value in the form of each field; "" strikes the field out.
    """
    entry = told.entry
    if not reason.strip():
        raise InputError("correction: found no reason; accepted: why it is corrected")
    if told.struck_out:
        raise InputError(f"entry {entry.number}: found it struck out already; accepted: a new one")
    if set(changes) == {ENTRY} and changes[ENTRY] == STRUCK_OUT:
        _check_strikeable(told)
        return
    if entry.kind in STANDING:
        raise InputError(f"entry {entry.number}: found a {entry.kind}, which stands as it is; "
                         "accepted: strike it out and enter another")  # fmt: skip
    if not any((value_of(told.now, name) or "") != now for name, now in changes.items()):
        raise InputError("correction: found nothing changed; accepted: at least one new value")
    for name in PLACES:
        if name in changes:
            _check_place(name, changes[name])
    _check_data(told, {name: now for name, now in changes.items() if name not in PLACES})


def _check_strikeable(told: Effective) -> None:
    if told.entry.kind in ("sign-off", "correction", "job"):
        raise InputError(f"entry {told.entry.number}: found a {told.entry.kind}, which cannot be "
                         "struck out; accepted: a further entry")  # fmt: skip


def _check_place(name: str, now: Json) -> None:
    if not isinstance(now, str):
        raise RangeError(f"correction, {name}", repr(now), "text")
    if name == "at":
        check_moment("correction, at", now)


def _check_data(told: Effective, changes: Mapping[str, Json]) -> None:
    kind = kind_of(told.entry.kind)
    for name in changes:
        kind.field(name)
    merged = {**told.now.data, **changes}
    check(told.entry.kind, {name: now for name, now in merged.items() if now not in ("", None)})
