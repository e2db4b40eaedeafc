"""An invented bench for the live bench's tests: round figures, every moment reckoned by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import Origin, ReadingTable
from advisor.planning.job import Area, Coat, Job
from advisor.work.live_views import BatchForm
from advisor.work.views import Reading
from advisor.work.workbench import Workbench
from tests.helpers.products import HOUR_S, MONDAY_S

NOW = MONDAY_S + 10 * HOUR_S
MIN = 60.0

#: Pot life 8, 4, 2 h and induction half an hour, whatever the temperature.
GLOSS = """
schema = 1
id = "own-gloss"
name = "own gloss"
class = "two-part-gloss"
status = "from data sheet"
[source]
title = "invented"
revision = "3"
[mix]
ratio = "2:1"
thinner_max_pct = 10
[limits]
air_temp_c = [4, 35]
surface_temp_c = [4, 35]
rh_pct = [30, 85]
margin_k = 3
[film]
volume_solids_pct = 50
dft_um = [40, 50]
loss_pct = 0
[times]
temp_c = [10, 20, 30]
induction_h = [0.5, 0.5, 0.5]
pot_life_h = [8, 4, 2]
tack_free_h = [16, 4, 2]
tape_dry_h = [16, 8, 4]
dew_safe_h = [16, 8, 4]
[[next]]
over = "same"
min_h = [24, 8, 4]
max_h = [96, 48, 24]
after_max = ["sand"]
"""

#: One can: no pot life, no induction.
ENAMEL = """
schema = 1
id = "own-enamel"
name = "own enamel"
class = "alkyd"
status = "from data sheet"
[source]
title = "invented"
[limits]
air_temp_c = [4, 35]
surface_temp_c = [4, 35]
[film]
volume_solids_pct = 50
dft_um = [30, 30]
[times]
temp_c = [10, 20, 30]
tack_free_h = [8, 4, 2]
"""

FIRST = Coat("first", "first gloss", "side", "own-gloss", 8.0, "roll")
SECOND = Coat("second", "second gloss", "side", "own-gloss", 8.0, "roll")
DECK = Coat("deck", "deck enamel", "deck", "own-enamel", 8.0)
JOB = Job(
    "j",
    "job",
    "shed",
    "UTC",
    (Area("side", "side", 8.0), Area("deck", "deck", 4.0, outdoors=True)),
    (FIRST, SECOND, DECK),
)


def bench_with_job(store: Store, root: Path, folder: Path) -> Workbench:
    """Return a bench with the invented job and products, and nothing read."""
    bench = Workbench(store, root / "resources")
    for name, text in (("gloss", GLOSS), ("enamel", ENAMEL)):
        path = folder / f"own-{name}.toml"
        path.write_text(text, encoding="utf-8")
        bench.add_product_file(path)
    bench.save_job(JOB)
    bench.settings.set("person", "E. Mill")
    return bench


def again(bench: Workbench) -> Workbench:
    """Return the bench as after a restart: another object on the same store."""
    return Workbench(bench.store, bench.resources)


def mix(bench: Workbench, at_s: float, coat_id: str = "first", mix_temp_c: str = "20") -> int:
    """Mix a batch at a temperature, empty for none entered; return its entry number."""
    form = BatchForm(coat_id, "own gloss", (), "2 : 1 by volume", "volume",
                     mix_temp_c=mix_temp_c)  # fmt: skip
    return bench.live.start_batch(form, at_s).number


def typed(bench: Workbench, at_s: float, air: float = 20.0, rh: float = 50.0,
          surface: float | None = 20.0) -> None:  # fmt: skip
    """Type one reading as it is taken."""
    bench.type_reading(Reading(at_s, air, rh, surface), at_s, "side")


def sensor(bench: Workbench, times_s: list[float], area: str = "", **columns: object) -> None:
    """Keep measured rows; a column is one value for all rows or one for each."""
    time_s = np.array(times_s, dtype=np.int64)
    given = {"air_temp_c": 20.0, "rh_pct": 50.0, "surface_temp_c": 20.0, **columns}
    values = {k: np.broadcast_to(np.asarray(v, float), len(time_s)).copy()
              for k, v in given.items() if v is not None}  # fmt: skip
    flags = np.zeros(len(time_s), dtype=np.uint16)
    table = ReadingTable(time_s, values, flags, Origin.MEASURED)
    reading_store.save_table(bench.store, table, area)
