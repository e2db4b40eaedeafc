"""`advisor readings` and `advisor products`, and what the windowless start prints."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.climate.conditions_file import read_conditions
from advisor.climate.reading_store import load
from tests.e2e import cli_shop
from tests.e2e.cli_shop import DATA, DAY, Done, product, write_log


def call(*argv: object) -> Done:
    """Two days later: what lies ahead would count as forecast."""
    return cli_shop.call(*argv, now=DAY + timedelta(days=2))


@pytest.fixture
def log(tmp_path: Path) -> Path:
    columns = {"air_temp_c": [(0, 10), (24, 17.3)], "rh_pct": 71.5, "surface_temp_c": 9.25}
    return write_log(tmp_path / "shed.csv", 24, columns, minutes=10)


def test_import_reports_in_the_documented_keys(log: Path, tmp_path: Path) -> None:
    text = log.read_text(encoding="utf-8") + "rubbish,1,2,3\n"
    log.write_text(text, encoding="utf-8")
    done = call("readings", "import", log, "--json", "--database", tmp_path / "db.sqlite3")
    assert done.code == 0
    told = done.json
    assert list(told)[:8] == [
        "rows_read", "rows_used", "rows_dropped", "flagged", "first", "last", "mapping", "dropped",
    ]  # fmt: skip
    assert (told["rows_read"], told["rows_used"], told["rows_dropped"]) == (146, 145, 1)
    assert (told["first"], told["last"]) == (
        "2025-05-01T00:00:00+00:00",
        "2025-05-02T00:00:00+00:00",
    )
    assert told["dropped"][0]["line"] == 147


def test_dry_run_keeps_nothing(log: Path, tmp_path: Path) -> None:
    database = tmp_path / "db.sqlite3"
    done = call("readings", "import", log, "--dry-run", "--database", database)
    assert (done.code, database.exists()) == (0, False)
    assert "nothing kept" in done.out


def test_export_reads_back_the_same(log: Path, tmp_path: Path) -> None:
    database, out = tmp_path / "db.sqlite3", tmp_path / "out.csv"
    assert call("readings", "import", log, "--database", database).code == 0
    done = call("readings", "export", out, "--database", database, "--json")
    assert done.json["rows_written"] == 145
    head = out.read_text(encoding="utf-8").splitlines()[0]
    assert head == "time,air_temp_c,rh_pct,dew_point_c,surface_temp_c"
    again, before = read_conditions(out).table, read_conditions(log).table
    assert np.array_equal(again.time_s, before.time_s)
    for name in ("air_temp_c", "rh_pct", "surface_temp_c"):
        assert np.array_equal(again.column(name), before.column(name))


def test_importing_twice_keeps_one(log: Path, tmp_path: Path) -> None:
    database = tmp_path / "db.sqlite3"
    call("readings", "import", log, "--database", database)
    assert "there already" in call("readings", "import", log, "--database", database).out
    with Store(database) as store:
        assert len(load(store, -(2**53), 2**53)) == 145


def test_export_writes_over_nothing(log: Path, tmp_path: Path) -> None:
    database = tmp_path / "db.sqlite3"
    call("readings", "import", log, "--database", database)
    before = log.read_bytes()
    done = call("readings", "export", log, "--database", database)
    assert (done.code, log.read_bytes()) == (2, before)
    assert call("readings", "export", log, "--database", database, "--force").code == 0
    assert not [path for path in log.parent.iterdir() if path.suffix == ".part"]


def test_products_list_has_the_fifteen_templates() -> None:
    told = call("products", "list", "--json").json["products"]
    assert all(list(row) == ["id", "name", "class", "status"] for row in told)
    assert len({row["class"] for row in told}) == 15
    assert {row["status"] for row in told} == {"template"}


def test_a_product_of_ones_own_is_listed_and_used(tmp_path: Path) -> None:
    database = tmp_path / "db.sqlite3"
    text = product("two-part-gloss").read_text(encoding="utf-8")
    with Store(database) as store, store.write() as db:
        db.execute("INSERT INTO product (id, toml) VALUES (?, ?)", ("test-two-part-gloss", text))
    told = call("products", "list", "--json", "--database", database).json["products"]
    assert told[0]["id"] == "test-two-part-gloss"
    done = call("check", "--json", "--database", database, "--product", "test-two-part-gloss",
                "--air", 18, "--rh", 55, "--surface", 17)  # fmt: skip
    assert done.json["verdict"] == "go"


def test_show_prints_a_file_that_reads_back(tmp_path: Path) -> None:
    shown = tmp_path / "shown.toml"
    shown.write_text(call("products", "show", "alkyd").out, encoding="utf-8")
    first = call("products", "show", "typical-alkyd", "--json").json
    assert call("products", "show", shown, "--json").json == first


def test_lint_fails_on_a_contradiction_alone(tmp_path: Path) -> None:
    assert call("products", "lint").code == 0
    wrong = tmp_path / "wrong.toml"
    text = product("two-part-gloss").read_text(encoding="utf-8")
    wrong.write_text(text.replace("rh_pct", "hold_margin_k = 4\nrh_pct"), encoding="utf-8")
    done = call("products", "lint", wrong, "--json")
    assert done.code == 2
    finding = done.json["files"][0]["findings"][0]
    assert (finding["severity"], finding["key"]) == ("error", "limits.hold_margin_k")


def test_invented_products_have_no_errors() -> None:
    assert call("products", "lint", *sorted(DATA.glob("*.toml"))).code == 0


def test_json_is_ascii_and_has_no_nan(tmp_path: Path) -> None:
    columns = {"air_temp_c": 18.0, "dew_point_c": 8.0}
    log = write_log(tmp_path / "log.csv", 24, columns)
    out = call("windows", "--json", "--starts", "--conditions", log, "--product", "alkyd",
               "--apply-hours", 1).out  # fmt: skip
    assert out.isascii()
    json.loads(out, parse_constant=lambda word: pytest.fail(f"found {word}"))
