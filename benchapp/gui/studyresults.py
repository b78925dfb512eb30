"""What a gauge study comes to: verdict, figures by every method, plots, bias."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.labels import Choice, copy_text, heading, muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.studyplots import PartPlot, PersonPlot
from benchapp.gui.studywords import (
    JUDGEMENTS,
    METHODS,
    advice_words,
    bias_rows,
    finding_words,
    method_of,
    share_rows,
    size_words,
    source_rows,
    verdict_words,
)
from benchapp.gui.words import bound, tr
from benchapp.jobs import AnalysedStudy

__all__ = ["FigureTable", "StudyResults"]

_GAP = 8  # pixels between columns
_MARK = 30


class FigureTable(QTableWidget):
    """A small table that is as high as its rows and as wide as its heads; Ctrl+C copies it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setToolTip(tr("Ctrl+C copies what is chosen, or all of it"))
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def show_rows(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Show rows; what a row has beyond the heads is told on hover."""
        self.setColumnCount(len(heads))
        self.setHorizontalHeaderLabels(list(heads))
        self.setRowCount(len(rows))
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        left = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        for column in range(len(heads)):
            self.horizontalHeaderItem(column).setTextAlignment(right if column else left)
        for at, cells in enumerate(rows):
            for column, words in enumerate(cells[: len(heads)]):
                item = QTableWidgetItem(words)
                item.setTextAlignment(right if column else left)
                item.setToolTip("\n".join(cells[len(heads) :]))
                self.setItem(at, column, item)
        self._fit(len(rows))

    def _fit(self, rows: int) -> None:
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        line = self.fontMetrics().height() + 8
        self.verticalHeader().setDefaultSectionSize(line)
        widths = [
            max(self.sizeHintForColumn(at), header.sectionSizeHint(at)) + _GAP
            for at in range(self.columnCount())
        ]
        for at, width in enumerate(widths[1:], start=1):
            header.resizeSection(at, width)
        edges = 2 * self.frameWidth()
        self.setFixedHeight(header.sizeHint().height() + rows * line + edges)
        self.setMinimumWidth(sum(widths) + edges)

    def words(self) -> str:
        """Give the chosen cells, or all of it with the heads, with tabs between them."""
        chosen = self.selectedIndexes()
        if len(chosen) > 1:
            rows = sorted({one.row() for one in chosen})
            places = {(one.row(), one.column()) for one in chosen}
            cells = [
                [
                    self.item(row, at).text()
                    for at in range(self.columnCount())
                    if (row, at) in places
                ]
                for row in rows
            ]
        elif chosen:
            return self.item(chosen[0].row(), chosen[0].column()).text()
        else:
            columns = range(self.columnCount())
            cells = [[self.horizontalHeaderItem(at).text() for at in columns]]
            cells += [
                [self.item(row, at).text() for at in columns] for row in range(self.rowCount())
            ]
        return "\n".join("\t".join(row) for row in cells)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy on Ctrl+C."""
        if event.matches(QKeySequence.StandardKey.Copy):
            copy_text(self.words())
            return
        super().keyPressEvent(event)


class StudyResults(QWidget):
    """A complete study: what it comes to at the left, its plots at the right."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._found: AnalysedStudy | None = None
        self._said = QScrollArea()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(24)
        row.addWidget(self._left(), 1)
        row.addLayout(self._right(), 1)

    def _left(self) -> QScrollArea:
        """Give what is said and the tables, which scroll beside the plots."""
        area, sheet = self._said, QWidget()
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        sheet.setObjectName("sheet")
        area.setWidget(sheet)
        column = QVBoxLayout(sheet)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(6)
        head = QHBoxLayout()
        head.setSpacing(12)
        self.mark, self.judgement = Mark(_MARK), text("", "title")
        head.addWidget(self.mark)
        head.addWidget(self.judgement, 1)
        column.addLayout(head)
        self.size, self.verdict, self.advice, self.findings = muted(), text(), text(), text()
        for label in (self.size, self.verdict, self.advice, self.findings):
            column.addWidget(label)
        column.addSpacing(6)
        self.method = Choice(tr("method"))
        self.method.activated.connect(lambda _at: self._show_method())
        self.shares = FigureTable(tr("Standard deviations of the study"))
        self.sources = FigureTable(tr("Analysis of variance"))
        self.bias_title, self.biases = heading(tr("Bias")), FigureTable(tr("Bias of each part"))
        column.addWidget(self.method, 0, Qt.AlignmentFlag.AlignLeft)
        for widget in (self.shares, self.sources, self.bias_title, self.biases):
            column.addWidget(widget)
        column.addStretch(1)
        return area

    def _right(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(6)
        self.by_part, self.by_person = PartPlot(), PersonPlot()
        column.addWidget(heading(tr("Every value by its part")))
        column.addWidget(self.by_part, 1)
        column.addWidget(heading(tr("Deviation from the mean of the part, by person")))
        column.addWidget(self.by_person, 1)
        column.addWidget(muted(tr("Bars are means. Each person has one sign in both plots.")))
        return column

    def show_found(self, found: AnalysedStudy) -> None:
        """Show a study that is worked out."""
        self._found = found
        study = found.variance
        mark, words = JUDGEMENTS[study.judgement]
        self.mark.set_mark(mark, tr(words))
        self.judgement.setText(tr(words))
        self.size.setText(bound(size_words(found)))
        self.verdict.setText(bound(verdict_words(study)))
        self.advice.setText(bound(advice_words(study)))
        self.findings.setText(bound("\n".join(finding_words(found))))
        self.method.clear()
        for name, title in METHODS:
            if method_of(found, name) is not None:
                self.method.addItem(tr(title), name)
        self._show_method()
        self.sources.show_rows(*source_rows(found))
        heads, rows = bias_rows(found)
        self.biases.show_rows(heads, rows)
        for widget in (self.bias_title, self.biases):
            widget.setVisible(bool(rows))
        bar = self._said.verticalScrollBar().sizeHint().width()
        room = bar + 2 * self._said.frameWidth()
        self._said.setMinimumWidth(self._said.widget().minimumSizeHint().width() + room)
        self.by_part.show_study(found.table)
        self.by_person.show_study(found.table)

    def _show_method(self) -> None:
        study = method_of(self._found, self.method.currentData())
        self.shares.show_rows(*share_rows(study, self._found.table.unit))
