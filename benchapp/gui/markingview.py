"""The view Marking: what stands on a part, everything that it can mean, and preferred values."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP, Qt, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.errors import BenchError
from benchapp.gui.bars import ShareBar
from benchapp.gui.columnspage import ColumnsPage, button_row
from benchapp.gui.labels import (
    Choice,
    Notice,
    copy_text,
    heading,
    muted,
    set_role,
    set_wrong,
    text,
)
from benchapp.gui.proposal import Proposal
from benchapp.gui.reporter import ReportButton, calculation
from benchapp.gui.tanksheet import TankSheet
from benchapp.gui.words import number, percent, plain, quantity, tr
from benchapp.marking import (
    KINDS,
    SERIES,
    UNIT_OF,
    Combination,
    Kind,
    Marking,
    Reading,
    best_pairs,
    cautions,
    describe,
    describe_pair,
    nearest,
    read_marking,
)
from benchapp.marking.wording import plain as nominal_words
from benchapp.nominal import Limit
from benchapp.units import parse_quantity

__all__ = ["MarkingView"]

_KINDS = {
    "capacitor": QT_TR_NOOP("capacitor"),
    "resistor": QT_TR_NOOP("resistor"),
    "inductor": QT_TR_NOOP("inductor"),
}
_QUANTITIES: dict[Kind, str] = {"capacitor": "C", "inductor": "L", "resistor": "R"}
_BLANKS: dict[Kind, str] = {"capacitor": "C", "inductor": "L", "resistor": "sense"}
_USES: dict[Kind, str] = {
    "capacitor": QT_TR_NOOP("Use this as C"),
    "inductor": QT_TR_NOOP("Use this as L"),
    "resistor": QT_TR_NOOP("Use this as sense R"),
}
_MOST = 12  # readings that are shown


class MarkingView(ColumnsPage):
    """The marking of a part, read live.

    Signals
    -------
    used()
        A value was put into the tank sheet.
    proposed(proposal)
        The person wants the limits of a `Proposal` in the design.
    """

    used = Signal()
    proposed = Signal(object)

    def __init__(self, sheet: TankSheet, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sheet = sheet
        self._marking: Marking | None = None
        self._wanted_by_hand = False
        self.uses: list[QPushButton] = []
        self.designs: list[QPushButton] = []
        self.offers: list[QPushButton] = []
        self._build_readings()
        self._build_preferred()
        sheet.changed.connect(self.follow)
        self._read()
        self.refresh()
        self._prefer()

    def _build_readings(self) -> None:
        column = self.add_column(13)
        column.addWidget(heading(tr("What stands on the part")))
        row = QHBoxLayout()
        self.code = QLineEdit()
        self.code.setAccessibleName(tr("Marking as it stands on the part"))
        self.code.setPlaceholderText(tr("104K 2J, 4n7J, 0.1 µF 250 V DC, brown black red gold"))
        self.code.setToolTip(
            tr("Type the words in any order, or the colours of the bands; leave out date and lot.")
        )
        self.code.textEdited.connect(lambda _words: self._read())
        self.kind = Choice(tr("Kind of part"))
        self.kind.addItem(tr("any part"), None)
        for name in KINDS:
            self.kind.addItem(tr(_KINDS[name]), name)
        self.kind.activated.connect(lambda _at: self._read())
        row.addWidget(self.code, 1)
        row.addWidget(self.kind)
        column.addLayout(row)
        self.refusal = text()
        column.addWidget(self.refusal)
        self.report = ReportButton(lambda: calculation(tr("Marking"), self, self.written()))
        self.copier = QPushButton(tr("Copy results"))
        self.copier.setToolTip(tr("Copy the marking and all its readings as text"))
        self.copier.clicked.connect(lambda: copy_text(self.written()))
        column.addLayout(button_row(self.copier, self.report))
        self._readings = QVBoxLayout()
        self._readings.setSpacing(10)
        column.addLayout(self._readings)
        self._cautions = QVBoxLayout()
        column.addLayout(self._cautions)
        column.addStretch(1)

    def _build_preferred(self) -> None:
        column = self.add_column(9)
        column.addWidget(heading(tr("Nearest preferred values")))
        row = QHBoxLayout()
        self.wanted = QLineEdit()
        self.wanted.setAccessibleName(tr("Wanted value"))
        self.wanted.setPlaceholderText(tr("wanted: 868 pF, 1.5 mH, 2.2 kOhm"))
        self.wanted.setToolTip(
            tr("The value that a part, or two together, shall have; at first the tank's C")
        )
        self.wanted.textEdited.connect(self._want)
        self.series = Choice(tr("Preferred series"))
        for name in SERIES:
            self.series.addItem(name, name)
        self.series.setCurrentIndex(list(SERIES).index("E12"))
        self.series.activated.connect(lambda _at: self._prefer())
        row.addWidget(self.wanted, 1)
        row.addWidget(self.series)
        column.addLayout(row)
        self.preferred_refusal = text("", "muted")
        column.addWidget(self.preferred_refusal)
        self._preferred = QVBoxLayout()
        self._preferred.setSpacing(8)
        column.addLayout(self._preferred)
        column.addStretch(1)

    def _read(self) -> None:
        """Read the marking as it is typed."""
        code = plain(self.code.text().strip())
        self._marking = None
        words = tr("Every reading that the standards allow appears here, most likely first.")
        wrong = False
        if code:
            try:
                self._marking = read_marking(code, self.kind.currentData())
            except BenchError as error:
                words, wrong = str(error), True
            else:
                words = self._aside(self._marking)
        self.refusal.setText(words)
        set_role(self.refusal, "stop" if wrong else "muted")
        set_wrong(self.code, wrong=wrong)
        self.refusal.setVisible(bool(words))
        self._show_readings()

    def _aside(self, marking: Marking) -> str:
        if not marking.not_understood:
            return ""
        return tr("Not understood and set aside: {words}").format(
            words=", ".join(marking.not_understood)
        )

    def _show_readings(self) -> None:
        _clear(self._readings)
        _clear(self._cautions)
        self.uses, self.designs = [], []
        readings = () if self._marking is None else self._marking.readings
        self.copier.setVisible(bool(readings))
        self.report.setVisible(bool(readings))
        for reading in readings[:_MOST]:
            self._readings.addWidget(self._reading(reading))
        if len(readings) > _MOST:
            words = tr("{count} less likely readings: choose the kind of part to see them.")
            self._readings.addWidget(muted(words.format(count=len(readings) - _MOST)))
        notes = cautions(readings)
        if notes:
            self._cautions.addWidget(Notice("\n".join(notes)))

    def _reading(self, reading: Reading) -> QWidget:
        box = QWidget()
        grid = QGridLayout(box)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(2)
        grid.setColumnStretch(1, 1)
        share = _share(reading.likelihood)
        bar = ShareBar()
        bar.setFixedWidth(60)
        bar.show_share(reading.likelihood, tr("likelihood: {share}").format(share=share))
        grid.addWidget(bar, 0, 0, Qt.AlignmentFlag.AlignVCenter)
        grid.addWidget(text(f"{share} · {number(describe(reading))}", "heading"), 0, 1)
        grid.addWidget(muted(number(reading.why)), 1, 1)
        if reading.value is not None:
            grid.addWidget(self._use_button(reading), 0, 2)
            grid.addWidget(self._design_button(reading), 0, 3)
        return box

    def _use_button(self, reading: Reading) -> QPushButton:
        button = QPushButton(tr(_USES[reading.kind]))
        button.setAccessibleName(f"{button.text()}: {number(describe(reading))}")
        button.setToolTip(tr("Put value, tolerance and ratings into the views Tank and Stress"))
        button.clicked.connect(lambda _on=False: self._use(reading))
        self.uses.append(button)
        return button

    def _design_button(self, reading: Reading) -> QPushButton:
        button = QPushButton(tr("Use in the design"))
        button.setAccessibleName(f"{button.text()}: {number(describe(reading))}")
        bounded = reading.lower is not None and reading.upper is not None
        button.setEnabled(bounded)
        button.setToolTip(
            tr("Put value and tolerance into the design as a limit; Undo there takes it back")
            if bounded
            else tr("The marking has no tolerance: nothing bounds the limit")
        )
        button.clicked.connect(lambda _on=False: self.proposed.emit(_proposal(reading)))
        self.designs.append(button)
        return button

    def _use(self, reading: Reading) -> None:
        texts = {_BLANKS[reading.kind]: _typed(reading)}
        if reading.kind == "capacitor":
            volts = {rating.kind: quantity(rating.volt, "V") for rating in reading.ratings}
            texts |= {f"rated_{kind}": words for kind, words in volts.items()}
        self._sheet.fill(texts)
        self.used.emit()

    def refresh(self) -> None:
        """Look for the tank's capacitance, until a person wants something else."""
        worked = self._sheet.worked
        if self._wanted_by_hand or worked is None:
            return
        words = quantity(worked.sums.capacitance.nominal, "F")
        if words != self.wanted.text():
            self.wanted.setText(words)
            self._prefer()

    def _want(self, words: str) -> None:
        self._wanted_by_hand = bool(words.strip())
        self._prefer()

    def _prefer(self) -> None:
        """Show the nearest preferred value, and the best pairs of them."""
        _clear(self._preferred)
        self.offers = []
        words = plain(self.wanted.text().strip())
        self.preferred_refusal.setText(tr("Type a wanted value to see which parts come near it."))
        set_role(self.preferred_refusal, "muted")
        set_wrong(self.wanted, wrong=False)
        self.preferred_refusal.setVisible(not words)
        if not words:
            return
        try:
            self._show_preferred(words)
        except BenchError as error:
            self.preferred_refusal.setText(str(error))
            set_role(self.preferred_refusal, "stop")
            self.preferred_refusal.show()
            set_wrong(self.wanted, wrong=True)

    def _show_preferred(self, words: str) -> None:
        found = parse_quantity(words)
        kind = next((name for name, unit in UNIT_OF.items() if unit == found.unit), None)
        if kind is None:
            words = tr("Give the wanted value with its unit: F, H or Ω.")
            self.preferred_refusal.setText(words)
            self.preferred_refusal.show()
            return
        series = self.series.currentData()
        single = nearest(found.value, series)
        away = percent(100 * single.error)
        self._preferred.addWidget(
            self._offer(
                kind,
                single.value,
                f"{number(nominal_words(single.value, found.unit))} ({away})",
                tr("one part of {series}").format(series=single.series),
            )
        )
        for pair in best_pairs(found.value, series, kind, count=4):
            line = number(describe_pair(pair, found.unit)).replace("-", "−")
            self._preferred.addWidget(self._offer(kind, pair.value, line, _shares(pair)))

    def _offer(self, kind: Kind, value: float, line: str, below: str) -> QWidget:
        box = QWidget()
        grid = QGridLayout(box)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setColumnStretch(0, 1)
        grid.setVerticalSpacing(1)
        grid.addWidget(text(line), 0, 0)
        grid.addWidget(muted(below), 1, 0)
        button = QPushButton(tr(_USES[kind]))
        button.setAccessibleName(f"{button.text()}: {line}")
        button.setToolTip(tr("Put this value into the view Tank; type its tolerance there"))
        button.clicked.connect(lambda _on=False: self._use_value(kind, value))
        grid.addWidget(button, 0, 1)
        self.offers.append(button)
        return box

    def _use_value(self, kind: Kind, value: float) -> None:
        self._sheet.fill({_BLANKS[kind]: quantity(value, UNIT_OF[kind], digits=5)})
        self.used.emit()

    def written(self) -> str:
        """Give the marking and its readings as text."""
        if self._marking is None:
            return ""
        rows = [
            f"{_share(one.likelihood)}\t{number(describe(one))}\t{number(one.why)}"
            for one in self._marking.readings
        ]
        aside = [words] if (words := self._aside(self._marking)) else []
        return "\n".join([self._marking.code, *rows, *aside, *cautions(self._marking.readings)])


def _share(likelihood: float) -> str:
    """Write how likely a reading is beside the others; a single one has nothing beside it."""
    if likelihood == 1:
        return tr("only reading")
    shown = 100 * likelihood
    return ">99 %" if shown > 99 else "<1 %" if shown < 1 else f"{shown:.0f} %"


def _typed(reading: Reading) -> str:
    """Write value and tolerance as a person would type them."""
    value = number(nominal_words(reading.value or 0.0, reading.unit))
    low, high = reading.tolerance_low, reading.tolerance_high
    if reading.absolute_tolerance is not None:
        return f"{value} ±{number(nominal_words(reading.absolute_tolerance, reading.unit))}"
    if low is None or high is None:
        return value
    if low == -high:
        return number(f"{value} ±{100 * high:g} %")
    return number(f"{value} {100 * low:+g} % {100 * high:+g} %")


def _proposal(reading: Reading) -> Proposal:
    limit = Limit(
        quantity=_QUANTITIES[reading.kind],
        unit=reading.unit,
        lower=reading.lower,
        upper=reading.upper,
        nominal=reading.value,
    )
    return Proposal(limits=(limit,))


def _shares(pair: Combination) -> str:
    """Say how voltage or current is shared out, and what to beware of."""
    if pair.connection == "series":
        words = tr("takes {larger} and {smaller} of the voltage")
        shares = pair.larger_voltage, pair.smaller_voltage
    else:
        words = tr("takes {larger} and {smaller} of the current")
        shares = pair.larger_current, pair.smaller_current
    larger, smaller = (number(f"{100 * share:.3g} %") for share in shares)
    return f"{words.format(larger=larger, smaller=smaller)}. {pair.caution or ''}".strip()


def _clear(layout: QVBoxLayout) -> None:
    while (item := layout.takeAt(0)) is not None:
        item.widget().hide()
        item.widget().deleteLater()
