"""The Capture station: plots at the left, results and warnings at the right."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.capture import Sweep, Transient
from benchapp.errors import BenchError
from benchapp.gui.findings import Findings, lines_of
from benchapp.gui.labels import Choice, Notice, heading, muted, text
from benchapp.gui.legend import Legend, Sign
from benchapp.gui.memory import Memory
from benchapp.gui.plotbar import BandEdges, PlotBar
from benchapp.gui.plots import Plots
from benchapp.gui.results import Results, conditions_words
from benchapp.gui.session import Message, Part, Session
from benchapp.gui.understood import Understood
from benchapp.gui.views import View, points_outside, spans_decades
from benchapp.gui.words import tr

__all__ = ["CapturePage"]

_RESONANT = {"tank", "series-rlc", "parallel-rlc", "coupled-pair", "resonance", "ring-down"}
_SIDE_WIDTH = 384


class CapturePage(QWidget):
    """Everything about the shown part.

    Signals
    -------
    wants_file()
        The person wants to open a capture.
    """

    wants_file = Signal()

    def __init__(
        self,
        session: Session,
        memory: Memory,
        plots: Plots | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._session, self._memory = session, memory
        self._shown: Part | None = None
        self._is_stale = False
        self.bar, self.plots, self.legend = PlotBar(), plots or Plots(), Legend()
        self.edges = BandEdges()
        self.results, self.findings, self.understood = Results(), Findings(), Understood()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addLayout(self._left(), 2)
        row.addWidget(self._right(), 1)
        self._connect()
        self.show_part()

    def _left(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setContentsMargins(12, 10, 8, 8)
        column.setSpacing(6)
        column.addWidget(self.bar)
        column.addWidget(self.plots, 1)
        foot = QHBoxLayout()
        foot.setContentsMargins(6, 0, 6, 0)
        foot.addWidget(self.legend, 1)
        foot.addWidget(self.edges)
        column.addLayout(foot)
        return column

    def _right(self) -> QFrame:
        side = QFrame()
        side.setObjectName("side")
        side.setMinimumWidth(_SIDE_WIDTH)
        outer = QVBoxLayout(side)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(0)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(16, 10, 14, 12)
        column.setSpacing(8)
        column.addLayout(self._head())
        self.stated, self.state = muted(), text()
        self._to_know = heading(tr("What to know"))
        self.quiet = muted(tr("Nothing: no check has found anything to warn of."))
        for widget in (self.stated, self.state, self.results, self._to_know, self.quiet):
            column.addWidget(widget)
        column.addWidget(self.findings)
        column.addWidget(self.understood)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidget(sheet)
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.notice = Notice(
            tr(
                "A tank driven at resonance carries many times the drive voltage: keep hands and "
                "probes off it. Follow your workplace's rules; if unsure, ask the responsible "
                "person."
            )
        )
        outer.addWidget(area, 1)
        outer.addWidget(self.notice)
        return side

    def _head(self) -> QHBoxLayout:
        head = QHBoxLayout()
        self.parts = Choice(tr("Which of the open captures is shown"))
        self.parts.setSizeAdjustPolicy(
            Choice.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.parts.setMinimumContentsLength(9)
        self.opener = QPushButton(tr("Open…"))
        self.opener.setToolTip(tr("Open a capture (Ctrl+O), or drop one anywhere"))
        self.copier = QPushButton(tr("Copy"))
        self.copier.setToolTip(tr("Copy all results as a table"))
        head.addWidget(self.parts, 1)
        head.addWidget(self.opener)
        head.addWidget(self.copier)
        return head

    def _connect(self) -> None:
        session = self._session
        for signal, show in (
            (session.parts_changed, self.show_part),
            (session.nominal_changed, self._offer),
            (session.choices_changed, self._show_choices),
            (session.result_changed, self._show_result),
        ):
            signal.connect(partial(self._follow, show))
        self.bar.view_chosen.connect(self._show_view)
        self.bar.circuit_chosen.connect(session.choose_circuit)
        self.edges.typed.connect(session.restrict)
        self.edges.refused.connect(self._refuse)
        self.bar.undo.clicked.connect(session.undo)
        self.bar.redo.clicked.connect(session.redo)
        self.plots.band_chosen.connect(session.restrict)
        self.plots.point_chosen.connect(lambda point: session.toggle_points((point,)))
        self.findings.pointed.connect(self.plots.show_pointed)
        self.findings.accepted.connect(session.acknowledge)
        self.findings.withdrawn.connect(session.withdraw)
        self.understood.answered.connect(self._answer)
        self.understood.beside.connect(self._look_beside)
        self.parts.activated.connect(session.choose_part)
        self.opener.clicked.connect(self.wants_file)
        self.copier.clicked.connect(self.results.copy)

    def _follow(self, show: Callable[[], None]) -> None:
        """Show what changed, or all of it once the page is seen: nobody waits for a hidden one."""
        if self.isVisible():
            show()
        else:
            self._is_stale = True

    def showEvent(self, event: QShowEvent) -> None:
        """Catch up with what changed while the page was hidden."""
        super().showEvent(event)
        if self._is_stale:
            self._is_stale = False
            self._offer()
            self.show_part()

    def _look_beside(self) -> None:
        if self._shown is not None and self._shown.reading is not None:
            self._session.look_beside(self._shown.reading)

    def show_part(self) -> None:
        """Show the chosen part of the session."""
        part = self._session.part
        with QSignalBlocker(self.parts):
            self.parts.clear()
            self.parts.addItems([one.name for one in self._session.parts])
            self.parts.setCurrentIndex(self._session.position)
        if part is not None and part is not self._shown:
            self._shown = part
            self.stated.setText(conditions_words(part.capture))
            self.understood.show_reading(part.reading)
            with QSignalBlocker(self.bar.log_x):
                self.bar.log_x.setChecked(spans_decades(part.capture))
            self._offer()
            self._show_view()
        self._show_choices()
        self._show_result()

    def _offer(self) -> None:
        if self._shown is not None:
            self.bar.show_capture(self._shown.capture, self._memory.view, self._session.nominal)
            self._show_choices()

    def _show_view(self) -> None:
        view = self.bar.show_view()
        if view is None:
            return
        if isinstance(self._shown.capture, Sweep):
            self._memory.view = view.key
        self.plots.set_view(
            view, x_log=self.bar.log_x.isChecked(), y_log=self.bar.log_y.isChecked()
        )
        self.legend.show_signs(_signs(self._shown, view))

    def _show_choices(self) -> None:
        part, session = self._session.part, self._session
        if part is None:
            return
        self.bar.show_choices(part.choices, can_undo=session.can_undo, can_redo=session.can_redo)
        self.edges.show_band(part.capture, part.choices.band)
        self.plots.show_part(part.capture, part.choices, part.result)

    def _show_result(self) -> None:
        part = self._session.part
        if part is None:
            return
        result = part.result
        self.plots.show_part(part.capture, part.choices, result)
        self.copier.setEnabled(result is not None)
        self.state.setVisible(result is None)
        lines = ()
        if result is None:
            self.state.setText(tr("Fitting…") if part.error is None else _sentence(part.error))
            self.results.clear()
        else:
            lines = lines_of(result)
            self.results.show_result(result)
        self._to_know.setVisible(result is not None)
        self.quiet.setVisible(result is not None and not lines)
        self.findings.show_lines(lines)
        circuit = "" if result is None else result.fit.circuit
        self.notice.setVisible(circuit in _RESONANT)
        self.legend.show_signs(_signs(part, self.bar.view))

    def _answer(self, given: dict[str, object]) -> None:
        """Read the shown part's file again with the person's answers."""
        part = self._shown
        if part is not None and part.reading is not None:
            self._session.answer(part.path, given)

    def _refuse(self, error: BenchError) -> None:
        self._session.told.emit(Message(text=error.message, hint=error.hint, mark="doubt"))


def _sentence(error: BenchError) -> str:
    return f"{error.message} {error.hint}".strip()


def _signs(part: Part, view: View | None) -> list[Sign]:
    """Say what each sign in the plots stands for, as far as it can be seen now."""
    signs = [Sign("dot", "ink", tr("measured"))]
    result = part.result
    plane = None if view is None else view.plane
    if plane is not None and plane.is_unit(part.capture):
        signs.append(Sign("line", "muted", tr("all reflected")))
    if result is None:
        return signs
    if result.fit.converged:
        signs.append(Sign("line", "fit", tr("fitted")))
    if result.envelope is not None:
        signs.append(Sign("band", "band", tr("allowed")))
    outside = points_outside(part.capture, part.choices.band)
    if set(result.fit.set_aside) - outside:
        signs.append(Sign("ring", "doubt", tr("set aside")))
    if outside:
        signs.append(Sign("dot", "edge", tr("not fitted")))
    if not isinstance(part.capture, Transient):
        if plane is not None and "f0" in result.fit.estimates:
            signs.append(Sign("square", "ink", tr("resonance")))
        if "Q" in result.fit.estimates:
            signs.append(Sign("diamond", "fit", tr("half power")))
        signs.append(Sign("plus", "ink", tr("imaginary residual")))
    return signs
