"""The job header stands before what it is the head of, without anyone asking for it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.planning.job_file import read_job
from advisor.record import chain
from advisor.record.entry import Entry
from advisor.record.export import RECORD, export_folder
from advisor.record.signing import make_key
from advisor.record.verify_record import verify
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.workbench import Workbench

NOW_S = 1_780_300_000.0


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    made = Workbench(store, root / "resources")
    made.save_job(read_job(root / "resources" / "demo" / "job.toml"))
    made.settings.set("person", "A. Painter")
    return made


def kinds(bench: Workbench) -> list[str]:
    return [entry.kind for entry in whole(bench)]


def whole(bench: Workbench) -> tuple[Entry, ...]:
    return chain.entries(bench.store, bench.job_in_hand().id)


def renamed(bench: Workbench, name: str) -> None:
    bench.save_job(replace(bench.job_in_hand(), name=name))


def mixed(bench: Workbench) -> Entry:
    return bench.record.add("batch", {"product": "gloss"}, at_s=NOW_S, now_s=NOW_S,
                            coat_id=bench.job_in_hand().coats[0].id)  # fmt: skip


def test_the_first_entry_of_a_record_is_its_header(bench: Workbench) -> None:
    told = bench.record.add("observation", {"text": "fog"}, at_s=NOW_S - 7200, now_s=NOW_S)
    header, entry = whole(bench)
    assert (header.kind, entry.number, entry.hash) == ("job", 2, told.hash)
    assert (header.by, header.at_s, header.late_s) == ("A. Painter", NOW_S, 0)
    areas = header.data["areas"]
    assert isinstance(areas, list)
    assert [row["id"] for row in areas] == [a.id for a in bench.job_in_hand().areas]


def test_both_are_kept_or_neither(bench: Workbench) -> None:
    with pytest.raises(InputError):
        bench.record.add("film", {"film": "wet"}, at_s=NOW_S, now_s=NOW_S)
    assert whole(bench) == ()


def test_it_is_anew_before_a_batch_only_when_something_changed(bench: Workbench) -> None:
    mixed(bench)
    mixed(bench)
    assert kinds(bench) == ["job", "batch", "batch"]
    renamed(bench, "Dunlin, port side")
    bench.record.add("observation", {"text": "fog"}, at_s=NOW_S, now_s=NOW_S)
    assert kinds(bench)[3:] == ["observation"]
    mixed(bench)
    assert kinds(bench)[4:] == ["job", "batch"]


def test_it_stands_before_a_signature_and_what_that_signs(bench: Workbench, tmp_path: Path) -> None:
    mixed(bench)
    renamed(bench, "Dunlin, port side")
    key = make_key(tmp_path / "keys", "painter")
    signed = bench.record.sign_off("A. Painter", NOW_S, key=key)
    assert kinds(bench) == ["job", "batch", "job", "sign-off"]
    assert signed.previous == whole(bench)[2].hash
    export_folder(bench.store, bench.job_in_hand().id, tmp_path / "out")
    result = verify(tmp_path / "out" / RECORD, signed.hash, key.public_hex)
    assert (result.intact, [s.entry for s in result.signatures]) == (True, [4])


@pytest.mark.parametrize("give", ["pdf", "json", "csv", "package"])
def test_it_is_brought_up_to_date_before_a_report(
    bench: Workbench, tmp_path: Path, give: str
) -> None:
    mixed(bench)
    renamed(bench, "Dunlin, port side")
    getattr(bench.reporting, give)(tmp_path / "out", NOW_S)
    assert kinds(bench) == ["job", "batch", "job"]
    getattr(bench.reporting, give)(tmp_path / "again", NOW_S)
    assert kinds(bench) == ["job", "batch", "job"]


def test_a_header_by_hand_keeps_areas_coats_and_products(bench: Workbench) -> None:
    entry = keep_by_hand(bench, ByHand("job", {"owner": "the crew"}, NOW_S), NOW_S)
    assert entry.data["owner"] == "the crew"
    assert entry.data["name"] == bench.job_in_hand().name
    assert {"areas", "coats", "products"} <= entry.data.keys()
    with pytest.raises(InputError, match="nothing changed"):
        keep_by_hand(bench, ByHand("job", {"owner": "the crew"}, NOW_S), NOW_S)
