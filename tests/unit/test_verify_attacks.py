"""Attacks on the verifier by one who made the chain anew, or put other files beside it."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from advisor.record.canonical import NO_HASH, Json
from advisor.record.exact_line import BrokenError, canonical, field_at, parse
from advisor.record.proof import words
from advisor.record.signing import SigningKey, make_key
from advisor.record.verify_record import verify

PICTURE = b"\xff\xd8\xff as it was taken"
SHA256 = hashlib.sha256(PICTURE).hexdigest()
PHOTO: dict[str, Json] = {"file_name": "bow.jpg", "sha256": SHA256, "bytes": "20"}
Told = Sequence[tuple[str, dict[str, Json], "SigningKey | None"]]


def line(told: tuple[str, dict[str, Json], SigningKey | None], number: int, before: str) -> bytes:
    kind, data, key = told
    entry: dict[str, Json] = {
        "app": "1", "area": "", "at": "2026-06-01T10:00:00+01:00", "by": "crew", "coat": "",
        "data": data, "form": 1, "job": "gig", "kind": kind, "known": {}, "number": number,
        "previous": before, "written": "2026-06-01T10:00:00+01:00", "zone": "Europe/London",
    }  # fmt: skip
    if key is None:
        return canonical(entry)
    data = {**data, "public_key": key.public_hex}
    signature = key.sign(canonical({**entry, "data": data}))
    return canonical({**entry, "data": {**data, "signature": signature}})


def written(folder: Path, entries: Told) -> Path:
    """Write a record whose chain fits, as anyone can make one."""
    lines, head = [], NO_HASH
    for number, told in enumerate(entries, start=1):
        lines.append(line(told, number, head))
        head = hashlib.sha256(lines[-1]).hexdigest()
    end: dict[str, Json] = {"end": {"entries": len(lines), "head": head}}
    path = folder / "record.jsonl"
    path.write_bytes(b"".join(one + b"\n" for one in [*lines, canonical(end)]))
    return path


@pytest.fixture
def files(tmp_path: Path) -> Path:
    folder = tmp_path / "files"
    folder.mkdir()
    return folder


@pytest.mark.parametrize(("true", "false"), [(".jpg", ".png"), (".png", ".jpg"), ("", ".a.b")])
def test_another_picture_under_the_same_hash_does_not_hide_behind_the_true_one(
    tmp_path: Path, files: Path, true: str, false: str
) -> None:
    path = written(tmp_path, [("photo", PHOTO, None)])
    (files / (SHA256 + true)).write_bytes(PICTURE)
    assert verify(path).intact
    (files / (SHA256 + false)).write_bytes(b"another picture")
    (problem,) = verify(path).problems
    assert (problem.line, problem.field) == (1, "data.sha256")


@pytest.mark.parametrize("blocks", [["x"], [3, None], "x", [{}], [{"sha256": 1}], [[]]])
def test_blocks_of_any_form_are_told_and_stop_nothing(
    tmp_path: Path, files: Path, blocks: Json
) -> None:
    path = written(tmp_path, [("import", {**PHOTO, "blocks": blocks}, None)])
    (files / SHA256).write_bytes(b"another log")
    (problem,) = verify(path).problems
    assert "was altered" in problem.text


@pytest.mark.parametrize("end", [b"\xff", b"\\/", b"\\"])
def test_a_long_broken_text_is_placed_at_once(end: bytes) -> None:
    body = b'{"data":{"text":"' + b'\\"' * 200_000 + end + b'"}}'
    with pytest.raises(BrokenError) as broken:
        parse(body)
    began = time.process_time()
    where = field_at(body, broken.value.offset or 0)
    # One pass over 400 kB takes 0.1 s here; one pass for each of its quotes takes minutes.
    assert time.process_time() - began < 5.0
    assert where in ("data.text", "data")


def test_a_key_asked_for_proves_what_it_signed_and_no_more(tmp_path: Path) -> None:
    owner, other = (make_key(tmp_path / "keys", name) for name in ("Owner", "Somebody"))
    note: dict[str, Json] = {"text": "as it was"}
    told: Told = (("observation", note, None), ("sign-off", {"name": "O"}, owner),
                  ("observation", note, None), ("sign-off", {"name": "S"}, other))  # fmt: skip
    path = written(tmp_path, told)
    said = "\n".join(words(verify(path, key=owner.public_hex)))
    assert "signed entries 1 to 2 as they stand" in said
    assert "signed entries 1 to 4" not in said
    assert "NOT PROVEN by that key: the 2 entries after it." in said


def test_each_key_proves_its_own_part(tmp_path: Path) -> None:
    owner, other = (make_key(tmp_path / "keys", name) for name in ("Owner", "Somebody"))
    path = written(
        tmp_path, [("sign-off", {"name": "O"}, owner), ("sign-off", {"name": "S"}, other)]
    )
    said = "\n".join(words(verify(path)))
    assert "the key of entry 1 signed entries 1 to 1 as they stand" in said
    assert "the key of entry 2 signed entries 1 to 2 as they stand" in said
