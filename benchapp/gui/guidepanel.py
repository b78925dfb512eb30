"""The panel of the guided first run: a quiet row below the page that covers nothing."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from benchapp.gui.guide import Guide
from benchapp.gui.guidesteps import STEPS
from benchapp.gui.labels import heading, muted, text
from benchapp.gui.words import tr

__all__ = ["GuidePanel"]

_RESERVED = 2  # lines of words for which there is always room, so that the page keeps its size


class GuidePanel(QFrame):
    """Says what the step is, leads to its place, does it where that is wanted, and lets go."""

    def __init__(self, guide: Guide, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("notice")
        self.setAccessibleName(tr("Guided first run"))
        self._guide = guide
        self.place, self.title, self.words = muted(wrap=False), heading(""), text()
        self.words.setMinimumHeight(_RESERVED * self.words.fontMetrics().lineSpacing())
        self.place_button = _button(
            tr("Show the place"), tr("Go there; the keyboard is where the step begins")
        )
        self.act_button = _button(tr("Do it for me"), tr("The program does this step now"))
        self.again_button = _button(tr("Begin anew"), tr("Go through all steps once more"))
        self.leave_button = _button(
            tr("Leave"), tr("Everything of before is there again; go on from the menu at any time")
        )
        self.place_button.clicked.connect(guide.show_place)
        self.act_button.clicked.connect(guide.act)
        self.again_button.clicked.connect(guide.again)
        self.leave_button.clicked.connect(guide.leave)
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 6, 12, 6)
        row.setSpacing(8)
        column = QVBoxLayout()
        column.setSpacing(1)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.title)
        head.addWidget(self.place)
        head.addStretch(1)
        column.addLayout(head)
        column.addWidget(self.words)
        row.addLayout(column, 1)
        for button in (self.place_button, self.act_button, self.again_button, self.leave_button):
            row.addWidget(button)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        guide.changed.connect(self.refresh)
        guide.looked.connect(self.show_state)
        self.refresh()

    def refresh(self) -> None:
        """Show the step that it is at."""
        guide = self._guide
        self.setVisible(guide.is_on)
        if not guide.is_on:
            return
        step = guide.step
        done = tr("{n} of {all} steps done").format(n=len(guide.passed), all=len(STEPS))
        self.place.setText(done)
        self.title.setText(tr("That was the whole job") if step is None else tr(step.title))
        ended = tr(
            "From the marking to the signed lot. All of it is in a record for practice; your own "
            "record is as it was. Leave, and do the same with your parts."
        )
        self.words.setText(ended if step is None else tr(step.words))
        for button in (self.place_button, self.act_button):
            button.setVisible(step is not None)
        self.again_button.setVisible(step is None)
        self.show_state()

    def show_state(self) -> None:
        """Follow what the window shows and does: what cannot be pressed now is off."""
        step = self._guide.step
        if self._guide.is_on and step is not None:
            self.act_button.setEnabled(not self._guide.is_waiting)


def _button(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setToolTip(tip)
    button.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # after a click Space still takes the sweep
    return button
