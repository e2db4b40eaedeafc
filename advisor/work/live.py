"""The bench while a batch is live: what is mixed, what goes on, what must be heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

from advisor.work.live_views import BatchForm, LiveBench

if TYPE_CHECKING:
    from advisor.record.entry import Entry
    from advisor.work.workbench import Workbench


class Live:
    """The live bench. Every tap is kept before it returns."""

    def __init__(self, bench: Workbench) -> None:
        self._bench = bench

    def view(self, now_s: float) -> LiveBench:
        """Return the bench now. Cheap: called at every tick of the clock."""
        raise NotImplementedError

    def batch_form(self, coat_id: str, now_s: float) -> BatchForm:
        """Offer a batch of a coat: its parts, the ratio asked, how much of each."""
        raise NotImplementedError

    def checked(self, form: BatchForm) -> BatchForm:
        """Return the form with what looks wrong in it; nothing of it is refused."""
        raise NotImplementedError

    def start_batch(self, form: BatchForm, now_s: float, at_s: float | None = None) -> Entry:
        """Keep a batch as mixed now, or at an earlier moment."""
        raise NotImplementedError

    def tap(
        self,
        event: str,
        now_s: float,
        *,
        at_s: float | None = None,
        patch: str = "",
        why: str = "",
        coat_id: str = "",
    ) -> Entry:
        """Keep one event of `LiveBench.taps`, now or at an earlier moment."""
        raise NotImplementedError

    def film(self, coat_id: str, values: tuple[str, ...], now_s: float, film: str = "wet") -> Entry:
        """Keep film readings in µm."""
        raise NotImplementedError

    def heard(self, key: str, now_s: float) -> None:
        """Note that an alarm was heard: it does not come again, over restarts too."""
        raise NotImplementedError
