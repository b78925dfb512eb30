"""The limits of a design as rows of fields, each with the band that it allows."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any

from PySide6.QtCore import QT_TR_NOOP, Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLineEdit, QToolButton, QWidget

from benchapp.gui.gauge import BandGauge
from benchapp.gui.labels import Choice, muted, term
from benchapp.gui.words import definition, number, plain, range_words, symbol, tr
from benchapp.nominal import LimitVerdict, Nominal, Outcome
from benchapp.nominal.file import LIMIT_UNITS

__all__ = ["FIELDS", "LimitRows"]

FIELDS = {
    "nominal": (QT_TR_NOOP("nominal"), QT_TR_NOOP("What the part should be, with unit: 1.62 mH")),
    "tolerance": (QT_TR_NOOP("tolerance"), QT_TR_NOOP("How far it may stray: ±3 % or -2 % +5 %")),
    "lower": (QT_TR_NOOP("at least"), QT_TR_NOOP("Lower limit, instead of nominal and tolerance")),
    "upper": (QT_TR_NOOP("at most"), QT_TR_NOOP("Upper limit, instead of nominal and tolerance")),
    "at": (QT_TR_NOOP("at frequency"), QT_TR_NOOP("Frequency at which it holds: 134.2 kHz")),
}


class LimitRows(QWidget):
    """The table of limits.

    Signals
    -------
    edited(limits, field)
        What the fields say now, as nested mappings, and the field that was changed.
    """

    edited = Signal(object, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(6)
        self._grid.setColumnStretch(len(FIELDS) + 1, 1)
        self._limits: dict[str, Any] = {}
        self.fields: dict[tuple[str, int, str], QLineEdit] = {}
        self.gauges: dict[tuple[str, int], BandGauge] = {}
        self.adder: Choice | None = None

    def show_limits(self, limits: Mapping[str, Any], nominal: Nominal) -> None:
        """Lay the rows out anew for these limits."""
        self._limits = copy.deepcopy(dict(limits))
        while (item := self._grid.takeAt(0)) is not None:
            item.widget().hide()
            item.widget().deleteLater()
        self.fields, self.gauges = {}, {}
        for column, (words, tip) in enumerate(FIELDS.values(), start=1):
            head = muted(tr(words), wrap=False)
            head.setToolTip(tr(tip))
            self._grid.addWidget(head, 0, column)
        row = 1
        for name, entry in self._limits.items():
            for place, each in enumerate(entry if isinstance(entry, list) else [entry]):
                self._add_row(row, name, place, each)
                row += 1
        self.adder = self._make_adder()
        self._grid.addWidget(self.adder, row, 1, 1, 2)
        self.show_bands(nominal)

    def _add_row(self, row: int, name: str, place: int, entry: Mapping[str, Any]) -> None:
        self._grid.addWidget(term(name), row, 0)
        for column, (key, (words, tip)) in enumerate(FIELDS.items(), start=1):
            field = QLineEdit(number(str(entry.get(key, ""))))
            field.setCursorPosition(0)
            field.setToolTip(tr(tip))
            field.setAccessibleName(f"{symbol(name)}, {tr(words)}")
            field.setMinimumWidth(62)
            field.editingFinished.connect(
                lambda name=name, place=place, key=key: self._edit(name, place, key)
            )
            self.fields[name, place, key] = field
            self._grid.addWidget(field, row, column)
        gauge = BandGauge(20)
        gauge.setMinimumWidth(90)
        self.gauges[name, place] = gauge
        self._grid.addWidget(gauge, row, len(FIELDS) + 1)
        remover = QToolButton()
        remover.setText("×")
        remover.setProperty("role", "plain")
        remover.setAccessibleName(tr("Remove the limit of {name}").format(name=symbol(name)))
        remover.setToolTip(remover.accessibleName())
        remover.clicked.connect(lambda _on=False: self._remove(name, place))
        self._grid.addWidget(remover, row, len(FIELDS) + 2)

    def _make_adder(self) -> Choice:
        box = Choice(tr("Add a limit for a quantity"))
        box.addItem(tr("Add a limit…"))
        for name in LIMIT_UNITS:
            box.addItem(symbol(name), name)
            box.setItemData(box.count() - 1, definition(name), Qt.ItemDataRole.ToolTipRole)
        box.activated.connect(self._append)
        return box

    def show_bands(self, nominal: Nominal) -> None:
        """Show the band that each limit allows; a row that is no limit yet has none."""
        for (name, place), gauge in self.gauges.items():
            limits = [limit for limit in nominal.limits if limit.quantity == name]
            gauge.setVisible(place < len(limits))
            if place < len(limits):
                gauge.show_limit(LimitVerdict(limit=limits[place], outcome=Outcome.NOT_JUDGED))
                gauge.setToolTip(f"{symbol(name)}: {range_words(limits[place])}")

    def _entries(self, limits: dict[str, Any], name: str) -> list[dict[str, Any]]:
        entry = limits.get(name, [])
        return entry if isinstance(entry, list) else [entry]

    def _edit(self, name: str, place: int, key: str) -> None:
        field = self.fields[name, place, key]
        typed = plain(field.text().strip())
        limits = copy.deepcopy(self._limits)
        entry = self._entries(limits, name)[place]
        if typed == str(entry.get(key, "")):
            return
        entry.pop(key, None)
        if typed:
            entry[key] = typed
        self._limits = limits
        self.edited.emit(limits, field)

    def _append(self, index: int) -> None:
        name = self.adder.itemData(index)
        self.adder.setCurrentIndex(0)
        if name is None:
            return
        limits = copy.deepcopy(self._limits)
        entries = self._entries(limits, name)
        limits[name] = [*entries, {}] if entries else {}
        self._limits = limits
        self.edited.emit(limits, None)

    def _remove(self, name: str, place: int) -> None:
        limits = copy.deepcopy(self._limits)
        entries = self._entries(limits, name)
        del entries[place]
        if entries:
            limits[name] = entries[0] if len(entries) == 1 else entries
        else:
            del limits[name]
        self.edited.emit(limits, None)
