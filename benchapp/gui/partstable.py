"""The parts of a lot, or measurements of the record, as a table that holds any number of rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from benchapp.gui.labels import copy_text
from benchapp.gui.marks import mark_icon, mark_of
from benchapp.gui.words import outcome_words, quantity, tr
from benchapp.nominal import Outcome
from benchapp.units import Estimate

__all__ = ["Line", "PartsModel", "PartsTable"]

Index = QModelIndex | QPersistentModelIndex
_NO_PARENT = QModelIndex()


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row: ``key`` names it, ``cells`` are its words, ``estimates`` its numbers by name.

    ``tip`` is told where the pointer rests on it.
    """

    key: str
    outcome: Outcome
    cells: tuple[str, ...]
    estimates: Mapping[str, Estimate]
    tip: str = ""


class PartsModel(QAbstractTableModel):
    """Rows that are written only when they are looked at.

    The first column is the outcome, then come the words, then the quantities.
    """

    def __init__(self, words: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._words = tuple(words)
        self._names: tuple[str, ...] = ()
        self._lines: list[Line] = []
        self._order: tuple[int, Qt.SortOrder] | None = None

    def show_lines(self, lines: Sequence[Line], names: Sequence[str]) -> None:
        """Show other rows, with columns for these quantities."""
        self.beginResetModel()
        self._lines, self._names = list(lines), tuple(names)
        if self._order is not None and self._order[0] >= self.columnCount():
            self._order = None
        if self._order is not None:
            self._sort(*self._order)
        self.endResetModel()

    @property
    def is_sorted(self) -> bool:
        """Whether the rows stand in the order of a column."""
        return self._order is not None

    @property
    def lines(self) -> tuple[Line, ...]:
        """The rows in the order shown."""
        return tuple(self._lines)

    def rowCount(self, parent: Index = _NO_PARENT) -> int:
        """Give the number of rows."""
        return 0 if parent.isValid() else len(self._lines)

    def columnCount(self, parent: Index = _NO_PARENT) -> int:
        """Give the number of columns."""
        return 0 if parent.isValid() else 1 + len(self._words) + len(self._names)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        """Give the name of a column."""
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return (tr("outcome"), *self._words, *self._names)[section]

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Write one cell."""
        line, column = self._lines[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._cell(line, column)
        if role == Qt.ItemDataRole.DecorationRole and column == 0:
            return mark_icon(mark_of(line.outcome))
        if role == Qt.ItemDataRole.TextAlignmentRole and column > len(self._words):
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == Qt.ItemDataRole.ToolTipRole:
            return line.tip
        return None

    def _cell(self, line: Line, column: int) -> str:
        if column == 0:
            return outcome_words(line.outcome)
        if column <= len(self._words):
            return line.cells[column - 1]
        found = line.estimates.get(self._names[column - 1 - len(self._words)])
        return "" if found is None else quantity(found.value, found.unit, u=found.u)

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sort the rows by a column; numbers by value, rows without one at the end."""
        self.layoutAboutToBeChanged.emit()
        before = self.persistentIndexList()
        keys = [self._lines[index.row()].key for index in before]
        self._order = None if column < 0 else (column, order)
        if self._order is not None:
            self._sort(column, order)
        places = {line.key: at for at, line in enumerate(self._lines)} if before else {}
        after = [
            self.index(places[key], index.column())
            for key, index in zip(keys, before, strict=True)
        ]
        self.changePersistentIndexList(before, after)
        self.layoutChanged.emit()

    def _sort(self, column: int, order: Qt.SortOrder) -> None:
        back = order == Qt.SortOrder.DescendingOrder
        words = len(self._words)
        if column == 0:
            ranks = list(Outcome)
            self._lines.sort(key=lambda line: ranks.index(line.outcome), reverse=back)
        elif column <= words:
            self._lines.sort(key=lambda line: _natural(line.cells[column - 1]), reverse=back)
        else:
            name = self._names[column - 1 - words]
            having = [line for line in self._lines if name in line.estimates]
            having.sort(key=lambda line: line.estimates[name].value, reverse=back)
            self._lines = having + [line for line in self._lines if name not in line.estimates]

    def row_of(self, key: str) -> int | None:
        """Give the row of a key."""
        return next((at for at, line in enumerate(self._lines) if line.key == key), None)


def _natural(words: str) -> tuple[int, float, str]:
    return (0, float(words), "") if words.isdecimal() else (1, 0.0, words)


class PartsTable(QTableView):
    """The table: sortable by its heads, copied with Ctrl+C.

    Parameters
    ----------
    name : str
        For the screen reader.
    words : sequence of str
        Heads of the columns of words.
    first : int, optional
        How many of them stand before the quantities; without it all do.

    Signals
    -------
    chosen(key)
        The person chose a row; "" where none is chosen any more.
    opened(key)
        The person wants to open a row: a double click, or Return.
    """

    chosen = Signal(str)
    opened = Signal(str)

    def __init__(
        self,
        name: str,
        words: Sequence[str],
        parent: QWidget | None = None,
        *,
        first: int | None = None,
    ) -> None:
        self._telling = True
        super().__init__(parent)
        self._words, self._first = len(words), len(words) if first is None else first
        self.setAccessibleName(name)
        self.rows = PartsModel(words, self)
        self.setModel(self.rows)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setShowGrid(False)
        self.setSortingEnabled(True)
        self.horizontalHeader().setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(self.fontMetrics().height() + 8)
        self.horizontalHeader().setFixedHeight(self.fontMetrics().height() + 12)
        self.setIconSize(QSize(15, 15))
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.doubleClicked.connect(lambda index: self.opened.emit(self._key(index.row())))

    def _key(self, row: int) -> str:
        return self.rows.lines[row].key

    def show_lines(self, lines: Sequence[Line], names: Sequence[str]) -> None:
        """Show other rows; the chosen ones stay chosen."""
        before = self.chosen_keys()
        columns = self.rows.columnCount()
        self._telling = False
        self.rows.show_lines(lines, names)
        if not self.rows.is_sorted:
            self.horizontalHeader().setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        self.choose(before)
        self._telling = True
        if self.rows.columnCount() != columns or not before:
            self._order_columns()
            self._fit_columns()

    def _order_columns(self) -> None:
        """Put the quantities behind the first words, where they are seen without scrolling."""
        head, columns = self.horizontalHeader(), range(self.rows.columnCount())
        quantities = columns[1 + self._words :]
        wanted = [*columns[: 1 + self._first], *quantities]
        wanted += [column for column in columns if column not in wanted]
        for place, column in enumerate(wanted):
            head.moveSection(head.visualIndex(column), place)

    @property
    def columns(self) -> list[int]:
        """The columns of the model in the order shown."""
        head = self.horizontalHeader()
        return sorted(range(self.rows.columnCount()), key=head.visualIndex)

    def _fit_columns(self) -> None:
        """Give each column the width of its head and of the first rows."""
        metrics = self.fontMetrics()
        for column in range(self.rows.columnCount()):
            texts = [str(self.rows.headerData(column, Qt.Orientation.Horizontal)) + "  "]
            rows = range(min(40, self.rows.rowCount()))
            texts += [str(self.rows.data(self.rows.index(row, column))) for row in rows]
            room = 40 if column == 0 else 18
            widest = max(metrics.horizontalAdvance(words) for words in texts)
            self.setColumnWidth(column, min(widest + room, 320))

    def chosen_keys(self) -> tuple[str, ...]:
        """Give the keys of the chosen rows, from top to bottom."""
        chosen = self.selectionModel().selectedRows()
        return tuple(self._key(row) for row in sorted(index.row() for index in chosen))

    def choose(self, keys: Sequence[str]) -> None:
        """Choose rows and bring the first into view."""
        told, self._telling = self._telling, False
        wanted = set(keys)
        selection = QItemSelection()
        rows = [at for at, line in enumerate(self.rows.lines) if line.key in wanted]
        last = max(0, self.rows.columnCount() - 1)
        for row in rows:
            selection.select(self.rows.index(row, 0), self.rows.index(row, last))
        model = self.selectionModel()
        if rows:
            model.setCurrentIndex(
                self.rows.index(rows[0], 0), QItemSelectionModel.SelectionFlag.NoUpdate
            )
        model.select(selection, QItemSelectionModel.SelectionFlag.ClearAndSelect)
        if rows:
            self.scrollTo(self.rows.index(rows[0], 0))
        self._telling = told

    def selectionChanged(self, now: QItemSelection, before: QItemSelection) -> None:
        """Tell which row was chosen."""
        super().selectionChanged(now, before)
        current = self.selectionModel().currentIndex()
        if self._telling and not self.selectionModel().hasSelection():
            self.chosen.emit("")
        elif self._telling and current.isValid():
            self.chosen.emit(self._key(current.row()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Ctrl+C copies the chosen rows as a table, Return opens one."""
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.currentIndex().isValid():
                self.opened.emit(self._key(self.currentIndex().row()))
        else:
            super().keyPressEvent(event)

    def copy(self) -> None:
        """Copy the chosen rows, or all of them, with their heads, as text between tabs."""
        rows = sorted(index.row() for index in self.selectionModel().selectedRows())
        columns = self.columns
        heads = [str(self.rows.headerData(at, Qt.Orientation.Horizontal)) for at in columns]
        body = [
            [str(self.rows.data(self.rows.index(row, at))) for at in columns]
            for row in rows or range(self.rows.rowCount())
        ]
        copy_text("\n".join("\t".join(cells) for cells in [heads, *body]))
