"""The choices around the plots: what is shown, what is fitted, which band, undo and redo."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QWidget

from benchapp.capture import Capture, Response, Sweep, Transient
from benchapp.circuit import CIRCUITS
from benchapp.errors import QuantityError
from benchapp.gui.labels import Choice, muted, set_wrong
from benchapp.gui.views import View, abscissa, views_for
from benchapp.gui.words import decimal_mark, exact, tr
from benchapp.jobs import FitChoices
from benchapp.nominal import Nominal
from benchapp.units import parse_quantity

__all__ = ["BandEdges", "PlotBar"]

_TIP = Qt.ItemDataRole.ToolTipRole


class PlotBar(QWidget):
    """What is plotted and what is fitted.

    Signals
    -------
    view_chosen()
        Another pair of quantities, or another kind of axis: see `view`, `log_x`, `log_y`.
    circuit_chosen(name)
        Another circuit, ``auto`` to leave it to the design or the data.
    """

    view_chosen = Signal()
    circuit_chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._views: tuple[View, ...] = ()
        self.views = _box(tr("Which quantities are plotted"), 8)
        self.views.currentIndexChanged.connect(self.view_chosen)
        self.log_x, self.log_y = self._toggle(tr("log f")), self._toggle("")
        self.log_y.setChecked(True)
        self.circuits = _box(tr("Which equivalent circuit is fitted"), 11)
        self.circuits.currentIndexChanged.connect(self._choose_circuit)
        self.undo, self.redo = QPushButton(tr("Undo")), QPushButton(tr("Redo"))
        self.undo.setToolTip(tr("Take the last choice about this part back (Ctrl+Z)"))
        self.redo.setToolTip(tr("Make the choice again that was undone (Ctrl+Shift+Z)"))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        for widget in (self.views, self.log_x, self.log_y):
            row.addWidget(widget)
        row.addSpacing(8)
        row.addWidget(muted(tr("Fit"), wrap=False))
        row.addWidget(self.circuits)
        row.addStretch(1)
        row.addWidget(self.undo)
        row.addWidget(self.redo)

    def _toggle(self, words: str) -> QPushButton:
        button = QPushButton(words)
        button.setCheckable(True)
        button.setToolTip(tr("Logarithmic axis"))
        button.toggled.connect(lambda _on: self.view_chosen.emit())
        return button

    @property
    def view(self) -> View | None:
        """The pair of quantities that is chosen."""
        at = self.views.currentIndex()
        return self._views[at] if 0 <= at < len(self._views) else None

    def choose(self, key: str) -> None:
        """Choose a view by its key, as a person would; what is not offered is left."""
        at = next((at for at, view in enumerate(self._views) if view.key == key), -1)
        if at >= 0:
            self.views.setCurrentIndex(at)

    def show_capture(self, capture: Capture, preferred: str, nominal: Nominal | None) -> None:
        """Offer what suits this capture."""
        self._views = views_for(capture)
        keys = [view.key for view in self._views]
        with QSignalBlocker(self.views):
            self.views.clear()
            self.views.addItems([tr(view.title) for view in self._views])
            self.views.setCurrentIndex(keys.index(preferred) if preferred in keys else 0)
        self.log_x.setVisible(not isinstance(capture, Transient))
        self._offer_circuits(capture, nominal)

    def show_view(self) -> View | None:
        """Name the axis that can be logarithmic in the chosen view, and give that view."""
        view = self.view
        traces = () if view is None else (view.upper, view.lower)
        name = next((one.name for one in traces if one is not None and one.logarithmic), "")
        self.log_y.setVisible(bool(name))
        self.log_y.setText(tr("log {name}").format(name=name))
        return view

    def _offer_circuits(self, capture: Capture, nominal: Nominal | None) -> None:
        offers = [(_first_offer(capture, nominal), "auto", "")]
        if isinstance(capture, Sweep):
            offers += [(name, name, circuit.title) for name, circuit in CIRCUITS.items()]
        with QSignalBlocker(self.circuits):
            self.circuits.clear()
            for at, (words, name, title) in enumerate(offers):
                self.circuits.addItem(words, name)
                self.circuits.setItemData(at, title, _TIP)
        self.circuits.setEnabled(len(offers) > 1)

    def show_choices(self, choices: FitChoices, *, can_undo: bool, can_redo: bool) -> None:
        """Show the choices that hold."""
        with QSignalBlocker(self.circuits):
            self.circuits.setCurrentIndex(max(0, self.circuits.findData(choices.circuit)))
        self.undo.setEnabled(can_undo)
        self.redo.setEnabled(can_redo)

    def _choose_circuit(self, at: int) -> None:
        if at >= 0:
            self.circuit_chosen.emit(self.circuits.itemData(at))


def _first_offer(capture: Capture, nominal: Nominal | None) -> str:
    """Say what is fitted where the person does not choose a circuit."""
    if isinstance(capture, Response):
        return tr("resonance")
    if isinstance(capture, Transient):
        return tr("ring-down")
    if nominal is None or nominal.circuit == "auto":
        return tr("by the data")
    return tr("{name} (design)").format(name=nominal.circuit)


def _box(name: str, letters: int) -> Choice:
    box = Choice(name)
    box.setSizeAdjustPolicy(Choice.SizeAdjustPolicy.AdjustToContents)
    box.setMinimumContentsLength(letters)
    return box


class BandEdges(QWidget):
    """Between which frequencies the sweep is fitted, typed or as dragged out in the plots.

    Signals
    -------
    typed(band)
        A band in Hz, or None for the whole sweep.
    refused(error)
        What was typed cannot be a band.
    """

    typed = Signal(object)
    refused = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._capture: Capture | None = None
        self.low = self._edge(tr("Lowest frequency that is fitted"), tr("start"))
        self.high = self._edge(tr("Highest frequency that is fitted"), tr("end"))
        self.whole = QPushButton(tr("All"))
        self.whole.setToolTip(tr("Fit the whole sweep"))
        self.whole.clicked.connect(lambda: self.typed.emit(None))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(muted(tr("Fit from"), wrap=False))
        row.addWidget(self.low)
        row.addWidget(muted(tr("to"), wrap=False))
        row.addWidget(self.high)
        row.addWidget(self.whole)

    def _edge(self, name: str, placeholder: str) -> QLineEdit:
        edit = QLineEdit()
        edit.setPlaceholderText(placeholder)
        edit.setAccessibleName(name)
        tip = tr("{name}; empty for all. Dragging across a plot sets both.")
        edit.setToolTip(tip.format(name=name))
        edit.setFixedWidth(edit.fontMetrics().horizontalAdvance("134.256 kHz") + 26)
        edit.editingFinished.connect(self._read)
        return edit

    def show_band(self, capture: Capture, band: tuple[float, float] | None) -> None:
        """Show the band that holds for a capture."""
        self._capture = capture
        self.setVisible(not isinstance(capture, Transient))
        edges = ("", "") if band is None else tuple(_rounded(edge) for edge in band)
        for edit, words in zip((self.low, self.high), edges, strict=True):
            edit.setText(words)
            edit.setCursorPosition(0)
            edit.setModified(False)
            set_wrong(edit, wrong=False)
        self.whole.setEnabled(band is not None)

    def _read(self) -> None:
        """Take the band as typed; an empty end is the end of the sweep."""
        if not (self.low.isModified() or self.high.isModified()) or self._capture is None:
            return
        x = abscissa(self._capture)
        typed = [edit.text().strip() for edit in (self.low, self.high)]
        edges = []
        for edit, words, end in zip((self.low, self.high), typed, (x[0], x[-1]), strict=True):
            try:
                edges.append(_frequency(words, float(end)))
            except QuantityError as error:
                set_wrong(edit, wrong=True)
                self.refused.emit(error)
                return
            set_wrong(edit, wrong=False)
        if not any(typed):
            self.typed.emit(None)
        elif edges[0] < edges[1]:
            self.typed.emit(tuple(edges))
        else:
            set_wrong(self.high, wrong=True)
            self.refused.emit(_falling(*typed))


def _frequency(words: str, otherwise: float) -> float:
    return parse_quantity(words, "Hz", mark=decimal_mark()).value if words else otherwise


def _rounded(frequency: float) -> str:
    return exact(float(f"{frequency:.6g}"), "Hz")


def _falling(low: str, high: str) -> QuantityError:
    return QuantityError(
        f"band: must rise from its first to its second frequency (got {low} to {high}).",
        hint="Type the lower frequency first.",
    )
