"""Products to choose from: add a file, or write one to fill in from a template."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QVBoxLayout

from advisor.base.errors import AdvisorError
from advisor.coatings.product import Product
from advisor.ui.dialogs.fields import ChoiceField, ask_open, ask_save, button, write_text
from advisor.ui.dialogs.product_copy import product_copy
from advisor.ui.widgets.parts import restyle, text
from advisor.work.workbench import Workbench

_KINDS = "Product files (*.toml);;All files (*)"
_ABOUT = (
    "A template holds typical values of its class, never your data sheet's: with one, a coat is "
    "a close call at best. Copy it to a file, enter your data sheet's figures, set its status "
    'to "from data sheet" and add the file here.'
)


def product_options(products: dict[str, Product]) -> list[tuple[str, str]]:
    """Ids and words of all products: data sheets first, templates marked."""
    order = sorted(products.values(), key=lambda p: (p.is_template, p.name.lower()))
    return [(product.id, product_words(product)) for product in order]


def product_words(product: Product) -> str:
    """Name of a product, marked where its figures are only typical."""
    marked = product.is_template and "typical values" not in product.name
    return f"{product.name} (typical values)" if marked else product.name


class ProductShelf(QFrame):
    """`changed` when a product was added."""

    changed = Signal()

    def __init__(self, bench: Workbench) -> None:
        super().__init__()
        self.setObjectName("card")
        self._bench = bench
        self.template = ChoiceField("Product or template to copy", [])
        self.add = button("&Add a product file…")
        self.copy = button("Copy to a file to &fill in…")
        self.said = text("", "small", wrap=True)
        self.add.clicked.connect(self._ask_add)
        self.copy.clicked.connect(self._ask_copy)
        row = QHBoxLayout()
        row.addWidget(self.template, 1)
        for each in (self.copy, self.add):
            row.addWidget(each)
        column = QVBoxLayout(self)
        column.addWidget(text("Products", "title"))
        column.addWidget(text(_ABOUT, "small", wrap=True))
        column.addLayout(row)
        column.addWidget(self.said)
        self.refresh()

    def refresh(self) -> None:
        """Read the shelf anew."""
        products = self._bench.products()
        options = product_options(products)
        first = next((p.id for p in products.values() if p.is_template), "")
        self.template.set_options(options, self.template.key or first)

    def add_file(self, path: Path) -> Product | None:
        """Take a product file in; None, and the reason under the buttons, when it is no good."""
        try:
            product = self._bench.add_product_file(path)
        except AdvisorError as error:
            self._say(str(error), bad=True)
            return None
        self.refresh()
        note = "; still typical values" if product.is_template else ""
        self._say(f"Added: {product.name}{note}.")
        self.changed.emit()
        return product

    def copy_to(self, path: Path) -> bool:
        """Write the chosen product to a file to fill in."""
        product = self._bench.products().get(self.template.key)
        if product is None:
            self._say("Choose what to copy first.", bad=True)
            return False
        try:
            words = product_copy(product, self._bench.resources / "products", path.stem)
            write_text(path, words)
        except AdvisorError as error:
            self._say(str(error), bad=True)
            return False
        self._say(f"Written: {path.name}. Enter your data sheet's figures, then add the file.")
        return True

    def _say(self, words: str, *, bad: bool = False) -> None:
        restyle(self.said, "role", "bad" if bad else "small")
        self.said.setText(words)

    def _ask_add(self) -> None:
        if path := ask_open(self, self._bench, "Add a product file", _KINDS):
            self.add_file(path)

    def _ask_copy(self) -> None:
        name = "my product.toml"
        if path := ask_save(self, self._bench, "Copy to a file to fill in", name, _KINDS):
            self.copy_to(path if path.suffix else path.with_suffix(".toml"))
