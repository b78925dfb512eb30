"""Every part of the lot: table, histogram, run chart, sweeps, capability; all linked."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from benchapp.gui.desk import Desk
from benchapp.gui.emptypage import EmptyPage
from benchapp.gui.labels import Choice, muted, text
from benchapp.gui.lotplots import HistogramPlot, OverlayPlot, RunPlot
from benchapp.gui.partstable import Line, PartsTable
from benchapp.gui.recorder import Recorder
from benchapp.gui.times import clock_words, full_time_words
from benchapp.gui.words import bound, number, plural, quantity, range_words, tr
from benchapp.gui.worker import Worker
from benchapp.jobs import Overlay, OverlayLot, SummarizeLot
from benchapp.lot import LotState, LotSummary, PartRecord, QuantitySummary, key_of

__all__ = ["LotFigures", "capability_words"]

_MOST_SWEEPS = 200
_UNEVEN = "lot-not-even"  # the hints of each quantity say it


class LotFigures(QStackedWidget):
    """The parts of the lot on the bench and what they say together."""

    def __init__(
        self, desk: Desk, worker: Worker, recorder: Recorder, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._desk, self._worker, self._recorder = desk, worker, recorder
        self._state: LotState | None = None
        self._summary: LotSummary | None = None
        self._drawn: frozenset[str] = frozenset()
        self.table = PartsTable(
            tr("Parts of the lot"),
            (tr("serial"), tr("place"), tr("measured"), tr("time"), tr("decided by")),
            first=1,
        )
        self.table.chosen.connect(desk.choose)
        self.histogram, self.run, self.overlay = HistogramPlot(), RunPlot(), OverlayPlot()
        self.histogram.chosen.connect(self._choose_bar)
        self.run.chosen.connect(self._choose_place)
        self.overlay.chosen.connect(desk.choose)
        self.quantity = Choice(tr("quantity"))
        self.quantity.setSizeAdjustPolicy(Choice.SizeAdjustPolicy.AdjustToContents)
        self.quantity.activated.connect(lambda _at: self._show_quantity())
        self.words, self.hints = text(), muted()
        words = tr("Begin a lot, or go on with one, under Inspect (Alt+1).")
        self.addWidget(EmptyPage(tr("No lot is open"), words, ()))
        self.addWidget(self._work())
        desk.changed.connect(self.show_lot)
        desk.selected.connect(self._show_chosen)
        self.show_lot()

    def _work(self) -> QWidget:
        split = QSplitter(Qt.Orientation.Horizontal)
        split.setChildrenCollapsible(False)
        split.setObjectName("sheet")
        split.addWidget(_padded(self.table, self.overlay, (3, 2)))
        right = QWidget()
        column = QVBoxLayout(right)
        column.setContentsMargins(8, 12, 16, 10)
        column.setSpacing(6)
        head = QHBoxLayout()
        head.addWidget(self.quantity)
        head.addStretch(1)
        column.addLayout(head)
        column.addWidget(self.words)
        column.addWidget(self.histogram, 1)
        column.addWidget(self.run, 1)
        column.addWidget(self.hints)
        split.addWidget(right)
        split.setStretchFactor(0, 5)
        split.setStretchFactor(1, 4)
        return split

    def show_lot(self) -> None:
        """Show the lot on the bench."""
        state = self._desk.state
        self.setCurrentIndex(0 if state is None else 1)
        if state is None:
            self._state = self._summary = None
            self._drawn = frozenset()
            return
        if state is self._state:
            return
        self._state = state
        names = [key_of(limit) for limit in self._desk.nominal.limits]
        counts: dict[str, int] = {}
        for record in state.parts:
            counts[record.serial] = counts.get(record.serial, 0) + 1
        lines = [_line(record, counts[record.serial]) for record in state.latest.values()]
        self.table.show_lines(lines, names)
        if self.isVisible():
            self._ask()

    def showEvent(self, event: object) -> None:
        """Work the figures out when they are looked at."""
        super().showEvent(event)
        self._ask()

    def _ask(self) -> None:
        state, nominal = self._state, self._desk.nominal
        if state is None or nominal is None:
            return
        job = SummarizeLot(
            state=state,
            nominal=nominal,
            examination=self._recorder.examination(),
            record=self._recorder.address,
        )
        self._worker.submit("lot figures", job, self._take_summary)
        records = [one for one in state.latest.values() if one.entry is not None]
        apart = [one for one in records if one.is_rejected or not one.is_judged]
        shown = ([*apart, *reversed(records)])[:_MOST_SWEEPS]
        entries = {one.serial: one.entry for one in shown}
        wanted = frozenset(f"{one.serial} {one.entry}" for one in shown)
        if wanted != self._drawn:
            self._drawn = wanted
            overlay = OverlayLot(
                record=self._recorder.address,
                entries=entries,
                nominal=nominal,
                known=dict(self._desk.sweeps),
            )
            self._worker.submit("lot overlay", overlay, self._take_overlay)

    def _take_summary(self, summary: LotSummary) -> None:
        before = self.quantity.currentData()
        self._summary = summary
        self.quantity.clear()
        for found in summary.quantities:
            self.quantity.addItem(f"{found.name} · {range_words(found.limit)}", found.name)
        self.quantity.setCurrentIndex(max(0, self.quantity.findData(before)))
        self._show_quantity()

    def _take_overlay(self, overlay: Overlay) -> None:
        self.overlay.show_sweeps(overlay.sweeps, overlay.envelope)
        self.overlay.show_chosen(self._desk.chosen)

    @property
    def _found(self) -> QuantitySummary | None:
        if self._summary is None:
            return None
        name = self.quantity.currentData()
        return next((one for one in self._summary.quantities if one.name == name), None)

    def _show_quantity(self) -> None:
        found = self._found
        if found is None:
            return
        self.histogram.show_quantity(found, found.name)
        self.run.show_quantity(found, found.name)
        self.words.setText(bound(capability_words(found)))
        hints = [f"{hint.text} {hint.advice}".strip() for hint in found.hints]
        whole = self._summary.findings if self._summary is not None else ()
        hints += [f"{one.text} {one.advice}" for one in whole if one.id != _UNEVEN]
        self.hints.setText("\n".join(hints))
        self.hints.setVisible(bool(hints))
        self._show_chosen(self._desk.chosen)

    def _show_chosen(self, serial: str) -> None:
        if serial not in self.table.chosen_keys():
            self.table.choose([serial] if serial else [])
        self.overlay.show_chosen(serial)
        found = self._found
        if found is None:
            return
        at = found.serials.index(serial) if serial in found.serials else None
        self.run.show_chosen(at)
        self.histogram.show_chosen(None if at is None else float(found.values[at]))

    def _choose_bar(self, low: float, high: float) -> None:
        found = self._found
        if found is None:
            return
        last = float(found.values.max())
        serials = [
            serial
            for serial, value in zip(found.serials, found.values, strict=True)
            if low <= value < high or value == high == last
        ]
        if serials:
            self.table.choose(serials)
            self._desk.choose(serials[0])

    def _choose_place(self, index: int) -> None:
        found = self._found
        if found is not None and index < len(found.serials):
            self._desk.choose(found.serials[index])


def _line(record: PartRecord, attempts: int) -> Line:
    place = "" if record.position is None else str(record.position)
    measured = tr("once") if attempts == 1 else tr("{n} times").format(n=attempts)
    time = clock_words(record.time)
    return Line(
        key=record.serial,
        outcome=record.outcome,
        cells=(record.serial, place, measured, time, record.deciding),
        estimates=record.estimates,
        tip="\n".join(one for one in (full_time_words(record.time), record.reason) if one),
    )


def capability_words(found: QuantitySummary) -> str:
    """Say mean, spread and capability of one quantity, with what they are at least."""
    figures = found.figures
    if figures is None:
        return tr("No part has a value of this quantity yet.")
    unit = found.limit.unit
    parts = plural(figures.n, tr("1 part"), tr("%n parts"))
    mean = quantity(figures.mean, unit)
    words = [tr("{parts}: mean {mean}").format(parts=parts, mean=mean)]
    if figures.sd is not None:
        words.append(tr("standard deviation {sd}").format(sd=quantity(figures.sd, unit, digits=2)))
    sentences = [", ".join(words) + "."]
    if found.missing:
        sentences.append(tr("{n} without a value.").format(n=found.missing))
    index = None if found.capability is None else found.capability.ppk
    if index is not None:
        said = tr("Ppk {value}, at least {bound} with {confidence} % confidence.")
        confidence = f"{100 * found.capability.confidence:g}"
        sentences.append(
            said.format(
                value=f"{index.value:.2f}", bound=f"{index.lower_bound:.2f}", confidence=confidence
            )
        )
    if found.inside is not None:
        said = tr("Inside the limits: {inside} of {n} ({low} to {high} %).")
        sentences.append(
            said.format(
                inside=found.inside.inside,
                n=found.inside.n,
                low=f"{100 * found.inside.low:.1f}",
                high=f"{100 * found.inside.high:.1f}",
            )
        )
    if found.normality is not None and found.normality.doubtful:
        sentences.append(tr("Not normally distributed: capability does not hold."))
    return number(" ".join(sentences))


def _padded(upper: QWidget, lower: QWidget, shares: tuple[int, int]) -> QWidget:
    box = QWidget()
    column = QVBoxLayout(box)
    column.setContentsMargins(16, 12, 8, 10)
    column.setSpacing(8)
    column.addWidget(upper, shares[0])
    column.addWidget(lower, shares[1])
    return box
