"""The view Stress: what the capacitor bears against what its maker allows, five limits apart."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP, Qt
from PySide6.QtWidgets import QGridLayout, QPushButton, QVBoxLayout, QWidget

from benchapp.gui.bars import UseGauge
from benchapp.gui.columnspage import ColumnsPage, button_row
from benchapp.gui.form import Form, align
from benchapp.gui.labels import (
    Choice,
    Notice,
    Value,
    copy_text,
    heading,
    muted,
    set_role,
    text,
)
from benchapp.gui.marks import MARKS, Mark
from benchapp.gui.reporter import ReportButton, calculation
from benchapp.gui.tankblanks import DUTY, RATINGS
from benchapp.gui.tanksheet import TankSheet
from benchapp.gui.words import number, quantity, tr
from benchapp.tank import Stress, StressCase, StressLimit, safety_lines

__all__ = ["StressView"]

_MARKS = {
    "within": "good",
    "near the limit": "doubt",
    "over": "stop",
    "cannot be judged": "unknown",
}
_OUTCOMES = {
    "within": QT_TR_NOOP("within"),
    "near the limit": QT_TR_NOOP("near the limit"),
    "over": QT_TR_NOOP("over the limit"),
    "cannot be judged": QT_TR_NOOP("cannot be judged"),
}
_NAMES = {
    "peak voltage with DC": QT_TR_NOOP("peak voltage with DC"),
    "rms voltage at the frequency": QT_TR_NOOP("rms voltage at the frequency"),
    "rms current": QT_TR_NOOP("rms current"),
    "dV/dt": "dV/dt",
    "dissipation": QT_TR_NOOP("dissipation"),
    "temperature rise": QT_TR_NOOP("temperature rise"),
}
_CASES = {
    "at the drive frequency": QT_TR_NOOP("at the drive frequency"),
    "at the drive frequency, load taken away": QT_TR_NOOP("load taken away"),
    "greatest voltage in the band": QT_TR_NOOP("greatest voltage in the band"),
    "greatest current in the band": QT_TR_NOOP("greatest current in the band"),
}
_WORST = ("over", "cannot be judged", "near the limit", "within")
_TYPED_ONLY = ("duty_C", "duty_frequency", "duty_size", "duty_bias", "duty_tangent")
_RULES = QT_TR_NOOP(
    "A DC rating is no AC rating, and a mains AC rating says nothing at higher frequency: the rms "
    "voltage is judged by the maker's derating curve alone."
)


def _amount(value: float | None, unit: str) -> str:
    """Write what is seen or allowed; dV/dt as V/µs."""
    if value is None:
        return "–"
    if unit == "V/s":
        return number(f"{1e-6 * value:.4g} V/µs")
    return quantity(value, unit)


class _Row:
    """The widgets of one limit in the table."""

    def __init__(self, grid: QGridLayout, row: int) -> None:
        self.mark = Mark(20)
        self.name, self.outcome = text("", "heading", wrap=False), text("", wrap=False)
        self.seen, self.allowed = Value(), Value()
        self.gauge = UseGauge()
        self.reason = muted()
        places = (self.mark, self.name, self.seen, self.allowed, self.gauge, self.outcome)
        for column, widget in enumerate(places):
            grid.addWidget(widget, 2 * row, column, Qt.AlignmentFlag.AlignVCenter)
        grid.addWidget(self.reason, 2 * row + 1, 1, 1, 5)

    def show_limit(self, limit: StressLimit) -> None:
        """Show one limit."""
        mark, outcome = _MARKS[limit.outcome], tr(_OUTCOMES[limit.outcome])
        self.mark.set_mark(mark, outcome)
        self.name.setText(tr(_NAMES[limit.name]))
        self.seen.setText(_amount(limit.seen, limit.unit))
        self.allowed.setText(_amount(limit.allowed, limit.unit))
        self.seen.setAccessibleName(tr("seen: {value}").format(value=self.seen.text()))
        self.allowed.setAccessibleName(tr("allowed: {value}").format(value=self.allowed.text()))
        words = f"{self.name.text()}: {number(limit.reason)}"
        self.gauge.show_use(limit.use, words)
        self.outcome.setText(outcome)
        set_role(self.outcome, MARKS[mark][1])
        self.reason.setText(number(limit.reason))


class StressView(ColumnsPage):
    """Five limits of the capacitor, each by itself, for each case of the driven tank."""

    def __init__(self, sheet: TankSheet, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sheet = sheet
        self._cases: tuple[StressCase, ...] = ()
        self._chosen: str | None = None
        self.duty, self.ratings = Form(DUTY), Form(RATINGS)
        self._build_typed()
        self._build_judged()
        sheet.changed.connect(self.follow)
        self.refresh()

    def _build_typed(self) -> None:
        column = self.add_column(9)
        column.addWidget(heading(tr("What the capacitor bears")))
        column.addWidget(self.duty)
        column.addWidget(heading(tr("What its maker allows")))
        column.addWidget(self.ratings)
        self.refusal = text("", "stop")
        column.addWidget(self.refusal)
        align((self.duty, self.ratings))
        for form in (self.duty, self.ratings):
            form.edited.connect(self._sheet.type)
            form.finished.connect(lambda _key: self._show_refusal())
        self.undo = QPushButton(tr("Undo"))
        self.undo.setToolTip(tr("Take the last change of what was typed back"))
        self.undo.clicked.connect(self._sheet.undo)
        column.addLayout(button_row(self.undo))
        column.addWidget(muted(tr(_RULES)))
        column.addStretch(1)

    def _build_judged(self) -> None:
        column = self.add_column(14)
        self.report = ReportButton(lambda: calculation(tr("Stress"), self, self.written()))
        self.copier = QPushButton(tr("Copy results"))
        self.copier.setToolTip(tr("Copy all cases with their five limits as text, with units"))
        self.copier.clicked.connect(lambda: copy_text(self.written()))
        self.case = Choice(tr("Case that is shown, with its outcome"))
        self.case.activated.connect(self._choose)
        column.addLayout(button_row(self.copier, self.report, self.case))
        self.nothing = text()
        column.addWidget(self.nothing)
        self.summary = text("", "title")
        self.duty_line = muted()
        column.addWidget(self.summary)
        column.addWidget(self.duty_line)
        self._caution = QVBoxLayout()
        column.addLayout(self._caution)
        self.table = QWidget()
        grid = QGridLayout(self.table)
        grid.setContentsMargins(0, 6, 0, 0)
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(4, 1)
        for place, words in ((1, tr("limit")), (2, tr("seen")), (3, tr("allowed"))):
            side = Qt.AlignmentFlag.AlignRight if place > 1 else Qt.AlignmentFlag.AlignLeft
            grid.addWidget(muted(words, wrap=False), 0, place, side)
        self.rows = [_Row(grid, row) for row in range(1, 6)]
        column.addWidget(self.table)
        column.addStretch(1)

    def refresh(self) -> None:
        """Show what the sheet says now, and how the capacitor is judged by it."""
        texts = self._sheet.texts
        for form in (self.duty, self.ratings):
            form.show_texts(texts)
        typed = texts.get("duty") == "typed"
        for key in _TYPED_ONLY:
            self.duty.fields[key].setEnabled(typed)
        self.undo.setEnabled(self._sheet.can_undo)
        if self._sheet.stress_refusal is None:
            self._show_refusal()
        self._cases = self._sheet.cases
        self._fill_cases()
        self._show_case()

    def _show_refusal(self) -> None:
        refusal = self._sheet.stress_refusal
        self.refusal.setText("" if refusal is None else refusal.words)
        self.refusal.setVisible(refusal is not None)
        for form in (self.duty, self.ratings):
            form.mark_wrong("" if refusal is None else refusal.key)

    def _fill_cases(self) -> None:
        self.case.clear()
        for one in self._cases:
            outcome = tr(_OUTCOMES[one.stress.outcome])
            self.case.addItem(f"{self._name(one)}: {outcome}", one.name)
        names = [one.name for one in self._cases]
        if self._chosen not in names:
            self._chosen = None
        worst = min(self._cases, key=_gravity, default=None)
        shown = self._chosen if worst is None or self._chosen else worst.name
        self.case.setCurrentIndex(names.index(shown) if shown in names else -1)
        for widget in (
            self.case,
            self.copier,
            self.report,
            self.table,
            self.summary,
            self.duty_line,
        ):
            widget.setVisible(bool(names))

    def _name(self, case: StressCase) -> str:
        return tr(_CASES.get(case.name, case.name))

    def _choose(self, at: int) -> None:
        self._chosen = self.case.itemData(at)
        self._show_case()

    def _show_case(self) -> None:
        while (item := self._caution.takeAt(0)) is not None:
            item.widget().hide()
            item.widget().deleteLater()
        case = next((one for one in self._cases if one.name == self.case.currentData()), None)
        self.nothing.setVisible(case is None)
        if case is None:
            self.nothing.setText(self._why_nothing())
            return
        self.summary.setText(tr(_OUTCOMES[case.stress.outcome]).capitalize())
        set_role(self.summary, "title")
        self.duty_line.setText(_duty_words(case))
        for row, limit in zip(self.rows, case.stress.limits, strict=True):
            row.show_limit(limit)
        self._say_borne(case)
        lines = _cautions(case)
        if lines:
            self._caution.addWidget(Notice("\n".join(lines)))

    def _say_borne(self, case: StressCase) -> None:
        """Write into the blanks that nobody types what the driven tank makes of them."""
        duty = case.duty
        tangent = duty.loss_tangent
        said = {
            "duty_C": quantity(duty.capacitance, "F"),
            "duty_frequency": quantity(duty.frequency, "Hz"),
            "duty_size": quantity(duty.voltage, "V"),
            "duty_bias": quantity(duty.bias, "V") if duty.bias else "",
            "duty_tangent": "" if tangent is None else number(f"{tangent:.2g}"),
        }
        typed = self._sheet.texts.get("duty") == "typed"
        for key, words in said.items():
            self.duty.say_empty(key, f"= {words}" if words and not typed else "")

    def _why_nothing(self) -> str:
        if self._sheet.stress_refusal is not None:
            return tr("What was typed cannot be taken yet.")
        if self._sheet.texts.get("duty") == "typed":
            return tr("Type capacitance, frequency, and the rms voltage or current at the left.")
        return tr(
            "The tank is not driven yet: state drive and losses in the view Tank, or choose 'as "
            "typed here' at the left."
        )

    def written(self) -> str:
        """Give all cases as text."""
        return "\n\n".join(
            "\n".join(
                [
                    f"{self._name(case)}: {tr(_OUTCOMES[case.stress.outcome])}",
                    _duty_words(case),
                    *_limit_lines(case.stress),
                    *_cautions(case),
                ]
            )
            for case in self._cases
        )


def _gravity(case: StressCase) -> tuple[int, float]:
    return _WORST.index(case.stress.outcome), -case.duty.voltage


def _cautions(case: StressCase) -> tuple[str, ...]:
    duty = case.duty
    return safety_lines(
        duty.voltage, frequency=duty.frequency, capacitance=duty.capacitance, bias=duty.bias
    )


def _duty_words(case: StressCase) -> str:
    duty = case.duty
    return tr("{capacitance} at {frequency}: {voltage} rms, {peak} peak, {current} rms").format(
        capacitance=quantity(duty.capacitance, "F"),
        frequency=quantity(duty.frequency, "Hz"),
        voltage=quantity(duty.voltage, "V"),
        peak=quantity(duty.peak, "V"),
        current=quantity(duty.current, "A"),
    )


def _limit_lines(stress: Stress) -> list[str]:
    return [
        "\t".join(
            (
                tr(_NAMES[limit.name]),
                _amount(limit.seen, limit.unit),
                _amount(limit.allowed, limit.unit),
                tr(_OUTCOMES[limit.outcome]),
                number(limit.reason),
            )
        )
        for limit in stress.limits
    ]
