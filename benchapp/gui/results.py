"""Results of one part: value ± U beside the nominal, with a band gauge for every limit."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from benchapp.capture import Capture, Conditions
from benchapp.fit import Opinion
from benchapp.gui.gauge import BandGauge
from benchapp.gui.labels import Value, copy_text, heading, muted, term, text
from benchapp.gui.marks import ROLES, Mark, mark_of
from benchapp.gui.words import (
    bound,
    definition,
    exact,
    number,
    outcome_words,
    range_words,
    symbol,
    tr,
    with_expanded,
)
from benchapp.jobs import JudgedPart
from benchapp.nominal import Limit, LimitVerdict
from benchapp.units import Estimate

__all__ = ["Results", "conditions_words", "limit_name", "value_words"]


def limit_name(limit: Limit) -> str:
    """Name a limit with the frequency at which it holds."""
    if limit.at is None:
        return symbol(limit.quantity)
    return tr("{name} at {frequency}").format(
        name=symbol(limit.quantity), frequency=exact(limit.at, "Hz")
    )


def value_words(entry: LimitVerdict) -> str:
    """Write the measured value of a limit with its U."""
    if entry.measured is None:
        return tr("not determined")
    return with_expanded(entry.measured, expanded=entry.expanded)


def conditions_words(capture: Capture) -> str:
    """Write the conditions of a capture on one line, and say so where none are stated."""
    stated: Conditions = capture.conditions
    parts = []
    for value, unit in (
        (stated.level_volt, "V"),
        (stated.level_ampere, "A"),
        (stated.temperature_celsius, "degC"),
    ):
        if value is not None:
            parts.append(exact(value, unit))
    for value, unit in ((stated.bias_volt, "V"), (stated.bias_ampere, "A")):
        if value is not None:
            parts.append(tr("bias {value}").format(value=exact(value, unit)))
    if stated.equivalent_circuit:
        parts.append(tr("{kind} equivalent").format(kind=stated.equivalent_circuit))
    parts += [words for words in (stated.fixture, stated.surroundings) if words]
    return " · ".join(parts) if parts else tr("conditions not stated in the file")


class Results(QWidget):
    """The table of results; it is laid out anew for every result."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(6)
        self._body: QWidget | None = None
        self._copied: list[tuple[str, str, str]] = []

    @property
    def rows(self) -> list[tuple[str, str, str]]:
        """What is shown: name, value ± U, what is allowed."""
        return list(self._copied)

    def copy(self) -> None:
        """Copy every line, one quantity to a line, parted by tabs."""
        copy_text("\n".join("\t".join(row) for row in self._copied))

    def clear(self) -> None:
        """Show nothing."""
        self._replace(None)

    def _replace(self, body: QWidget | None) -> None:
        if self._body is not None:
            self._layout.removeWidget(self._body)
            self._body.hide()
            self._body.deleteLater()
        self._body = body
        self._copied = []
        if body is not None:
            self._layout.addWidget(body)

    def show_result(self, result: JudgedPart) -> None:
        """Show the limits first, then what else was found, then what was not determined."""
        body = QWidget(self)
        self._replace(body)
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        coverage = 2.0 if result.nominal is None else result.nominal.decision.coverage
        entries = () if result.verdict is None else result.verdict.limits
        if entries:
            column.addWidget(self._limits(entries, coverage, result.fit.opinions))
        without_place = {entry.limit.quantity for entry in entries if entry.limit.at is None}
        others = [one for one in result.fit.results if one.name not in without_place]
        if others:
            box = self._others(others, coverage, result.fit.opinions, titled=bool(entries))
            column.addWidget(box)
        named = {entry.limit.quantity for entry in entries}
        for name in result.fit.undetermined:
            if name not in named:
                column.addWidget(_undetermined(name))

    def _limits(
        self,
        entries: tuple[LimitVerdict, ...],
        coverage: float,
        opinions: tuple[Opinion, ...],
    ) -> QWidget:
        box, grid = _grid()
        _head(grid, tr("Quantity"), _value_head(coverage))
        for place, entry in enumerate(entries):
            row = 5 * place + 1
            allowed = range_words(entry.limit)
            gauge = BandGauge(18)
            gauge.show_limit(entry)
            grid.addWidget(_line(), row, 0, 1, 2)
            grid.addWidget(_named(entry.limit), row + 1, 0)
            grid.addWidget(Value(value_words(entry), tip=definition("U")), row + 1, 1)
            grid.addWidget(gauge, row + 2, 0, 1, 2)
            grid.addWidget(_outcome(entry), row + 3, 0)
            grid.addWidget(Value(allowed, tip=tr("what the design allows")), row + 3, 1)
            self._copied.append((limit_name(entry.limit), value_words(entry), allowed))
            if entry.limit.at is None:
                _beside(grid, row + 4, entry.limit.quantity, opinions, coverage)
        return box

    def _others(
        self,
        found: list[Estimate],
        coverage: float,
        opinions: tuple[Opinion, ...],
        *,
        titled: bool,
    ) -> QWidget:
        box, grid = _grid()
        title = tr("Also found") if titled else tr("Quantity")
        _head(grid, title, _value_head(coverage))
        grid.addWidget(_line(), 1, 0, 1, 2)
        for place, estimate in enumerate(found, start=1):
            words = with_expanded(estimate, coverage)
            grid.addWidget(term(estimate.name), 2 * place, 0)
            grid.addWidget(Value(words, tip=definition("U")), 2 * place, 1)
            _beside(grid, 2 * place + 1, estimate.name, opinions, coverage)
            self._copied.append((symbol(estimate.name), words, ""))
        return box


def _beside(
    grid: QGridLayout, row: int, name: str, opinions: tuple[Opinion, ...], coverage: float
) -> None:
    """Show what other methods make of a quantity below its value, if any were asked."""
    told = [one for one in opinions if one.estimate.name == name]
    if not told:
        return
    lines = [
        tr("{method}: {value}, {word}").format(
            method=one.method,
            value=with_expanded(one.estimate, coverage),
            word=tr("agrees") if one.agrees else tr("DOES NOT AGREE"),
        )
        for one in told
    ]
    label = muted(bound("\n".join(lines)))
    label.setToolTip(tr("The same points by methods that do not use the fitted curve."))
    grid.addWidget(label, row, 0, 1, 2)


def _grid() -> tuple[QWidget, QGridLayout]:
    box = QWidget()
    grid = QGridLayout(box)
    grid.setContentsMargins(0, 0, 0, 0)
    grid.setHorizontalSpacing(10)
    grid.setVerticalSpacing(3)
    grid.setColumnStretch(1, 1)
    return box, grid


def _value_head(coverage: float) -> str:
    return tr("value ± U (k = {k})").format(k=number(f"{coverage:g}"))


def _head(grid: QGridLayout, *words: str) -> None:
    for column, one in enumerate(words):
        label = muted(one, wrap=False)
        if column:
            label.setAlignment(Qt.AlignmentFlag.AlignRight)
        grid.addWidget(label, 0, column)


def _named(limit: Limit) -> QWidget:
    label = heading(limit_name(limit))
    label.setToolTip(definition(limit.quantity))
    return label


def _outcome(entry: LimitVerdict) -> QWidget:
    box = QWidget()
    row = QHBoxLayout(box)
    row.setContentsMargins(0, 0, 0, 0)
    row.setSpacing(5)
    words = outcome_words(entry.outcome)
    mark = Mark(14)
    mark.set_mark(mark_of(entry.outcome), words)
    row.addWidget(mark)
    row.addWidget(text(words, ROLES[entry.outcome], wrap=False))
    row.addStretch(1)
    box.setToolTip(entry.reason)
    return box


def _undetermined(name: str) -> QWidget:
    """One line for what the data do not determine, with what it would have been."""
    box = QWidget()
    row = QHBoxLayout(box)
    row.setContentsMargins(0, 0, 0, 0)
    words = tr("not determined by these data")
    mark = Mark(14)
    mark.set_mark("unknown", words)
    row.addWidget(mark)
    row.addWidget(term(name))
    row.addWidget(text(words), 1)
    return box


def _line() -> QFrame:
    line = QFrame()
    line.setFixedHeight(1)
    line.setObjectName("rule")
    return line
