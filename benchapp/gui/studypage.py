"""The view Gauge study of the station Lot: its plan, its measurements, what it comes to."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.instrument import Instrument
from benchapp.gui.labels import text
from benchapp.gui.reporter import ReportButton, Wish
from benchapp.gui.session import Session
from benchapp.gui.study import Study
from benchapp.gui.studybench import StudyBench
from benchapp.gui.studyform import StudyForm
from benchapp.gui.studyresults import StudyResults
from benchapp.gui.words import tr
from benchapp.jobs import WriteGaugeReport
from benchapp.lot import StudyPlan

__all__ = ["StudyPage"]


class StudyPage(QStackedWidget):
    """The form of a study, the measurement that is next, or the complete study.

    Signals
    -------
    wants_sweep(), wants_capture()
        Take a sweep; choose the file of a capture.
    """

    wants_sweep = Signal()
    wants_capture = Signal()

    def __init__(
        self,
        study: Study,
        session: Session,
        instrument: Instrument,
        folder: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._study, self._session, self._folder = study, session, folder
        self.form, self.bench = StudyForm(), StudyBench(study, instrument)
        self.results = StudyResults()
        for widget in (_scrolled(self.form), _scrolled(self.bench), self._whole(), self._wait()):
            self.addWidget(widget)
        self.form.stated.connect(self._ask_place)
        self.form.wants_file.connect(self._ask_file)
        self.bench.wants_sweep.connect(self.wants_sweep)
        self.bench.wants_capture.connect(self.wants_capture)
        study.changed.connect(self.show_study)
        session.nominal_changed.connect(lambda: self.form.show_nominal(session.nominal))
        self.form.show_nominal(session.nominal)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFocusProxy(self.form.form.fields["parts"])
        self.show_study()

    def _whole(self) -> QWidget:
        sheet = QWidget()
        sheet.setObjectName("sheet")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(24, 14, 24, 12)
        column.setSpacing(8)
        row = QHBoxLayout()
        self.report = ReportButton(self._wish)
        self.undo = QPushButton(tr("Take the last value back"))
        self.undo.setToolTip(tr("It is measured once more (Ctrl+Z)"))
        self.undo.clicked.connect(self._study.undo)
        self.again = QPushButton(tr("Another study"))
        self.again.setToolTip(tr("This one stays in its file and in the record"))
        self.again.clicked.connect(self._study.leave)
        for button in (self.report, self.undo, self.again):
            row.addWidget(button)
        row.addStretch(1)
        column.addWidget(self.results, 1)
        column.addLayout(row)
        return sheet

    def _wait(self) -> QWidget:
        """Say that it is being worked out, or why it cannot be."""
        sheet = QWidget()
        sheet.setObjectName("sheet")
        column = QVBoxLayout(sheet)
        column.setContentsMargins(24, 16, 24, 14)
        column.setSpacing(10)
        self.state, self.why = text("", "title"), text()
        row = QHBoxLayout()
        self.back = QPushButton(tr("Take the last value back"))
        self.back.clicked.connect(self._study.undo)
        self.away = QPushButton(tr("Put the study away"))
        self.away.clicked.connect(self._study.leave)
        row.addWidget(self.back)
        row.addWidget(self.away)
        row.addStretch(1)
        column.addWidget(self.state)
        column.addWidget(self.why)
        column.addLayout(row)
        column.addStretch(1)
        return sheet

    @property
    def is_measuring(self) -> bool:
        """Whether a capture that comes is a measurement of the study."""
        return self.isVisible() and self._study.is_measuring

    def show_study(self) -> None:
        """Show the plan, what is next, or what came of it."""
        study = self._study
        at = 0 if study.sheet is None else 1 if study.is_measuring else 2 if study.found else 3
        if at == 2:
            self.results.show_found(study.found)
            self.undo.setEnabled(study.can_undo)
        failed = tr("The study cannot be worked out")
        self.state.setText(failed if study.trouble else tr("Working the study out…"))
        self.why.setText(study.trouble)
        self.setCurrentIndex(at)
        field = self.bench.value if at == 1 else self.form.form.fields["parts"]
        self.setFocusProxy(field if at < 2 else self.results.shares)
        if self.isVisible() and at in (1, 2):
            self.setFocus()

    def _wish(self) -> Wish | None:
        study = self._study
        if study.found is None:
            return None
        found, path = study.found, study.path
        return Wish(
            name=tr("Gauge study {name}").format(name=found.table.quantity).strip(),
            job=lambda choices: WriteGaugeReport(study=found, path=path, choices=choices),
        )

    def _ask_place(self, plan: StudyPlan, seed: int | None) -> None:
        """Let the person choose the file of a new study."""
        dialog = self._dialog(tr("Keep the gauge study in"))
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("csv")
        dialog.selectFile(tr("gauge study {name}").format(name=plan.quantity) + ".csv")
        dialog.fileSelected.connect(lambda path: self._study.begin(plan, path, seed))
        dialog.open()

    def _ask_file(self) -> None:
        """Let the person choose the file of a study to go on with."""
        dialog = self._dialog(tr("Go on with a gauge study"))
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        dialog.fileSelected.connect(self._study.open)
        dialog.open()

    def _dialog(self, title: str) -> QFileDialog:
        dialog = QFileDialog(self, title, self._folder)
        dialog.setNameFilters([tr("Gauge studies") + " (*.csv)", tr("All files") + " (*)"])
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        return dialog


def _scrolled(widget: QWidget) -> QScrollArea:
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    widget.setObjectName("sheet")
    area.setWidget(widget)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area
