"""The lots of one supplier and part: what became of each, and what drifts from lot to lot."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from benchapp.errors import BenchError
from benchapp.gui.desk import Desk
from benchapp.gui.labels import Choice, muted, text
from benchapp.gui.lotplots import TrendPlot
from benchapp.gui.marks import mark_icon
from benchapp.gui.planwords import decision_words
from benchapp.gui.recorder import Recorder
from benchapp.gui.times import full_time_words, time_words
from benchapp.gui.words import number, plural, quantity, range_words, tr
from benchapp.gui.worker import Worker
from benchapp.jobs import LotsOf, ReviewSupplier, SupplierLot, SupplierLots
from benchapp.logbook import LotRow
from benchapp.lot import Trend

__all__ = ["SupplierPage", "drift_words"]

_NUMBERS = (0, 3, 4, 6, 7)
_ALIGNED = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_NAMED = 3
_KEY = Qt.ItemDataRole.UserRole


class SupplierPage(QWidget):
    """Choose a supplier with a part and a quantity; a lot is chosen in the plot or the table.

    Signals
    -------
    wants_lot(key)
        A lot of the record is to be put on the bench.
    """

    wants_lot = Signal(str)

    def __init__(
        self, desk: Desk, worker: Worker, recorder: Recorder, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self._desk, self._worker, self._recorder = desk, worker, recorder
        self._found: SupplierLots | None = None
        self.group, self.quantity = Choice(tr("supplier and part")), Choice(tr("quantity"))
        self.group.activated.connect(lambda _at: self._review())
        self.quantity.activated.connect(lambda _at: self._show_trend())
        for box in (self.group, self.quantity):
            box.setSizeAdjustPolicy(Choice.SizeAdjustPolicy.AdjustToContents)
        self.said, self.drift, self.note = text(), text(), muted()
        self.plot = TrendPlot()
        self.plot.chosen.connect(self._choose)
        self.table = self._table()
        self.open = QPushButton(tr("Look at this lot"))
        self.open.setToolTip(tr("Put the chosen lot on the bench (Return)"))
        self.open.clicked.connect(lambda: self._open(self.table.currentRow()))
        self._lay_out()
        self._show_found(None)

    def _table(self) -> QTableWidget:
        table = QTableWidget(0, 0)
        table.setAccessibleName(tr("Lots of the supplier, the oldest first"))
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setShowGrid(False)
        table.setTabKeyNavigation(False)
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(table.fontMetrics().height() + 8)
        table.horizontalHeader().setFixedHeight(table.fontMetrics().height() + 12)
        table.horizontalHeader().setMinimumSectionSize(56)
        table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        table.currentCellChanged.connect(lambda row, *_: self._show_chosen(row))
        table.cellActivated.connect(lambda row, _column: self._open(row))
        return table

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.group)
        head.addWidget(self.quantity)
        head.addStretch(1)
        head.addWidget(self.open)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 12)
        column.setSpacing(8)
        column.addLayout(head)
        column.addWidget(self.said)
        column.addWidget(self.drift)
        column.addWidget(self.plot, 3)
        column.addWidget(self.note)
        column.addWidget(self.table, 2)

    def showEvent(self, event: QShowEvent) -> None:
        """List the suppliers anew each time the page is shown."""
        super().showEvent(event)
        if self._recorder.may_exist:
            job = LotsOf(record=self._recorder.address)
            self._worker.submit("suppliers", job, self._list, self._fail)

    def _list(self, lots: Sequence[LotRow]) -> None:
        """Offer every supplier with its part; that of the lot on the bench is chosen first."""
        before = self.group.currentData()
        names: dict[tuple[str, str], tuple[str, str]] = {}
        for row in lots:
            pair = (row.form.supplier, row.form.part)
            names.setdefault((pair[0].casefold(), pair[1].casefold()), pair)
        state = self._desk.state
        if before is None and state is not None:
            before = (state.form.supplier.casefold(), state.form.part.casefold())
        self.group.clear()
        for key in sorted(names):
            supplier, part = names[key]
            self.group.addItem(f"{supplier or tr('supplier not stated')} · {part}", key)
        keys = [self.group.itemData(at) for at in range(self.group.count())]
        self.group.setCurrentIndex(keys.index(before) if before in keys else 0)
        self._review()

    def _review(self) -> None:
        key = self.group.currentData()
        if key is None:
            self._show_found(None)
            return
        job = ReviewSupplier(record=self._recorder.address, supplier=key[0], part=key[1])
        self._worker.submit(
            "supplier lots", job, lambda found: self._show_found(found[0]), self._fail
        )

    def _fail(self, error: BenchError) -> None:
        self._show_found(None)
        self.said.setText(f"{error.message} {error.hint}".strip())

    def _show_found(self, found: SupplierLots | None) -> None:
        self._found = found
        for widget in (self.drift, self.plot, self.note, self.table, self.open, self.quantity):
            widget.setVisible(found is not None)
        self.group.setVisible(self.group.count() > 0)
        if found is None:
            self.said.setText(
                tr(
                    "No lot is in the record yet. Begin one under Inspect (Alt+1): what drifts "
                    "from lot to lot of a supplier is seen here."
                )
            )
            return
        self.said.setText(_sum_words(found))
        before = self.quantity.currentData()
        self.quantity.clear()
        for trend in found.trends:
            self.quantity.addItem(f"{trend.name} · {range_words(trend.limit)}", trend.name)
        self.quantity.setCurrentIndex(max(0, self.quantity.findData(before)))
        self._show_trend()

    @property
    def _trend(self) -> Trend | None:
        trends = () if self._found is None else self._found.trends
        return next((one for one in trends if one.name == self.quantity.currentData()), None)

    def _show_trend(self) -> None:
        found, trend = self._found, self._trend
        if found is None:
            return
        self.quantity.setVisible(trend is not None)
        for widget in (self.plot, self.note):
            widget.setVisible(trend is not None)
        if trend is not None:
            self.plot.show_trend(trend)
            self.note.setText(
                tr(
                    "Points: mean of each lot, with its standard deviation. Solid: limits. "
                    "Dashed: control limits of the means. A triangle breaks a rule of the control "
                    "chart."
                )
            )
        self.drift.setText("" if trend is None else drift_words(trend))
        self.drift.setVisible(bool(self.drift.text()))
        self._fill(found.lots, trend)

    def _fill(self, lots: Sequence[SupplierLot], trend: Trend | None) -> None:
        before = self.table.item(self.table.currentRow(), 0)
        key = None if before is None else before.data(_KEY)
        heads = (
            *(tr("no."), tr("lot"), tr("begun"), tr("parts"), tr("rejected"), tr("decision")),
            *((tr("mean {name}").format(name=trend.name), tr("st. dev.")) if trend else ()),
        )
        self.table.setColumnCount(len(heads))
        self.table.setHorizontalHeaderLabels(heads)
        self.table.setRowCount(len(lots))
        figures = {} if trend is None else dict(zip(trend.lots, trend.figures, strict=True))
        for row, lot in enumerate(lots):
            mark, words = decision_words(lot.state)
            cells = [
                *(str(row + 1), lot.name, time_words(lot.row.time)),
                *(str(lot.state.counted), str(lot.state.rejected), words),
            ]
            found = figures.get(lot.name)
            if found is not None and trend is not None:
                unit = trend.limit.unit
                sd = "" if found.sd is None else quantity(found.sd, unit, digits=2)
                cells += [quantity(found.mean, unit), sd]
            for at, cell in enumerate(cells):
                item = QTableWidgetItem(cell)
                item.setTextAlignment(
                    _ALIGNED if at in _NUMBERS else Qt.AlignmentFlag.AlignVCenter
                )
                item.setToolTip(full_time_words(lot.row.time) if at == 2 else cell)
                self.table.setItem(row, at, item)
            self.table.item(row, 5).setIcon(mark_icon(mark))
            self.table.item(row, 0).setData(_KEY, lot.row.key)
        keys = [lot.row.key for lot in lots]
        self.table.setCurrentCell(keys.index(key) if key in keys else len(keys) - 1, 0)
        self._show_chosen(self.table.currentRow())

    def _choose(self, index: int) -> None:
        """Choose the lot of a point in the table."""
        trend, found = self._trend, self._found
        if trend is None or found is None:
            return
        names = [lot.name for lot in found.lots]
        self.table.setCurrentCell(names.index(trend.lots[index]), 0)

    def _show_chosen(self, row: int) -> None:
        trend, found = self._trend, self._found
        self.open.setEnabled(row >= 0)
        if trend is None or found is None or not 0 <= row < len(found.lots):
            return
        name = found.lots[row].name
        self.plot.show_chosen(trend.lots.index(name) if name in trend.lots else None)

    def _open(self, row: int) -> None:
        if row >= 0:
            self.wants_lot.emit(self.table.item(row, 0).data(_KEY))


def _sum_words(found: SupplierLots) -> str:
    """Say what became of the lots and how the next is inspected."""
    states = [lot.state.decision for lot in found.lots]
    lots = plural(len(states), tr("1 lot"), tr("%n lots"))
    rejected = plural(
        states.count("reject"), tr("1 rejected by its plan"), tr("%n rejected by their plans")
    )
    words = tr("{lots}, {rejected}. Next inspection: {severity} ({why}).")
    state = found.following
    return words.format(lots=lots, rejected=rejected, severity=tr(state.severity), why=state.why)


def drift_words(trend: Trend) -> str:
    """Say how far the mean has moved from the first lot to the last, and where it goes."""
    if len(trend.figures) < 2:
        return tr("One lot has values of this quantity: a trend needs two.")
    first, last, limit = trend.figures[0].mean, trend.figures[-1].mean, trend.limit
    ends = [quantity(mean, limit.unit) for mean in (first, last)]
    moved = tr("The mean went from {first} to {last}") if len(set(ends)) > 1 else ""
    moved = moved or tr("The last lot has the mean of the first, {last}")
    words = [moved.format(first=ends[0], last=ends[1])]
    edges = [edge for edge in (limit.lower, limit.upper) if edge is not None]
    ahead = [edge for edge in edges if (edge - last) * (last - first) > 0]
    if len(set(ends)) > 1 and ahead and limit.lower is not None and limit.upper is not None:
        share = 100 * abs(last - first) / (limit.upper - limit.lower)
        words.append(tr("{share} % of the tolerance").format(share=f"{share:.2g}"))
    signals = [] if trend.charts is None else trend.charts.location.signals
    met = sorted({point for one in signals for point in one.points})
    if met:
        named = [trend.lots[point] for point in met if point < len(trend.lots)][-_NAMED:]
        names = "; ".join([*(["…"] if len(named) < len(met) else []), *named])
        words.append(tr("more than chance at: {names}").format(names=names))
    return number(", ".join(words) + ".")
