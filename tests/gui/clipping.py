"""Finds text that does not fit its place, in any window."""

from __future__ import annotations

from PySide6.QtCore import QRect, Qt
from PySide6.QtWidgets import QAbstractButton, QComboBox, QLabel, QLineEdit, QScrollArea, QWidget

from benchapp.gui.jobline import StationButton

__all__ = ["clipped", "overlapping"]

_BUTTON_PADDING = 12  # pixels of the style sheet at both sides, less what letters may touch
_ARROW = 24


def _room(widget: QWidget) -> tuple[str, int]:
    """Give the text of a widget and the width it has for it; an empty text needs none."""
    if isinstance(widget, QComboBox):
        return widget.currentText(), widget.width() - _ARROW - 8
    if isinstance(widget, QLineEdit):
        return widget.text(), widget.width() - 18
    if isinstance(widget, StationButton):
        return widget.text(), widget.width() - 52
    if isinstance(widget, QAbstractButton):
        return widget.text(), widget.width() - _BUTTON_PADDING
    return "", 0


def _is_cut(area: QScrollArea) -> bool:
    """Tell whether a page that does not scroll sideways is wider than its place."""
    never = area.horizontalScrollBarPolicy() == Qt.ScrollBarPolicy.ScrollBarAlwaysOff
    return never and area.widget().width() > area.viewport().width()


def _label_is_clipped(label: QLabel) -> bool:
    if label.wordWrap():
        return label.heightForWidth(label.width()) > label.height() + 1
    return label.fontMetrics().horizontalAdvance(label.text()) > label.width() + 1


def clipped(window: QWidget) -> list[str]:
    """Give the texts of visible widgets that do not fit their place."""
    found = []
    for widget in window.findChildren(QWidget):
        if not widget.isVisible():
            continue
        if isinstance(widget, QScrollArea) and _is_cut(widget):
            found.append(f"the right edge of {widget.widget().objectName()}")
        if isinstance(widget, QLabel):
            if widget.text() and _label_is_clipped(widget):
                found.append(widget.text())
            continue
        words, room = _room(widget)
        if words and widget.fontMetrics().horizontalAdvance(words) > room:
            found.append(words)
    return found


def overlapping(window: QWidget) -> list[tuple[str, str]]:
    """Give pairs of visible labels and buttons of one parent that lie over each other."""
    kinds = (QLabel, QAbstractButton, QLineEdit, QComboBox)
    shown = [
        one for one in window.findChildren(QWidget) if isinstance(one, kinds) and one.isVisible()
    ]
    return [
        (one.objectName() or repr(one), other.objectName() or repr(other))
        for at, one in enumerate(shown)
        for other in shown[at + 1 :]
        if one.parent() is other.parent() and _covered(one.geometry(), other.geometry())
    ]


def _covered(one: QRect, other: QRect) -> bool:
    common = one.intersected(other)
    return common.width() > 1 and common.height() > 1
