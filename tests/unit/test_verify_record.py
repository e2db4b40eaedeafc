"""The verifier against every change a hand could make to an exported record."""

from __future__ import annotations

import copy
import functools
import hashlib
import io
import json
import random
from collections.abc import Iterator
from pathlib import Path

import pytest

from advisor.record import verify_record
from advisor.record.canonical import NO_HASH, Json
from advisor.record.exact_line import KEYS, canonical
from advisor.record.export import RECORD, Exported, export_folder
from advisor.record.proof import MOST_PROBLEMS, Problem, Result, words
from advisor.record.signing import SigningKey, make_key
from advisor.record.verify_record import Checker, UnreadableError, verify
from tests.helpers.invented_record import JOB, store_with

ENTRIES = 200
RANDOM_CHANGES = 5200


@pytest.fixture(scope="module")
def key(tmp_path_factory: pytest.TempPathFactory) -> SigningKey:
    return make_key(tmp_path_factory.mktemp("keys"), "A. Painter")


@pytest.fixture(scope="module")
def export(tmp_path_factory: pytest.TempPathFactory, key: SigningKey) -> tuple[Path, Exported]:
    folder = tmp_path_factory.mktemp("export")
    with store_with(folder / "shop.sqlite3", ENTRIES, key) as store:
        done = export_folder(store, JOB, folder / "out")
    return folder / "out", done


@pytest.fixture(scope="module")
def record(export: tuple[Path, Exported]) -> bytes:
    return (export[0] / RECORD).read_bytes()


@pytest.fixture
def remembered() -> Iterator[None]:
    """Work out each line and signature once: both depend on their arguments alone."""
    parse = functools.lru_cache(maxsize=5000)(verify_record.parse)
    fits = functools.lru_cache(maxsize=5000)(verify_record.signature_fits)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(verify_record, "parse", parse)
        patch.setattr(verify_record, "signature_fits", fits)
        yield


def check(body: bytes, head: str = "") -> Result:
    """Check bytes as the verifier checks a file."""
    checker = Checker(head)
    for number, raw in enumerate(io.BytesIO(body), start=1):
        checker.take(number, raw)
    checker.finish()
    return checker.result


def lines_told(result: Result) -> set[int]:
    return {problem.line for problem in result.problems}


def rehashed(lines: list[bytes]) -> bytes:
    """Make the chain anew over changed entries, as one would who wants to hide the change."""
    out, head = [], NO_HASH
    for number, line in enumerate(lines, start=1):
        entry = json.loads(line) | {"previous": head, "number": number}
        out.append(canonical(entry))
        head = hashlib.sha256(out[-1]).hexdigest()
    return sealed(out)


def sealed(lines: list[bytes]) -> bytes:
    """Put the right end line under lines."""
    head = hashlib.sha256(lines[-1]).hexdigest() if lines else NO_HASH
    end: dict[str, Json] = {"end": {"entries": len(lines), "head": head}}
    return b"".join(line + b"\n" for line in [*lines, canonical(end)])


# --- as it is --------------------------------------------------------------------------------


def test_an_export_is_intact_and_says_what_that_proves(
    export: tuple[Path, Exported], key: SigningKey
) -> None:
    folder, done = export
    result = verify(folder / RECORD, key=key.public_hex)
    assert result.problems == []
    assert (result.entries, result.head) == (ENTRIES, done.head.hash)
    assert [(s.entry, s.key) for s in result.signatures] == [(ENTRIES - 1, key.public_hex)]
    assert (result.files_intact, result.files_not_here) == (2, 0)
    said = "\n".join(words(result))
    for part in ("INTACT", done.head.hash, "NOT PROVEN: that the whole was not made anew",
                 "PROVEN: whoever holds the key signed entries 1 to 199"):  # fmt: skip
        assert part in said


def test_an_empty_record_is_intact() -> None:
    result = check(sealed([]))
    assert (result.entries, result.head, result.problems) == (0, NO_HASH, [])


def test_without_a_signature_it_says_so(record: bytes) -> None:
    result = check(sealed(record.splitlines()[:20]))
    assert result.intact
    assert "NOT PROVEN: who wrote it" in "\n".join(words(result))


# --- single bytes ----------------------------------------------------------------------------


@pytest.mark.usefixtures("remembered")
def test_every_single_byte_change_is_found_and_placed(record: bytes) -> None:
    """Random positions and values over the whole file; the place named is the line changed."""
    rng = random.Random(20260528)
    ends = [at for at, byte in enumerate(record) if byte == 10]
    for _ in range(RANDOM_CHANGES):
        at = rng.randrange(len(record))
        value = rng.choice([b for b in range(256) if b != record[at]])
        result = check(record[:at] + bytes([value]) + record[at + 1 :])
        line = sum(end < at for end in ends) + 1
        assert not result.intact, f"byte {at} as {value} went by"
        # The last entry and the end line vouch for each other alone: either may be named.
        near = (
            {line, line - 1} if line > ENTRIES else {line, ENTRIES} if line == ENTRIES else {line}
        )
        assert lines_told(result) & near, f"byte {at} as {value}: {result.problems}"


@pytest.mark.usefixtures("remembered")
def test_every_value_of_a_byte_is_found(record: bytes) -> None:
    """All 255 other values, over the first and last entry, the end line and the line feeds."""
    short = sealed(record.splitlines()[:5])
    places = [at for at, byte in enumerate(short) if byte == 10]
    places += range(0, 400, 19)
    places += range(short.rindex(b'{"app"'), len(short), 11)
    for at in places:
        for value in set(range(256)) - {short[at]}:
            assert not check(short[:at] + bytes([value]) + short[at + 1 :]).intact, (at, value)


@pytest.mark.usefixtures("remembered")
def test_every_byte_taken_out_or_put_in_is_found(record: bytes) -> None:
    rng = random.Random(7)
    for _ in range(600):
        at = rng.randrange(len(record))
        assert not check(record[:at] + record[at + 1 :]).intact
        assert not check(record[:at] + bytes([rng.randrange(256)]) + record[at:]).intact


@pytest.mark.usefixtures("remembered")
def test_every_field_of_every_kind_is_covered(record: bytes) -> None:
    """Each leaf of the first entry of each kind, changed to another value in good form."""
    lines = record.splitlines()[:-1]
    seen: set[str] = set()
    changed = 0
    for at, line in enumerate(lines):
        entry = json.loads(line)
        if entry["kind"] in seen:
            continue
        seen.add(entry["kind"])
        for path in leaves(entry):
            other = canonical(with_leaf(entry, path))
            changed_lines = [*lines[:at], other, *record.splitlines()[at + 1 :]]
            result = check(b"".join(line + b"\n" for line in changed_lines))
            assert at + 1 in lines_told(result), (entry["kind"], path)
            changed += 1
    assert len(seen) == 15
    assert changed > 300


def leaves(value: Json, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(value, dict):
        for name in value:
            yield from leaves(value[name], (*path, name))
    elif isinstance(value, list):
        for at, one in enumerate(value):
            yield from leaves(one, (*path, at))
    else:
        yield path


def with_leaf(entry: dict[str, Json], path: tuple[str | int, ...]) -> Json:
    """Return the entry with one leaf that reads like another value of its kind."""
    found = copy.deepcopy(entry)
    inner: object = found
    for step in path[:-1]:
        inner = inner[step]  # type: ignore[index]
    was = inner[path[-1]]  # type: ignore[index]
    if isinstance(was, int):
        now: Json = was + 1
    else:  # one figure or letter becomes its neighbour, so that hashes and times stay in form
        now = was[:-1] + ("1" if was[-1:] == "0" else "0") if was else "x"
    inner[path[-1]] = now  # type: ignore[index]
    return found


# --- the same meaning in other bytes ---------------------------------------------------------


def same_meaning(line: bytes) -> Iterator[tuple[str, bytes]]:
    yield "space", line.replace(b'":', b'": ', 1)
    yield "space at the end", line + b" "
    yield "carriage return", line + b"\r"
    yield "byte order mark", b"\xef\xbb\xbf" + line
    yield "escape of a plain letter", line.replace(b"Painter", b"P\\u0061inter", 1)
    yield "escape of a slash", line.replace(b"Europe/", b"Europe\\/", 1)
    yield "escape of a letter beyond ASCII", line.replace("Ω".encode(), b"\\u03a9", 1)
    yield "upper-case escape", line.replace("Ω".encode(), b"\\u03A9", 1)
    yield "escaped quote by number", line.replace(b'\\"', b"\\u0022", 1)
    yield "fraction of a whole number", line.replace(b'"form":1', b'"form":1.0', 1)
    yield "exponent", line.replace(b'"form":1', b'"form":1e0', 1)
    yield "plus", line.replace(b'"form":1', b'"form":+1', 1)
    yield "zero before", line.replace(b'"form":1', b'"form":01', 1)
    yield "yes for one", line.replace(b'"form":1', b'"form":true', 1)
    yield "field twice", line.replace(b'"form":1', b'"form":1,"form":1', 1)
    yield "field twice, the last wins", line.replace(b'"by":', b'"by":"B","by":', 1)
    yield "other order", canonical_in_other_order(line)
    yield "NUL", line.replace(b"Painter", b"Painter\x00", 1)
    yield "long form of a letter", line.replace(b"Painter", b"P\xc1\xa1inter", 1)
    yield "half a character", line.replace(b"Painter", b"P\xed\xa0\x80inter", 1)
    yield "half a character escaped", line.replace(b"Painter", b"P\\ud800inter", 1)
    yield "not a number", line.replace(b'"form":1', b'"form":NaN', 1)
    yield "comma at the end", line[:-1] + b",}"
    yield "other letters that look the same", line.replace(b"Painter", "P\u0430inter".encode(), 1)
    yield (
        "upper-case hash",
        line.replace(b"previous", b"previous").replace(
            json.loads(line)["previous"].encode(), json.loads(line)["previous"].upper().encode(), 1
        ),
    )


def canonical_in_other_order(line: bytes) -> bytes:
    entry = json.loads(line)
    turned = {name: entry[name] for name in reversed(list(entry))}
    return json.dumps(turned, ensure_ascii=False, separators=(",", ":")).encode()


def test_the_same_meaning_in_other_bytes_is_found(record: bytes) -> None:
    """Even where the chain was made anew over it, so that only the form gives it away."""
    lines = record.splitlines()[:12]
    at = next(i for i, line in enumerate(lines) if "Ω".encode() in line and b'\\"' in line and i)
    for name, line in same_meaning(lines[at]):
        assert line != lines[at], name
        result = check(sealed([*lines[:at], line, *lines[at + 1 :]]))
        assert lines_told(result) & {at + 1}, name
        if name not in ("other letters that look the same", "field twice, the last wins"):
            alone = check(sealed([*lines[:at], line]))
            assert not alone.intact, f"{name}: only the hash gave it away"


@pytest.mark.parametrize("break_as", [b"\r\n", b"\r", b"\n\n", b" \n", b"\x0b\n", b"\xc2\x85"])
def test_other_line_ends_are_found(record: bytes, break_as: bytes) -> None:
    assert not check(record.replace(b"\n", break_as)).intact
    assert not check(record.replace(b"\n", break_as, 1)).intact


@pytest.mark.parametrize(
    "body",
    [b"", b"\n", b"null\n", b"[]\n", b"{}\n", b"\x00" * 1000, b"\xff\xfe{\x00", b"%PDF-1.7\n",
     b'{"end":1}\n', b'{"end":{"entries":0,"head":"%s"},"x":1}\n' % NO_HASH.encode(),
     b'{"end":{"entries":0,"head":""}}\n', b'{"end":{"entries":0}}\n',
     b'{"end":{"entries":false,"head":"%s"}}\n' % NO_HASH.encode(),
     b"[" * 300_000 + b"\n", b'{"a":' * 200_000 + b"\n", b'{"a":' + b"9" * 100_000 + b"}\n",
     b'{"a":"' + b"\\u00" * 100_000 + b"\n"],
)  # fmt: skip
def test_what_is_no_record_is_never_intact(body: bytes) -> None:
    assert not check(body).intact


# --- whole entries ---------------------------------------------------------------------------


@pytest.mark.usefixtures("remembered")
def test_reordering_dropping_and_inserting_are_found(record: bytes) -> None:
    """Each with the end line made to fit, since anyone can write that."""
    lines = record.splitlines()[:-1]
    for at in range(1, ENTRIES - 1, 13):
        swapped = [*lines[:at], lines[at + 1], lines[at], *lines[at + 2 :]]
        assert not check(sealed(swapped)).intact
        dropped = check(sealed([*lines[:at], *lines[at + 1 :]]))
        assert lines_told(dropped) == {at + 1}
        assert not check(sealed([*lines[:at], lines[at], *lines[at:]])).intact
        link = {"previous": hashlib.sha256(lines[at]).hexdigest(), "number": at + 2}
        insert = canonical(json.loads(lines[at]) | link)
        assert not check(sealed([*lines[: at + 1], insert, *lines[at + 1 :]])).intact
    assert not check(sealed(lines[1:])).intact
    assert not check(sealed(lines[::-1])).intact


@pytest.mark.usefixtures("remembered")
def test_a_dropped_tail_is_found_by_the_head(record: bytes, export: tuple[Path, Exported]) -> None:
    lines = record.splitlines()[:-1]
    head = export[1].head.hash
    assert check(record, head).head_at == ENTRIES
    for left in (1, 100, ENTRIES - 1):
        cut = sealed(lines[:left])
        assert check(cut).intact, "the chain alone cannot tell, and the words say so"
        assert not check(cut, head).intact
    earlier = hashlib.sha256(lines[99]).hexdigest()
    result = check(record, earlier)
    assert (result.intact, result.head_at) == (True, 100)
    assert "100 came after it" in "\n".join(words(result, earlier))
    assert not check(record, NO_HASH).intact, "no entry has the hash of nothing"


def test_without_its_end_line_it_is_cut_off(record: bytes) -> None:
    lines = record.splitlines(keepends=True)
    for left in (1, 50, ENTRIES):
        told = check(b"".join(lines[:left])).problems
        assert [(p.line, p.text) for p in told] == [
            (left + 1, "the end line is missing: it was cut off")
        ]
    assert not check(record[:-1]).intact, "the last line feed"
    assert not check(record + lines[-1]).intact, "something after the end"
    assert not check(record + b"x").intact


@pytest.mark.usefixtures("remembered")
def test_a_chain_made_anew_is_found_by_the_signature(record: bytes, key: SigningKey) -> None:
    lines = record.splitlines()[:-1]
    forged = lines[:]
    forged[40] = lines[40].replace(b"A. Painter", b"B. Painter")
    result = check(rehashed(forged))
    assert lines_told(result) >= {ENTRIES - 1}
    assert "data.signature" in {p.field for p in result.problems}
    unsigned = [canonical(json.loads(line) | {"data": {"name": "A. Painter"}})
                if b'"signature"' in line else line for line in forged]  # fmt: skip
    for line in unsigned:
        assert b'"signature"' not in line
    # The correction points at entry 40 by hash: leave those out, as a forger would.
    plain = [line for line in unsigned if b'"kind":"correction"' not in line]
    assert check(rehashed(plain)).intact, "the chain alone cannot tell"
    assert not check(rehashed(plain), hashlib.sha256(lines[-1]).hexdigest()).intact


def test_another_persons_key_is_found_by_the_key_asked_for(tmp_path: Path, key: SigningKey) -> None:
    other = make_key(tmp_path / "keys", "Somebody")
    with store_with(tmp_path / "shop.sqlite3", 20, other) as store:
        export_folder(store, JOB, tmp_path / "out")
    path = tmp_path / "out" / RECORD
    assert verify(path, key=other.public_hex).intact
    assert not verify(path, key=key.public_hex).intact


def test_a_correction_of_another_entry_is_placed(record: bytes) -> None:
    lines = record.splitlines()[:-1]
    at = next(i for i, line in enumerate(lines) if b'"kind":"correction"' in line)
    entry = json.loads(lines[at])
    for corrects in ("1", str(at + 1), "999999", "-1", "x", "0"):
        entry["data"]["corrects"] = corrects
        result = check(sealed([*lines[:at], canonical(entry)]))
        assert lines_told(result) == {at + 1}
        assert {p.field.split("_")[0] for p in result.problems} == {"data.corrects"}


# --- places ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("was", "now", "field"),
    [
        (b'"kind":', b'"kinx":', "kind"),
        (b'"form":1', b'"form":2', "form"),
        (b'"number":3', b'"number":4', "number"),
        (b'"at":"2026', b'"at":"20x6', "at"),
        (b'"written":"2026-06', b'"written":"2026-19', "written"),
        (b'"air_temp":{"instrument"', b'"air_temp":{instrument"', "data.air_temp"),
        (b'3.50"', b'3.x0"', "data.air_temp.value"),
        (b'"zone":"Europe', b'"zone":\xffEurope', "zone"),
    ],
)  # fmt: skip
def test_the_field_is_named_where_it_can_be(
    record: bytes, was: bytes, now: bytes, field: str
) -> None:
    lines = record.splitlines()[:-1]
    assert b'"kind":"reading"' in lines[2]
    assert was in lines[2]
    lines[2] = lines[2].replace(was, now, 1)
    result = check(b"\n".join([*lines, record.splitlines()[-1]]) + b"\n")
    assert (result.problems[0].line, result.problems[0].field) == (3, field)
    assert len(result.problems) == 1, "one change, told once"


def test_a_changed_line_is_placed_beside_an_unreadable_one(record: bytes) -> None:
    lines = record.splitlines(keepends=True)
    lines[4] = lines[4].replace(b"A. Painter", b"B. Painter")
    lines[6] = lines[6].replace(b'"form":1', b'"form":')
    assert lines_told(check(b"".join(lines))) == {5, 7}


def test_a_beginning_taken_off_is_found(record: bytes) -> None:
    """The rest made to look whole, but for the link to what was there before."""
    first = json.loads(record.splitlines()[0]) | {"previous": "ab" * 32}
    (problem,) = check(sealed([canonical(first)])).problems
    assert (problem.line, problem.field) == (1, "previous")


def test_many_problems_are_counted_and_the_first_are_told(record: bytes) -> None:
    result = check(record.replace(b'"form":1', b'"form":2') * 3)
    assert not result.intact
    assert len(result.problems) == 200
    assert result.more_problems > 100
    assert f"and {result.more_problems} more" in "\n".join(words(result))


def test_names_cannot_write_on_the_terminal(record: bytes) -> None:
    line = canonical(dict.fromkeys((*KEYS, "\x1b[2J\x07"), "x"))
    said = "\n".join(words(check(sealed([line]))))
    assert "\x1b" not in said
    assert "\x07" not in said


# --- files -----------------------------------------------------------------------------------


@pytest.fixture
def copied(export: tuple[Path, Exported], tmp_path: Path) -> Path:
    import shutil

    return Path(shutil.copytree(export[0], tmp_path / "copy"))


def named(folder: Path, suffix: str) -> Path:
    return next(path for path in (folder / "files").iterdir() if path.suffix == suffix)


def test_an_altered_log_is_found_with_its_lines(copied: Path) -> None:
    log = named(copied, ".csv")
    log.write_bytes(log.read_bytes().replace(b"15.5", b"15.6"))
    (problem,) = verify(copied / RECORD).problems
    assert problem.text == "its file shed.csv was altered in lines 6 to 9"


def test_a_missing_photo_is_told_and_is_not_called_altered(copied: Path) -> None:
    named(copied, ".jpg").unlink()
    result = verify(copied / RECORD)
    assert (result.intact, result.problems, result.files_intact) == (False, [], 1)
    (missing,) = result.missing
    assert missing.text == "its file photo.jpg is missing from files"
    said = words(result)
    assert said[0] == "MISSING. No entry was altered, but not all is here:"
    assert said[1] == f"  line {missing.line}: its file photo.jpg is missing from files"
    assert said[2].startswith("The record holds ")  # what is proven of the entries is still said
    assert any(line.startswith("PROVEN: no entry was changed") for line in said)
    assert any(line.startswith("NOT PROVEN: anything of the missing files") for line in said)
    assert not any(word in " ".join(said) for word in ("ALTERED", "INTACT"))


def test_missing_and_altered_are_both_told(copied: Path) -> None:
    named(copied, ".jpg").unlink()
    named(copied, ".csv").write_bytes(b"another")
    said = words(verify(copied / RECORD))
    assert said[0] == "ALTERED. 1 thing does not fit:"
    assert "its file shed.csv was altered" in said[1]
    assert said[2:4] == ["MISSING:", said[3]]
    assert "photo.jpg is missing" in said[3]
    assert not any("PROVEN:" in line for line in said)


def test_many_missing_files_are_counted(record: bytes) -> None:
    result = check(record)
    result.missing = [Problem(n, "", "its file is missing") for n in range(1, 251)]
    said = words(result)
    assert len([line for line in said if line.startswith("  line ")]) == MOST_PROBLEMS
    assert "  and 50 more" in said


def test_an_altered_photo_is_found_and_a_stranger_is_noted(copied: Path) -> None:
    named(copied, ".jpg").write_bytes(b"another")
    (copied / "files" / "more.txt").write_bytes(b"x")
    result = verify(copied / RECORD)
    assert [p.text for p in result.problems] == ["its file photo.jpg was altered"]
    assert "more.txt is named by no entry" in result.notes[-1]


def test_without_the_folder_the_files_are_not_checked_and_it_says_so(copied: Path) -> None:
    import shutil

    shutil.rmtree(copied / "files")
    result = verify(copied / RECORD)
    assert (result.intact, result.files_not_here) == (True, 2)
    assert any(line.startswith("NOT CHECKED: 2 files named") for line in words(result))
    result.files_not_here = 1
    assert any(line.startswith("NOT CHECKED: 1 file named") for line in words(result))


@pytest.mark.parametrize("bad", ["head", "key"])
def test_a_hash_of_another_form_is_refused(export: tuple[Path, Exported], bad: str) -> None:
    for text in ("12", "g" * 64, "A" * 64, NO_HASH + "0"):
        with pytest.raises(UnreadableError, match="64 hexadecimal digits"):
            verify(export[0] / RECORD, **{bad: text})


def test_what_is_not_there_cannot_be_read(tmp_path: Path) -> None:
    for path in (tmp_path / "none.jsonl", tmp_path):
        with pytest.raises(UnreadableError, match="no such file"):
            verify(path)
