"""Results as rows of name, value and remark: to be read, hovered over and copied."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QWidget

from benchapp.gui.labels import Value, muted, text
from benchapp.gui.marks import Mark
from benchapp.gui.words import tr

__all__ = ["Answer", "AnswerRows", "written"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One result in words. ``value`` is empty where it is not known; ``remark`` then says why."""

    name: str
    value: str
    remark: str = ""
    tip: str = ""
    danger: bool = False


def written(title: str, answers: Iterable[Answer]) -> str:
    """Write results as lines of text, tabs between name, value and remark."""
    rows = [
        "\t".join(part for part in (one.name, one.value or tr("not known"), one.remark) if part)
        for one in answers
    ]
    return "\n".join([title, *rows])


class AnswerRows(QWidget):
    """Rows of results; what is dangerous to touch bears a mark.

    Parameters
    ----------
    remarks : int
        Pixels that the remarks have at least.
    """

    def __init__(self, remarks: int = 0, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(10)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(3, 1)
        self._grid.setColumnMinimumWidth(3, remarks)
        self._names: tuple[str, ...] = ()
        self.values: list[Value] = []
        self.answers: tuple[Answer, ...] = ()

    def show_answers(self, answers: Sequence[Answer]) -> None:
        """Show these results instead; the rows stay where their names do."""
        self.answers = tuple(answers)
        self.setVisible(bool(self.answers))
        names = tuple(one.name for one in answers)
        if names != self._names:
            self._lay_out(names)
        for row, one in enumerate(answers):
            value = self.values[row]
            value.setText(one.value or "–")
            value.setToolTip(one.tip)
            value.setAccessibleName(f"{one.name}: {one.value or tr('not known')} {one.remark}")
            remark = self._grid.itemAtPosition(row, 3).widget()
            remark.setText(one.remark)
            mark = self._grid.itemAtPosition(row, 2).widget()
            mark.setVisible(one.danger)
            self._grid.itemAtPosition(row, 0).widget().setToolTip(one.tip)

    def value(self, name: str) -> Value:
        """Give the value of the first row of that name."""
        return self.values[self._names.index(name)]

    def _lay_out(self, names: tuple[str, ...]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            item.widget().hide()
            item.widget().deleteLater()
        self._names, self.values = names, []
        for row, name in enumerate(names):
            self._grid.addWidget(text(name, wrap=False), row, 0)
            value = Value()
            self.values.append(value)
            self._grid.addWidget(value, row, 1)
            mark = Mark(16)
            mark.set_mark("doubt", tr("above the touch limit"))
            mark.setToolTip(tr("Above the touch limit: see the caution"))
            self._grid.addWidget(mark, row, 2, Qt.AlignmentFlag.AlignVCenter)
            self._grid.addWidget(muted(), row, 3)
