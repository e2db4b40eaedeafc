"""`advisor record`: kept, corrected, signed, given away, checked, all from the command line."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.base.attachments import Attachments
from advisor.base.store import Store
from advisor.cli import record_entry
from advisor.record import signing
from advisor.work.workbench import Workbench
from tests.e2e import cli_shop
from tests.e2e.cli_shop import DAY, Done

PNG = b"\x89PNG\r\n\x1a\n an invented picture"
ME = ("--by", "A. Painter")


class Shop:
    """A database with the demo job, and the program run on it."""

    def __init__(self, folder: Path, root: Path) -> None:
        self.database = folder / "shop.sqlite3"
        with Store(self.database) as store:
            job = Workbench(store, root / "resources").load_demo(DAY.timestamp())
        self.coat, self.area = job.coats[-1].id, job.areas[-1].id

    def __call__(self, *words: object) -> Done:
        return cli_shop.call("record", *words, "--database", self.database)

    def entries(self) -> list[dict[str, object]]:
        found: list[dict[str, object]] = self("show", "--json").json["entries"]
        return found


@pytest.fixture
def shop(tmp_path: Path, root: Path) -> Shop:
    return Shop(tmp_path, root)


def kept(done: Done) -> int:
    assert (done.code, done.err) == (0, "")
    return int(done.json["number"])


def test_an_entry_is_kept_as_typed(shop: Shop) -> None:
    number = kept(shop("add", "reading", "air_temp=18.50", "rh=62", "surface_temp=15,0",
                       "reason=before mixing", "--area", shop.area, "--json", *ME))  # fmt: skip
    entry = shop("show", "--entry", number, "--json").json["entries"][0]["entry"]
    data = entry["data"]
    assert (data["air_temp"]["value"], data["air_temp"]["unit"]) == ("18.50", "°C")
    assert data["surface_temp"]["value"] == "15.0"
    assert data["dew_point"]["source"] == "computed"
    assert (entry["by"], entry["area"]) == ("A. Painter", shop.area)


def test_rows_lists_and_times(shop: Shop) -> None:
    number = kept(shop("add", "batch", "product=gloss", "parts=part:base,batch:B12,value:2,unit:L",
                       "parts=part:hardener,batch:H7", "strained=yes", "--coat", shop.coat,
                       "--at", "2025-05-01T00:00", "--json", *ME))  # fmt: skip
    data = shop("show", "--entry", number, "--json").json["entries"][0]["entry"]["data"]
    assert data["parts"] == [{"part": "base", "batch": "B12", "value": "2", "unit": "L"},
                             {"part": "hardener", "batch": "H7"}]  # fmt: skip
    number = kept(shop("add", "film", "film=wet", "readings=100,105 98", "--coat", shop.coat,
                       "--json", *ME))  # fmt: skip
    data = shop("show", "--entry", number, "--json").json["entries"][0]["entry"]["data"]
    assert [one["value"] for one in data["readings"]] == ["100", "105", "98"]
    number = kept(shop("add", "preparation", "what=sanded and wiped", "--area", shop.area,
                       "finished=2025-05-01T00:30", "--json", *ME))  # fmt: skip
    data = shop("show", "--entry", number, "--json").json["entries"][0]["entry"]["data"]
    assert data["finished"] == "2025-05-01T00:30:00+01:00"


def test_a_correction_shows_what_was(shop: Shop) -> None:
    number = kept(shop("add", "reading", "air_temp=18.5", "rh=26", "--json", *ME))
    done = shop("correct", number, "rh=62", "--reason", "digits swapped", "--by", "B. Mate")
    assert (done.code, done.out.startswith("Entry ")) == (0, True)
    told = shop("show").out
    assert "Humidity: was 26%, corrected by entry" in told
    assert "B. Mate: digits swapped" in told
    one = next(e for e in shop.entries() if e["entry"]["number"] == number)  # type: ignore
    assert {c["field"] for c in one["corrections"]} >= {"rh", "dew_point"}  # type: ignore


def test_an_entry_struck_out_is_still_shown(shop: Shop) -> None:
    number = kept(shop("add", "observation", "what=tack-free", "--coat", shop.coat, "--json", *ME))
    assert shop("correct", number, "--strike-out", "--reason", "wrong coat", *ME).code == 0
    assert "struck out: " in shop("show", "--entry", number).out
    moved = kept(shop("add", "observation", "what=hard", "--coat", shop.coat, "--json", *ME))
    done = shop("correct", moved, "at=2025-05-01T00:10", "what=sandable", "--reason", "slip", *ME)
    assert done.code == 0, done.err
    assert "Sandable" in shop("show", "--entry", moved).out


def test_whoever_writes_is_asked_once(shop: Shop) -> None:
    done = shop("add", "observation", "what=hard", "--coat", shop.coat)
    assert (done.code, done.out) == (2, "")
    assert "accepted: --by NAME, or set a name" in done.err
    with Store(shop.database) as store:
        Workbench(store, Path("resources")).settings.set("person", "A. Painter")
    assert shop("add", "observation", "what=hard", "--coat", shop.coat).code == 0
    shop("add", "observation", "what=hard", "--coat", shop.coat, "--by", "B. Mate")
    shop("add", "observation", "what=hard", "--coat", shop.coat)
    by = [e["entry"]["by"] for e in shop.entries()[-3:]]  # type: ignore[index]
    assert by == ["A. Painter", "B. Mate", "A. Painter"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("add", "reading", "air=18"), "no field is called 'air'"),
        (("add", "reading", "air_temp=warm"), "a number in °C"),
        (("add", "reading", "air_temp=65F"), "a number in °C"),
        (("add", "reading", "air_temp=1e3"), "a number in °C"),
        (("add", "reading", "air_temp=99"), "accepted:"),
        (("add", "reading", "air_temp"), "FIELD=VALUE"),
        (("add", "reading", "=18"), "FIELD=VALUE"),
        (("add", "reading", "rh=60", "rh=61"), "the field twice"),
        (("add", "reading", "rh=60", "--at", "2025-05-02T00:00"), "still to come"),
        (("add", "reading", "rh=60", "--area", "keel"), "--area: found 'keel'"),
        (("add", "preparation", "what=washed", "finished=2025-05-02T00:00"),
         "Finished: found a time still to come"),
        (("photo", "{picture}", "--at", "2025-05-02T00:00"), "when: found a time still to come"),
        (("add", "film", "readings=100", "--coat", "c99"), "--coat: found 'c99'"),
        (("add", "batch", "product=x", "parts=base", "--coat", "{coat}"), "KEY:VALUE"),
        (("add", "batch", "product=x", "strained=perhaps", "--coat", "{coat}"), "yes or no"),
        (("add", "observation", "what=hard"), "no coat"),
        (("add", "sign-off", "name=A"), "as the program keeps it"),
        (("correct", "999", "rh=1", "--reason", "x"), "no number 999"),
        (("correct", "1", "rh=1", "--strike-out", "--reason", "x"), "--strike-out"),
        (("photo", "none.jpg"), "accepted: a picture"),
        (("show", "--kind", "tea"), "no kind of entry"),
        (("show", "--coat", "tea"), "--coat"),
        (("show", "--last", "0"), "--last"),
        (("show", "--entry", "999"), "no number 999"),
        (("sign", "--name", " "), "found nothing for Name"),
        (("sign", "--name", "A", "--new-key"), "accepted: both together"),
        (("sign", "--name", "A", "--key", "nobody"), "accepted: none; make one first"),
        (("export", "x.jsonl", "--report"), "accepted: a folder"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_line_and_nothing_is_kept(
    shop: Shop, words: tuple[str, ...], said: str, tmp_path: Path
) -> None:
    picture = tmp_path / "bow.png"
    picture.write_bytes(PNG)
    before = shop("show", "--json").json["head"]
    given = [word.replace("{coat}", shop.coat).replace("{picture}", str(picture)) for word in words]
    who = ME if words[0] in ("add", "correct", "photo") else ()
    done = shop(*given, *who)
    assert (done.code, done.out) == (2, "")
    assert said in done.err
    assert done.err.count("\n") == 1
    assert shop("show", "--json").json["head"] == before


def test_the_fields_of_a_kind_are_listed(shop: Shop) -> None:
    assert "air_temp: Air; °C" in shop("add", "reading").out
    fields = shop("add", "batch", "--json").json["fields"]
    assert {"name": "product", "label": "Product", "type": "text", "unit": "", "required": True,
            "choices": [], "keys": []} in fields  # fmt: skip


def test_signed_exported_and_verified(shop: Shop, tmp_path: Path) -> None:
    """The whole way: a photo, a key with its passphrase, a folder given away, checked again."""
    picture, secret = tmp_path / "bow.png", tmp_path / "secret.txt"
    picture.write_bytes(PNG)
    secret.write_text("five oars\n")
    assert shop("photo", picture, "--caption", "bow", "--coat", shop.coat, *ME).code == 0
    lock = ("--key", "A. Painter", "--passphrase-file", secret)
    done = shop("sign", "--name", "A. Painter", "--role", "crew", *lock, "--new-key")
    assert done.code == 0, done.err
    head, public = (done.out.splitlines()[at].strip() for at in (2, 4))
    assert shop("sign", "--name", "A. Painter", *lock).code == 0
    assert "passphrase" in shop("sign", "--name", "A. Painter", "--key", "A. Painter").err
    folder = tmp_path / "given away"
    exported = shop("export", folder, "--json").json
    assert (exported["files"], exported["missing"]) == (1, [])
    for target in (folder, folder / "record.jsonl"):
        told = shop("verify", target, "--head", head.upper(), "--key", public, "--json").json
        assert (told["intact"], told["entries"]) == (True, exported["entries"])
        assert [s["key"] for s in told["signatures"]] == [public, public]
        assert told["head_at"] == exported["entries"] - 1
    assert "something there already" in shop("export", folder).err


def test_a_photo_dated_ahead_is_kept_in_doubt(shop: Shop, tmp_path: Path) -> None:
    picture = tmp_path / "bow.png"
    picture.write_bytes(PNG)
    ahead = datetime(2031, 5, 14, 9, 0, tzinfo=UTC).timestamp()
    os.utime(picture, (ahead, ahead))
    done = shop("photo", picture, *ME)
    doubt = "the file's date says 2031-05-14T10:00:00+01:00, a time still to come"
    assert (done.code, done.out.splitlines()[1]) == (0, f"In doubt: {doubt}.")
    assert shop("photo", picture, "--json", *ME).json["flags"] == doubt
    assert (
        f"Doubts: {doubt}"
        in shop(
            "show", "--entry", shop("show", "--json").json["entries"][-1]["entry"]["number"]
        ).out
    )
    os.utime(picture, (0, 0))
    assert "In doubt" not in shop("photo", picture, *ME).out
    assert "flags" not in shop("photo", picture, "--json", *ME).json


def test_an_altered_record_says_where(shop: Shop, tmp_path: Path) -> None:
    shop("add", "observation", "what=hard", "--coat", shop.coat, *ME)
    shop("add", "observation", "what=sandable", "--coat", shop.coat, *ME)
    path = tmp_path / "record.jsonl"
    assert shop("export", path).code == 0
    number = len(shop.entries()) - 1
    path.write_bytes(path.read_bytes().replace(b'"what":"hard"', b'"what":"hurd"'))
    done = shop("verify", path)
    assert done.code == 2
    assert done.out.startswith("ALTERED. 1 thing does not fit:")
    assert f"line {number}: was altered" in done.err
    assert done.err.count("\n") == 1
    told = json.loads(shop("verify", path, "--json").out)
    assert (told["intact"], told["problems"][0]["line"]) == (False, number)


def test_a_missing_photo_is_not_called_altered(shop: Shop, tmp_path: Path) -> None:
    picture, folder = tmp_path / "run.png", tmp_path / "out"
    picture.write_bytes(PNG)
    assert shop("photo", picture, "--coat", shop.coat, *ME).code == 0
    kept = Attachments(shop.database)
    photo = kept.path(hashlib.sha256(PNG).hexdigest())
    assert shop("export", folder).code == 0
    next((folder / "files").glob("*.png")).unlink()
    done = shop("verify", folder)
    assert (done.code, done.err.count("\n")) == (2, 1)
    assert done.out.startswith("MISSING. No entry was altered, but not all is here:")
    assert "not altered, but not all is here. line " in done.err
    told = json.loads(shop("verify", folder, "--json").out)
    assert (told["intact"], told["problems"], len(told["missing"])) == (False, [], 1)
    photo.write_bytes(b"another")
    assert "altered since it was kept: run.png." in shop("export", tmp_path / "2").out
    photo.unlink()
    assert "Missing, so not in it: run.png." in shop("export", tmp_path / "3").out


def test_show_by_kind_coat_and_last(shop: Shop) -> None:
    for what in ("tack-free", "hard"):
        shop("add", "observation", f"what={what}", "--coat", shop.coat, *ME)
    shop("add", "reading", "rh=60")
    assert (
        len(shop("show", "--kind", "observation", "--coat", shop.coat, "--json").json["entries"])
        == 2
    )
    assert len(shop("show", "--last", 1, "--json").json["entries"]) == 1


def test_control_characters_do_not_reach_the_terminal(shop: Shop) -> None:
    shop("add", "observation", "what=hard", "text=a\x1b[2Jb", "--coat", shop.coat, *ME)
    number = len(shop.entries())
    done = shop("show", "--entry", number)
    assert "\x1b" not in done.out
    assert "a?[2Jb" in done.out


def test_the_review_speaks_of_coats_that_are_on(shop: Shop) -> None:
    done = shop("review", "--json")
    assert done.code == 0, done.err
    coats = done.json["coats"]
    text = shop("review").out
    assert all(coat["summary"] in text for coat in coats)
    assert coats or "No coat is on yet." in text
    assert shop("review", "--coat", "tea").code == 2


def test_a_copy_and_back(shop: Shop) -> None:
    shop("add", "observation", "what=hard", "--coat", shop.coat, *ME)
    head = shop("show", "--json").json["head"]
    file = shop("backup", "--json").json["backups"][0]["file"]
    shop("add", "observation", "what=sandable", "--coat", shop.coat)
    done = shop("restore", file, "--json")
    assert done.code == 0, done.err
    assert shop("show", "--json").json["head"] == head
    assert Path(done.json["before"]).is_file()
    shop.database.write_bytes(b"rubbish" * 1000)
    for side in ("-wal", "-shm"):
        shop.database.with_name(shop.database.name + side).unlink(missing_ok=True)
    assert shop("restore", file).code == 0
    assert shop("show", "--json").json["head"] == head
    assert file in shop("backup", "--list").out


def test_a_passphrase_is_asked_at_a_terminal_alone(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(record_entry.sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(record_entry.getpass, "getpass", lambda _: "five oars")
    assert shop("sign", "--name", "A", "--key", "A", "--new-key").code == 0
    assert shop("sign", "--name", "A", "--key", "A").code == 0
    folder = next(Path(p) for p in [signing.__file__]).parent  # the key is not beside the program
    assert not list(folder.glob("*.pem"))


def test_a_name_on_one_command_is_of_that_entry_alone(shop: Shop) -> None:
    kept(shop("add", "observation", "what=hard", "--coat", shop.coat, "--json", *ME))
    done = shop("add", "observation", "what=hard", "--coat", shop.coat)
    assert done.code == 2
    assert "nobody's name" in done.err
    with Store(shop.database) as store:
        assert Workbench(store, Path("resources")).settings.text("person") == ""


def test_the_verifier_stops_quietly_where_nobody_reads_on(shop: Shop, tmp_path: Path) -> None:
    kept(shop("add", "observation", "what=hard", "--coat", shop.coat, "--json", *ME))
    folder = tmp_path / "given"
    assert shop("export", folder).code == 0
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, str(folder / "verify_record.py"), str(folder / "record.jsonl")]
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, "")
