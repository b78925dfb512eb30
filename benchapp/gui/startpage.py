"""The page of a first start: what the program is for, and three ways to begin."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from benchapp.gui.labels import heading, muted, text
from benchapp.gui.memory import Memory
from benchapp.gui.words import tr
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL, sample_folder

__all__ = ["StartPage", "sample_lot", "sample_paths"]

SAMPLE_LOT = "ga12_lot"
_WIDEST = 1180  # pixels: longer lines are hard to read


def sample_paths() -> list[str]:
    """Give the sample capture and its nominal design, as far as they are installed."""
    folder = sample_folder()
    paths = [folder / SAMPLE_CAPTURE, folder / SAMPLE_NOMINAL]
    return [str(path) for path in paths if path.is_file()]


def sample_lot() -> list[str]:
    """Give the design of the samples and the captures of its lot."""
    folder = sample_folder()
    lot = sorted((folder / SAMPLE_LOT).glob("*.csv"))
    return [str(path) for path in (folder / SAMPLE_NOMINAL, *lot)]


class StartPage(QScrollArea):
    """Offers for a person who has just started the program.

    Signals
    -------
    wants_paths(paths)
        Open these files.
    wants_capture(), wants_nominal()
        Open one that the person chooses.
    wants_guide(), wants_bench()
        Begin or go on with the guided first run; start the simulated bench.
    """

    wants_paths = Signal(object)
    wants_capture = Signal()
    wants_nominal = Signal()
    wants_guide = Signal()
    wants_bench = Signal()

    def __init__(self, memory: Memory, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWidgetResizable(True)
        sheet = QWidget()
        sheet.setObjectName("sheet")
        self.setWidget(sheet)
        outer = QHBoxLayout(sheet)
        outer.addStretch(1)
        middle = QWidget()
        middle.setMaximumWidth(_WIDEST)
        column = QVBoxLayout(middle)
        column.setSpacing(14)
        outer.addWidget(middle, 8)
        outer.addStretch(1)
        column.addStretch(2)
        column.addWidget(
            text(tr("Measure coils, capacitors and tanks instead of guessing."), "title")
        )
        column.addWidget(
            text(
                tr(
                    "Open the sweep that your instrument saved. You get inductance, capacitance, "
                    "Q and resistance with their uncertainty, and a verdict against the nominal "
                    "design; what the data do not determine is said, not invented."
                )
            )
        )
        column.addSpacing(8)
        offers = QHBoxLayout()
        offers.setSpacing(16)
        self.buttons: list[QPushButton] = []
        for offer in self._offers():
            offers.addWidget(offer, 1)
        column.addLayout(offers)
        column.addSpacing(8)
        self._recent = self._recent_box(memory)
        if self._recent is not None:
            column.addWidget(self._recent)
        column.addWidget(muted(tr("You can also drop files anywhere in this window.")))
        column.addStretch(3)

    def show_guide(self, *, is_begun: bool) -> None:
        """Offer to begin the guided run, or to go on with it."""
        words = tr("Go on with the guided run") if is_begun else tr("Begin the guided run")
        self.buttons[0].setText(words)

    def _offers(self) -> list[QFrame]:
        offers = [
            self._offer(
                tr("Go through the whole job"),
                tr(
                    "From a marking to a signed lot, step by step, on the simulated bench: no "
                    "instrument is needed. It can be left at any step and gone on with later."
                ),
                (tr("Begin the guided run"), self.wants_guide.emit),
                (tr("Start the bench alone"), self.wants_bench.emit),
            )
        ]
        if len(sample_paths()) == 2:
            offers.append(
                self._offer(
                    tr("See the samples"),
                    tr(
                        "The gate antenna coil GA-12 with its nominal design: one part, or a lot "
                        "of 13 with one reject, measured on the simulated bench."
                    ),
                    (tr("Open one part"), lambda: self.wants_paths.emit(sample_paths())),
                    (tr("Open the lot"), lambda: self.wants_paths.emit(sample_lot())),
                )
            )
        offers.append(
            self._offer(
                tr("Open what you have"),
                tr(
                    "A table saved by an LCR meter, an analyser or a scope, a Touchstone file, or "
                    "a nominal design. It is read as it is and never changed."
                ),
                (tr("Open a capture…"), self.wants_capture.emit),
                (tr("Open a design…"), self.wants_nominal.emit),
            )
        )
        return offers

    def _offer(self, title: str, words: str, *acts: tuple[str, Callable[[], object]]) -> QFrame:
        box = QFrame()
        box.setObjectName("box")
        column = QVBoxLayout(box)
        column.setContentsMargins(18, 16, 18, 16)
        column.setSpacing(8)
        column.addWidget(heading(title))
        column.addWidget(text(words))
        column.addStretch(1)
        for action, act in acts:
            button = QPushButton(action)
            button.setAccessibleDescription(words)
            if not self.buttons:
                button.setProperty("role", "main")
            button.clicked.connect(lambda _on=False, act=act: act())
            column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
            self.buttons.append(button)
        return box

    def _recent_box(self, memory: Memory) -> QWidget | None:
        if not memory.recent:
            return None
        box = QWidget()
        column = QVBoxLayout(box)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addWidget(heading(tr("Opened last")))
        for path in memory.recent:
            column.addWidget(self._recent_row(path))
        return box

    def _recent_row(self, path: str) -> QWidget:
        row = QWidget()
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 0, 0, 0)
        button = QPushButton(Path(path).name)
        button.clicked.connect(lambda _on=False: self.wants_paths.emit([path]))
        button.setToolTip(path)
        folder: QLabel = muted(str(Path(path).parent), wrap=False)
        line.addWidget(button)
        line.addWidget(folder, 1)
        return row
