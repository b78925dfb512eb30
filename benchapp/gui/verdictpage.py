"""The Verdict station: legible at two metres, with the limit that decides and what to do next."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QT_TR_NOOP, QEvent, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QFont,
    QFontMetricsF,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.findings import lines_of
from benchapp.gui.gauge import BandGauge
from benchapp.gui.labels import Value, heading, muted, set_role, text
from benchapp.gui.marks import MARKS, ROLES, Mark, mark_of, paint_mark
from benchapp.gui.reasons import BesideBox, BudgetBox, DisagreementBox, FaultBox, chance_words
from benchapp.gui.reporter import ReportButton, Wish
from benchapp.gui.results import conditions_words, limit_name, value_words
from benchapp.gui.session import Part, Session
from benchapp.gui.theme import current
from benchapp.gui.words import (
    bound,
    definition,
    margin_words,
    number,
    outcome_words,
    range_words,
    tr,
)
from benchapp.jobs import JudgedPart, WritePartReport
from benchapp.nominal import LimitVerdict, Outcome, Verdict

__all__ = ["VerdictPage", "deciding_words", "next_words"]


class Banner(QWidget):
    """The verdict itself: shape and word as large as the place allows."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._mark, self._word = "empty", ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def word(self) -> str:
        """The word that is shown."""
        return self._word

    def show_word(self, mark: str, word: str) -> None:
        """Show a mark and its word."""
        self._mark = mark
        self._word = word[:1].upper() + word[1:]
        self.setAccessibleName(self._word)
        self.update()

    def letters(self) -> QFont:
        """Give the font in which the word just fits."""
        font = QFont(self.font())
        font.setWeight(QFont.Weight.ExtraBold)
        font.setPixelSize(max(12, int(self.height() * 0.62)))
        room = max(60.0, self.width() - 1.25 * self.height())
        wide = QFontMetricsF(font).horizontalAdvance(self._word)
        if wide > room:
            font.setPixelSize(max(12, int(font.pixelSize() * room / wide)))
        return font

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint shape and word."""
        painter = QPainter(self)
        theme, side = current(), float(self.height())
        paint_mark(painter, QRectF(2, 2, side - 4, side - 4), self._mark, theme, "card")
        painter.setFont(self.letters())
        painter.setPen(theme.color(MARKS[self._mark][1]))
        place = QRectF(1.2 * side, 0, self.width() - 1.2 * side, side)
        painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, self._word)


def deciding_words(verdict: Verdict) -> str:
    """Say in one sentence which limit decides, and how."""
    if verdict.outcome is Outcome.NOT_JUDGED:
        return verdict.reason or tr("No limit could be judged.")
    entry = verdict.deciding
    if entry is None or entry.measured is None:
        return verdict.reason
    words = _DECIDING[verdict.outcome]
    sentence = tr(words).format(name=limit_name(entry.limit), margin=margin_words(entry))
    if entry.probability_outside is not None and verdict.outcome in _IN_DOUBT:
        chance = tr("Chance that it is really outside: {chance}.")
        sentence += " " + chance.format(chance=chance_words(entry.probability_outside))
    return sentence


_DECIDING = {
    Outcome.PASS: QT_TR_NOOP("Every limit is kept; {name} comes nearest to one: {margin}."),
    Outcome.CONDITIONAL_PASS: QT_TR_NOOP(
        "{name} is {margin} its limit, less than the guard band."
    ),
    Outcome.CONDITIONAL_FAIL: QT_TR_NOOP(
        "{name} is {margin} its limit, less than the guard band."
    ),
    Outcome.FAIL: QT_TR_NOOP("{name} is {margin} its limit."),
}
_ROUNDING = 1e-9
_IN_DOUBT = (Outcome.CONDITIONAL_PASS, Outcome.CONDITIONAL_FAIL)


def sweeps_needed(entry: LimitVerdict) -> int | None:
    """Give how many averaged sweeps would bring the guard band below the distance to the limit.

    The random part of U falls with the square root of the number; None where more than 16 would
    be needed, or the distance is not known.
    """
    limit, measured = entry.limit, entry.measured
    edges = [edge for edge in (limit.lower, limit.upper) if edge is not None]
    if measured is None or not entry.guard or not edges:
        return None
    distance = min(abs(measured.value - edge) for edge in edges)
    if distance <= 0:
        return None
    needed = math.ceil((entry.guard / distance) ** 2 - _ROUNDING)
    return needed if 2 <= needed <= 16 else None


def next_words(result: JudgedPart) -> list[str]:
    """Say what to do next, one sentence each."""
    verdict = result.verdict
    if verdict is None:
        return [tr("Open a nominal design to have the part judged.")]
    words = [tr(one) for one in _NEXT[verdict.outcome]]
    entry = verdict.deciding
    doubtful = verdict.outcome in _IN_DOUBT and entry is not None
    needed = sweeps_needed(entry) if doubtful else None
    if needed is not None:
        advice = tr("Average {n} sweeps: where U is mostly noise, that settles it.")
        words.insert(0, advice.format(n=needed))
    if verdict.outcome is Outcome.NOT_JUDGED:
        stops = [line for line in lines_of(result) if line.level == "stop" and line.advice]
        words = [line.advice for line in stops] or words
    return words


_NEXT = {
    Outcome.PASS: (QT_TR_NOOP("Nothing more to do: take the next part."),),
    Outcome.CONDITIONAL_PASS: (
        QT_TR_NOOP("Take the part out, put it in again and measure once more; keep both results."),
        QT_TR_NOOP(
            "Still in doubt: set it apart for a second person, as your decision rule says."
        ),
    ),
    Outcome.CONDITIONAL_FAIL: (
        QT_TR_NOOP("Take the part out, put it in again and measure once more; keep both results."),
        QT_TR_NOOP(
            "Still in doubt: set it apart for a second person, as your decision rule says."
        ),
    ),
    Outcome.FAIL: (
        QT_TR_NOOP("Set the part apart, marked with its number and the limit that it breaks."),
        QT_TR_NOOP(
            "If this is unexpected, check contact, fixture and surroundings before the next part."
        ),
    ),
    Outcome.NOT_JUDGED: (
        QT_TR_NOOP("Look at the warnings on the Capture page, then measure again."),
    ),
}


class _Sheet(QWidget):
    """A page whose texts wrap: it needs as much height as they take at its width, and no more."""

    def minimumSizeHint(self) -> QSize:
        """Give the least width; the height follows from it."""
        return QSize(super().minimumSizeHint().width(), 0)


class VerdictPage(QScrollArea):
    """The decision on the shown part.

    Signals
    -------
    wants_capture(), wants_nominal(), wants_accuracy()
        The person wants to open one.
    """

    wants_capture = Signal()
    wants_nominal = Signal()
    wants_accuracy = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self._shown: Part | None = None
        self._is_stale = False
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        sheet = _Sheet()
        sheet.setObjectName("sheet")
        self.setWidget(sheet)
        self._column = QVBoxLayout(sheet)
        self._column.setContentsMargins(32, 16, 32, 12)
        self._column.setSpacing(8)
        self.banner, self.sentence = Banner(), text()
        self.table = LimitTable()
        self.advice, self.how = text(), muted()
        self.next = _button(tr("Next part"), tr("Show the next open capture (Space)"))
        self.next.clicked.connect(session.next_part)
        self.capture = _button(tr("Open a capture…"), tr("Ctrl+O, or drop one anywhere"))
        self.capture.clicked.connect(self.wants_capture)
        self.nominal = _button(tr("Open a nominal design…"), tr("What the part should be"))
        self.nominal.clicked.connect(self.wants_nominal)
        self.report = ReportButton(self._wish)
        self._column.addWidget(self.banner)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.sentence, 1)
        for button in (self.report, self.next, self.nominal, self.capture):
            head.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        self._column.addLayout(head)
        self._column.addWidget(self.table)
        self._column.addLayout(self._foot())
        self._column.addStretch(1)
        for signal in (session.result_changed, session.parts_changed, session.nominal_changed):
            signal.connect(self._follow)
        self.show_result()

    def _foot(self) -> QHBoxLayout:
        """Lay out what to do and why, then what stands behind it."""
        self.beside, self.faults = BesideBox(), FaultBox()
        self.budget, self.why = BudgetBox(), DisagreementBox()
        self.budget.wants_accuracy.connect(self.wants_accuracy)
        self.budget.leaves_accuracy.connect(lambda: self._session.use_accuracy(None))
        self.why.asked.connect(self._session.explain)
        self._session.explained.connect(self.why.show_entries)
        columns = QHBoxLayout()
        columns.setSpacing(40)
        self._titles = []
        for title, body, boxes in (
            (tr("What to do"), self.advice, (self.beside, self.faults, self.why)),
            (tr("How it was decided"), self.how, (self.budget,)),
        ):
            column = QVBoxLayout()
            column.setSpacing(4)
            self._titles.append(heading(title))
            column.addWidget(self._titles[-1])
            column.addWidget(body)
            for box in boxes:
                column.addSpacing(8)
                column.addWidget(box)
            column.addStretch(1)
            columns.addLayout(column, 1)
        return columns

    def _follow(self) -> None:
        """Show what holds now, or once the page is seen: nobody waits for a hidden one."""
        if self.isVisible():
            self.show_result()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with what changed while the page was hidden."""
        super().showEvent(event)
        if self._is_stale:
            self._is_stale = False
            self.show_result()

    def show_result(self) -> None:
        """Show what the session found out about the shown part."""
        session = self._session
        part, result = session.part, session.result
        verdict = None if result is None else result.verdict
        self.next.setVisible(session.position + 1 < len(session.parts))
        self.report.setVisible(result is not None)
        self.nominal.setVisible(session.nominal is None)
        main = self.next if not self.next.isHidden() else self.capture
        main = main if self.nominal.isHidden() else self.nominal
        for button in (self.next, self.nominal, self.capture):
            set_role(button, "main" if button is main else "")
        mark, word, sentence = _headline(session)
        if word != self.banner.word.lower() or part is not self._shown:
            self.verticalScrollBar().setValue(0)  # a new verdict is seen at once
        self._shown = part
        self.banner.show_word(mark, word)
        name = "" if part is None else tr("{part}: ").format(part=part.name)
        self.sentence.setText(bound(name + sentence))
        self.table.show_limits(() if verdict is None else verdict.limits)
        self.advice.setText("" if result is None else "\n".join(next_words(result)))
        self.how.setText("" if verdict is None else bound(_how(result)))
        for title, body in zip(self._titles, (self.advice, self.how), strict=True):
            title.setVisible(bool(body.text()))
        self.beside.show_findings(() if verdict is None else result.findings)
        self.faults.show_diagnosis(None if result is None else result.diagnosis)
        self.budget.show_result(result, Path(session.accuracy_path).name)
        self.why.offer(len(session.parts))

    def _wish(self) -> Wish | None:
        result = self._session.result
        if result is None:
            return None
        job = partial(WritePartReport, part=result)
        return Wish(name=result.name, job=lambda choices: job(choices=choices))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let everything grow with the window, so that it can be read from afar."""
        super().resizeEvent(event)
        self._scale()

    def changeEvent(self, event: QEvent) -> None:
        """Grow again after a change of colours, which resets the letters."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.StyleChange and hasattr(self, "_titles"):
            QTimer.singleShot(0, self, self._scale)

    def _scale(self) -> None:
        size = self.size()
        factor = min(max(min(size.width() / 1280, size.height() / 700), 0.7), 2.2)
        self.banner.setFixedHeight(int(_BANNER * factor))
        base = QApplication.font().pointSizeF()
        for label, more in ((self.sentence, 1.5), (self.advice, 1.15), (self.how, 1.0)):
            _set_points(label, base * max(1.0, more * factor))
        for title in self._titles:
            _set_points(title, base * max(1.0, 1.15 * factor))
        self.table.set_factor(factor)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Space takes the next part, for a person whose hands are busy."""
        if event.key() == Qt.Key.Key_Space and self._session.next_part():
            return
        super().keyPressEvent(event)


_BANNER, _GAUGE, _ROW = 112, 28, 44  # pixels at the size of a small window


class LimitTable(QWidget):
    """One row per limit: value, gauge, what is allowed, outcome, distance to the limit."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 8, 0, 8)
        self._grid.setHorizontalSpacing(18)
        self._grid.setColumnStretch(2, 1)
        self._factor = 1.0
        self._scaled: list[tuple[QWidget, float]] = []
        self.gauges: list[BandGauge] = []

    def show_limits(self, entries: Sequence[LimitVerdict]) -> None:
        """Show these limits."""
        while (item := self._grid.takeAt(0)) is not None:
            item.widget().hide()
            item.widget().deleteLater()
        self._scaled, self.gauges = [], []
        for row, entry in enumerate(entries):
            self._add(row, entry)
        self.set_factor(self._factor)

    def _add(self, row: int, entry: LimitVerdict) -> None:
        name = heading(limit_name(entry.limit))
        name.setToolTip(definition(entry.limit.quantity))
        words = outcome_words(entry.outcome)
        mark, outcome = Mark(22), text(words, ROLES[entry.outcome], wrap=False)
        mark.set_mark(mark_of(entry.outcome), words)
        outcome.setToolTip(entry.reason)
        gauge = BandGauge(_GAUGE)
        gauge.show_limit(entry)
        self.gauges.append(gauge)
        cells = (
            (name, 1.5),
            (Value(value_words(entry), definition("U")), 1.5),
            (gauge, 0.0),
            (Value(range_words(entry.limit)), 1.15),
            (mark, 0.0),
            (outcome, 1.3),
            (Value(margin_words(entry), definition("guard")), 1.0),
        )
        for column, (widget, size) in enumerate(cells):
            self._grid.addWidget(widget, row, column)
            self._scaled.append((widget, size))

    def set_factor(self, factor: float) -> None:
        """Scale letters and gauges."""
        self._factor = factor
        base = QApplication.font().pointSizeF()
        for widget, size in self._scaled:
            if size:
                _set_points(widget, base * max(1.0, size * factor))
        for gauge in self.gauges:
            gauge.set_height(int(_GAUGE * max(1.0, factor)))
        self.setFixedHeight(16 + int(len(self.gauges) * _ROW * max(1.0, factor)))


def _button(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(tip)
    return button


def _set_points(widget: QWidget, points: float) -> None:
    font = QFont(widget.font())
    font.setPointSizeF(points)
    widget.setFont(font)


def _headline(session: Session) -> tuple[str, str, str]:
    """Give mark, word and sentence for the state of the session."""
    part, result = session.part, session.result
    if part is None:
        return "empty", tr("nothing to judge"), tr("No capture is open yet.")
    if result is None and part.error is not None:
        return "unknown", outcome_words(Outcome.NOT_JUDGED), str(part.error)
    if result is None:
        return "working", tr("working"), tr("the sweep is being fitted and judged.")
    if result.verdict is None:
        return "unknown", outcome_words(Outcome.NOT_JUDGED), tr("no nominal design is open.")
    verdict = result.verdict
    return mark_of(verdict.outcome), outcome_words(verdict.outcome), deciding_words(verdict)


def _how(result: JudgedPart) -> str:
    """Say by which rule and under which conditions it was decided."""
    decision = result.nominal.decision
    return tr("{title}: guard band {guard} × U, U = {k} u. Measured: {conditions}.").format(
        title=result.nominal.title,
        guard=number(f"{decision.guard:g}"),
        k=number(f"{decision.coverage:g}"),
        conditions=conditions_words(result.capture),
    )
