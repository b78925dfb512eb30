"""Where the record is, whether its server answers, and another record to be used instead."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.errors import BenchError
from benchapp.gui.labels import muted, text
from benchapp.gui.recorder import Recorder
from benchapp.gui.session import Message
from benchapp.gui.words import tr
from benchapp.logbook import SERVER

__all__ = ["RecordPlace"]


class RecordPlace(QWidget):
    """The place of the record in a line; below it, only when they are needed, what to do.

    Parameters
    ----------
    recorder : Recorder
    tell : callable
        Tells the person something.
    obstacle : callable
        Says why no other record can be used now, "" where one can.
    """

    def __init__(
        self,
        recorder: Recorder,
        tell: Callable[[Message], None],
        obstacle: Callable[[], str],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._recorder, self._tell, self._obstacle = recorder, tell, obstacle
        self.words = text()
        self.other = _button(tr("Another record…"), tr("A file, or one that benches share"))
        self.other.setCheckable(True)
        self.other.toggled.connect(self._show_choice)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        self._head = QHBoxLayout()
        self._head.addWidget(self.words, 1)
        self._head.addWidget(self.other)
        column.addLayout(self._head)
        self.choice, self.away = self._choice(), self._away()
        column.addWidget(self.choice)
        column.addWidget(self.away)
        recorder.changed.connect(self.show_place)
        self.show_place()

    def add(self, *buttons: QPushButton) -> None:
        """Put buttons for acts on the whole record at the end of the line."""
        for button in buttons:
            self._head.addWidget(button)

    def _choice(self) -> QWidget:
        box = QWidget()
        column = QVBoxLayout(box)
        column.setContentsMargins(0, 0, 0, 0)
        row = QHBoxLayout()
        self.field = QLineEdit()
        self.field.setAccessibleName(tr("place of the record"))
        self.field.setPlaceholderText(f"{SERVER}bench@server/parts")
        self.field.returnPressed.connect(self._use)
        self.use = _button(tr("Use it"), tr("From now on; what is in the record before stays"))
        self.use.clicked.connect(self._use)
        self.file = _button(tr("Choose a file…"), tr("A record on this computer or a drive"))
        self.file.clicked.connect(self._ask_file)
        self.own = _button(tr("My own record"), tr("The one on this computer"))
        self.own.clicked.connect(lambda: self.take(self._recorder.own_place))
        row.addWidget(self.field, 1)
        for button in (self.use, self.file, self.own):
            row.addWidget(button)
        column.addLayout(row)
        hint = tr(
            "A file, or the address of a database that several benches share. A password is never "
            "typed here: it stands in the password file of the database (~/.pgpass)."
        )
        column.addWidget(muted(hint))
        box.hide()
        return box

    def _away(self) -> QWidget:
        box = QWidget()
        row = QHBoxLayout(box)
        row.setContentsMargins(0, 0, 0, 0)
        self.standing = text("", "doubt")
        self.ask = _button(tr("Ask now"), tr("Bring over what waits, if the server answers"))
        self.ask.clicked.connect(self._recorder.server.ask)
        row.addWidget(self.standing, 1)
        row.addWidget(self.ask, 0, Qt.AlignmentFlag.AlignTop)
        box.hide()
        return box

    def show_place(self) -> None:
        """Show where the record is and whether its server answers."""
        self.words.setText(tr("The record: {place}").format(place=self._recorder.place))
        server = self._recorder.server
        self.away.setVisible(server.is_away)
        if server.is_away:
            self.standing.setText(server.words)

    def _show_choice(self, shown: bool) -> None:
        self.choice.setVisible(shown)
        if shown:
            self.field.setText(self._recorder.place)
            self.field.selectAll()
            self.field.setFocus()

    def _use(self) -> None:
        self.take(self.field.text().strip())

    def _ask_file(self) -> None:
        dialog = QFileDialog(self, tr("Use this record"))
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setOption(QFileDialog.Option.DontConfirmOverwrite)
        dialog.setNameFilters([tr("Records") + " (*.benchlog)", tr("All files") + " (*)"])
        dialog.setDefaultSuffix("benchlog")
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.fileSelected.connect(self.take)
        dialog.open()

    def take(self, place: str) -> None:
        """Use another record from now on."""
        obstacle = self._obstacle()
        if obstacle:
            self._tell(Message(text=obstacle))
            return
        try:
            self._recorder.move(place)
        except BenchError as error:
            self._tell(Message(text=error.message, hint=error.hint))
            return
        self.other.setChecked(False)
        words = tr("From now on the record is {place}.").format(place=place)
        hint = tr("What is in the one before stays there; Merge… brings it over.")
        self._tell(Message(text=words, hint=hint, mark="good"))


def _button(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(tip)
    return button
