"""The report of the job in hand: on paper, as JSON and CSV, and all of it with the verifier."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.work.whole_file import refuse_taken, write_whole

if TYPE_CHECKING:
    from advisor.record.export import Exported
    from advisor.record.report.told import Told
    from advisor.work.workbench import Workbench

#: What the package says of itself; the paper and the record are two halves of one proof.
_READ_ME = """\
The conditions record of: {job}

report.pdf        to read and to sign
report.json       the same for a program
csv               the same for a spreadsheet; csv/readings.csv has every reading
record.jsonl      the record itself, one entry a line
files             photos and logs, each named by its SHA-256
verify_record.py  checks the record; it needs Python and nothing else

To check:  python verify_record.py record.jsonl --head {head}
That head was written on {made}. Compare it with the one on a signed paper.
"""


class Reporting:
    """Writes reports. Nothing that is there already is replaced unless `replace` says so."""

    def __init__(self, bench: Workbench) -> None:
        self._bench = bench

    def pdf(
        self, path: Path, now_s: float, coat_id: str | None = None, *, replace: bool = False
    ) -> Path:
        """Write the report of the whole job, or the page for one coat. Returns the path.

        InputError for a coat that is not on, and for a place that is taken or cannot be written.
        """
        refuse_taken(path, replace=replace)
        told = self._told(now_s)
        return write_whole(path, self._pdf(told, coat_id), replace=replace)

    def json(self, path: Path, now_s: float, *, replace: bool = False) -> Path:
        """Write the report as JSON. Errors as for `pdf`."""
        from advisor.record.report.json_file import report_json

        refuse_taken(path, replace=replace)
        return write_whole(path, report_json(self._told(now_s)), replace=replace)

    def csv(self, folder: Path, now_s: float) -> Path:
        """Write the CSV files into a new or empty folder. Errors as for `pdf`."""
        from advisor.record.export import whole_folder

        with whole_folder(folder) as part:
            _write_csv(part, self._told(now_s))
        return folder

    def package(self, folder: Path, now_s: float) -> Exported:
        """Write report, JSON, CSV, record, files and verifier into a new or empty folder.

        The folder is there whole or not at all. `missing` of what is returned names files of the
        record that are no longer kept.
        """
        from advisor.record.export import whole_folder, write_into
        from advisor.record.report.json_file import report_json

        with whole_folder(folder) as part:
            told = self._told(now_s)
            # The lines that were printed, not those of a second look: one may have come between.
            lines = (entry.line for entry in told.review.entries)
            exported = write_into(part, Attachments(self._bench.store.path), lines)
            (part / "report.pdf").write_bytes(self._pdf(told, None))
            (part / "report.json").write_bytes(report_json(told))
            (part / "csv").mkdir()
            _write_csv(part / "csv", told)
            text = _READ_ME.format(job=told.review.job_name, head=told.review.head,
                                   made=told.say.when(now_s))  # fmt: skip
            (part / "READ-ME.txt").write_text(text, encoding="utf-8")
        return exported

    def _told(self, now_s: float) -> Told:
        from advisor.record.report.say import Say
        from advisor.record.report.told import told

        self._bench.record.ready_to_give(now_s)
        say = Say(self._bench.words(now_s))
        return told(self._bench.reviews.job(now_s), say, self._photo)

    def _photo(self, sha256: str) -> Path | None:
        """Return the kept file of a photo, None where it is gone or no longer what it was."""
        kept = Attachments(self._bench.store.path)
        try:
            return kept.path(sha256) if kept.intact(sha256) else None
        except InputError:
            return None

    def _pdf(self, told: Told, coat_id: str | None) -> bytes:
        from advisor.record.report.pdf import pdf_bytes
        from advisor.record.report.whole import coat_paper, job_paper

        paper = job_paper(told) if coat_id is None else coat_paper(told, coat_id)
        return pdf_bytes(paper, told.say, self._bench.resources / "fonts")


def _write_csv(folder: Path, told: Told) -> None:
    from advisor.record.report.csv_files import csv_files

    for name, body in csv_files(told).items():
        (folder / name).write_bytes(body)
