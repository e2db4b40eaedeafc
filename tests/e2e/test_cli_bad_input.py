"""What the user can mend: one line on stderr, exit code 2, nothing on stdout, no traceback."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.e2e.cli_shop import Done, at, call, product, write_log

GLOSS = str(product("two-part-gloss"))
READ = ("--air", "18", "--rh", "60", "--surface", "16")
LOG, BAD, EMPTY, WORDS = "{log}", "{bad}", "{empty}", "{words}"
WINDOWS = ("windows", "--conditions", LOG, "--product", GLOSS)

#: Arguments, and words that the line must have: what was found, what is accepted.
TABLE: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = (
    (("check",), ("neither a reading nor a file", "--conditions FILE")),
    (("check", "--air", "hot"), ("--air", "'hot'", "a temperature in °C")),
    (("check", "--air", "61"), ("--air", "61", "-40 to 60")),
    (("check", "--air", "nan"), ("--air", "'nan'")),
    (("check", "--air", "18,,5"), ("--air", "'18,,5'", "such as 18.5")),
    (("check", "--air"), ("--air", "expected one argument")),
    (("check", "--air", "18", "--rh", "0"), ("--rh", "'0'", "above 0 to 100 %")),
    (("check", "--air", "18", "--rh", "100.5"), ("--rh", "'100.5'", "above 0 to 100 %")),
    (("check", "--air", "18", "--rh", "inf"), ("--rh", "'inf'")),
    (("check", *READ, "--wet-bulb", "14"), ("--wet-bulb", "--rh as well")),
    (("check", "--air", "18", "--wet-bulb", "14"), ("--pressure", "--altitude 0")),
    (
        ("check", "--air", "18", "--wet-bulb", "19", "--altitude", "0"),
        ("wet_bulb_c", "19", "at or below the air temperature"),
    ),
    (("check", "--wet-bulb", "14", "--altitude", "0"), ("--wet-bulb", "no --air")),
    (("check", *READ, "--pressure", "1000"), ("--wet-bulb: found none", "--pressure")),
    (("check", *READ, "--surface-hot", "12"), ("--surface-hot", "12", "the hottest spot")),
    (("check", *READ, "--surface-kind", "laser"), ("laser", "ir-gloss")),
    (("check", *READ, "--conditions", LOG), ("--air as well", "not both")),
    (("check", *READ, "--apply-hours", "2"), ("--product: found none", "--apply-hours")),
    (("check", *READ, "--product", "two-part-glos"), ("two-part-glos", "nearest")),
    (("check", *READ, "--product", "no/such.toml"), ("such.toml", "no such file")),
    (("check", *READ, "--product", BAD), ("bad.toml", "times.temp_c")),
    (("check", *READ, "--product", GLOSS, "--previous", "alkyd"), ("--previous", "PRODUCT@START")),
    (
        ("check", *READ, "--product", GLOSS, "--previous", f"alkyd@{at(5)}/{at(4)}"),
        ("--previous", "an END not before its START"),
    ),
    (
        ("check", *READ, "--product", GLOSS, "--previous", "alkyd@2025-05-01/2025-05-02"),
        ("--previous START", "without offset", "--time-zone"),
    ),
    (("check", *READ, "--product", GLOSS, "--reverse"), ("--reverse", "no --previous")),
    (("check", *READ, "--product", GLOSS, "--area-m2", "4"), ("--pace-m2-per-h", "together")),
    (
        ("check", *READ, "--product", GLOSS, "--area-m2", "9e9", "--pace-m2-per-h", "1"),
        ("up to 1000",),
    ),
    (("check", *READ, "--product", GLOSS, "--wind-limit", "8"), ("--wind-limit", "--outdoors")),
    (
        ("check", *READ, "--product", GLOSS, "--working-hours", "9 to 5"),
        ("'9 to 5'", "08:00-18:00"),
    ),
    (("check", *READ, "--at", "yesterday"), ("--at", "'yesterday'", "ISO 8601")),
    (("check", *READ, "--at", "2025-05-01T08:00"), ("--at", "without offset", "--time-zone")),
    (
        ("check", *READ, "--at", "2025-03-30T02:30", "--time-zone", "Europe/Oslo"),
        ("--at", "not there", "clocks change"),
    ),
    (
        ("check", *READ, "--at", "2025-10-26T02:30", "--time-zone", "Europe/Oslo"),
        ("--at", "there twice", "clocks change"),
    ),
    (("check", *READ, "--at", "0001-01-01T00:00Z"), ("--at", "1970 to 2200")),
    (
        ("check", *READ, "--product", GLOSS, "--time-zone", "Oslo", "--at", "2025-05-01"),
        ("--time-zone", "'Oslo'", "Europe/Oslo"),
    ),
    (("check", *READ, "--units", "imperial"), ("imperial", "metric")),
    (("check", *READ, "--colour"), ("--colour",)),
    (("check", "--ai", "18"), ("--ai",)),
    (("paint",), ("paint", "windows")),
    (WINDOWS, ("no length of work", "--apply-hours")),
    ((*WINDOWS, "--apply-hours", "-1"), ("--apply-hours", "'-1'", "0 to 1000 h")),
    (
        (*WINDOWS, "--apply-hours", "1", "--area-m2", "2", "--pace-m2-per-h", "2"),
        ("--apply-hours", "as well"),
    ),
    ((*WINDOWS, "--apply-hours", "1", "--days", "0"), ("--days", "'0'", "above 0")),
    ((*WINDOWS, "--apply-hours", "1", "--from", "2031-01-01"), ("--from", "without offset")),
    (
        (*WINDOWS, "--apply-hours", "1", "--from", "2031-01-01T00:00Z"),
        ("--from", "no start inside", "2025-05-01T00:00+00:00 to 2025-05-02T00:00+00:00"),
    ),
    (("windows", "--product", GLOSS, "--apply-hours", "1"), ("--conditions", "required")),
    (("windows", "--conditions", "gone.csv", "--product", GLOSS, "--apply-hours", "1"),
     ("gone.csv", "no such file")),
    (("windows", "--conditions", EMPTY, "--product", GLOSS, "--apply-hours", "1"),
     ("empty.csv", "an empty file")),
    (("windows", "--conditions", WORDS, "--product", GLOSS, "--apply-hours", "1"), ("words.csv",)),
    (("windows", "--conditions", ".", "--product", GLOSS, "--apply-hours", "1"), ("a folder",)),
    (("readings",), ("ACTION",)),
    (("readings", "import", "gone.csv"), ("gone.csv", "no such file")),
    (
        ("readings", "import", LOG, "--column", "Probe 2"),
        ("--column", "'Probe 2'", "surface_temp_c"),
    ),
    (("readings", "import", LOG, "--database", WORDS), ("words.csv", "--database")),
    (("readings", "export", "out.txt"), ("out.txt", ".csv")),
    (("readings", "export", "{new}"), ("no database",)),
    (("readings", "export", LOG), ("already there", "--force")),
    (("products", "show", "varnsh"), ("varnsh", "nearest")),
    (("products", "list", "--database", "gone.sqlite3"), ("gone.sqlite3", "no such database")),
    (("products", "lint", BAD), ("bad.toml", "times.temp_c")),
    (("plan", "--job", "gig.toml"), ("advisor plan", "later version")),
    (("record", "verify", "x.jsonl"), ("x.jsonl", "no such file")),
    (("record", "verify", "x.jsonl", "--head", "12"), ("head", "64 hexadecimal digits")),
    (("record", "show", "--database", "{new}"), ("no database",)),
    (("record", "add", "raeding"), ("raeding", "did you mean reading?")),
    (("record", "correct", "1", "--reason", "slip"), ("--strike-out",)),
    (("record", "restore", "none.sqlite3"), ("none.sqlite3", "no such file")),
)  # fmt: skip


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], str]:
    """Files that are good, broken, empty and not a log, by their place in the table."""
    folder = tmp_path_factory.mktemp("bad")
    columns = {"air_temp_c": 18.0, "dew_point_c": 8.0, "surface_temp_c": 16.0}
    write_log(folder / "log.csv", 24, columns)
    text = product("two-part-gloss").read_text(encoding="utf-8")
    broken = text.replace("temp_c = [10, 15", "temp_c = [15, 10")
    (folder / "bad.toml").write_text(broken, encoding="utf-8")
    (folder / "empty.csv").write_bytes(b"")
    (folder / "words.csv").write_text("Dear crew,\nthe shed is cold again.\n", encoding="utf-8")
    names = {"log": "log.csv", "bad": "bad.toml", "empty": "empty.csv", "words": "words.csv",
             "new": "new.csv"}  # fmt: skip
    paths = {key: str(folder / name) for key, name in names.items()}
    return lambda word: word.format(**paths)


@pytest.mark.parametrize(("argv", "words"), TABLE, ids=lambda value: " ".join(value)[:60])
def test_one_line_and_exit_code_two(
    files: Callable[[str], str], argv: tuple[str, ...], words: tuple[str, ...]
) -> None:
    done = call(*(files(word) for word in argv))
    assert (done.code, done.out) == (2, "")
    assert_one_line(done)
    assert not [word for word in words if word not in done.err], done.err


def assert_one_line(done: Done) -> None:
    assert done.err.endswith("\n")
    assert done.err.count("\n") == 1, done.err
    assert done.err.startswith("advisor")
    assert "Traceback" not in done.err


def test_our_own_bug_is_one_line_and_code_one(monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.cli import check

    def broken(*_: object) -> object:
        raise ZeroDivisionError("by\nnothing")

    monkeypatch.setattr(check, "check_common", broken)
    done = call("check", *READ)
    assert (done.code, done.out) == (1, "")
    assert_one_line(done)
    monkeypatch.setenv("ADVISOR_DEBUG", "1")
    assert "Traceback" in call("check", *READ).err


def test_a_strange_file_name_stays_on_one_line(tmp_path: Path) -> None:
    name = tmp_path / "two\nlines.csv"
    done = call("readings", "import", name)
    assert done.code == 2
    assert_one_line(done)
