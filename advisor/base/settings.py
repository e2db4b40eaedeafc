"""The program's settings, declared once; pages, checks and defaults all come from here."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from advisor.base.errors import InputError, RangeError, which
from advisor.base.store import Store

Value = str | int | float | bool


@dataclass(frozen=True)
class Setting:
    """One setting. `kind` is the type of its value; `low` and `high` bound numbers.

    A text with bounds is empty or a number between them.
    """

    key: str
    kind: type[str] | type[int] | type[float] | type[bool]
    default: Value
    description: str
    choices: tuple[str, ...] = ()
    low: float = -math.inf
    high: float = math.inf


_DECLARED = (
    Setting("units", str, "metric", "Units on screen and on paper.", ("metric", "us")),
    Setting("time_zone", str, "", "Time zone of the shop (IANA name); empty: this computer's."),
    Setting(
        "theme",
        str,
        "system",
        "Light, dark or high-contrast screen.",
        ("light", "dark", "high contrast", "system"),
    ),
    Setting("scale_pct", int, 100, "Size of text and controls, in %.", low=75, high=300),
    Setting(
        "stale_after_min",
        int,
        60,
        "A reading older than this many minutes no longer counts as now.",
        low=1,
        high=1440,
    ),
    Setting(
        "mix_temp_c",
        str,
        "",
        "Temperature of the tins in °C; empty: the warmer of shop air and 20 °C.",
        low=-40,
        high=60,
    ),
    Setting(
        "air_accuracy_k",
        str,
        "",
        "Maker's ± of the air thermometer in K; empty: common practice.",
        low=0,
        high=20,
    ),
    Setting(
        "rh_accuracy_pct",
        str,
        "",
        "Maker's ± of the hygrometer in points of humidity; empty: common practice.",
        low=0,
        high=50,
    ),
    Setting(
        "surface_accuracy_k",
        str,
        "",
        "Maker's ± of the surface probe in K; empty: common practice.",
        low=0,
        high=20,
    ),
    Setting(
        "fetch_forecasts",
        bool,
        False,
        "Ask a weather service for the forecast; off: nothing is asked of the internet.",
    ),
    Setting(
        "forecast_source",
        str,
        "",
        "The weather service to ask, or weather given by hand; empty: the service that suits "
        "the place.",
        ("", "nws", "metno", "brightsky", "openmeteo", "typed", "file", "demo"),
    ),
    Setting(
        "contact",
        str,
        "",
        "An e-mail or web address sent with each request, so that a weather service can reach you. "
        "Empty: no contact is sent, only the program's name, and a service may refuse to answer.",
    ),
    Setting(
        "openmeteo_agreed",
        bool,
        False,
        "Open-Meteo's terms were read: its free service is for non-commercial use only.",
    ),
    Setting("openmeteo_key", str, "", "Your own Open-Meteo key; empty: its free service."),
    Setting(
        "openmeteo_server",
        str,
        "",
        "Address of your own Open-Meteo server (https); empty: the public one.",
    ),
    Setting("person", str, "", "Who is writing: stands beside every entry of the record."),
    Setting(
        "tonight_folder",
        str,
        "",
        "Folder where the page Tonight is kept up to date for a phone; empty: nowhere.",
    ),
    Setting(
        "backup_folder", str, "", "Folder of the backups; empty: `backups` beside the database."
    ),
    Setting("alarm_sound", bool, True, "Sound the alarms of a live batch; off: shown only."),
    Setting("window_geometry", str, "", "Size and place of the window, as the window wrote it."),
    Setting("last_job", str, "", "The job that was open last."),
    Setting("last_pane", str, "", "The pane that was open last."),
    Setting("last_folder", str, "", "The folder a file was last chosen from."),
)

#: Every setting by key.
SETTINGS = MappingProxyType({setting.key: setting for setting in _DECLARED})


def setting(key: str) -> Setting:
    """Return a declaration; InputError names the nearest valid key."""
    found = SETTINGS.get(key)
    if found is None:
        raise InputError(f"no setting is called {key!r}; {which(key, SETTINGS)}")
    return found


def checked(declared: Setting, value: object) -> Value:
    """Return the value in the declared type; RangeError says what is accepted."""
    typed = _typed(declared, value)
    if isinstance(typed, str):
        return _checked_text(declared, typed)
    if not declared.low <= typed <= declared.high:  # NaN fails too
        raise RangeError(declared.key, f"{typed}", f"{declared.low:g} to {declared.high:g}")
    return typed


class Settings:
    """Settings kept in the store. Values are checked when set and when read."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def get(self, key: str) -> Value:
        """Return the value, or the default when none was set or the stored one is no good.

        A bad stored value must not keep the program from starting; `problems` tells of it.
        """
        declared = setting(key)
        try:
            return self._stored(declared)
        except InputError:
            return declared.default

    def text(self, key: str) -> str:
        """Return the value of a text setting."""
        value = self.get(key)
        if not isinstance(value, str):
            raise InputError(f"setting {key} is not a text")
        return value

    def number(self, key: str) -> float:
        """Return the value of a number setting."""
        value = self.get(key)
        if isinstance(value, str | bool):
            raise InputError(f"setting {key} is not a number")
        return float(value)

    def flag(self, key: str) -> bool:
        """Return the value of a yes-or-no setting."""
        value = self.get(key)
        if not isinstance(value, bool):
            raise InputError(f"setting {key} is not a yes or no")
        return value

    def set(self, key: str, value: object) -> None:
        """Check and keep a value; InputError or RangeError leaves the old one."""
        text = json.dumps(checked(setting(key), value))
        with self._store.write() as db:
            db.execute(
                "INSERT INTO setting (key, value) VALUES (?, ?) "
                "ON CONFLICT (key) DO UPDATE SET value = excluded.value",
                (key, text),
            )

    def reset(self, key: str) -> None:
        """Go back to the default."""
        setting(key)
        with self._store.write() as db:
            db.execute("DELETE FROM setting WHERE key = ?", (key,))

    def problems(self) -> tuple[str, ...]:
        """Say which stored values are no good and therefore not used; empty when all are."""
        found = []
        for declared in SETTINGS.values():
            try:
                self._stored(declared)
            except InputError as error:
                found.append(f"{error}; using {declared.default!r}")
        return tuple(found)

    def _stored(self, declared: Setting) -> Value:
        with self._store.read() as db:
            row = db.execute("SELECT value FROM setting WHERE key = ?", (declared.key,)).fetchone()
        if row is None:
            return declared.default
        try:
            value = json.loads(row[0])
        except ValueError as error:
            raise RangeError(declared.key, repr(row[0]), "a JSON value") from error
        return checked(declared, value)


def _typed(declared: Setting, value: object) -> Value:
    """Take whole numbers for float settings, but no booleans for numbers."""
    if declared.kind is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if isinstance(value, str | int | float) and type(value) is declared.kind:
        return value
    names = {str: "a text", int: "a whole number", float: "a number", bool: "true or false"}
    raise RangeError(declared.key, repr(value), names[declared.kind])


def _checked_text(declared: Setting, text: str) -> str:
    if declared.choices and text not in declared.choices:
        raise RangeError(declared.key, repr(text), ", ".join(map(_shown, declared.choices)))
    if text and math.isfinite(declared.low):
        _check_number(declared, text)
    if text and declared.key in _TEXT_CHECKS:
        _TEXT_CHECKS[declared.key](declared, text)
    return text


def _shown(choice: str) -> str:
    return choice or "empty"


def _check_number(declared: Setting, text: str) -> None:
    accepted = f"empty or a number from {declared.low:g} to {declared.high:g}"
    try:
        inside = declared.low <= float(text) <= declared.high  # NaN fails too
    except ValueError as error:
        raise RangeError(declared.key, repr(text), accepted) from error
    if not inside:
        raise RangeError(declared.key, repr(text), accepted)


def _check_zone(declared: Setting, text: str) -> None:
    try:
        ZoneInfo(text)
    except (ValueError, OSError, KeyError) as error:
        raise RangeError(declared.key, repr(text), "an IANA name such as Europe/Oslo") from error


def _check_contact(declared: Setting, text: str) -> None:
    """It becomes part of a request header: one line, plain letters."""
    if not (
        text.isascii() and text.isprintable() and _CONTACT.fullmatch(text) and len(text) <= 100
    ):
        accepted = "empty, an e-mail address or a web address, at most 100 plain characters"
        raise RangeError(declared.key, repr(text), accepted)


def _check_key(declared: Setting, text: str) -> None:
    if not re.fullmatch(r"[A-Za-z0-9._~-]{1,200}", text):
        # What was typed is not repeated: a key is a secret.
        raise RangeError(declared.key, f"{len(text)} characters", "letters, digits, . _ ~ -")


def _check_server(declared: Setting, text: str) -> None:
    accepted = "empty or an address such as https://weather.example.org"
    try:
        parts = urlsplit(text)
        plain = parts.port is None or parts.port > 0
    except ValueError as error:
        raise RangeError(declared.key, repr(text), accepted) from error
    unwanted = parts.query or parts.fragment or parts.username or parts.password
    if parts.scheme != "https" or not parts.hostname or unwanted or not plain or _SPACE(text):
        raise RangeError(declared.key, repr(text), accepted)


_SPACE = re.compile(r"[\s\x00-\x1f\x7f]").search
_CONTACT = re.compile(r"[^\s@()<>]+@[^\s@()<>]+\.[^\s@()<>]+|https?://[^\s()<>]+")
_TEXT_CHECKS: Mapping[str, Callable[[Setting, str], None]] = MappingProxyType(
    {
        "time_zone": _check_zone,
        "contact": _check_contact,
        "openmeteo_key": _check_key,
        "openmeteo_server": _check_server,
    }
)
