"""Two results beside each other, quantity by quantity."""

from __future__ import annotations

import math
from collections.abc import Mapping

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QScrollArea, QVBoxLayout, QWidget

from benchapp.gui.labels import Value, heading, muted, term
from benchapp.gui.words import number, tr, with_expanded
from benchapp.units import Estimate

__all__ = ["Comparison", "distance_words"]


def distance_words(first: Estimate | None, second: Estimate | None) -> str:
    """Say how far the second value lies from the first, and whether more than both scatter."""
    if first is None or second is None:
        return tr("only one of them")
    if first.value == second.value:
        return tr("the same")
    change = f"{100 * (second.value / first.value - 1):+.3g} %" if first.value else ""
    if first.u is None or second.u is None:
        return number(change)
    both = 2 * math.hypot(first.u, second.u)
    away = abs(second.value - first.value)
    words = tr("within both U") if away <= both else tr("more than both U")
    return number(", ".join(one for one in (change, words) if one))


class Comparison(QScrollArea):
    """A small table of two results; hidden until there are two."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self.setWidget(sheet)
        column = QVBoxLayout(sheet)
        column.setContentsMargins(0, 4, 0, 4)
        self.title = heading("")
        column.addWidget(self.title)
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(28)
        self._grid.setColumnStretch(4, 1)
        column.addLayout(self._grid)
        column.addStretch(1)
        self.hide()

    def show_two(
        self,
        title: str,
        titles: tuple[str, ...],
        pair: tuple[Mapping[str, Estimate], Mapping[str, Estimate]],
    ) -> None:
        """Show two results."""
        while (item := self._grid.takeAt(0)) is not None:
            item.widget().hide()
            item.widget().deleteLater()
        self.title.setText(tr("Compared: {title}").format(title=title))
        for column, words in enumerate((*titles, tr("the second against the first")), start=1):
            self._grid.addWidget(muted(words, wrap=False), 0, column, Qt.AlignmentFlag.AlignRight)
        first, second = pair
        names = [*first, *(name for name in second if name not in first)]
        for row, name in enumerate(names, start=1):
            self._grid.addWidget(term(name), row, 0)
            for column, results in enumerate(pair, start=1):
                found = results.get(name)
                words = tr("not determined") if found is None else with_expanded(found)
                self._grid.addWidget(Value(words), row, column)
            words = distance_words(first.get(name), second.get(name))
            self._grid.addWidget(Value(words), row, 3)
        self.show()
