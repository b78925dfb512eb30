"""The Records station: search, open as it was, fit again, compare, save, verify, copy, merge."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.errors import BenchError
from benchapp.gui.comparison import Comparison
from benchapp.gui.partstable import Line, PartsTable
from benchapp.gui.recorder import Recorder
from benchapp.gui.recordplace import RecordPlace
from benchapp.gui.recordsearch import RecordSearch
from benchapp.gui.reporter import ReportButton, Wish
from benchapp.gui.session import Message, Session
from benchapp.gui.times import full_time_words, time_words
from benchapp.gui.words import plural, tr
from benchapp.gui.worker import Job, Worker
from benchapp.jobs import (
    BackUpLogbook,
    ExportFound,
    ExportRaw,
    FoundParts,
    JudgedPart,
    MergeLogbook,
    OpenEntry,
    RefitEntries,
    Refitted,
    VerifyLogbook,
    WriteEntryReport,
    is_moved,
)
from benchapp.logbook import Broken, Merged, PartRow, StoredEntry
from benchapp.lot import LotForm

__all__ = ["RecordsPage", "as_it_was"]

_WAIT_MS = 200
_NAMED = 5
_SHOWN = ("L", "C", "R", "Q", "f0")


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
        self._rows: dict[str, PartRow] = {}
        self.search = RecordSearch()
        self.table = PartsTable(
            tr("Measurements of the record"),
            (
                *(tr("serial"), tr("time"), tr("lot"), tr("supplier"), tr("part")),
                *(tr("by"), tr("attempt"), tr("counts"), tr("results")),
            ),
            first=3,
        )
        self.table.opened.connect(self._open)
        self.table.chosen.connect(lambda _key: self._show_choice())
        self.place = RecordPlace(recorder, session.told.emit, self._obstacle)
        self.comparison = Comparison()
        self._later = QTimer(self, singleShot=True, interval=_WAIT_MS)
        self._later.timeout.connect(self.look)
        self.search.edited.connect(self._later.start)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 12)
        column.setSpacing(8)
        self._add_acts()
        column.addWidget(self.place)
        column.addWidget(self.search)
        column.addWidget(self.table, 3)
        column.addLayout(self._act_row())
        column.addWidget(self.comparison, 2)
        recorder.changed.connect(self._kept)
        self._show_choice()

    def _add_acts(self) -> None:
        self.verify = _button(tr("Verify"), tr("Look for anything that was changed afterwards"))
        self.backup = _button(tr("Copy…"), tr("A copy of the whole record, while it is in use"))
        self.merge = _button(tr("Merge…"), tr("Take in another record; nothing is doubled"))
        self.verify.clicked.connect(self._verify)
        self.backup.clicked.connect(self._ask_backup)
        self.merge.clicked.connect(self._ask_merge)
        self.place.add(self.verify, self.backup, self.merge)

    def _obstacle(self) -> str:
        """Say why no other record can be used now."""
        desk = self._session.desk
        if self._recorder.failed:
            return tr("A measurement is not kept yet: press Retry at the foot first.")
        if desk is not None and desk.state is not None:
            return tr("A lot is on the bench: put it away first (Ctrl+5).")
        return ""

    def _act_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.open = _button(tr("Open as it was"), tr("The same numbers as when it was kept"))
        self.refit = _button(
            tr("Fit again"),
            tr("With this version, all chosen rows; new results are kept beside the old ones"),
        )
        self.results = _button(
            tr("Its results"), tr("The one that was kept, and every newer one beside it")
        )
        self.compare = _button(tr("Compare two"), tr("Choose two rows with Ctrl"))
        self.lot = _button(tr("Its lot"), tr("Put the lot of this part on the bench"))
        self.save = _button(tr("Save table…"), tr("What is found, as .csv or .json"))
        self.report = ReportButton(self._wish)
        self.raw = _button(tr("Save its file…"), tr("The file as it was read, byte by byte"))
        acts = (
            (self.open, lambda: self._open(self._one())),
            (self.refit, self._refit),
            (self.results, lambda: self._show_results(self._one())),
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

    def look(self) -> None:
        """Search the record for what is typed."""
        address = self._recorder.address
        self.place.show_place()
        if not self._recorder.may_exist:
            self.search.tell(tr("Nothing is kept yet: measure a part, or begin a lot."))
            self._show_choice()
            return
        job = self.search.job(address)
        if job is not None:
            self._worker.submit("search", job, self._take, self._fail)

    def _take(self, found: FoundParts) -> None:
        self._rows = {str(row.id): row for row in found.rows}
        lines = [
            _line(row, found.lots.get(row.lot or ""), 1 + found.refits.get(row.key, 0))
            for row in found.rows
        ]
        names = [name for name in _SHOWN if any(name in row.estimates for row in found.rows[:200])]
        self.table.show_lines(lines, names)
        self.search.show_count(len(found.rows))
        self._show_choice()

    def _one(self) -> str:
        return next(iter(self.table.chosen_keys()), "")

    def _show_choice(self) -> None:
        """Let only those buttons be pressed that have something to act on."""
        keys = self.table.chosen_keys()
        for button in (self.open, self.results, self.raw, self.report):
            button.setEnabled(len(keys) == 1)
        self.refit.setEnabled(bool(keys))
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
            time=time_words(stored.entry.time),
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
        numbers = tuple(int(key) for key in self.table.chosen_keys())
        job = RefitEntries(record=self._recorder.address, numbers=numbers)
        self._worker.submit("refit", job, self._refitted, self._fail)

    def _refitted(self, found: tuple[Refitted, ...]) -> None:
        if len(found) == 1:
            self._compare_results(found[0].stored)
            self._tell(tr("The new result is kept beside the old one."), mark="good")
        else:
            self._sum_up([one.stored.entry.serial for one in found if is_moved(one)], len(found))
        self.look()

    def _sum_up(self, moved: list[str], count: int) -> None:
        """Say of many new results which of them say something else."""
        words = tr("{n} were fitted again; each new result is kept beside the old one.")
        hint = tr("All of them agree with the old ones: same verdict, values within both U.")
        if moved:
            names = ", ".join(moved[:_NAMED]) + (" …" if len(moved) > _NAMED else "")
            hint = plural(
                len(moved),
                tr("1 says something else than before: {names}. See Its results."),
                tr("%n say something else than before: {names}. See Its results."),
            ).format(names=names)
        self._tell(words.format(n=count), hint=hint, mark="doubt" if moved else "good")

    def _show_results(self, key: str) -> None:
        """Fetch a measurement and show every result of it."""
        if key:
            job = OpenEntry(record=self._recorder.address, number=int(key))
            self._worker.submit("entry", job, self._compare_results, self._fail)

    def _compare_results(self, stored: StoredEntry) -> None:
        """Show the kept result of a measurement beside every newer one."""
        entry, newer = stored.entry, stored.refits
        titles = [tr("kept {time}").format(time=time_words(entry.time))]
        words = tr("{time} by {version}")
        titles += [words.format(time=time_words(one.time), version=one.software) for one in newer]
        fits, verdicts = [entry.fit], [entry.verdict]
        fits += [one.fit for one in newer]
        verdicts += [one.verdict for one in newer]
        self.comparison.show_results(
            entry.serial,
            titles,
            [{} if fit is None else fit.estimates for fit in fits],
            [None if verdict is None else verdict.outcome for verdict in verdicts],
        )
        if not newer:
            self._tell(
                tr("{serial} has this one result.").format(serial=entry.serial), mark="note"
            )

    def _compare(self) -> None:
        rows = [self._rows[key] for key in self.table.chosen_keys()]
        if len(rows) == 2:
            titles = tuple(f"{row.serial} · {time_words(row.time)}" for row in rows)
            self.comparison.show_results(
                tr("two measurements"),
                titles,
                [row.estimates for row in rows],
                [row.outcome for row in rows],
            )

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


def _line(row: PartRow, lot: LotForm | None, results: int) -> Line:
    counts = tr("taken back") if row.withdrawn else tr("yes")
    name = "" if lot is None else " ".join(one for one in (lot.order, lot.date_code) if one)
    supplier = "" if lot is None else lot.supplier
    return Line(
        key=str(row.id),
        outcome=row.outcome,
        cells=(
            *(row.serial, time_words(row.time), name or (row.lot or ""), supplier, row.part),
            *(row.operator, str(row.attempt), counts, str(results)),
        ),
        estimates=row.estimates,
        tip=_tip(row),
    )


def _tip(row: PartRow) -> str:
    """Tell of a row what its cells have no room for."""
    lines = [full_time_words(row.time), row.reason]
    if row.retest_reason:
        lines.append(tr("measured again: {why}").format(why=row.retest_reason))
    return "\n".join(one for one in (*lines, row.path) if one)


def _button(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(tip)
    return button
