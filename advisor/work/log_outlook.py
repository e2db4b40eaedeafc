"""The outlook where no forecast tells the coming hours: the shop's own log continued."""

from __future__ import annotations

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.log_continued import COUNT, LOOK_BACK_S, NOTE, Log, continued
from advisor.climate.outlook import AirAhead
from advisor.climate.readings import LOGGED
from advisor.climate.series import dew_rows
from advisor.planning.words import Words
from advisor.work.views import SourceView

SOURCE_ID, NAME = "log", "The shop's own log, continued"
CREDIT = "From readings of this shop alone"


def air_of_log(
    store: Store, now_s: float, area: str = "", *, spread: bool = True
) -> AirAhead | None:
    """Return the shop's air to come by its own log; None where the log is too short or too old."""
    since_s = int(now_s) - LOOK_BACK_S
    table = reading_store.load(store, since_s, int(now_s), area, LOGGED, for_grid=True)
    if len(table) == 0:
        return None
    log = Log(table.time_s, table.column("air_temp_c"), dew_rows(table))
    return continued(log, now_s, count=COUNT if spread else 0)


def view_of_log(air: AirAhead, words: Words) -> SourceView:
    """Return the log as the source the outlook rests on: never fresh, since it is no forecast."""
    text = f"log to {words.moment(air.start_s)}; {NOTE}"
    ends_s = int(air.time_s[-1])
    return SourceView(SOURCE_ID, NAME, "old", text, CREDIT, issued_s=air.start_s, ends_s=ends_s,
                      chosen=True)  # fmt: skip
