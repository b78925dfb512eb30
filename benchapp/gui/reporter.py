"""The button Report…: a report of what a page shows, on paper or for a browser."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QFileDialog, QPushButton, QWidget

from benchapp.errors import BenchError
from benchapp.gui.form import Form
from benchapp.gui.memory import Memory
from benchapp.gui.session import Message
from benchapp.gui.words import tr
from benchapp.gui.worker import Job, Worker
from benchapp.jobs import ReportChoices, WriteCalculation, settings_folder

if TYPE_CHECKING:
    from benchapp.gui.window import MainWindow

__all__ = ["SETTINGS", "ReportButton", "Reporter", "Wish", "calculation"]

SETTINGS = "report.toml"
"""The file in the settings folder that says house, logo and texts of reports, if it is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A report that a page can give: the name that its file gets, and the job that writes it."""

    name: str
    job: Callable[[ReportChoices], Job]


class ReportButton(QPushButton):
    """Asks for a report of what its page shows at that moment; None is nothing to report.

    Signals
    -------
    wanted(wish)
        The person wants this `Wish`.
    """

    wanted = Signal(object)

    def __init__(self, wish: Callable[[], Wish | None], parent: QWidget | None = None) -> None:
        super().__init__(tr("Report…"), parent)
        self.wish = wish
        self.setToolTip(tr("Write a report: PDF to print and to keep, HTML for a browser"))
        self.clicked.connect(lambda: self.wanted.emit(wish()))


def calculation(title: str, page: QWidget, written: str) -> Wish | None:
    """Wish for a report of what was typed into a calculator and what it says.

    None where it says nothing yet.
    """
    if not written.strip():
        return None
    given = tuple(row for form in page.findChildren(Form) for row in form.typed())

    def job(choices: ReportChoices) -> Job:
        from benchapp.report.design import Calculation  # start-up: reports only when needed

        found = Calculation(title=title, lines=tuple(written.split("\n")), given=given)
        return WriteCalculation(found=found, choices=choices)

    return Wish(name=title, job=job)


class Reporter(QObject):
    """Asks where a report goes and has it written by the worker."""

    def __init__(self, window: MainWindow, worker: Worker, memory: Memory) -> None:
        super().__init__(window)
        self._window, self._worker, self._memory = window, worker, memory
        self.written_last = ""

    def serve(self, page: QWidget) -> None:
        """Answer the buttons of a page."""
        for button in page.findChildren(ReportButton):
            button.wanted.connect(self.ask)

    def ask(self, wish: Wish | None) -> None:
        """Let the person choose the file; one that is there is replaced only if they say so."""
        if wish is None:
            self._tell(tr("There is nothing to report yet."), mark="note")
            return
        dialog = QFileDialog(self._window, tr("Write the report to"), self._memory.folder)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        forms = {f"PDF ({'*.pdf'})": "pdf", f"HTML ({'*.html'})": "html"}
        dialog.setNameFilters(list(forms))
        dialog.setDefaultSuffix("pdf")
        dialog.filterSelected.connect(lambda form: dialog.setDefaultSuffix(forms[form]))
        dialog.selectFile(_file_name(wish.name))
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(partial(self.write, wish))
        dialog.open()

    def write(self, wish: Wish, path: str) -> None:
        """Have the report written there."""
        settings = settings_folder(os.environ) / SETTINGS
        choices = ReportChoices(
            path=path,
            time=datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
            operator=self._memory.operator,
            settings=str(settings) if settings.is_file() else "",
            overwrite=True,
        )
        self._worker.submit("report", wish.job(choices), self._written, self._fail)

    def _written(self, path: str) -> None:
        self.written_last = path
        hint = tr("To print it, open it in the program that shows PDF files.")
        words = tr("The report is written: {name}.").format(name=Path(path).name)
        self._tell(words, hint=hint if path.lower().endswith(".pdf") else "", mark="good")

    def _fail(self, error: BenchError) -> None:
        self._tell(error.message, hint=error.hint, mark="stop")

    def _tell(self, words: str, *, hint: str = "", mark: str) -> None:
        self._window.session.told.emit(Message(text=words, hint=hint, mark=mark))


def _file_name(name: str) -> str:
    """Make a name that every system takes; the person may type another."""
    kept = "".join(sign if sign.isalnum() or sign in " -_" else "-" for sign in name)
    return f"{' '.join(kept.split())[:80].strip(' -') or 'report'}.pdf"
