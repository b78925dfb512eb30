"""The view Coil: a coil from its geometry, computed live, with what is known of the error."""

from __future__ import annotations

from PySide6.QtCore import QT_TR_NOOP, QTimer, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout

from benchapp.coil import SHAPES, CoilResult, Computed, Shape, Wanted
from benchapp.errors import BenchError
from benchapp.gui.answerrows import Answer, AnswerRows, written
from benchapp.gui.coilsheet import (
    ASKED,
    CONDUCTOR,
    PLATE,
    blanks_of,
    example_of,
    has_turns,
    job_of,
)
from benchapp.gui.columnspage import ColumnsPage, button_row
from benchapp.gui.form import Form, align
from benchapp.gui.labels import Choice, copy_text, heading, muted, text
from benchapp.gui.proposal import Proposal
from benchapp.gui.reporter import ReportButton, calculation
from benchapp.gui.tanksheet import Refusal, TankSheet
from benchapp.gui.words import definition, number, percent, quantity, tr
from benchapp.gui.worker import Worker
from benchapp.jobs import CoilAnswer, ComputeCoil, not_cancelled, silent
from benchapp.nominal import Limit

__all__ = ["CoilView"]

_PATIENCE_MS = 250  # after the last key, before a long computation starts
_REMARKS = 170  # pixels: a method takes few lines then
_NAMES = {
    "L": QT_TR_NOOP("inductance L"),
    "L_plate": QT_TR_NOOP("L with the plate"),
    "M": QT_TR_NOOP("mutual inductance M"),
    "k": QT_TR_NOOP("coupling k"),
    "L1": QT_TR_NOOP("inductance L1"),
    "L2": QT_TR_NOOP("inductance L2"),
    "C_self": QT_TR_NOOP("self-capacitance"),
    "SRF": QT_TR_NOOP("self-resonance"),
    "wire_length": QT_TR_NOOP("length of wire"),
    "R_dc": QT_TR_NOOP("DC resistance"),
    "R_ac": QT_TR_NOOP("AC resistance"),
    "Q": QT_TR_NOOP("Q of the winding"),
    "skin_depth": QT_TR_NOOP("skin depth"),
    "L_apparent": QT_TR_NOOP("L as it reads"),
    "Q_apparent": QT_TR_NOOP("Q as it reads"),
}
_SIGNS = (
    ("sqrt(", "√("),
    ("2 pi", "2π"),
    ("pi f mu0", "π f µ0"),
    ("rho", "ρ"),
    ("R_ac", "R"),
    ("C_self", "C"),
    ("degC", "°C"),
)
_SUMS = ("wire_length", "R_dc")  # follow from the dimensions; there is no formula to be off
_TERMS = {"R_dc": "DCR", "L_apparent": "L", "Q_apparent": "Q"}


class CoilView(ColumnsPage):
    """Form by shape at the left, results at the right.

    Signals
    -------
    used()
        Inductance and resistance were put into the tank sheet.
    proposed(proposal)
        The person wants the limits of a `Proposal` in the design.
    """

    used = Signal()
    proposed = Signal(object)

    def __init__(self, sheet: TankSheet, worker: Worker) -> None:
        super().__init__()
        self._sheet, self._worker = sheet, worker
        self._texts = {name: example_of(shape) for name, shape in SHAPES.items()}
        self._common: dict[str, str] = {}
        self._answer: CoilAnswer | None = None
        self._job: ComputeCoil | None = None
        self._wait = QTimer(self, singleShot=True, interval=_PATIENCE_MS)
        self._wait.timeout.connect(self._submit)
        self.forms: dict[str, Form] = {}
        self._build_typed()
        self._build_results()
        sheet.changed.connect(self.follow)
        self.refresh()
        self._choose()

    @property
    def shape(self) -> Shape:
        """The shape that is shown."""
        return SHAPES[self.shapes.currentData()]

    def _build_typed(self) -> None:
        column = self.add_column(10)
        self.shapes = Choice(tr("Shape of the coil"))
        for name, shape in SHAPES.items():
            self.shapes.addItem(tr(shape.title), name)
        self.shapes.activated.connect(lambda _at: self._choose())
        column.addWidget(heading(tr("Shape and dimensions")))
        column.addWidget(self.shapes)
        self._dimensions = QVBoxLayout()
        column.addLayout(self._dimensions)
        self.refusal = text("", "stop")
        column.addWidget(self.refusal)
        titles = {
            "asked": (tr("Wanted"), ASKED),
            "conductor": (tr("Conductor"), CONDUCTOR),
            "plate": (tr("Plate near one end"), PLATE),
        }
        for name, (title, blanks) in titles.items():
            column.addWidget(heading(title))
            self.forms[name] = Form(blanks)
            self.forms[name].edited.connect(self._type_common)
            self.forms[name].finished.connect(lambda _key: self._show_refusal())
            column.addWidget(self.forms[name])
        column.addStretch(1)

    def _build_results(self) -> None:
        column = self.add_column(13)
        self.report = ReportButton(lambda: calculation(tr("Coil"), self, self.written()))
        self.copier = QPushButton(tr("Copy results"))
        self.copier.setToolTip(tr("Copy all results of this view as text, with units"))
        self.copier.clicked.connect(lambda: copy_text(self.written()))
        self.tank_user = QPushButton(tr("Use in Tank"))
        self.tank_user.setToolTip(tr("Put L and the resistance of the coil into the view Tank"))
        self.tank_user.clicked.connect(self._use)
        self.user = QPushButton(tr("Use in the design"))
        self.user.clicked.connect(lambda: self.proposed.emit(self._proposal()))
        column.addLayout(button_row(self.copier, self.report, self.tank_user, self.user))
        self.turns = AnswerRows(_REMARKS)
        column.addWidget(self.turns)
        self.results = AnswerRows(_REMARKS)
        column.addWidget(self.results)
        self.beside_title = heading(tr("Handbook formulas beside it"))
        column.addWidget(self.beside_title)
        self.beside = AnswerRows(_REMARKS)
        column.addWidget(self.beside)
        self.remarks = muted()
        column.addWidget(self.remarks)
        column.addStretch(1)

    def _choose(self) -> None:
        """Show the form of the chosen shape, with what was typed there before."""
        if (old := self.forms.pop("shape", None)) is not None:
            self._dimensions.removeWidget(old)
            old.hide()
            old.deleteLater()
        form = Form(blanks_of(self.shape))
        form.edited.connect(self._type)
        form.finished.connect(lambda _key: self._show_refusal())
        self.forms["shape"] = form
        self._dimensions.addWidget(form)
        form.show_texts(self._texts[self.shape.name])
        align(tuple(self.forms.values()))
        self.forms["asked"].fields["wanted"].setEnabled(has_turns(self.shape))
        self._compute()
        self._show_refusal()

    def _type(self, key: str, words: str) -> None:
        self._texts[self.shape.name][key] = words
        self._compute()

    def _type_common(self, key: str, words: str) -> None:
        self._common[key] = words
        self._compute()

    def refresh(self) -> None:
        """Ask for the tank's frequency, until a person asks for another one."""
        worked = self._sheet.worked
        field = self.forms["asked"].fields["frequency"]
        if worked is None or "frequency" in self._common:
            return
        words = quantity(worked.sums.frequency.nominal, "Hz")
        if field.text() != words:
            field.setText(words)
            if "shape" in self.forms:
                self._compute()

    def _compute(self) -> None:
        """Compute at once where that is quick, else by the worker."""
        texts = {**self._texts[self.shape.name], **self._common}
        texts["frequency"] = self.forms["asked"].fields["frequency"].text()
        found = job_of(self.shape, texts)
        self._wait.stop()
        self._refusal = found if isinstance(found, Refusal) else None
        self._job = found if isinstance(found, ComputeCoil) else None
        if self._job is None:
            self._show(None)
            return
        self._show_refusal()
        if not self._job.is_quick:
            self._show(None)
            self._wait.start()
            return
        try:
            self._show(self._job(silent, not_cancelled))
        except BenchError as error:
            self._refuse(error)

    def _submit(self) -> None:
        job = self._job
        if job is not None:
            self._worker.submit(
                "coil",
                job,
                lambda answer: self._show(answer) if self._job is job else None,
                lambda error: self._refuse(error) if self._job is job else None,
            )

    def _refuse(self, error: BenchError) -> None:
        self._refusal = Refusal(key="", words=str(error))
        self._show(None)
        self._show_refusal()

    def _show_refusal(self) -> None:
        refusal = self._refusal
        self.refusal.setText("" if refusal is None else refusal.words)
        self.refusal.setVisible(refusal is not None)
        for form in self.forms.values():
            form.mark_wrong("" if refusal is None else refusal.key)

    def _show(self, answer: CoilAnswer | None) -> None:
        self._answer = answer
        result = None if answer is None else answer.result
        wanted = None if answer is None else answer.wanted
        self.turns.show_answers(() if wanted is None else self._turns(wanted))
        self.results.show_answers(() if result is None else _best(result))
        beside = () if result is None else _beside(result)
        self.beside.show_answers(beside)
        self.beside_title.setVisible(bool(beside))
        self.remarks.setText("" if result is None else "\n".join(result.remarks))
        for button in (self.copier, self.report, self.tank_user):
            button.setEnabled(result is not None)
        bounded = self._proposal() is not None
        self.user.setEnabled(bounded)
        self.user.setToolTip(
            tr("Put L and its tolerance into the design as a limit; Undo there takes it back")
            if bounded
            else tr("Give dimensions with tolerances, such as 50 mm ±0.5 mm: they bound the limit")
        )

    def _turns(self, wanted: Wanted) -> tuple[Answer, ...]:
        aim = self._job.inductance
        label = tr("turns for {wanted}").format(wanted=quantity(aim, "H"))
        rows = [one for one in (wanted.below, wanted.above) if one is not None]
        if wanted.above is None:
            turns, reached = wanted.below
            words = tr("the most that fit give {reached}").format(reached=quantity(reached, "H"))
            return (Answer(name=label, value=str(turns), remark=words),)
        words = " · ".join(
            tr("{turns} give {reached} ({away})").format(
                turns=turns,
                reached=quantity(reached, "H"),
                away=percent(100 * (reached / aim - 1)),
            )
            for turns, reached in rows
        )
        best = min(rows, key=lambda row: abs(row[1] - aim))
        return (Answer(name=label, value=str(best[0]), remark=words),)

    def _inductance(self) -> Computed | None:
        return None if self._answer is None else self._answer.result.get("L")

    def _use(self) -> None:
        """Put the coil into the tank."""
        found = self._inductance()
        texts = {}
        if found is not None:
            texts["L"] = _typed(found)
        result = self._answer.result
        for name in ("R_ac", "R_dc"):
            one = next((entry for entry in result.quantities if entry.quantity == name), None)
            if one is not None:
                texts["coil_resistance"] = quantity(one.value, "ohm")
                break
        self._sheet.fill(texts)
        self.used.emit()

    def _proposal(self) -> Proposal | None:
        found = self._inductance()
        if found is None or found.low is None or found.high is None:
            return None
        limit = Limit(
            quantity="L", unit="H", lower=found.low, upper=found.high, nominal=found.value
        )
        return Proposal(limits=(limit,), circuit="inductor")

    def written(self) -> str:
        """Give all results as text."""
        if self._answer is None:
            return ""
        parts = [
            written(tr(self.shape.title), (*self.turns.answers, *self.results.answers)),
            written(tr("Handbook formulas beside it"), self.beside.answers),
            self.remarks.text(),
        ]
        return "\n\n".join(part for part in parts if part)


def _typed(found: Computed) -> str:
    words = quantity(found.value, "H")
    if found.low is None or found.high is None:
        return words
    low, high = (100 * (end / found.value - 1) for end in (found.low, found.high))
    return number(f"{words} {low:+.3g} % {high:+.3g} %")


def _label(entry: Computed) -> str:
    name = tr(_NAMES[entry.quantity])
    if entry.at is None:
        return name
    return tr("{name} at {frequency}").format(name=name, frequency=quantity(entry.at, "Hz"))


def _method(entry: Computed) -> str:
    """Give the method with its formula written as on paper, and what its error is."""
    words = entry.method
    for typed, printed in _SIGNS:
        words = words.replace(typed, printed)
    plain = entry.quantity in _SUMS
    return number(words) if plain else f"{number(words)}, {_trust(entry)}"


def _trust(entry: Computed) -> str:
    if entry.error_percent is None:
        return tr("error not known")
    if entry.error_percent == 0:
        return tr("exact for this model")
    error = number(f"{max(entry.error_percent, 0.01):.2g}")
    return tr("within {error} %").format(error=error)


def _tip(entry: Computed) -> str:
    term = definition(_TERMS.get(entry.quantity, entry.quantity))
    source = tr("Source: {source}").format(source=entry.source) if entry.source else ""
    return "\n".join(part for part in (term, source) if part)


def _best(result: CoilResult) -> tuple[Answer, ...]:
    found = []
    for entry in result.quantities:
        remark = _method(entry)
        if entry.low is not None and entry.high is not None:
            ends = (quantity(end, entry.unit) for end in (entry.low, entry.high))
            remark = "{} … {} · ".format(*ends) + remark
        found.append(
            Answer(
                name=_label(entry),
                value=quantity(entry.value, entry.unit),
                remark=remark,
                tip=_tip(entry),
            )
        )
    return tuple(found)


def _beside(result: CoilResult) -> tuple[Answer, ...]:
    found = []
    for entry in result.approximations:
        best = result.get(entry.quantity, entry.at)
        apart = "" if best is None else percent(100 * (entry.value / best.value - 1))
        parts = [_method(entry), apart]
        found.append(
            Answer(
                name=_label(entry),
                value=quantity(entry.value, entry.unit),
                remark=", ".join(part for part in parts if part),
                tip=_tip(entry),
            )
        )
    return tuple(found)
