"""Files in and out of the window: what the person chooses, saves, or opened last."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QFileDialog, QMenu, QWidget

from benchapp.errors import BenchError
from benchapp.gui.instrument import Instrument
from benchapp.gui.memory import Memory
from benchapp.gui.session import Message, Session
from benchapp.gui.words import tr
from benchapp.gui.worker import Worker
from benchapp.jobs import SaveCaptures, sample_folder

__all__ = ["Files"]


class Files(QObject):
    """The file dialogs of one window, none of which holds it up, and what follows from them."""

    def __init__(
        self,
        window: QWidget,
        session: Session,
        instrument: Instrument,
        worker: Worker,
        memory: Memory,
    ) -> None:
        super().__init__(window)
        self._window, self._session, self._instrument = window, session, instrument
        self._worker, self._memory = worker, memory

    def save_capture_dialog(self) -> None:
        """Let the person choose where to save the shown capture."""
        if self._session.part is None:
            return
        dialog = QFileDialog(self._window, tr("Save the capture"), self._memory.folder)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilters([tr("Captures") + " (*.csv)"])
        dialog.setDefaultSuffix("csv")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self.save_capture)
        dialog.open()

    def save_capture(self, path: str) -> None:
        """Save the shown capture, and the raw one it was corrected from."""
        capture = self._session.part.capture
        done = self._instrument.corrected.get(capture.digest)
        captures = (capture,) if done is None else (capture, done.raw)
        job = SaveCaptures(path=path, captures=captures, overwrite=True)
        self._worker.submit("save", job, self._saved, self._not_saved)

    def _saved(self, path: str) -> None:
        words = tr("Saved as {name}.").format(name=Path(path).name)
        self._session.told.emit(Message(text=words, mark="good"))

    def _not_saved(self, error: BenchError) -> None:
        self._session.told.emit(Message(text=error.message, hint=error.hint))

    def open_dialog(self) -> None:
        """Let the person choose files to open, without holding up the window."""
        at_samples = self._memory.practises or not self._memory.folder
        folder = str(sample_folder()) if at_samples else self._memory.folder
        dialog = QFileDialog(self._window, tr("Open captures or a nominal design"), folder)
        dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
        dialog.setNameFilters(
            [
                tr("Captures and designs") + " (*.csv *.txt *.tsv *.dat *.s1p *.s2p *.toml)",
                tr("Nominal designs") + " (*.toml)",
                tr("All files") + " (*)",
            ]
        )
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.filesSelected.connect(self._session.open)
        dialog.open()

    def accuracy_dialog(self) -> None:
        """Let the person choose a file or a profile that states the instrument's errors."""
        title = tr("Open what is stated about the instrument")
        self._settings_dialog(title, self._session.open_accuracy)

    def facts_dialog(self) -> None:
        """Let the person choose a file of what is known beside the captures."""
        self._settings_dialog(tr("Open facts beside the captures"), self._session.open_facts)

    def _settings_dialog(self, title: str, take: Callable[[str], None]) -> None:
        dialog = QFileDialog(self._window, title, self._memory.folder)
        dialog.setNameFilters([tr("Settings") + " (*.toml)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(take)
        dialog.open()

    def save_dialog(self, words: str) -> None:
        """Let the person choose where to save the text of a design."""
        dialog = QFileDialog(self._window, tr("Save the nominal design"), self._memory.folder)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setNameFilters([tr("Nominal designs") + " (*.toml)"])
        dialog.setDefaultSuffix("toml")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(lambda path: self.save(path, words))
        dialog.open()

    def save(self, path: str, words: str) -> None:
        """Save the text of a design and go on with that file."""
        try:
            Path(path).write_text(words, encoding="utf-8")
        except OSError as error:
            self._session.told.emit(
                Message(
                    text=tr("{path} cannot be written: {why}.").format(
                        path=path, why=error.strerror
                    ),
                    hint=tr("Choose another folder; the design is still open here."),
                )
            )
            return
        self._memory.remember(path)
        self._session.open_nominal(path)

    def fill_recent(self, menu: QMenu) -> None:
        """Fill a menu with the files that were opened last."""
        menu.clear()
        for path in self._memory.recent:
            action = menu.addAction(Path(path).name)
            action.setToolTip(path)
            action.triggered.connect(lambda _on=False, path=path: self._session.open([path]))
        if menu.isEmpty():
            menu.addAction(tr("nothing yet")).setEnabled(False)
