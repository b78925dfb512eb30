"""The list of warnings: each with its word and shape, what was seen, what to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.checks import Acknowledgement
from benchapp.fit import Opinion
from benchapp.gui.labels import muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.words import LEVELS, bound, symbol, tr, with_expanded
from benchapp.jobs import JudgedPart

__all__ = ["Findings", "Line", "lines_of"]

_MARKS = {"stop": "stop", "warn": "doubt", "note": "note"}
_ROLES = {"stop": "stop", "warn": "doubt", "note": "muted"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the list: how grave, what was seen, what to do, and which points show it.

    ``check`` names the check that speaks, empty where none does; ``acknowledged`` is who accepted
    it, and why.
    """

    level: str
    words: str
    advice: str = ""
    points: tuple[int, ...] = ()
    source: str = ""
    check: str = ""
    acknowledged: Acknowledgement | None = None


def lines_of(result: JudgedPart) -> tuple[Line, ...]:
    """Give what there is to know about a result, the gravest first."""
    lines = [
        Line(
            level=one.level,
            words=one.text,
            advice=one.advice,
            points=tuple(one.points),
            source=one.source,
            check=one.id,
            acknowledged=one.acknowledged,
        )
        for one in result.findings
    ]
    lines += _contradictions(result.fit.opinions)
    order = list(_MARKS)
    return tuple(sorted(lines, key=lambda line: order.index(line.level)))


def _contradictions(opinions: tuple[Opinion, ...]) -> Iterator[Line]:
    """Say where an independent method contradicts; one that agrees stands beside its value."""
    differs = tr("{method} gives {values}: does not agree with the fit.")
    against = [one for one in opinions if not one.agrees]
    for method in dict.fromkeys(one.method for one in against):
        values = ", ".join(
            f"{symbol(one.estimate.name)} {with_expanded(one.estimate)}"
            for one in against
            if one.method == method
        )
        yield Line(level="warn", words=differs.format(method=method, values=values))


class AcceptForm(QWidget):
    """Name and reason of a person who accepts a warning.

    Signals
    -------
    done(name, reason)
        Both are given.
    cancelled()
        The person leaves it.
    """

    done = Signal(str, str)
    cancelled = Signal()
    last_name = ""  # offered the next time

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 2, 0, 4)
        column.setSpacing(4)
        self.name, self.reason = QLineEdit(AcceptForm.last_name), QLineEdit()
        for field, words in ((self.name, tr("Your name")), (self.reason, tr("Reason"))):
            field.setPlaceholderText(words)
            field.setAccessibleName(words)
            field.textChanged.connect(self._check)
            field.returnPressed.connect(self._finish)
            column.addWidget(field)
        row = QHBoxLayout()
        self.ok, self.leave = QPushButton(tr("Accept")), QPushButton(tr("Leave it"))
        self.ok.clicked.connect(self._finish)
        self.leave.clicked.connect(self.cancelled)
        row.addWidget(self.ok)
        row.addWidget(self.leave)
        row.addStretch(1)
        column.addLayout(row)
        self._check()

    def _check(self) -> None:
        self.ok.setEnabled(bool(self.name.text().strip() and self.reason.text().strip()))

    def _finish(self) -> None:
        if self.ok.isEnabled():
            AcceptForm.last_name = self.name.text().strip()
            self.done.emit(self.name.text(), self.reason.text())
        else:
            (self.reason if self.name.text().strip() else self.name).setFocus()


class FindingRow(QWidget):
    """One warning.

    Signals
    -------
    shown(points)
        The person wants to see the points it speaks of; empty to see them no more.
    accepted(check, name, reason)
        The person accepts what it says.
    withdrawn(check)
        The person takes that back.
    """

    shown = Signal(object)
    accepted = Signal(str, str, str)
    withdrawn = Signal(str)

    def __init__(self, line: Line, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.line = line
        word = tr(LEVELS[line.level])
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 4, 0, 4)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(2, 1)
        mark = Mark(15)
        mark.set_mark(_MARKS[line.level], word)
        top = Qt.AlignmentFlag.AlignTop
        grid.addWidget(mark, 0, 0, top)
        level = text(word, _ROLES[line.level], wrap=False)
        level.setMinimumWidth(_level_width(level))
        grid.addWidget(level, 0, 1, top)
        seen = text(bound(line.words))
        seen.setToolTip(line.source)
        grid.addWidget(seen, 0, 2)
        if line.advice:
            grid.addWidget(muted(bound(line.advice)), 1, 2)
        self.button: QPushButton | None = None
        if line.points:
            self.button = QPushButton(tr("Show the points"))
            self.button.setCheckable(True)
            self.button.setAccessibleDescription(line.words)
            self.button.toggled.connect(self._toggle)
        self.form: AcceptForm | None = None
        self.accept: QPushButton | None = None
        self.withdraw: QPushButton | None = None
        grid.addLayout(self._acts(), 2, 2)
        if line.acknowledged is not None:
            said = tr("Accepted by {name}: {reason}").format(
                name=line.acknowledged.name, reason=line.acknowledged.reason
            )
            grid.addWidget(text(bound(said)), 3, 2)
        self.setAccessibleName(f"{word}: {line.words} {line.advice}")

    def _acts(self) -> QHBoxLayout:
        """Lay out what can be done about it; a stop cannot be accepted."""
        row = QHBoxLayout()
        row.setSpacing(6)
        if self.button is not None:
            row.addWidget(self.button)
        if self.line.acknowledged is not None:
            self.withdraw = QPushButton(tr("Withdraw"))
            self.withdraw.setToolTip(tr("Take the acceptance back"))
            self.withdraw.clicked.connect(lambda: self.withdrawn.emit(self.line.check))
            row.addWidget(self.withdraw)
        elif self.line.check and self.line.level == "warn":
            self.accept = QPushButton(tr("Accept…"))
            self.accept.setToolTip(
                tr("Use the result all the same, with your name and the reason; it stays listed")
            )
            self.accept.setAccessibleDescription(self.line.words)
            self.accept.clicked.connect(self._ask)
            row.addWidget(self.accept)
        row.addStretch(1)
        return row

    def _ask(self) -> None:
        """Ask for name and reason, below the sentence."""
        self.accept.hide()
        self.form = AcceptForm(self)
        self.layout().addWidget(self.form, 3, 2)
        self.form.done.connect(
            lambda name, reason: self.accepted.emit(self.line.check, name, reason)
        )
        self.form.cancelled.connect(self._leave)
        self.form.name.setFocus()

    def _leave(self) -> None:
        self.form.hide()
        self.form.deleteLater()
        self.form = None
        self.accept.show()
        self.accept.setFocus()

    def _toggle(self, checked: bool) -> None:
        self.shown.emit(tuple(self.line.points) if checked else ())


def _level_width(label: QLabel) -> int:
    """Give one width for the words of all levels, so that the sentences start below each other."""
    font = QFont(label.font())
    font.setBold(True)
    metrics = QFontMetrics(font)
    return max(metrics.horizontalAdvance(tr(word)) for word in LEVELS.values()) + 8


class Findings(QWidget):
    """All warnings of one result.

    Signals
    -------
    pointed(points)
        Points to ring in the plots, empty for none.
    accepted(check, name, reason)
        A person accepts a warning.
    withdrawn(check)
        A person takes that back.
    """

    pointed = Signal(object)
    accepted = Signal(str, str, str)
    withdrawn = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(2)
        self.rows: list[FindingRow] = []

    def show_lines(self, lines: Sequence[Line]) -> None:
        """Show these, in the order given."""
        for row in self.rows:
            self._layout.removeWidget(row)
            row.hide()
            row.deleteLater()
        self.rows = [FindingRow(line, self) for line in lines]
        for row in self.rows:
            self._layout.addWidget(row)
            row.shown.connect(lambda points, row=row: self._show(row, points))
            row.accepted.connect(self.accepted)
            row.withdrawn.connect(self.withdrawn)
        self.pointed.emit(())

    def _show(self, chosen: FindingRow, points: tuple[int, ...]) -> None:
        """Let one row at a time ring its points."""
        for row in self.rows:
            if points and row is not chosen and row.button is not None:
                row.button.blockSignals(True)
                row.button.setChecked(False)
                row.button.blockSignals(False)
        self.pointed.emit(points)
