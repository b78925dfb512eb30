"""Results beside each other, quantity by quantity."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QScrollArea, QVBoxLayout, QWidget

from benchapp.gui.labels import Value, heading, muted, term
from benchapp.gui.words import number, outcome_words, tr, with_expanded
from benchapp.nominal import Outcome
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
    """A small table of results; hidden until there are some."""

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
        column.addLayout(self._grid)
        column.addStretch(1)
        self.hide()

    def show_results(
        self,
        title: str,
        titles: Sequence[str],
        results: Sequence[Mapping[str, Estimate]],
        outcomes: Sequence[Outcome | None] = (),
    ) -> None:
        """Show results in the order given, with how far the last lies from the first."""
        while (item := self._grid.takeAt(0)) is not None:
            if item.widget() is not None:
                item.widget().hide()
                item.widget().deleteLater()
        self.title.setText(tr("Compared: {title}").format(title=title))
        last = len(results)
        heads = [*titles, *([tr("the last against the first")] if last > 1 else [])]
        for column, words in enumerate(heads, start=1):
            self._grid.addWidget(muted(words, wrap=False), 0, column, Qt.AlignmentFlag.AlignRight)
        for column in range(last + 3):
            self._grid.setColumnStretch(column, int(column == last + 2))
        self._show_outcomes(outcomes)
        names = list(dict.fromkeys(name for one in results for name in one))
        for row, name in enumerate(names, start=2):
            self._grid.addWidget(term(name), row, 0)
            for column, one in enumerate(results, start=1):
                found = one.get(name)
                words = tr("not determined") if found is None else with_expanded(found)
                self._grid.addWidget(Value(words), row, column)
            if last > 1:
                words = distance_words(results[0].get(name), results[-1].get(name))
                self._grid.addWidget(Value(words), row, last + 1)
        self.show()

    def _show_outcomes(self, outcomes: Sequence[Outcome | None]) -> None:
        if not outcomes:
            return
        self._grid.addWidget(heading(tr("verdict")), 1, 0)
        for column, outcome in enumerate(outcomes, start=1):
            words = outcome_words(Outcome.NOT_JUDGED if outcome is None else outcome)
            self._grid.addWidget(Value(words), 1, column)
