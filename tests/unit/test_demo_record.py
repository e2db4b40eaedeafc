"""The demo's record: one for each day, honest that its crew is invented, and believable."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from advisor.base.store import Store
from advisor.planning.job_file import read_job
from advisor.record import chain
from advisor.record.entry import Entry
from advisor.record.export import RECORD, export_folder
from advisor.record.verify_record import verify
from advisor.work import instrument_list
from advisor.work.demo_history import demo_laid
from advisor.work.demo_record import CREW
from advisor.work.kept import is_demo
from advisor.work.workbench import Workbench

NOW_S = 1_778_746_200.0
DAY_S = 86400.0


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    made = Workbench(store, root / "resources")
    made.load_demo(NOW_S)
    return made


def entries(bench: Workbench) -> tuple[Entry, ...]:
    return chain.entries(bench.store, bench.job_in_hand().id)


@pytest.mark.parametrize(
    ("job_id", "demo"),
    [("demo-dunlin", True), ("demo-dunlin-2026-05-14", True), ("demo-dunlin2", False),
     ("dunlin", False), ("", False)],
)  # fmt: skip
def test_the_demo_is_known_by_its_id(job_id: str, demo: bool) -> None:
    assert is_demo(job_id) is demo


def test_the_record_is_kept_once_and_moves_no_coat(bench: Workbench, root: Path) -> None:
    before = bench.job_in_hand()
    assert bench.keep_demo_record(NOW_S)
    head = bench.record.head()
    assert not bench.keep_demo_record(NOW_S)
    assert (bench.record.head(), bench.job_in_hand()) == (head, before)
    laid = demo_laid(read_job(root / "resources" / "demo" / "job.toml"), NOW_S)
    assert [c.laid for c in before.coats] == [c.laid for c in laid.coats]


def test_it_is_honest_and_holds_every_kind_of_work(bench: Workbench) -> None:
    bench.keep_demo_record(NOW_S)
    kept = entries(bench)
    assert {e.by for e in kept} == {CREW}
    assert all(e.written_s <= NOW_S for e in kept)
    assert [e.written_s for e in kept] == sorted(e.written_s for e in kept)
    assert {"job", "instrument", "preparation", "reading", "batch", "batch end", "application",
            "film", "observation", "correction"} <= {e.kind for e in kept}  # fmt: skip
    assert [e.coat_id for e in kept if e.late_s > 3600] == ["starboard-primer-2"]
    films = [e.data["film"] for e in kept if e.kind == "film"]
    assert {"wet", "dry"} <= set(films)
    batches = [e for e in kept if e.kind == "batch"]
    assert all("DEMO" in json.dumps(e.data["parts"]) for e in batches)
    known = batches[0].known["instruments"]
    assert isinstance(known, list)
    assert [i["id"] for i in known if i["out_of_date"] == "yes"] == ["Demo surface probe"]


def test_the_crews_instruments_are_not_the_shops(bench: Workbench) -> None:
    bench.keep_demo_record(NOW_S)
    assert instrument_list.instruments_kept(bench.store) == ()


def test_the_coats_read_sensibly(bench: Workbench) -> None:
    bench.keep_demo_record(NOW_S)
    found = {review.coat_id: review for review in bench.reviews.job(NOW_S).coats}
    assert found["port-primer-2"].standing == "inside"
    assert found["starboard-undercoat"].standing == "outside"
    assert "dry film" in found["starboard-undercoat"].summary
    assert found["starboard-primer-2"].standing == "not known"
    assert "no batch is in the record" in found["starboard-primer-2"].summary


def test_nothing_is_in_hand_and_nothing_rings(bench: Workbench) -> None:
    bench.keep_demo_record(NOW_S)
    view = bench.live.view(NOW_S)
    assert (view.step, view.batches, view.alarms, view.notes) == ("nothing", (), (), ())


def test_the_answer_is_the_same_with_the_record(bench: Workbench) -> None:
    before = bench.before_mixing("port-gloss-2", NOW_S)
    bench.keep_demo_record(NOW_S)
    after = bench.before_mixing("port-gloss-2", NOW_S)
    assert (after.verdict, after.headline) == (before.verdict, before.headline)


def test_it_is_whole_and_can_be_given_away(bench: Workbench, tmp_path: Path) -> None:
    bench.keep_demo_record(NOW_S)
    assert bench.guard.check() == ""
    export_folder(bench.store, bench.job_in_hand().id, tmp_path / "out")
    assert verify(tmp_path / "out" / RECORD, bench.record.head().hash, "").intact


def test_each_day_has_a_record_of_its_own(bench: Workbench) -> None:
    bench.keep_demo_record(NOW_S)
    first, kept = bench.job_in_hand(), entries(bench)
    bench.load_demo(NOW_S + DAY_S)
    second = bench.job_in_hand()
    assert (first.id, second.id) == ("demo-dunlin-2026-05-14", "demo-dunlin-2026-05-15")
    assert entries(bench) == ()
    bench.keep_demo_record(NOW_S + DAY_S)
    assert chain.entries(bench.store, first.id) == kept
    bench.make_in_hand(first.id)
    assert bench.reviews.coat("port-primer-2", NOW_S).standing == "inside"


def test_opened_again_the_same_day_it_goes_on_as_it_was(bench: Workbench) -> None:
    bench.keep_demo_record(NOW_S)
    number = bench.record.head().entries
    bench.lay_coat("port-gloss-2", NOW_S + 600, NOW_S + 3600)
    bench.load_demo(NOW_S + 7200)
    assert bench.job_in_hand().coat("port-gloss-2").laid is not None
    added = entries(bench)[number:]
    assert [(e.kind, e.by) for e in added][1:] == [("reading", CREW)]


def test_a_record_begun_by_a_person_is_left_alone(bench: Workbench) -> None:
    bench.settings.set("person", "A. Painter")
    bench.record.add("observation", {"text": "fog"}, at_s=NOW_S, now_s=NOW_S)
    assert not bench.keep_demo_record(NOW_S)
    assert [e.kind for e in entries(bench)] == ["job", "observation"]


def test_another_job_gets_no_record_of_the_demo(bench: Workbench, root: Path) -> None:
    bench.keep_demo_record(NOW_S)
    from dataclasses import replace

    bench.save_job(replace(bench.job_in_hand(), id="own"))
    assert not bench.keep_demo_record(NOW_S)
    assert entries(bench) == ()
