"""The row of views of one station: one button for each, the shown one marked."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QT_TR_NOOP, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QWidget

from benchapp.gui.words import tr

__all__ = ["NOMINAL_VIEWS", "ViewRow"]

NOMINAL_VIEWS = (
    (
        "nominal",
        QT_TR_NOOP("Design"),
        QT_TR_NOOP("The nominal design: limits, conditions, how it is decided"),
    ),
    (
        "tank",
        QT_TR_NOOP("Tank"),
        QT_TR_NOOP("Resonance, Q, tolerances, currents and voltages from two of L, C and f0"),
    ),
    (
        "stress",
        QT_TR_NOOP("Stress"),
        QT_TR_NOOP("What the capacitor bears against what its maker allows"),
    ),
    (
        "marking",
        QT_TR_NOOP("Marking"),
        QT_TR_NOOP("What stands on a part, and everything that it can mean"),
    ),
    (
        "coil",
        QT_TR_NOOP("Coil"),
        QT_TR_NOOP("Inductance, resistance and turns of a coil from its geometry"),
    ),
)
"""Key of the page, name and purpose of each view of the station Nominal."""


class ViewRow(QFrame):
    """Buttons that lead to the views of a station.

    Parameters
    ----------
    views : sequence of (str, str, str)
        Key, name and what the view is for.

    Signals
    -------
    chosen(key)
        The person wants to see that view.
    """

    chosen = Signal(str)

    def __init__(
        self, views: Sequence[tuple[str, str, str]], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("views")
        row = QHBoxLayout(self)
        row.setContentsMargins(18, 6, 12, 6)
        row.setSpacing(6)
        self.buttons: dict[str, QPushButton] = {}
        for key, name, tip in views:
            button = QPushButton(tr(name))
            button.setCheckable(True)
            button.setToolTip(tr(tip))
            button.clicked.connect(lambda _on=False, key=key: self._choose(key))
            self.buttons[key] = button
            row.addWidget(button)
        row.addStretch(1)
        self.setAccessibleName(tr("Views of this station"))

    def _choose(self, key: str) -> None:
        self.buttons[key].setChecked(True)
        self.chosen.emit(key)

    def show_chosen(self, key: str) -> None:
        """Mark the view that is shown."""
        for name, button in self.buttons.items():
            button.setChecked(name == key)
