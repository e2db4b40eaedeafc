"""Sign the record off: by name, and with a key of one's own where it must be proved."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from advisor.record.chain import Head
from advisor.record.entry import Entry
from advisor.record.kinds import KINDS
from advisor.record.signing import key_names, load_key, make_key
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import ChoiceField, LineField
from advisor.ui.dialogs.keep_dialog import KeepDialog
from advisor.ui.record.editors import TextEditor
from advisor.ui.record.paper_view import grouped
from advisor.ui.widgets.parts import size_to_screen, text
from advisor.work.workbench import Workbench

_TOLD = (
    "A sign-off is an entry like any other: it says who stands for everything before it. With a "
    "key, anyone can check that it was the holder of that key. The report leaves room for "
    "signatures in ink."
)
_NEW, _NONE = "new", ""
_STATEMENT = "Kept as it happened, to the best of my knowledge."


class SignDialog(KeepDialog):
    """Signs everything in the record so far."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, "Sign off", "&Sign off", parent)
        self._folder: Path = desk.bench.record.keys_folder
        self.head = text("", wrap=True)
        self._make_fields()
        self._lay_out()
        self._show_key()
        size_to_screen(self, 760, 620, desk.look.scale_pct)
        self.ask(desk.operations, "record head to sign", desk.bench.record.head, self._show_head)

    def _make_fields(self) -> None:
        kind = KINDS["sign-off"]
        self.fields = {key: TextEditor(kind.field(key)) for key in ("name", "role", "statement")}
        self.fields["name"].show_json(self._desk.bench.settings.text("person"))
        self.fields["statement"].show_json(_STATEMENT)
        names = key_names(self._folder)
        options = [(_NONE, "by name alone"), *((f"key {n}", f"with the key {n}") for n in names),
                   (_NEW, "with a new key, made now")]  # fmt: skip
        self.key = ChoiceField("How", options)
        self.key.box.setCurrentIndex(0)
        self.key_name = LineField("Name of the new key", self._desk.bench.settings.text("person"))
        self.passphrase = LineField("Passphrase of the key", hint="empty: none")
        self.passphrase.line.setEchoMode(QLineEdit.EchoMode.Password)
        self.key_told = text(f"Keys are kept in {self._folder}", "small", wrap=True)
        self.key.changed.connect(self._show_key)

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setSpacing(10)
        column.addWidget(text("Sign off everything up to now", "title"))
        column.addWidget(text(_TOLD, wrap=True))
        column.addWidget(self.head)
        column.addWidget(self.fields["name"])
        column.addWidget(self.fields["role"])
        column.addWidget(self.fields["statement"])
        row = QHBoxLayout()
        row.setSpacing(12)
        for field in (self.key, self.key_name, self.passphrase):
            row.addWidget(field, 1)
        column.addLayout(row)
        column.addWidget(self.key_told)
        column.addStretch(1)
        column.addWidget(self.said)
        column.addLayout(self.foot())

    def _show_head(self, head: Head) -> None:
        self.head.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.head.setText(f"{head.entries} entries, the last one {grouped(head.hash)}")

    def _show_key(self) -> None:
        self.key_name.setVisible(self.key.key == _NEW)
        self.passphrase.setVisible(bool(self.key.key))
        self.key_told.setVisible(bool(self.key.key))

    def accept(self) -> None:
        """Sign; the form stays, with the reason, where it could not be kept."""
        name = self.fields["name"]
        if not name.judge(name.problem(), always=True):
            return
        told = {key: str(field.json()) for key, field in self.fields.items()}
        chosen, new = self.key.key, self.key_name.value
        if chosen == _NEW and not new:
            self.said.setText("Give the new key a name.")
            return
        bench, now_s, secret = self._desk.bench, self._desk.now_s(), self.passphrase.line.text()
        folder, named = self._folder, new if chosen == _NEW else chosen.removeprefix("key ")
        fresh = chosen == _NEW
        self.keep_by(lambda: sign(bench, told, now_s, (folder, named, secret, fresh)))


def sign(
    bench: Workbench, told: Mapping[str, str], now_s: float, by: tuple[Path, str, str, bool]
) -> Entry:
    """Sign off; `by` is folder, name and passphrase of the key, and whether to make it first."""
    folder, name, secret, fresh = by
    key = None
    if name:
        key = (make_key if fresh else load_key)(folder, name, secret)
    role, statement = told["role"], told["statement"]
    return bench.record.sign_off(told["name"], now_s, role=role, statement=statement, key=key)
