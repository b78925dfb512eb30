"""A form of blanks made from a table: what is typed is told at once, and marked where wrong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QWidget

from benchapp.gui.labels import Choice, muted, set_wrong
from benchapp.gui.words import number, tr

__all__ = ["Blank", "Form", "align"]

_NARROWEST = 116  # pixels: room for a value with its tolerance


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One blank: ``unit`` as in `benchapp.units`, empty for words.

    ``choices`` are (value, words) to choose from instead of typing. ``empty`` is what an empty
    blank says. A ``wide`` blank has a row to itself.
    """

    key: str
    label: str
    tip: str
    unit: str = ""
    empty: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    wide: bool = False


class Form(QWidget):
    """Blanks in a grid, two beside each other.

    Signals
    -------
    edited(key, words)
        A blank was changed, at each key that was struck.
    finished(key)
        A blank was left, or Return was pressed in it.
    """

    edited = Signal(str, str)
    finished = Signal(str)

    def __init__(
        self, blanks: Sequence[Blank], *, abreast: int = 2, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._blanks = {blank.key: blank for blank in blanks}
        self.fields: dict[str, QLineEdit] = {}
        self.choices: dict[str, Choice] = {}
        self.labels: dict[str, QLabel] = {}
        self._abreast = abreast
        self._grid = grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(5)
        row = column = 0
        for blank in blanks:
            if column and (blank.wide or column == 2 * abreast):
                row, column = row + 1, 0
            grid.addWidget(self._label(blank), row, column)
            span = 2 * abreast - 1 if blank.wide else 1
            grid.addWidget(self._entry(blank), row, column + 1, 1, span)
            column = 2 * abreast if blank.wide else column + 2
        for place in range(abreast):
            grid.setColumnStretch(2 * place + 1, 1)

    def _label(self, blank: Blank) -> QLabel:
        label = muted(tr(blank.label), wrap=False)
        label.setToolTip(tr(blank.tip))
        self.labels[blank.key] = label
        return label

    def _entry(self, blank: Blank) -> QWidget:
        if blank.choices:
            return self._choice(blank)
        field = QLineEdit()
        field.setMinimumWidth(_NARROWEST)
        field.setAccessibleName(tr(blank.label))
        field.setToolTip(tr(blank.tip))
        if blank.empty:
            field.setPlaceholderText(number(tr(blank.empty)))
        field.textEdited.connect(lambda words: self.edited.emit(blank.key, words))
        field.editingFinished.connect(lambda: self.finished.emit(blank.key))
        self.fields[blank.key] = field
        self.labels[blank.key].setBuddy(field)
        return field

    def _choice(self, blank: Blank) -> Choice:
        box = Choice(tr(blank.label))
        box.setToolTip(tr(blank.tip))
        for value, words in blank.choices:
            box.addItem(number(tr(words)), value)
        box.activated.connect(lambda _at: self.edited.emit(blank.key, box.currentData()))
        self.choices[blank.key] = box
        return box

    def show_texts(self, texts: Mapping[str, str]) -> None:
        """Fill the blanks; a blank that says so already keeps its cursor."""
        for key, field in self.fields.items():
            words = texts.get(key, "")
            if field.text() != words:
                field.setText(words)
                field.setCursorPosition(0)
        for key, box in self.choices.items():
            with QSignalBlocker(box):
                box.setCurrentIndex(max(0, box.findData(texts.get(key, ""))))

    def typed(self) -> tuple[tuple[str, str], ...]:
        """Give label and words of each blank that is filled in, and what was chosen."""
        found = {key: field.text().strip() for key, field in self.fields.items()}
        found |= {key: box.currentText() for key, box in self.choices.items()}
        return tuple(
            (self.labels[key].text(), found[key])
            for key in self._blanks
            if found[key] and not self.isHidden()
        )

    def say_empty(self, key: str, words: str) -> None:
        """Say in an empty blank what holds for it; nothing to say gives back the usual words."""
        usual = self._blanks[key].empty
        self.fields[key].setPlaceholderText(words or (number(tr(usual)) if usual else ""))

    def label_widths(self) -> tuple[int, ...]:
        """Give how wide the labels of each column want to be."""
        widths = [0] * self._abreast
        for row in range(self._grid.rowCount()):
            for place in range(self._abreast):
                item = self._grid.itemAtPosition(row, 2 * place)
                if item is not None and isinstance(item.widget(), QLabel):
                    widths[place] = max(widths[place], item.widget().sizeHint().width())
        return tuple(widths)

    def set_label_widths(self, widths: Sequence[int]) -> None:
        """Give the labels of each column at least these widths: forms below each other align."""
        for place, width in enumerate(widths):
            self._grid.setColumnMinimumWidth(2 * place, width)

    def mark_wrong(self, key: str) -> None:
        """Mark the blank that cannot be taken, and no other; '' marks none."""
        for name, field in self.fields.items():
            set_wrong(field, wrong=name == key)


def align(forms: Sequence[Form]) -> None:
    """Let the labels of forms that stand below each other be of one width, column by column."""
    widths = [max(column) for column in zip(*(form.label_widths() for form in forms), strict=True)]
    for form in forms:
        form.set_label_widths(widths)
