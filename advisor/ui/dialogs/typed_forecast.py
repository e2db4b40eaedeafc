"""A forecast typed by hand, from the radio or the notice board, for up to three days."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import cast

from PySide6.QtWidgets import QDialog, QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from advisor.base import units as u
from advisor.base.errors import AdvisorError
from advisor.climate.sources.typed import CLOUD_PCT, WIND_M_S, TypedForecast
from advisor.planning.words import Words
from advisor.ui.dialogs.fields import ChoiceField, Field, SignedField, SwitchField, button
from advisor.ui.widgets.parts import BigButton, size_to_screen, text
from advisor.work.workbench import Workbench

DAYS = 3
LOW_C, HIGH_C = -40.0, 60.0
ABOUT = (
    "As said for out of doors. Leave the later days empty if you do not know them: the outlook "
    "ends where what you typed ends."
)
_DAMP = (
    ("dew point", "the dew point"),
    ("high", "humidity in the afternoon"),
    ("low", "humidity at night"),
)


class TypedForecastDialog(QDialog):
    """Keeps a typed forecast on the bench; nothing is kept before the button is pressed."""

    def __init__(self, bench: Workbench, now_s: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle("Forecast by hand")
        self._bench, self._now_s = bench, now_s
        words = bench.words(now_s)
        self._units, self._tried = words.units, False
        self._make_fields(words)
        self.said = text("", "strong", wrap=True)
        self.said.hide()
        self.cancel = button("Cancel")
        self.cancel.clicked.connect(self.reject)
        self.keep = BigButton("&Go by this forecast", main=True)
        self.keep.setAutoDefault(False)
        self.keep.clicked.connect(self.accept)
        self._lay_out()
        size_to_screen(self, 860, 520, int(bench.settings.number("scale_pct")))

    def _make_fields(self, words: Words) -> None:
        today = datetime.fromtimestamp(self._now_s, words.zone)
        self.lows: list[SignedField] = []
        self.highs: list[SignedField] = []
        for k in range(DAYS):
            day = today + timedelta(days=k + 1)
            name = f"{day.strftime('%A')} {day.day}"
            night = "Tonight's low" if k == 0 else f"Low of the night to {name}"
            high = f"High tomorrow, {name}" if k == 0 else f"High on {name}"
            self.lows.append(self._temperature(night))
            self.highs.append(self._temperature(high))
        self.damp = ChoiceField("How damp, by", list(_DAMP), "dew point")
        self.dew = self._temperature("Dew point")
        self.rh = SignedField("Humidity", u.HUMIDITY, self._units, 1.0, 100.0)
        self.rh.hide()
        not_said = [("", "not said")]
        self.wind = ChoiceField("Wind", not_said + [(w, w) for w in WIND_M_S])
        self.cloud = ChoiceField("Sky", not_said + [(w, w) for w in CLOUD_PCT])
        self.dry = SwitchField("Rain", "none is expected")
        for choice in (self.wind, self.cloud):
            choice.box.setCurrentIndex(0)
        for field in self.fields():
            field.changed.connect(self._refresh)

    def _temperature(self, caption: str) -> SignedField:
        return SignedField(caption, u.TEMPERATURE, self._units, LOW_C, HIGH_C)

    def fields(self) -> list[Field]:
        """Return the fields in reading order."""
        extremes = [field for pair in zip(self.lows, self.highs, strict=True) for field in pair]
        return [*extremes, self.damp, self.dew, self.rh, self.wind, self.cloud, self.dry]

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setSpacing(12)
        column.addWidget(text("What the forecast says", "title"))
        column.addWidget(text(ABOUT, "small", wrap=True))
        column.addWidget(_framed([(f, 0, k) for k, f in enumerate(self.lows)]
                                 + [(f, 1, k) for k, f in enumerate(self.highs)]))  # fmt: skip
        column.addWidget(_framed([
            (self.damp, 0, 0), (self.dew, 0, 1), (self.rh, 0, 1), (self.dry, 0, 2),
            (self.wind, 1, 0), (self.cloud, 1, 1),
        ]))  # fmt: skip
        column.addStretch(1)
        column.addWidget(self.said)
        row = QHBoxLayout()
        row.addStretch(1)
        row.addWidget(self.cancel)
        row.addWidget(self.keep)
        column.addLayout(row)

    # --- what was typed ------------------------------------------------------------------

    def typed(self) -> TypedForecast | None:
        """Return the forecast as typed; None, with every problem shown, where one is missing."""
        self._tried = True
        problems = self._check()
        if problems:
            problems[0].editor.setFocus()
            return None
        lows = tuple(f.number for f in self.lows if f.number is not None)
        highs = tuple(f.number for f in self.highs if f.number is not None)
        by_dew = self.damp.key == "dew point"
        return TypedForecast(
            lows,
            highs,
            dew_point_c=self.dew.number if by_dew else None,
            rh_pct=None if by_dew else self.rh.number,
            rh_at="low" if self.damp.key == "low" else "high",
            wind=self.wind.key or None,
            cloud=self.cloud.key or None,
            dry=self.dry.on,
        )

    def accept(self) -> None:
        """Keep the forecast and go by it."""
        try:
            typed = self.typed()
            if typed is None:
                return
            self._bench.type_forecast(typed, self._now_s)
        except AdvisorError as error:
            self._say(str(error))
            return
        super().accept()

    def _refresh(self) -> None:
        by_dew = self.damp.key == "dew point"
        self.dew.setVisible(by_dew)
        self.rh.setVisible(not by_dew)
        self._check()
        self._say("")

    def _check(self) -> list[Field]:
        problems: dict[Field, str] = {}
        ended = False
        for k, (low, high) in enumerate(zip(self.lows, self.highs, strict=True)):
            empty = not low.value and not high.value
            for field in (low, high):
                problems[field] = _number_problem(field, needed=k == 0 or not empty)
                if ended and not empty and not problems[field]:
                    problems[field] = "fill the day before first"
            if not problems[high] and not problems[low] and not empty:
                problems[high] = _order_problem(low, high)
            ended = ended or empty
        damp = self.dew if self.damp.key == "dew point" else self.rh
        problems[damp] = _number_problem(damp, needed=True)
        return [f for f, problem in problems.items() if not f.judge(problem, always=self._tried)]

    def _say(self, words: str) -> None:
        self.said.setText(words)
        self.said.setVisible(bool(words))


def _number_problem(field: Field, *, needed: bool) -> str:
    number = cast(SignedField, field)
    if number.number is not None or (not needed and not number.value):
        return ""
    return number.accepted


def _order_problem(low: SignedField, high: SignedField) -> str:
    cold, warm = low.number, high.number
    if cold is None or warm is None or warm >= cold:
        return ""
    return "not under the low before it"


def _framed(fields: list[tuple[SignedField, int, int]] | list[tuple[Field, int, int]]) -> QFrame:
    frame = QFrame()
    frame.setObjectName("card")
    grid = QGridLayout(frame)
    grid.setContentsMargins(16, 12, 16, 12)
    grid.setHorizontalSpacing(14)
    for field, row, column in fields:
        grid.addWidget(field, row, column)
        grid.setColumnStretch(column, 1)
    return frame
