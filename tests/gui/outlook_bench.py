"""A bench whose outlook is made up here, so that the window is tested without a network or fit."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.base.errors import InputError
from advisor.climate.place import Place
from advisor.climate.shop.shop import Change, Shop
from advisor.work.outlook_views import NightScore, ShopView, SkillView, Suggestion, WhatIf
from advisor.work.views import Band, ComingDays, Reading, SourceView
from advisor.work.workbench import Workbench

TERMS = "Free for private use only; more than 10 000 calls a day are not allowed (invented terms)."


@dataclass(frozen=True)
class Prepared:
    """What a what-if starts from."""

    now_s: float
    days_ahead: int
    week: ComingDays


@dataclass
class Calls:
    """What the window asked for, and what it shall be answered."""

    saved: list[Shop] = field(default_factory=list)
    chosen: list[tuple[str, bool]] = field(default_factory=list)
    switched: list[tuple[bool, str]] = field(default_factory=list)
    fetched: list[float] = field(default_factory=list)
    typed: list[object] = field(default_factory=list)
    tried: list[Change] = field(default_factory=list)
    chances: list[Change] = field(default_factory=list)
    cheapest: list[str] = field(default_factory=list)


class OutlookBench(Workbench):
    """The bench with an invented outlook. `shop_now` None is a first run."""

    calls: Calls
    shop_now: Shop | None
    source_now: str
    state_now: str
    known: bool
    refuse: str
    gate: threading.Event | None
    started: threading.Event

    def begin(self) -> None:
        """Start on a shop with a fresh forecast and a fitted response."""
        self.calls = Calls()
        self.shop_now = Shop("stone shed", 260.0, Place(50.3712, -4.1427, 12.0))
        self.source_now, self.state_now, self.known = "metno", "fresh", True
        self.refuse, self.gate, self.started = "", None, threading.Event()

    # --- shop ----------------------------------------------------------------------------

    def shop_view(self, now_s: float) -> ShopView:
        """Return the shop as set up by the test."""
        shop = self.shop_now or Shop()
        if not self.known:
            text = f"usual for a {shop.kind} until three days are logged"
            return ShopView(shop, self._sources(now_s), text, False)
        facts = (("follows outdoors with a lag of", "5.4 h"), ("air changes", "0.3 an hour"),
                 ("damp held by walls and floor", "17 h"))  # fmt: skip
        nights = tuple(
            NightScore(int(now_s - k * 86400), 14.1 - k, 13.6 - k,
                       f"{k} nights ago: said {14.1 - k:.1f} °C at dawn, "
                       f"your shed did {13.6 - k:.1f}")
            for k in range(1, 9)
        )  # fmt: skip
        changed = "Since Tuesday it follows the outdoors faster: a door left open?"
        return ShopView(shop, self._sources(now_s), "fitted to 11 days of log", True, facts,
                        skill(now_s), nights, changed, 11.2)  # fmt: skip

    def _sources(self, now_s: float) -> tuple[SourceView, ...]:
        made = (
            ("nws", "US national service", "public domain, NOAA", ""),
            ("metno", "MET Norway", "CC BY 4.0, MET Norway", ""),
            ("brightsky", "Bright Sky (DWD)", "CC BY 4.0, DWD", ""),
            ("openmeteo", "Open-Meteo", "CC BY 4.0", TERMS),
        )
        return tuple(
            self.source(now_s, name)
            if name == self.source_now
            else SourceView(name, title, "off", "", credit, terms)
            for name, title, credit, terms in made
        )

    def source(self, now_s: float, name: str = "metno") -> SourceView:
        """Return the source in use in the state the test asks for."""
        age_h = {"fresh": 2.0, "old": 31.0, "failed": 9.0}.get(self.state_now)
        known = age_h is not None
        issued = int(now_s - (age_h or 0) * 3600) if known else None
        text = {"failed": "the service answered 503, busy", "waiting": "nothing fetched yet"}
        return SourceView(
            name, {"metno": "MET Norway"}.get(name, name), self.state_now,
            text.get(self.state_now, ""), "CC BY 4.0, MET Norway", "", issued, issued,
            int(now_s + 9 * 86400) if known else None,
            int(now_s + 1800) if self.state_now == "failed" else None, True,
        )  # fmt: skip

    def save_shop(self, shop: Shop) -> None:
        """Keep a shop."""
        self.calls.saved.append(shop)
        self.shop_now = shop

    def choose_source(self, source_id: str, agreed: bool) -> None:
        """Take a source into use."""
        self.calls.chosen.append((source_id, agreed))
        self.source_now, self.state_now = source_id, "waiting"

    def set_fetching(self, on: bool, contact: str) -> None:
        """Allow or forbid the internet."""
        if self.refuse:
            raise InputError(self.refuse)
        self.calls.switched.append((on, contact))
        self.settings.set("contact", contact)
        self.settings.set("fetch_forecasts", on)

    def fetch_forecast(self, now_s: float) -> str:
        """Answer, fail or hang."""
        self.calls.fetched.append(now_s)
        self.started.set()
        if self.gate is not None:
            self.gate.wait(20)
        if self.refuse:
            self.state_now = "failed"
            raise InputError(self.refuse)
        self.state_now = "fresh"
        return "MET Norway answered: hours to Sat 23 May."

    def type_forecast(self, typed: object, now_s: float) -> None:
        """Keep a forecast typed by hand."""
        self.calls.typed.append(typed)

    def upkeep(self, now_s: float) -> str:
        """Learn nothing: the response is made up."""
        return ""

    # --- week ----------------------------------------------------------------------------

    def coming_days(
        self, now_s: float, days_ahead: int = 7, reading: Reading | None = None
    ) -> ComingDays:
        """Lay the week out with its source and a spread that grows."""
        week = super().coming_days(now_s, days_ahead, reading)
        if not self.known:
            return week
        return replace(week, source=self.source(now_s), band=_band(week, now_s))

    def prepare_what_if(
        self, now_s: float, days_ahead: int, reading: Reading | None = None
    ) -> object:
        """Remember the moment."""
        if self.shop_now is None:
            raise InputError("shop: found none; accepted: say what the shop is, in Shop")
        return Prepared(now_s, days_ahead, self.coming_days(now_s, days_ahead))

    def what_if(self, prepared: object, change: Change) -> WhatIf:
        """Two kelvin for a kilowatt."""
        self.calls.tried.append(change)
        return self._what_if(prepared, change, chances=False)

    def what_if_chances(self, prepared: object, change: Change) -> WhatIf:
        """Return the same with its spread."""
        self.calls.chances.append(change)
        return self._what_if(prepared, change, chances=True)

    def _what_if(self, prepared: object, change: Change, *, chances: bool) -> WhatIf:
        assert isinstance(prepared, Prepared)
        week = prepared.week
        series = week.series
        lift = np.where(series.time_s >= prepared.now_s, 2.0 * change.heater_kw, 0.0)
        lifted = replace(
            series, air_temp_c=series.air_temp_c + lift,
            surface_temp_c=series.surface_temp_c + lift,
        )  # fmt: skip
        week = replace(week, series=lifted)
        notes = ("An unvented burner adds water and CO2 to the air: open a door, or vent it.",)
        return WhatIf(
            change, week if chances else replace(week, band=None), 21.5, 15.0, 28.0,
            f"6 h 30 min more to start in, for 28 kWh{' (with chances)' if chances else ''}.",
            notes if change.heater_kind == "unvented" else (),
        )  # fmt: skip

    def cheapest(self, prepared: object, coat_id: str) -> tuple[Suggestion, ...]:
        """Two ways to open the wanted window."""
        self.calls.cheapest.append(coat_id)
        assert isinstance(prepared, Prepared)
        begin = (prepared.now_s // 3600 + 10) * 3600
        return (
            Suggestion(Change(heater_kw=1.0, from_s=begin, until_s=begin + 14 * 3600),
                       "Cheapest: 1 kW electric from 19:00 to 09:00, 14 kWh, opens Thu 11:35 "
                       "to 16:10", 14.0, 4.5),
            Suggestion(Change(dehumidifier_l_per_day=20.0),
                       "Or a dehumidifier of 20 L/day, 18 kWh, opens Thu 12:20 to 15:00",
                       18.0, 2.7),
        )  # fmt: skip


def skill(now_s: float) -> SkillView:
    """Return eleven days of hours: said within half a kelvin of what came."""
    hours = np.arange(264.0)
    wave = np.sin(hours / 24 * 2 * np.pi)
    air, dew = 13 + 4 * wave + hours / 100, 8 + np.cos(hours / 60)
    return SkillView(now_s - (264 - hours) * 3600, air, air + 0.5 * np.cos(hours / 9), dew,
                     dew + 0.4 * np.sin(hours / 7), 0.62, 0.44, 2.65, 2.41, 1.9, 1.74)  # fmt: skip


def _band(week: ComingDays, now_s: float) -> Band:
    ahead = np.maximum(0.0, (week.series.time_s - now_s) / 86400)
    half = np.where(ahead > 0, 0.4 + 0.35 * ahead, np.nan)
    surface, dew = week.series.surface_temp_c, week.series.wet_point_c
    return Band(surface - half, surface + half, dew - half, dew + half)
