"""What stands behind a verdict: the budget and the risks of each limit, faults, disagreements."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QT_TR_NOOP, QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.checks import Finding
from benchapp.diagnosis import Diagnosis, Disagreement
from benchapp.gui.bars import ShareBar
from benchapp.gui.labels import Choice, Value, heading, muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.results import limit_name
from benchapp.gui.words import bound, definition, margin_words, number, quantity, tr
from benchapp.jobs import JudgedPart
from benchapp.nominal import LimitVerdict
from benchapp.uncertainty import Budget

__all__ = ["BesideBox", "BudgetBox", "DisagreementBox", "FaultBox", "chance_words", "risk_lines"]

_MANY = 100
_HOLDS = {
    "scatter": QT_TR_NOOP(
        "U holds the scatter of this capture only: the instrument's own errors are not stated."
    ),
    "scatter and instrument": QT_TR_NOOP(
        "U holds the scatter and the stated errors of the instrument."
    ),
}


def chance_words(probability: float) -> str:
    """Write a chance in percent, its ends as *below 0.1 %* and *above 99.9 %*."""
    value = 100 * probability
    if value < 0.1:
        return tr("below {limit} %").format(limit=number("0.1"))
    if value > 99.9:
        return tr("above {limit} %").format(limit=number("99.9"))
    return number(f"{value:.2g} %" if value < 10 else f"{value:.3g} %")


def risk_lines(entry: LimitVerdict) -> list[tuple[str, str, str]]:
    """Give name, value and meaning of each risk and margin of one limit, where it is known."""
    rows = []
    for name, chance, tip in (
        (
            tr("conforms"),
            entry.probability_conforming,
            tr("Chance that the true value lies within the limits, by the U stated."),
        ),
        (
            tr("accepted wrongly"),
            entry.probability_false_accept,
            tr("Chance that this part, accepted here, is outside all the same."),
        ),
        (
            tr("rejected wrongly"),
            entry.probability_false_reject,
            tr("Chance that this part, rejected here, is within all the same."),
        ),
    ):
        if chance is not None:
            rows.append((name, chance_words(chance), tip))
    ratio = entry.uncertainty_ratio
    if ratio is not None:
        words = tr("{ratio} times ± U").format(ratio=_size(ratio))
        tip = tr("Test uncertainty ratio: width of the limits over 2 U. Four or more is usual.")
        rows.append((tr("width of the limits"), words, tip))
    if entry.margin_percent is not None:
        rows.append((tr("nearest limit"), _margin(entry), definition("guard")))
    return rows


def _margin(entry: LimitVerdict) -> str:
    words = margin_words(entry)
    edges = [edge for edge in (entry.limit.lower, entry.limit.upper) if edge is not None]
    measured = entry.measured
    if measured is None or not measured.u or not edges:
        return words
    away = min(abs(measured.value - edge) for edge in edges) / measured.u
    return tr("{words}, {count} u").format(words=words, count=_size(away))


def _size(value: float) -> str:
    """Write how many times; beyond a hundred the number tells nothing more."""
    if value > _MANY:
        return tr("over {many}").format(many=_MANY)
    return number(f"{value:.2g}" if value < 10 else f"{value:.0f}")


class _Box(QWidget):
    """A heading with what is laid out anew below it."""

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(6)
        self.head = QHBoxLayout()
        self.head.setSpacing(8)
        self.head.addWidget(heading(title))
        self.column.addLayout(self.head)
        self._body: QWidget | None = None

    def fresh(self) -> QGridLayout:
        """Take away what is shown and give a grid for what comes."""
        if self._body is not None:
            self.column.removeWidget(self._body)
            self._body.hide()
            self._body.deleteLater()
        self._body = QWidget(self)
        grid = QGridLayout(self._body)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        self.column.addWidget(self._body)
        self.setVisible(True)
        return grid


def _shared(grid: QGridLayout, row: int, share: float, words: str) -> None:
    """Show a share as a bar with its figure."""
    bar = ShareBar()
    bar.setFixedWidth(70)
    percent = "> 99 %" if 0.995 < share < 1 else number(f"{100 * share:.0f} %")
    bar.show_share(share, f"{words}: {percent}")
    top = Qt.AlignmentFlag.AlignTop
    grid.addWidget(bar, row, 0, Qt.AlignmentFlag.AlignVCenter)
    grid.addWidget(text(percent, wrap=False), row, 1, top | Qt.AlignmentFlag.AlignRight)


class BudgetBox(_Box):
    """What U is made of and what would halve it, and the risks, of one limit at a time.

    Signals
    -------
    wants_accuracy()
        The person wants to open what is stated about the instrument.
    leaves_accuracy()
        What was opened is to count no more.
    """

    wants_accuracy = Signal()
    leaves_accuracy = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("Uncertainty and risk"), parent)
        self.choice = Choice(tr("The limit whose uncertainty is shown"))
        self.choice.activated.connect(self._show)
        self.head.addWidget(self.choice)
        self.head.addStretch(1)
        self.holds = muted()
        self.opener = QPushButton(tr("Accuracy…"))
        self.opener.setToolTip(tr("Open what your instrument's data sheet says, or its profile"))
        self.opener.clicked.connect(self.wants_accuracy)
        self.leaver = QPushButton(tr("Leave it out"))
        self.leaver.setToolTip(tr("Count the scatter only"))
        self.leaver.clicked.connect(self.leaves_accuracy)
        for button in (self.opener, self.leaver):
            self.head.addWidget(button)
        self.column.addWidget(self.holds)
        self._entries: tuple[LimitVerdict, ...] = ()
        self._chosen = ""
        self.choice.activated.connect(self._keep)

    def show_result(self, result: JudgedPart | None, accuracy: str) -> None:
        """Show the limits of a result, and the file about the instrument that counts."""
        verdict = None if result is None else result.verdict
        self._entries = () if verdict is None else verdict.limits
        self.setVisible(bool(self._entries))
        self.leaver.setVisible(bool(accuracy))
        if verdict is None or not self._entries:
            return
        words = tr(_HOLDS.get(verdict.U_holds, _HOLDS["scatter"]))
        self.holds.setText(f"{words} ({accuracy})" if accuracy else words)
        names = [limit_name(entry.limit) for entry in self._entries]
        deciding = verdict.deciding
        first = names[0] if deciding is None else limit_name(deciding.limit)
        wanted = self._chosen if self._chosen in names else first
        with QSignalBlocker(self.choice):
            self.choice.clear()
            self.choice.addItems(names)
            self.choice.setCurrentIndex(names.index(wanted))
        self._show()

    def _keep(self) -> None:
        self._chosen = self.choice.currentText()

    def _show(self) -> None:
        entry = self._entries[self.choice.currentIndex()]
        grid = self.fresh()
        grid.setColumnStretch(2, 1)
        row = self._terms(grid, entry.budget)
        grid.addLayout(_in_pairs(risk_lines(entry)), row, 0, 1, 3)

    def _terms(self, grid: QGridLayout, budget: Budget | None) -> int:
        """Lay out the terms, the largest first, and what would halve U; give the next row."""
        if budget is None or not budget.u:
            return 0
        pairs = sorted(zip(budget.shares, budget.terms, strict=True), key=lambda pair: -pair[0])
        for row, (share, term) in enumerate(pairs):
            _shared(grid, row, share, term.name)
            size = quantity(term.contribution, budget.unit, digits=2)
            label = text(tr("{name} (u = {size})").format(name=term.name, size=size))
            label.setToolTip(
                tr(
                    "Share of the variance. Evaluation {kind}: A from repetition, B otherwise."
                ).format(kind=term.evaluation)
            )
            grid.addWidget(label, row, 2)
        grid.addWidget(muted(bound(budget.halving)), len(pairs), 0, 1, 3)
        return len(pairs) + 1


def _in_pairs(lines: Sequence[tuple[str, str, str]]) -> QGridLayout:
    """Lay out names and values, two of them side by side."""
    grid = QGridLayout()
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(4)
    grid.setColumnStretch(1, 1)
    grid.setColumnStretch(3, 1)
    for place, (name, words, tip) in enumerate(lines):
        row, column = divmod(place, 2)
        label = muted(name, wrap=False)
        label.setToolTip(tip)
        grid.addWidget(label, row, 2 * column)
        value = Value(words, tip)
        value.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        grid.addWidget(value, row, 2 * column + 1)
    return grid


class BesideBox(_Box):
    """The warnings that stand beside a verdict, and who accepted them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("Warnings beside the verdict"), parent)
        self.head.addStretch(1)
        self.hide()

    def show_findings(self, findings: Sequence[Finding]) -> None:
        """Show the warnings among these, those first that nobody has accepted."""
        warnings = [one for one in findings if one.level == "warn"]
        if not warnings:
            self.hide()
            return
        grid = self.fresh()
        grid.setColumnStretch(1, 1)
        top = Qt.AlignmentFlag.AlignTop
        for row, one in enumerate(sorted(warnings, key=lambda each: bool(each.acknowledged))):
            who = one.acknowledged
            mark = Mark(16)
            mark.set_mark("doubt" if who is None else "note", tr("warning"))
            grid.addWidget(mark, row, 0, top)
            if who is None:
                label = text(bound(one.text))
            else:
                words = tr("Accepted by {name} ({reason}): {text}")
                label = muted(bound(words.format(name=who.name, reason=who.reason, text=one.text)))
            label.setToolTip(one.advice)
            grid.addWidget(label, row, 1)


class FaultBox(_Box):
    """What may be wrong with a part that failed, the likeliest first."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("What may be wrong"), parent)
        self.head.addStretch(1)
        self.hide()

    def show_diagnosis(self, diagnosis: Diagnosis | None) -> None:
        """Show the hypotheses; none of them, with the reason; nothing for None."""
        if diagnosis is None:
            self.hide()
            return
        grid = self.fresh()
        grid.setColumnStretch(2, 1)
        row = 0
        if diagnosis.best is None:
            words = tr("None of the known faults fits: {reason}").format(reason=diagnosis.reason)
            grid.addWidget(text(bound(words)), 0, 0, 1, 3)
        for entry in diagnosis.hypotheses:
            _shared(grid, row, entry.share, entry.title)
            title = tr("{title}: as if {size}").format(title=entry.title, size=entry.as_if)
            grid.addWidget(text(title, "heading"), row, 2)
            evidence = tr("Evidence: {words}").format(words="; ".join(entry.evidence))
            grid.addWidget(muted(bound(evidence)), row + 1, 2)
            next_test = tr("Next: {words}").format(words=entry.next_test)
            grid.addWidget(text(bound(next_test)), row + 2, 2)
            row += 3
        grid.setRowStretch(row + 1, 1)


class DisagreementBox(_Box):
    """Why captures of one part disagree.

    Signals
    -------
    asked()
        The person wants to know.
    """

    asked = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(tr("Several captures of one part?"), parent)
        self.ask = QPushButton(tr("Why do they disagree?"))
        self.ask.setToolTip(tr("Compare every open capture with the one that is shown"))
        self.ask.clicked.connect(self.asked)
        self.head.addWidget(self.ask)
        self.head.addStretch(1)
        self.said: tuple[Disagreement, ...] = ()
        self.hide()

    def offer(self, count: int) -> None:
        """Offer the comparison of so many open captures; what was said holds no more."""
        self.said = ()
        self.fresh()
        self.setVisible(count > 1)

    def show_entries(self, entries: Sequence[Disagreement]) -> None:
        """Show what was found, one capture after the other."""
        self.said = tuple(entries)
        grid = self.fresh()
        grid.setColumnStretch(2, 1)
        row = 0
        for entry in entries:
            title = tr("{second} against {first}").format(second=entry.second, first=entry.first)
            grid.addWidget(text(title, "heading"), row, 0, 1, 3)
            grid.addWidget(
                text(bound(entry.reason[:1].upper() + entry.reason[1:])), row + 1, 0, 1, 3
            )
            grid.addWidget(muted("\n".join(entry.differences)), row + 2, 0, 1, 3)
            row += 3
            for cause in entry.causes:
                _shared(grid, row, cause.share, cause.title)
                words = tr("{title}: {size}").format(title=cause.title, size=cause.size)
                grid.addWidget(text(words), row, 2)
                grid.addWidget(muted(bound(cause.next_test)), row + 1, 2)
                row += 2
