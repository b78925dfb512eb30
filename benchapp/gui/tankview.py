"""The view Tank: any two of L, C and f0, losses, drive and tolerances; what follows from them."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import (
    QGridLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from benchapp.circuit import CIRCUITS
from benchapp.gui.answerrows import AnswerRows, written
from benchapp.gui.bars import ShareBar
from benchapp.gui.columnspage import ColumnsPage, button_row
from benchapp.gui.form import Form, align
from benchapp.gui.labels import Choice, Notice, Value, copy_text, heading, muted, set_role, text
from benchapp.gui.proposal import BASES, Proposal, tank_proposal
from benchapp.gui.reporter import ReportButton, calculation
from benchapp.gui.schematic import Schematic
from benchapp.gui.session import Session
from benchapp.gui.spreadplot import SpreadPlot, plan_of
from benchapp.gui.tankblanks import DRIVE, LINK, LOSSES, TANK, TOLERANCES
from benchapp.gui.tanksheet import EXAMPLE, TankSheet, Worked, texts_from
from benchapp.gui.tankwords import (
    driven_answers,
    link_answers,
    safety_of,
    sums_answers,
    tolerance_answers,
    watts,
    why_not_driven,
    why_not_stacked,
)
from benchapp.gui.words import number, quantity, tr
from benchapp.gui.worker import Worker
from benchapp.jobs import SimulateTanks
from benchapp.tank import Simulation

__all__ = ["TankView"]

_PATIENCE_MS = 300  # after the last key, before tanks are drawn
_DRAWING = 100  # pixels: the height of the circuit
_CIRCUITS = {"parallel": "tank", "series": "series-rlc"}
_RIVALS = {"coil_resistance": "ohm", "coil_q": "1", "capacitor_resistance": "ohm"}


class TankView(ColumnsPage):
    """The sums of a tank, live.

    Signals
    -------
    proposed(proposal)
        The person wants the limits of a `Proposal` in the design.
    """

    proposed = Signal(object)

    def __init__(
        self, session: Session, sheet: TankSheet, worker: Worker, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session, self._sheet, self._worker = session, sheet, worker
        self._simulation: Simulation | None = None
        self._drawn_from: object = None
        self._bars: dict[str, tuple[ShareBar, Value]] = {}
        self._cautioned: tuple[str, ...] = ()
        self._wait = QTimer(self, singleShot=True, interval=_PATIENCE_MS)
        self._wait.timeout.connect(self._draw)
        self.forms = {
            "tank": Form(TANK),
            "losses": Form(LOSSES),
            "drive": Form(DRIVE),
            "tolerances": Form(TOLERANCES),
            "link": Form(LINK),
        }
        self._build_typed()
        self._build_sums()
        self._build_driven()
        sheet.changed.connect(self.follow)
        session.nominal_changed.connect(self._show_design)
        self.refresh()
        self._show_design()

    def _build_typed(self) -> None:
        column = self.add_column(11)
        titles = {
            "tank": tr("Two of L, C and f0"),
            "losses": tr("Losses; empty means not known"),
            "drive": tr("Drive"),
            "tolerances": tr("Tolerances"),
            "link": tr("Coupled coil that receives"),
        }
        for name, form in self.forms.items():
            column.addWidget(heading(titles[name]))
            column.addWidget(form)
            form.edited.connect(self._sheet.type)
            form.finished.connect(lambda _key: self._show_refusal())
            if name == "tank":
                self.refusal = text("", "stop")
                column.addWidget(self.refusal)
        align(tuple(self.forms.values()))
        self.taker = QPushButton(tr("Fill from the design"))
        self.taker.setToolTip(tr("Take L, C, f0 and its band from the limits of the open design"))
        self.taker.clicked.connect(self._take_design)
        self.undo = QPushButton(tr("Undo"))
        self.undo.setToolTip(tr("Take the last change of what was typed back"))
        self.undo.clicked.connect(self._sheet.undo)
        column.addLayout(button_row(self.taker, self.undo))
        column.addStretch(1)

    def _build_sums(self) -> None:
        column = self.add_column(11)
        self.report = ReportButton(lambda: calculation(tr("Tank"), self, self.written()))
        self.copier = QPushButton(tr("Copy results"))
        self.copier.setToolTip(tr("Copy all results of this view as text, with units"))
        self.copier.clicked.connect(lambda: copy_text(self.written()))
        self.user = QPushButton(tr("Use in the design"))
        self.user.clicked.connect(self._propose)
        self.basis = Choice(tr("Limits of f0 from"))
        for key, words in BASES.items():
            self.basis.addItem(tr("f0: {basis}").format(basis=tr(words)), key)
        self.basis.setToolTip(
            tr(
                "What the limits of f0 in the design are taken from: the worst case, the root sum "
                "of squares (RSS), or the range that holds 99.73 % of the simulated tanks"
            )
        )
        self.basis.activated.connect(lambda _at: self._show_button())
        column.addLayout(button_row(self.copier, self.report, self.user, self.basis))
        self.start = text(
            tr(
                "Type two of L, C and f0 at the left, each with its tolerance: the third is "
                "worked out, and with it everything that hangs on it."
            )
        )
        self.example = QPushButton(tr("Fill in an example"))
        self.example.setToolTip(tr("A tank at 134.2 kHz with losses, drive and tolerances"))
        self.example.clicked.connect(lambda: self._sheet.fill(EXAMPLE))
        column.addWidget(self.start)
        column.addLayout(button_row(self.example))
        self.sums = AnswerRows()
        column.addWidget(self.sums)
        self.notes = muted()
        column.addWidget(self.notes)
        self.spread_title = heading(tr("Where f0 falls"))
        column.addWidget(self.spread_title)
        self.spread_note = muted()
        column.addWidget(self.spread_note)
        self.plot = SpreadPlot()
        column.addWidget(self.plot, 1)
        self.tolerances = AnswerRows()
        column.addWidget(self.tolerances)
        self._rest = QWidget()
        column.addWidget(self._rest, 1)

    def _build_driven(self) -> None:
        column = self.add_column(10)
        self.drawing = Schematic()
        self.drawing.setFixedHeight(_DRAWING)
        column.addWidget(self.drawing)
        self.driven_title = heading(tr("Driven"))
        column.addWidget(self.driven_title)
        self.undriven = muted()
        column.addWidget(self.undriven)
        self.driven = AnswerRows()
        column.addWidget(self.driven)
        self._caution = QVBoxLayout()
        column.addLayout(self._caution)
        self.watts_title = heading(tr("Where the watts go"))
        column.addWidget(self.watts_title)
        self._watts = QGridLayout()
        self._watts.setColumnStretch(1, 1)
        self._watts.setHorizontalSpacing(10)
        column.addLayout(self._watts)
        self.driven_notes = muted()
        column.addWidget(self.driven_notes)
        self.link_title = heading(tr("Power link"))
        column.addWidget(self.link_title)
        self.link = AnswerRows()
        column.addWidget(self.link)
        column.addStretch(1)

    def refresh(self) -> None:
        """Show what the sheet says now and what follows from it."""
        worked = self._sheet.worked
        for form in self.forms.values():
            form.show_texts(self._sheet.texts)
        self.undo.setEnabled(self._sheet.can_undo)
        self._say_worked_out(worked)
        if self.focusWidget() is None or self._sheet.refusal is None:
            self._show_refusal()
        for widget in (self.start, self.example):
            widget.setVisible(worked is None)
        for widget in (self.spread_title, self.driven_title, self.copier, self.report):
            widget.setVisible(worked is not None)
        self._show_drawing(worked)
        self._show_sums(worked)
        self._show_spread(worked)
        self._show_driven(worked)
        self._show_button()
        if worked is not None and worked.stacked is not None:
            self._wait.start()
        else:
            self._wait.stop()

    def _show_refusal(self) -> None:
        """Say what cannot be taken, once the blank is left."""
        refusal = self._sheet.refusal
        enough = self._sheet.worked is not None
        words = "" if enough else tr("Type two of L, C and f0; the third is worked out.")
        self.refusal.setText(words if refusal is None else refusal.words)
        set_role(self.refusal, "muted" if refusal is None else "stop")
        self.refusal.setVisible(bool(self.refusal.text()))
        for form in self.forms.values():
            form.mark_wrong("" if refusal is None else refusal.key)

    def _say_worked_out(self, worked: Worked | None) -> None:
        """Write what was worked out into the blanks that were left empty for it."""
        said = dict.fromkeys(("L", "C", "f0", *_RIVALS), "")
        if worked is not None:
            sums = worked.sums
            spread = {"L": sums.inductance, "C": sums.capacitance, "f0": sums.frequency}
            found = spread[sums.derived]
            said[sums.derived] = f"= {quantity(found.nominal, found.unit)}"
            values = (sums.coil_resistance, sums.q_coil, sums.capacitor_resistance)
            for (key, unit), value in zip(_RIVALS.items(), values, strict=True):
                said[key] = "" if value is None else f"= {quantity(value, unit)}"
        for key, words in said.items():
            form = self.forms["tank" if key in ("L", "C", "f0") else "losses"]
            form.say_empty(key, words)

    @property
    def _drawn(self) -> Simulation | None:
        """The drawn tanks, where they are those of the sheet as it is now."""
        worked = self._sheet.worked
        same = worked is not None and worked.stack_up == self._drawn_from
        return self._simulation if same else None

    def _show_drawing(self, worked: Worked | None) -> None:
        name = _CIRCUITS[self._sheet.texts["circuit"]]
        values = {}
        if worked is not None:
            sums = worked.sums
            known = (("L", sums.inductance.nominal, "H"), ("C", sums.capacitance.nominal, "F"))
            values = {key: quantity(value, unit) for key, value, unit in known}
            if sums.resistance is not None:
                values["R"] = quantity(sums.resistance, "ohm", digits=3)
        self.drawing.show_circuit(name, CIRCUITS[name].title, values)

    def _show_sums(self, worked: Worked | None) -> None:
        self.sums.show_answers(() if worked is None else sums_answers(worked))
        notes = () if worked is None else worked.sums.notes
        self.notes.setText(" ".join(notes))
        self.notes.setVisible(bool(notes))

    def _show_spread(self, worked: Worked | None) -> None:
        stacked = None if worked is None else worked.stacked
        self.plot.setVisible(stacked is not None)
        self._rest.setVisible(stacked is None)
        self.spread_note.setText("" if worked is None else why_not_stacked(worked))
        self.spread_note.setVisible(bool(self.spread_note.text()))
        if worked is None or stacked is None:
            self.tolerances.show_answers(())
            self.plot.show_plan(None)
            return
        self.plot.show_plan(plan_of(stacked, worked.stack_up.band, self._drawn))
        self.tolerances.show_answers(tolerance_answers(worked, self._drawn))

    def _show_driven(self, worked: Worked | None) -> None:
        why = "" if worked is None else why_not_driven(worked)
        self.undriven.setText(why)
        self.undriven.setVisible(bool(why))
        self.driven.show_answers(() if worked is None else driven_answers(worked))
        self._show_caution(() if worked is None else safety_of(worked))
        self._show_watts(() if worked is None else watts(worked))
        self.link.show_answers(() if worked is None else link_answers(worked))
        self.link_title.setVisible(bool(self.link.answers))
        driven = None if worked is None else worked.driven
        self.driven_notes.setText("" if driven is None else " ".join(driven.notes))
        self.driven_notes.setVisible(bool(self.driven_notes.text()))

    def _show_watts(self, rows: tuple[tuple[str, float, float], ...]) -> None:
        self.watts_title.setVisible(bool(rows))
        names = [name for name, _watt, _share in rows]
        if names != list(self._bars):
            _clear(self._watts)
            self._bars = {name: (ShareBar(), Value()) for name in names}
            for row, (name, (bar, value)) in enumerate(self._bars.items()):
                self._watts.addWidget(QLabel(name), row, 0)
                self._watts.addWidget(bar, row, 1, Qt.AlignmentFlag.AlignVCenter)
                self._watts.addWidget(value, row, 2)
        for name, watt, share in rows:
            words = f"{quantity(watt, 'W', digits=3)} · " + number(f"{100 * share:.3g} %")
            bar, value = self._bars[name]
            bar.show_share(share, f"{name}: {words}")
            value.setText(words)
            value.setAccessibleName(f"{name}: {words}")

    def _show_caution(self, lines: tuple[str, ...]) -> None:
        if lines == self._cautioned:
            return
        self._cautioned = lines
        _clear(self._caution)
        if lines:
            self._caution.addWidget(Notice("\n".join(lines)))

    def _show_button(self) -> None:
        worked = self._sheet.worked
        found = None if worked is None else self._proposal()
        self.user.setEnabled(found is not None)
        tip = tr("Put the limits of {names} into the design; Undo there takes them back")
        missing = tr("Give L or C with a tolerance first: nothing bounds the limits yet")
        self.user.setToolTip(
            missing if found is None else tip.format(names=", ".join(found.names))
        )

    def _proposal(self) -> Proposal | None:
        return tank_proposal(self._sheet.worked, self._drawn, self.basis.currentData())

    def _propose(self) -> None:
        self.proposed.emit(self._proposal())

    def _draw(self) -> None:
        """Have tanks drawn at random by the worker."""
        worked = self._sheet.worked
        if worked is None or worked.stacked is None or self._drawn_from == worked.stack_up:
            return  # nothing varies, or these tanks are drawn already
        job = SimulateTanks(stack_up=worked.stack_up)
        self._worker.submit(
            "tanks",
            job,
            lambda simulation: self._take(simulation, job),
            lambda error: self.spread_note.setText(str(error)),
        )

    def _take(self, simulation: Simulation, job: SimulateTanks) -> None:
        worked = self._sheet.worked
        if worked is not None and worked.stack_up == job.stack_up:
            self._simulation, self._drawn_from = simulation, job.stack_up
            self._show_spread(worked)
            self._show_button()

    def _show_design(self) -> None:
        self.taker.setEnabled(self._session.nominal is not None)

    def _take_design(self) -> None:
        self._sheet.fill(texts_from(self._session.nominal))

    def written(self) -> str:
        """Give all results as text."""
        parts = [
            written(tr("Tank"), self.sums.answers),
            written(tr("Where f0 falls"), self.tolerances.answers),
            written(tr("Driven"), self.driven.answers),
            written(tr("Power link"), self.link.answers),
        ]
        worked = self._sheet.worked
        rows = () if worked is None else watts(worked)
        lines = [
            f"{name}\t{quantity(watt, 'W', digits=3)}\t" + number(f"{100 * share:.3g} %")
            for name, watt, share in rows
        ]
        found = [part for part in parts if "\n" in part]
        return "\n\n".join([*found, *(["\n".join([tr("Watts"), *lines])] if lines else [])])


def _clear(layout: QVBoxLayout | QGridLayout) -> None:
    while (item := layout.takeAt(0)) is not None:
        item.widget().hide()
        item.widget().deleteLater()
