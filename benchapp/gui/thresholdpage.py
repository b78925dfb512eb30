"""The thresholds of the checks: the default beside each, what was changed marked, and kept."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.checks import CHECKS, Check, thresholds
from benchapp.errors import BenchError, QuantityError
from benchapp.gui.labels import heading, muted, set_wrong, text
from benchapp.gui.session import Message, Session
from benchapp.gui.words import LEVELS, number, tr
from benchapp.jobs import ThresholdBook
from benchapp.units import parse_number

__all__ = ["ThresholdPage", "ThresholdRow"]

_FIELD = 110  # pixels


class ThresholdRow:
    """One number of one check: its field, its default, and the mark of a change.

    ``value`` is None while what is typed is no number.
    """

    def __init__(self, check: Check, key: str, value: float) -> None:
        self.check, self.key = check.id, key
        self.default = float(check.thresholds[key])
        self.field = QLineEdit(number(f"{value:g}"))
        self.field.setFixedWidth(_FIELD)
        self.field.setAccessibleName(f"{check.id} {key}")
        self.changed = text("", "doubt", wrap=False)
        self.restore = QPushButton(tr("Default"))
        self.restore.setToolTip(tr("Use the default again"))
        self.restore.clicked.connect(self._restore)
        self.field.textChanged.connect(self.mark)
        self.mark()

    @property
    def value(self) -> float | None:
        """The number typed."""
        try:
            return parse_number(self.field.text())
        except QuantityError:
            return None

    def mark(self) -> None:
        """Mark what differs from the default, and what is no number."""
        value = self.value
        set_wrong(self.field, wrong=value is None)
        differs = value != self.default
        words = tr("changed") if differs else ""
        self.changed.setText(tr("not a number") if value is None else words)
        self.restore.setEnabled(differs)

    def _restore(self) -> None:
        self.field.setText(number(f"{self.default:g}"))
        self.field.editingFinished.emit()


class ThresholdPage(QScrollArea):
    """Every threshold that can be changed.

    A change counts at once for every result and is kept in the file that the command line reads.

    Signals
    -------
    left()
        The person wants to go back.
    """

    left = Signal()

    def __init__(
        self, session: Session, book: ThresholdBook, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session, self._book = session, book
        self.setWidgetResizable(True)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self.setWidget(sheet)
        column = QVBoxLayout(sheet)
        column.setContentsMargins(32, 18, 32, 20)
        head = QHBoxLayout()
        head.addWidget(text(tr("Thresholds of the checks"), "title", wrap=False))
        head.addStretch(1)
        self.back = QPushButton(tr("Back to the verdict"))
        self.back.clicked.connect(self.left)
        head.addWidget(self.back)
        column.addLayout(head)
        words = tr("A change counts at once, here and at the command line. Kept in {path}.")
        column.addWidget(muted(words.format(path=book.path)))
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setColumnStretch(5, 1)
        column.addLayout(grid)
        column.addStretch(1)
        self.rows: list[ThresholdRow] = []
        now = thresholds(session.examination.thresholds)
        for check in CHECKS:
            if check.thresholds:
                self._add(grid, check, now[check.id])

    def _add(self, grid: QGridLayout, check: Check, now: dict[str, float]) -> None:
        at = grid.rowCount()
        grid.addWidget(heading(f"{check.id} ({tr(LEVELS[check.level])})"), at, 0, 1, 6)
        grid.addWidget(muted(check.condition), at + 1, 0, 1, 6)
        for place, key in enumerate(check.thresholds, start=at + 2):
            row = ThresholdRow(check, key, now[key])
            row.field.editingFinished.connect(self._keep)
            default = tr("default {value}").format(value=number(f"{row.default:g}"))
            for across, widget in enumerate(
                (text(key, wrap=False), row.field, muted(default, wrap=False), row.restore)
            ):
                grid.addWidget(widget, place, across, Qt.AlignmentFlag.AlignLeft)
            grid.addWidget(row.changed, place, 4)
            self.rows.append(row)

    def _keep(self) -> None:
        """Look at every result by what is typed now, and keep it."""
        changes: dict[str, dict[str, float]] = {}
        for row in self.rows:
            value = row.value
            if value is not None and value != row.default:
                changes.setdefault(row.check, {})[row.key] = value
        if changes == self._session.examination.thresholds:
            return
        self._session.use_thresholds(changes)
        try:
            self._book.keep(changes)
        except BenchError as error:
            self._session.told.emit(Message(text=error.message, hint=error.hint, mark="doubt"))
