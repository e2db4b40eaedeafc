"""Shop: the shed itself, where its forecast comes from, and how well it was told so far."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from advisor.climate.shop.shop import Shop
from advisor.ui.desk import Desk
from advisor.ui.forecasts import Forecasts
from advisor.ui.operations import Failure
from advisor.ui.panes.forecast_card import ForecastCard
from advisor.ui.panes.response_card import ResponseCard
from advisor.ui.panes.shop_form import ShopForm
from advisor.ui.widgets.caution_bar import CautionBar
from advisor.ui.widgets.columns import Columns
from advisor.work.instruments import Instruments
from advisor.work.outlook_views import ShopView


class ShopPane(QWidget):
    """The shop on the left, its forecast in the middle, its answer to the weather on the right."""

    def __init__(self, desk: Desk, forecasts: Forecasts) -> None:
        super().__init__()
        self.setObjectName("page")
        self._desk, self._forecasts = desk, forecasts
        self.view: ShopView | None = None
        self.form = ShopForm(desk.units)
        self.forecast, self.response = ForecastCard(desk.look), ResponseCard(desk.look)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(10)
        column.addWidget(Columns(desk.look, (self.form, self.forecast, self.response)), 1)
        column.addWidget(CautionBar())
        self.setFocusProxy(self.forecast.switch)
        self._connect()

    def _connect(self) -> None:
        self.form.kept.connect(self._keep)
        self.forecast.switched.connect(self._switch)
        self.forecast.chosen.connect(self._choose)
        self.forecast.fetch.connect(self._forecasts.fetch)
        self.forecast.by_hand.connect(self.type_forecast)
        self.forecast.from_file.connect(self.choose_weather)
        self._forecasts.changed.connect(self._show_fetch)
        self._desk.units_changed.connect(self._units)

    def refresh(self) -> None:
        """Look at the shop again, beside the verdicts."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        self._desk.slow.run("shop", lambda: bench.shop_view(now_s), self._show, self._failed)

    def tick(self) -> None:
        """A minute went by."""
        self.refresh()

    @Slot()
    def type_forecast(self) -> None:
        """Open the forecast by hand."""
        from advisor.ui.dialogs.typed_forecast import TypedForecastDialog

        dialog = TypedForecastDialog(self._desk.bench, self._desk.now_s(), self)
        dialog.accepted.connect(self._desk.changed)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    @Slot()
    def choose_weather(self) -> None:
        """Choose a weather file and go by it as the weather outdoors."""
        from PySide6.QtWidgets import QFileDialog

        settings = self._desk.bench.settings
        name, _ = QFileDialog.getOpenFileName(
            self, "Weather outdoors", settings.text("last_folder"),
            "Weather files and logs (*.csv *.epw *.txt *.tsv);;All files (*)",
        )  # fmt: skip
        if name:
            self.take_weather(Path(name))

    def take_weather(self, path: Path) -> None:
        """Read a weather file in the background; one line says what came of it."""
        bench, now_s = self._desk.bench, self._desk.now_s()
        bench.settings.set("last_folder", str(path.parent))
        told = f"{path.name} is now the weather outdoors."
        self._desk.operations.write(
            lambda: bench.keep_weather(path, now_s), lambda _: self._done(told)
        )

    def _show(self, view: ShopView) -> None:
        self.view = view
        words = self._desk.words()
        self.form.show_shop(view.shop, self._desk.bench.instruments(), words.units)
        self.forecast.show_choice(
            self._desk.fetching, self._desk.contact, place=view.shop.place is not None
        )
        self.forecast.show_sources(view.sources, words)
        self.response.show_view(view, words)
        self._show_fetch()

    def _failed(self, failure: Failure) -> None:
        if failure.details:
            self._desk.messages.failure(failure)
        self.response.show_failure(failure.text)

    def _units(self) -> None:
        self.form.set_units(self._desk.units)
        self.refresh()

    def _show_fetch(self) -> None:
        forecasts = self._forecasts
        self.forecast.show_fetch(forecasts.busy, forecasts.last, forecasts.failed)

    @Slot(object, object)
    def _keep(self, shop: Shop, instruments: Instruments) -> None:
        bench = self._desk.bench

        def keep() -> None:
            bench.save_instruments(instruments)
            bench.save_shop(shop)

        self._desk.operations.write(keep, self._kept)

    def _kept(self, _: object) -> None:
        self.form.stored()
        self._done("Shop kept.")

    @Slot(bool, str)
    def _switch(self, on: bool, contact: str) -> None:
        bench = self._desk.bench
        told = "Forecasts are fetched." if on else "Nothing is asked of the internet."
        self._desk.operations.run(
            "write fetching",
            lambda: bench.set_fetching(on, contact),
            lambda _: self._switched(on, told),
            self._refused,
        )

    def _switched(self, on: bool, told: str) -> None:
        self._done(told)
        if on and self.view is not None and self.view.shop.place is not None:
            self._forecasts.fetch()

    def _refused(self, failure: Failure) -> None:
        """Say why, and show what is still in force."""
        self._desk.messages.failure(failure)
        place = self.view is not None and self.view.shop.place is not None
        self.forecast.show_choice(self._desk.fetching, self._desk.contact, place=place)

    @Slot(str, bool)
    def _choose(self, source_id: str, agreed: bool) -> None:
        bench = self._desk.bench
        self._desk.operations.write(
            lambda: bench.choose_source(source_id, agreed), lambda _: self._chosen()
        )

    def _chosen(self) -> None:
        self._done("Source chosen.")
        if self._desk.fetching:
            self._forecasts.fetch()

    def _done(self, told: str) -> None:
        self._desk.messages.note(told)
        self._desk.changed.emit()
