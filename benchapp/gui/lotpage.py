"""The Lot station: begin a lot, measure it part by part, sign how it ends."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.desk import Desk
from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import Choice, Notice, heading, muted, set_role, text
from benchapp.gui.lotform import LotStart
from benchapp.gui.marks import Mark, mark_icon, mark_of
from benchapp.gui.picklist import pick_list
from benchapp.gui.planwords import (
    CONCLUSION_WORDS,
    count_words,
    decision_words,
    plan_words,
)
from benchapp.gui.reporter import ReportButton, Wish
from benchapp.gui.scanner import Scanner, is_typed
from benchapp.gui.times import time_words
from benchapp.gui.verdictpage import Banner
from benchapp.gui.words import outcome_words, plural, quantity, tr
from benchapp.jobs import WriteStoredLotReport
from benchapp.lot import CONCLUSIONS, LotState, PartRecord
from benchapp.nominal import Outcome

__all__ = ["LotPage"]

_PICKS = 12
_LISTED = 50
_ICON = QSize(16, 16)
_LOWEST = 56  # pixels of a list
_NARROW = 220  # pixels of the fields for names


class LotPage(QStackedWidget):
    """The form of a new lot, or the lot on the bench.

    ``reference`` says how the station's reference coil stands, for a report.

    Signals
    -------
    wants_sweep(), wants_capture(), wants_watch(), wants_parts()
        Take a sweep; choose files; choose a folder to watch; show the table of parts.
    """

    wants_sweep = Signal()
    wants_capture = Signal()
    wants_watch = Signal()
    wants_parts = Signal()

    def __init__(
        self,
        desk: Desk,
        instrument: Instrument,
        operator: str = "",
        start: LotStart | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._desk, self._instrument = desk, instrument
        self._scanner = Scanner(desk)
        self.reference: Callable[[], str] = str
        self.start = start or LotStart(operator)
        self.start.wanted.connect(desk.resume)
        self.work = QScrollArea()
        self.work.setWidgetResizable(True)
        self.work.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.work.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self.work.setWidget(sheet)
        column = QVBoxLayout(sheet)
        column.setContentsMargins(24, 14, 24, 14)
        column.setSpacing(10)
        column.addLayout(self._head())
        columns = QHBoxLayout()
        columns.setSpacing(32)
        columns.addLayout(self._cycle(), 5)
        columns.addLayout(self._lists(), 3)
        column.addLayout(columns, 1)
        self.addWidget(self.start)
        self.addWidget(self.work)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        desk.opened.connect(lambda _nominal: self._clear())
        desk.changed.connect(self.show_lot)
        desk.selected.connect(lambda _serial: self._show_again())
        instrument.changed.connect(self._show_instrument)
        self.show_lot()

    def _head(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(2)
        row = QHBoxLayout()
        row.setSpacing(14)
        self.count = text("", "title", wrap=False)
        self.mark, self.decision = Mark(24), text("", "heading", wrap=False)
        row.addWidget(self.count)
        row.addWidget(self.mark)
        row.addWidget(self.decision)
        row.addStretch(1)
        self.parts = _button(tr("Parts and figures"), tr("Every part, charts and capability"))
        self.parts.clicked.connect(self.wants_parts)
        self.away = _button(tr("Put the lot away"), tr("It can be gone on with at any time"))
        self.away.clicked.connect(self._desk.leave)
        self.report = ReportButton(self._wish)
        row.addWidget(self.report)
        row.addWidget(self.parts)
        row.addWidget(self.away)
        column.addLayout(row)
        self.about = muted()
        column.addWidget(self.about)
        return column

    def _cycle(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(8)
        self.banner = Banner()
        self.banner.setFixedHeight(84)
        self.said = text()
        self.next_title, self.pick = heading(tr("Next part")), text()
        self.caution = Notice(
            tr(
                "A bias is on, or may be: do not disconnect the part. No other part is taken "
                "until the output is off (F9). Follow the rules of your workplace."
            )
        )
        column.addWidget(self.banner)
        column.addWidget(self.said)
        column.addWidget(self.caution)
        column.addWidget(self.next_title)
        column.addWidget(self.pick)
        column.addLayout(self._next_row())
        self.how = muted()
        column.addWidget(self.how)
        self.beyond = QCheckBox(tr("go on measuring although the plan is decided"))
        self.beyond.clicked.connect(lambda on: self._desk.go_on(beyond=on))
        self.pause = QCheckBox(tr("pause: captures do not count"))
        self.pause.clicked.connect(lambda on: self._desk.pause(paused=on))
        boxes = QHBoxLayout()
        boxes.setSpacing(24)
        for box in (self.beyond, self.pause):
            box.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            boxes.addWidget(box)
        boxes.addStretch(1)
        column.addLayout(boxes)
        column.addSpacing(6)
        self.done_title = heading(tr("Measured, the last first"))
        self.done = _PartsList()
        self.done.setAccessibleName(tr("Parts measured, the last first"))
        _let_shrink(self.done)
        self.done.setIconSize(_ICON)
        self.done.currentItemChanged.connect(self._walk)
        self.done.itemClicked.connect(self._choose)
        column.addWidget(self.done_title)
        column.addWidget(self.done, 1)
        column.addLayout(self._again_rows())
        return column

    def _next_row(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.serial = QLineEdit()
        self.serial.setAccessibleName(tr("serial of the next part"))
        self.serial.setToolTip(tr("Type or scan it; empty counts on, or takes the file's name"))
        self.serial.setMinimumWidth(_NARROW)
        self.serial.textEdited.connect(self._desk.name)
        self.serial.returnPressed.connect(self.work.setFocus)
        self.sweep = _button(tr("Take sweep"), tr("Measure the part in the clip (Space or F8)"))
        self.sweep.clicked.connect(self.wants_sweep)
        self.capture = _button(tr("Open captures…"), tr("Ctrl+O, or drop them anywhere"))
        self.capture.clicked.connect(self.wants_capture)
        self.watch = _button(
            tr("Watch a folder…"), tr("Each new capture in the folder counts as the next part")
        )
        self.watch.clicked.connect(self.wants_watch)
        row.addWidget(self.serial, 1)
        for button in (self.sweep, self.capture, self.watch):
            row.addWidget(button)
        return row

    def _again_rows(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        self.again_title = heading("")
        self.reason = QLineEdit()
        self.reason.setPlaceholderText(tr("reason, for example: poor contact"))
        self.reason.setAccessibleName(tr("reason of the retest"))
        self.reason.returnPressed.connect(self._ask_again)
        self.again = _button(
            tr("Measure again"), tr("The next measurement is of this part; both are kept")
        )
        self.again.clicked.connect(self._ask_again)
        self.undo = _button(
            tr("Take back the last"), tr("It no longer counts (Ctrl+Z); the record keeps it")
        )
        self.undo.clicked.connect(self._desk.undo)
        row = QHBoxLayout()
        for widget, stretch in ((self.reason, 1), (self.again, 0), (self.undo, 0)):
            row.addWidget(widget, stretch)
        column.addWidget(self.again_title)
        column.addLayout(row)
        return column

    def _lists(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        self.picks_title, self.picks = heading(tr("Draw these from the delivery")), muted()
        self.apart_title = heading("")
        self.apart = _PartsList()
        self.apart.setAccessibleName(tr("Parts to set apart"))
        _let_shrink(self.apart)
        self.apart.setIconSize(_ICON)
        self.apart.currentItemChanged.connect(self._walk)
        self.apart.itemClicked.connect(self._choose)
        self.print = ReportButton(self._pick_list)
        self.print.setText(tr("Print the list…"))
        self.print.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.print.setToolTip(tr("All positions to draw, each with a box to tick, as PDF or HTML"))
        for widget in (self.picks_title, self.picks):
            column.addWidget(widget)
        column.addWidget(self.print, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.apart_title)
        column.addWidget(self.apart, 1)
        column.addStretch(0)
        self.end_title = heading(tr("How the lot ends"))
        self.outcome = Choice(tr("outcome"))
        for outcome in CONCLUSIONS:
            self.outcome.addItem(tr(CONCLUSION_WORDS[outcome]), outcome)
        self.name, self.why = QLineEdit(), QLineEdit()
        for field, words in (
            (self.name, tr("name")),
            (self.why, tr("reason, where it is needed")),
        ):
            field.setPlaceholderText(words)
            field.setAccessibleName(words)
        self.sign = _button(tr("Sign and conclude"), tr("It goes into the record and stays there"))
        self.sign.clicked.connect(self._sign)
        self.ended = text()
        for widget in (
            self.end_title,
            self.outcome,
            self.name,
            self.why,
            self.sign,
            self.ended,
        ):
            column.addWidget(widget)
        return column

    def _clear(self) -> None:
        """Take away what was typed about the lot before: it says nothing of this one."""
        for field in (self.serial, self.reason, self.name, self.why):
            field.clear()

    def _wish(self) -> Wish | None:
        desk = self._desk
        if desk.state is None or not desk.state.parts:
            return None
        record, key = desk.recorder.address, desk.key
        return Wish(
            name=" ".join(one for one in (desk.state.form.part, desk.state.form.order) if one),
            job=lambda choices: WriteStoredLotReport(
                record=record, key=key, choices=choices, reference=self.reference()
            ),
        )

    def _pick_list(self) -> Wish | None:
        """Wish for the positions to draw on paper."""
        state = self._desk.state
        if state is None or not state.positions:
            return None
        form = state.form
        names = (
            (tr("part"), f"{form.part} {form.revision}".strip()),
            (tr("supplier"), form.supplier),
            (tr("order"), form.order),
            (tr("date code"), form.date_code),
            (tr("sample"), f"{state.plan.n} / {state.plan.quantity}"),
        )
        return pick_list(state.positions, tuple(one for one in names if one[1]))

    def show_lot(self) -> None:
        """Show the lot on the bench, or the form where there is none."""
        state = self._desk.state
        self.setCurrentWidget(self.start if state is None else self.work)
        if state is None:
            return
        self.count.setText(count_words(state))
        mark, words = decision_words(state)
        self.mark.set_mark(mark, words)
        self.decision.setText(words)
        form = state.form
        names = [form.part, form.revision, form.supplier, form.order, form.date_code]
        self.about.setText(
            " · ".join([one for one in names if one]) + ("\n" + plan_words(state.plan))
        )
        self._show_last(self._desk.last)
        self._show_next(state)
        self._show_apart(state)
        self._show_end(state)
        self._show_again()
        self._show_instrument()

    def _show_last(self, last: PartRecord | None) -> None:
        if self._desk.is_busy:
            self.banner.show_word("working", tr("judging"))
        elif last is None:
            self.banner.show_word("empty", tr("no part yet"))
            self.said.setText("")
        else:
            self.banner.show_word(mark_of(last.outcome), outcome_words(last.outcome))
            self.said.setText(". ".join(one for one in (_line(last), last.reason) if one))

    def _show_next(self, state: LotState) -> None:
        desk = self._desk
        counting = desk.is_counting
        self.serial.setPlaceholderText(tr("{serial}, counted").format(serial=desk.next_serial))
        if self.serial.text().strip() != desk.serial:
            self.serial.setText(desk.serial)
        if desk.again:
            words = tr("Put {serial} into the clip again ({cause}).")
            self.pick.setText(words.format(serial=desk.again, cause=desk.cause))
        elif state.next_position is not None and counting:
            words = tr("Take part number {n} of the delivery.")
            self.pick.setText(words.format(n=state.next_position))
        elif not counting and desk.is_open:
            stopped = tr("The plan is decided: conclude the lot, or go on by choice.")
            self.pick.setText(tr("The lot is paused.") if desk.paused else stopped)
        else:
            self.pick.setText("")
        self.pick.setVisible(bool(self.pick.text()))
        self.serial.setEnabled(counting and not desk.again)
        for button in (self.capture, self.watch):
            button.setEnabled(counting)
        for widget, checked in ((self.beyond, desk.beyond), (self.pause, desk.paused)):
            widget.setChecked(checked)
            widget.setVisible(desk.is_open)
        self.beyond.setVisible(desk.is_open and desk.is_decided)
        self.undo.setEnabled(desk.can_undo)

    def _show_instrument(self) -> None:
        instrument, desk = self._instrument, self._desk
        ready = bool(instrument.address)
        self.sweep.setEnabled(ready and desk.is_counting and not instrument.is_busy)
        set_role(self.sweep, "main" if ready else "")
        set_role(self.capture, "" if ready else "main")
        self.caution.setVisible(instrument.bias != "off" or instrument.output == "unknown")
        self.how.setText(
            tr("Scan or type the serial and press Enter, then Space takes the sweep.")
            if ready
            else tr(
                "No instrument is set up: open the captures that it saved, drop them here, or "
                "watch the folder into which it saves. Set-up (Ctrl+2) connects one."
            )
        )

    def show_watch(self, folder: str) -> None:
        """Say which folder is watched; "" none."""
        watching = tr("Stop watching {name}").format(name=Path(folder).name)
        self.watch.setText(watching if folder else tr("Watch a folder…"))

    def _show_apart(self, state: LotState) -> None:
        apart = state.quarantined
        self.apart_title.setText(
            plural(len(apart), tr("1 part to set apart"), tr("%n parts to set apart"))
        )
        _fill(self.apart, apart)
        self.apart.setVisible(bool(apart))
        _fill(self.done, tuple(state.latest.values())[: -_LISTED - 1 : -1])
        picks = state.positions[len(state.latest) :][:_PICKS]
        more = len(state.positions) - len(state.latest) - len(picks)
        words = ", ".join(str(one) for one in picks)
        if more > 0:
            words = tr("{picks} and {n} more").format(picks=words, n=more)
        self.picks.setText(words)
        for widget in (self.picks_title, self.picks, self.print):
            widget.setVisible(bool(picks) and self._desk.is_open)

    def _show_end(self, state: LotState) -> None:
        ended = state.conclusion
        is_open = ended is None
        for widget in (self.outcome, self.name, self.why, self.sign):
            widget.setVisible(is_open)
        self.ended.setVisible(not is_open)
        if ended is not None:
            words = decision_words(state)[1]
            said = f"{words} · {ended.name} · {time_words(ended.time)}"
            self.ended.setText(said + (f"\n{ended.reason}" if ended.reason else ""))
            return
        proposed = {"accept": "accept", "reject": "reject"}.get(state.decision, "hold")
        if not self.why.text() and not self.name.hasFocus():
            self.outcome.setCurrentIndex(self.outcome.findData(proposed))
        if not self.name.text():
            self.name.setText(state.form.operator)
        set_role(self.sign, "main" if state.decision != "open" else "")

    def _show_again(self) -> None:
        desk = self._desk
        chosen = desk.again or desk.chosen
        words = tr("Measure {serial} again").format(serial=chosen) if chosen else ""
        self.again_title.setText(words or tr("Measure a part again"))
        self.again.setText(tr("Do not, after all") if desk.again else tr("Measure again"))
        for widget in (self.reason, self.again):
            widget.setEnabled(bool(chosen) and desk.is_open)

    def _walk(self, item: QListWidgetItem | None) -> None:
        """Choose the part that the arrow keys came to; a list that is filled chooses nothing."""
        if item is not None and item.listWidget().hasFocus():
            self._choose(item)

    def _choose(self, item: QListWidgetItem) -> None:
        self._desk.choose(item.data(Qt.ItemDataRole.UserRole))

    def _ask_again(self) -> None:
        if self._desk.again:
            self._desk.drop_retest()
        elif self._desk.chosen:
            self._desk.retest(self._desk.chosen, self.reason.text())
            if self._desk.again:
                self.reason.clear()
                self.work.setFocus()

    def _sign(self) -> None:
        self._desk.conclude(self.outcome.currentData(), self.name.text(), self.why.text())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let what a scanner types go into the serial, wherever the focus is."""
        if not self._scanner.takes(event):
            super().keyPressEvent(event)


class _PartsList(QListWidget):
    """A list that leaves what is typed to the page: a scanner's keys are no search in it."""

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Keep the arrows, let everything go on that writes."""
        if is_typed(event):
            event.ignore()
        else:
            super().keyPressEvent(event)


def _let_shrink(box: QListWidget) -> None:
    """Let a list take what height there is, and never more than the page can show."""
    box.setMinimumHeight(_LOWEST)
    box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)


def _fill(box: QListWidget, parts: Sequence[PartRecord]) -> None:
    """List parts, each with its outcome and what decided it."""
    wanted = [_line(one) for one in parts]
    if [box.item(at).text() for at in range(box.count())] == wanted:
        return
    box.clear()
    for one, words in zip(parts, wanted, strict=True):
        item = QListWidgetItem(mark_icon(mark_of(one.outcome)), words)
        item.setData(Qt.ItemDataRole.UserRole, one.serial)
        box.addItem(item)


def _line(record: PartRecord) -> str:
    words = f"{record.serial}: {outcome_words(record.outcome)}"
    if record.deciding in record.estimates and record.outcome is not Outcome.PASS:
        found = record.estimates[record.deciding]
        words += f", {record.deciding} {quantity(found.value, found.unit, u=found.u)}"
    if record.attempt > 1:
        words += tr(", measurement {n}").format(n=record.attempt)
    return words


def _button(words: str, tip: str) -> QPushButton:
    """Make a button that a click does not give the keys to: Space stays the next sweep."""
    button = QPushButton(words)
    button.setToolTip(tip)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
    return button
