"""A photo into the record: which picture, of what, in a few words."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from advisor.planning.job import Job
from advisor.record.effective import Effective
from advisor.record.kinds import KINDS, Field
from advisor.record.telling import title
from advisor.ui.desk import Desk
from advisor.ui.dialogs.fields import ChoiceField, ask_open
from advisor.ui.dialogs.keep_dialog import KeepDialog
from advisor.ui.record.editors import TextEditor
from advisor.ui.record.moment_editor import MomentEditor
from advisor.ui.record.places import coat_options
from advisor.ui.widgets.parts import BigButton, size_to_screen, text
from advisor.work.photo_dated import dated_ahead
from advisor.work.photos import Photo

KINDS_OF_FILE = "Pictures (*.jpg *.jpeg *.png *.tif *.tiff *.gif *.bmp);;All files (*)"
_TOLD = "The file is kept with the record by its hash, so that nobody can put another in its place."
_SIDE = 360


class PhotoDialog(KeepDialog):
    """Keeps one photo; `about` is the entry that was open, offered as what it shows."""

    def __init__(
        self, desk: Desk, job: Job, about: Effective | None, parent: QWidget | None = None
    ) -> None:
        super().__init__(desk, "Add a photo", "&Keep this photo", parent)
        self._about, self._zone = about, job.time_zone
        self.path: Path | None = None
        self.picture = QLabel("No picture chosen yet")
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.picture.setMinimumSize(_SIDE, 240)
        self.choose = BigButton("&Choose the picture")
        self.choose.setAutoDefault(False)
        self.choose.clicked.connect(self._ask)
        self.caption = TextEditor(KINDS["photo"].field("caption"))
        coat = "" if about is None else about.now.coat_id
        self.coat = ChoiceField("Coat", [("", "no coat"), *coat_options(job)], coat)
        if not coat:
            self.coat.box.setCurrentIndex(0)
        self.of = ChoiceField("Of", self._offers(), "0" if about is None else "1")
        moment = Field("at", "When it was taken", "moment", required=True)
        self.at = MomentEditor(moment, desk.words(), desk.now_s)
        self.at.show_moment(desk.now_s())
        self._lay_out()
        size_to_screen(self, 900, 560, desk.look.scale_pct)

    def _offers(self) -> list[tuple[str, str]]:
        found = [("0", "no entry")]
        if self._about is not None:
            number = self._about.entry.number
            found.append(("1", f"entry {number}: {title(self._about.now, self._desk.words())}"))
        return found

    def _lay_out(self) -> None:
        pair = QHBoxLayout()
        pair.setSpacing(14)
        left = QVBoxLayout()
        left.addWidget(self.picture, 1)
        left.addWidget(self.choose)
        pair.addLayout(left)
        right = QVBoxLayout()
        right.setSpacing(10)
        for field in (self.caption, self.coat, self.of, self.at):
            right.addWidget(field)
        right.addWidget(text(_TOLD, "small", wrap=True))
        right.addStretch(1)
        pair.addLayout(right, 1)
        column = QVBoxLayout(self)
        column.addLayout(pair, 1)
        column.addWidget(self.said)
        column.addLayout(self.foot())

    def _ask(self) -> None:
        if path := ask_open(self, self._desk.bench, "Choose the picture", KINDS_OF_FILE):
            self.take(path)

    def take(self, path: Path) -> None:
        """Take a file as the photo and show it."""
        self.path = path
        doubt = dated_ahead(path, self._zone, self._desk.now_s())
        self.said.setText(f"In doubt: {doubt}. It is kept with this beside it." if doubt else "")
        shown = QPixmap(str(path))
        if shown.isNull():
            self.picture.setText(f"{path.name}\ncannot be shown here")
            return
        mode = Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
        self.picture.setPixmap(shown.scaled(_SIDE, _SIDE, *mode))

    def accept(self) -> None:
        """Keep it; the form stays, with the reason, where it could not be kept."""
        at_s = self.at.moment()
        if self.path is None:
            self.said.setText("Choose the picture first.")
            return
        if not self.at.judge(self.at.problem(), always=True) or at_s is None:
            self.said.setText("Not kept yet: mend what is marked.")
            return
        linked = self._about is not None and self.of.key == "1"
        of = str(self._about.entry.number) if linked and self._about is not None else ""
        area = self._about.now.area_id if linked and self._about is not None else ""
        photo = Photo(self.path, str(self.caption.json()), self.coat.key, area, of)
        bench, now_s = self._desk.bench, self._desk.now_s()
        self.keep_by(lambda: bench.record.attach_photo(photo, now_s, at_s))
