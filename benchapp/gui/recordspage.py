"""The Records station: search, open as it was, fit again, compare, save, verify, copy, merge."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

from PySide6.QtCore import QT_TR_NOOP, Qt, QTimer, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.errors import BenchError
from benchapp.gui.comparison import Comparison
from benchapp.gui.form import Blank, Form
from benchapp.gui.labels import muted, text
from benchapp.gui.partstable import Line, PartsTable
from benchapp.gui.recorder import Recorder
from benchapp.gui.reporter import ReportButton, Wish
from benchapp.gui.session import Message, Session
from benchapp.gui.words import OUTCOMES, plural, tr
from benchapp.gui.worker import Job, Worker
from benchapp.jobs import (
    BackUpLogbook,
    ExportFound,
    ExportRaw,
    JudgedPart,
    MergeLogbook,
    OpenEntry,
    RefitEntry,
    Refitted,
    SearchLogbook,
    VerifyLogbook,
    WriteEntryReport,
)
from benchapp.logbook import Broken, Merged, PartRow, Search, StoredEntry
from benchapp.nominal import Outcome
from benchapp.units import Estimate

__all__ = ["RecordsPage", "as_it_was"]

_WAIT_MS = 200
_MOST = 20_000
_SHOWN = ("L", "C", "R", "Q", "f0")
_BLANKS = (
    Blank(key="serial", label=QT_TR_NOOP("serial"), tip=QT_TR_NOOP("Serial of the part")),
    Blank(key="part", label=QT_TR_NOOP("part"), tip=QT_TR_NOOP("Title of the design")),
    Blank(
        key="outcome",
        label=QT_TR_NOOP("outcome"),
        tip=QT_TR_NOOP("What was decided"),
        choices=(
            ("", QT_TR_NOOP("any")),
            *((one.value, words) for one, words in OUTCOMES.items()),
        ),
    ),
    Blank(
        key="since",
        label=QT_TR_NOOP("from"),
        tip=QT_TR_NOOP("First day"),
        empty=QT_TR_NOOP("2026-01-31"),
    ),
    Blank(
        key="until",
        label=QT_TR_NOOP("to"),
        tip=QT_TR_NOOP("Last day"),
        empty=QT_TR_NOOP("2026-12-31"),
    ),
)


def as_it_was(stored: StoredEntry) -> JudgedPart | None:
    """Give a stored measurement as the pages show it; None where it was never fitted."""
    entry = stored.entry
    if entry.capture is None or entry.fit is None:
        return None
    return JudgedPart(
        path=entry.path,
        capture=entry.capture,
        fit=entry.fit,
        findings=entry.findings,
        nominal=entry.nominal,
        verdict=entry.verdict,
    )


class RecordsPage(QWidget):
    """The record of everything that was measured.

    Signals
    -------
    wants_capture_page()
        A stored measurement was opened.
    wants_lot(key)
        A lot of the record is to be put on the bench.
    """

    wants_capture_page = Signal()
    wants_lot = Signal(str)

    def __init__(
        self, recorder: Recorder, worker: Worker, session: Session, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self._recorder, self._worker, self._session = recorder, worker, session
        self.texts: dict[str, str] = {}
        self._rows: dict[str, PartRow] = {}
        self.search = Form(_BLANKS, abreast=3)
        self.search.edited.connect(self._edit)
        self.table = PartsTable(
            tr("Measurements of the record"),
            (tr("serial"), tr("part"), tr("time"), tr("by"), tr("attempt"), tr("counts")),
        )
        self.table.opened.connect(self._open)
        self.table.chosen.connect(lambda _key: self._show_choice())
        self.found, self.place = muted(wrap=False), text()
        self.comparison = Comparison()
        self._later = QTimer(self, singleShot=True, interval=_WAIT_MS)
        self._later.timeout.connect(self.look)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 12)
        column.setSpacing(8)
        column.addLayout(self._record_row())
        column.addWidget(self.search)
        column.addWidget(self.found)
        column.addWidget(self.table, 3)
        column.addLayout(self._act_row())
        column.addWidget(self.comparison, 2)
        recorder.changed.connect(self._kept)
        self._show_choice()

    def _record_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.verify = _button(tr("Verify"), tr("Look for anything that was changed afterwards"))
        self.backup = _button(tr("Copy…"), tr("A copy of the whole record, while it is in use"))
        self.merge = _button(tr("Merge…"), tr("Take in another record; nothing is doubled"))
        self.verify.clicked.connect(self._verify)
        self.backup.clicked.connect(self._ask_backup)
        self.merge.clicked.connect(self._ask_merge)
        row.addWidget(self.place, 1)
        for button in (self.verify, self.backup, self.merge):
            row.addWidget(button)
        return row

    def _act_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.open = _button(tr("Open as it was"), tr("The same numbers as when it was kept"))
        self.refit = _button(
            tr("Fit again"), tr("With this version; the new result is kept beside the old one")
        )
        self.compare = _button(tr("Compare two"), tr("Choose two rows with Ctrl"))
        self.lot = _button(tr("Its lot"), tr("Put the lot of this part on the bench"))
        self.save = _button(tr("Save table…"), tr("What is found, as .csv or .json"))
        self.report = ReportButton(self._wish)
        self.raw = _button(tr("Save its file…"), tr("The file as it was read, byte by byte"))
        acts = (
            (self.open, lambda: self._open(self._one())),
            (self.refit, self._refit),
            (self.compare, self._compare),
            (self.lot, self._open_lot),
            (self.save, self._ask_table),
            (self.raw, self._ask_raw),
        )
        for button, act in acts:
            button.clicked.connect(lambda _on=False, act=act: act())
            row.addWidget(button)
        row.addWidget(self.report)
        row.addStretch(1)
        return row

    def showEvent(self, event: QShowEvent) -> None:
        """Search anew each time the page is shown."""
        super().showEvent(event)
        self.look()

    def _kept(self) -> None:
        if self.isVisible():
            self._later.start()

    def _edit(self, key: str, words: str) -> None:
        self.texts[key] = words
        self._later.start()

    def look(self) -> None:
        """Search the record for what is typed."""
        address = self._recorder.address
        self.place.setText(tr("The record: {place}").format(place=address))
        if not self._recorder.may_exist:
            self.found.setText(tr("Nothing is kept yet: measure a part, or begin a lot."))
            self._show_choice()
            return
        wanted = self._wanted()
        if wanted is None:
            return
        job = SearchLogbook(record=address, wanted=wanted)
        self._worker.submit("search", job, self._take, self._fail)

    def _wanted(self) -> Search | None:
        """Give what is searched for; None, and said, where a day is none."""
        texts = {key: words.strip() for key, words in self.texts.items()}
        days = {key: _day(texts.get(key, "")) for key in ("since", "until")}
        wrong = next((key for key, day in days.items() if day is None), "")
        self.search.mark_wrong(wrong)
        if wrong:
            self.found.setText(tr("A day is typed as year, month and day: 2026-01-31."))
            return None
        until = days["until"]
        return Search(
            serial=texts.get("serial") or None,
            part=texts.get("part") or None,
            since=days["since"] or None,
            until=f"{until}T23:59:59.999Z" if until else None,
            outcome=Outcome(texts["outcome"]) if texts.get("outcome") else None,
            limit=_MOST,
        )

    def _take(self, rows: tuple[PartRow, ...]) -> None:
        self._rows = {str(row.id): row for row in rows}
        lines = [_line(row) for row in reversed(rows)]
        names = [name for name in _SHOWN if any(name in row.estimates for row in rows[:200])]
        self.table.show_lines(lines, names)
        words = plural(len(rows), tr("1 measurement"), tr("%n measurements"))
        if len(rows) == _MOST:
            words = tr("Only the first {n} are shown, not the newest: narrow the search.")
        self.found.setText(words.format(n=_MOST))
        self._show_choice()

    def _one(self) -> str:
        return next(iter(self.table.chosen_keys()), "")

    def _show_choice(self) -> None:
        """Let only those buttons be pressed that have something to act on."""
        keys = self.table.chosen_keys()
        for button in (self.open, self.refit, self.raw, self.report):
            button.setEnabled(len(keys) == 1)
        self.compare.setEnabled(len(keys) == 2)
        self.lot.setEnabled(len(keys) == 1 and bool(self._rows[keys[0]].lot))
        self.save.setEnabled(bool(self._rows))
        for button in (self.verify, self.backup):
            button.setEnabled(self._recorder.may_exist)

    def _open(self, key: str) -> None:
        if key:
            job = OpenEntry(record=self._recorder.address, number=int(key))
            self._worker.submit("entry", job, self._opened, self._fail)

    def _opened(self, stored: StoredEntry) -> None:
        part = as_it_was(stored)
        if part is None:
            words = tr("{serial} was kept without a result: it could not be fitted.")
            self._tell(words.format(serial=stored.entry.serial), mark="doubt")
            return
        self._session.show_stored(part, stored.key)
        words = tr("{serial} as it was kept on {time}, by version {version}.")
        said = words.format(
            serial=stored.entry.serial,
            time=stored.entry.time[:16].replace("T", " "),
            version=stored.entry.software,
        )
        self._tell(said, mark="note")
        self.wants_capture_page.emit()

    def _wish(self) -> Wish | None:
        row = self._rows.get(self._one())
        if row is None:
            return None
        record = self._recorder.address
        return Wish(
            name=f"{row.part} {row.serial}",
            job=lambda choices: WriteEntryReport(record=record, number=row.id, choices=choices),
        )

    def _refit(self) -> None:
        job = RefitEntry(record=self._recorder.address, number=int(self._one()))
        self._worker.submit("refit", job, self._refitted, self._fail)

    def _refitted(self, found: Refitted) -> None:
        old = found.stored.entry
        before = {} if old.fit is None else old.fit.estimates
        titles = (
            tr("kept {time}").format(time=old.time[:10]),
            tr("fitted again by {version}").format(version=found.stored.refits[-1].software),
        )
        self.comparison.show_two(old.serial, titles, (before, found.part.fit.estimates))
        self._tell(tr("The new result is kept beside the old one."), mark="good")

    def _compare(self) -> None:
        rows = [self._rows[key] for key in self.table.chosen_keys()]
        if len(rows) == 2:
            titles = tuple(f"{row.serial} · {row.time[:16].replace('T', ' ')}" for row in rows)
            pair = (rows[0].estimates, rows[1].estimates)
            self.comparison.show_two(tr("two measurements"), titles, pair)

    def _open_lot(self) -> None:
        row = self._rows.get(self._one())
        if row is not None and row.lot:
            self.wants_lot.emit(row.lot)

    def _verify(self) -> None:
        self._do(VerifyLogbook(record=self._recorder.address), self._verified)

    def _verified(self, broken: tuple[Broken, ...]) -> None:
        if not broken:
            self._tell(tr("Nothing was changed since it was kept."), mark="good")
            return
        first = "; ".join(f"{one.where}: {one.what}" for one in broken[:3])
        words = plural(
            len(broken), tr("1 thing is not as it was kept."), tr("%n things are not as kept.")
        )
        self._tell(words, hint=first, mark="stop")

    def _ask_backup(self) -> None:
        self._ask_file(tr("Copy the record to"), "benchlog", self.back_up)

    def back_up(self, path: str) -> None:
        """Copy the record to a new file."""
        job = BackUpLogbook(record=self._recorder.address, path=path)
        self._do(job, lambda made: self._tell(tr("Copied to {path}.").format(path=made)))

    def _ask_merge(self) -> None:
        dialog = QFileDialog(self, tr("Take in another record"))
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.setNameFilters([tr("Records") + " (*.benchlog)", tr("All files") + " (*)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self.take_in)
        dialog.open()

    def take_in(self, path: str) -> None:
        """Take in another record."""
        self._do(MergeLogbook(source=path, record=self._recorder.address), self._merged)

    def _merged(self, found: Merged) -> None:
        copied = plural(found.copied, tr("1 entry was taken in"), tr("%n entries were taken in"))
        words = tr("{copied}, {present} were there already.")
        self._tell(words.format(copied=copied, present=found.present))
        self.look()

    def _ask_table(self) -> None:
        self._ask_file(tr("Save what is found"), "csv", self.save_table)

    def save_table(self, path: str) -> None:
        """Save what is found as a table, or as JSON by the end of the name."""
        rows = tuple(self._rows[line.key] for line in self.table.rows.lines)
        self._do(ExportFound(path=path, rows=rows), self._saved)

    def _ask_raw(self) -> None:
        key = self._one()
        self._ask_file(tr("Save its file"), "csv", lambda path: self.save_raw(key, path))

    def save_raw(self, key: str, path: str) -> None:
        """Save the file of a measurement as it was read."""
        job = ExportRaw(record=self._recorder.address, number=int(key), path=path)
        self._do(job, self._saved)

    def _saved(self, path: str) -> None:
        self._tell(tr("Saved as {name}.").format(name=Path(path).name))

    def _ask_file(self, title: str, suffix: str, act: Callable[[str], None]) -> None:
        dialog = QFileDialog(self, title)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(suffix)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(act)
        dialog.open()

    def _do(self, job: Job, done: Callable[..., None]) -> None:
        self._worker.submit("records", job, done, self._fail)

    def _tell(self, words: str, *, hint: str = "", mark: str = "good") -> None:
        self._session.told.emit(Message(text=words, hint=hint, mark=mark))

    def _fail(self, error: BenchError) -> None:
        self._tell(error.message, hint=error.hint, mark="stop")


def _day(words: str) -> str | None:
    """Give a day as the record writes it, "" for none typed; None for what is no day."""
    try:
        return date.fromisoformat(words).isoformat() if words else ""
    except ValueError:
        return None


def _line(row: PartRow) -> Line:
    counts = tr("taken back") if row.withdrawn else tr("yes")
    time = row.time[:19].replace("T", " ")
    estimates: Mapping[str, Estimate] = row.estimates
    return Line(
        key=str(row.id),
        outcome=row.outcome,
        cells=(row.serial, row.part, time, row.operator, str(row.attempt), counts),
        estimates=estimates,
    )


def _button(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(tip)
    return button
