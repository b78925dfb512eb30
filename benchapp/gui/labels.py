"""Small pieces of text: headings, muted lines, terms with their meaning, values to copy."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import (
    QAction,
    QContextMenuEvent,
    QFocusEvent,
    QGuiApplication,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QComboBox, QFrame, QLabel, QMenu, QSizePolicy, QVBoxLayout, QWidget

from benchapp.gui.theme import current
from benchapp.gui.words import definition, symbol, tr

__all__ = [
    "Choice",
    "Elided",
    "Notice",
    "Value",
    "copy_text",
    "heading",
    "muted",
    "set_role",
    "set_wrong",
    "term",
    "text",
]

_LONGEST_WORD = 300  # pixels: a longer word must not widen the window


def set_role(widget: QWidget, role: str) -> None:
    """Give a widget a role of the style sheet, such as ``muted`` or ``stop``."""
    if widget.property("role") != role:
        widget.setProperty("role", role)
        widget.style().unpolish(widget)
        widget.style().polish(widget)


def set_wrong(field: QWidget, *, wrong: bool) -> None:
    """Mark a field whose text cannot be taken, or take the mark away."""
    if bool(field.property("wrong")) != wrong:
        field.setProperty("wrong", wrong)
        field.style().unpolish(field)
        field.style().polish(field)


class _Wrapped(QLabel):
    """Text over several lines that a single long word, such as a file's name, does not widen."""

    def minimumSizeHint(self) -> QSize:
        """As wide as the longest word, within reason."""
        hint = super().minimumSizeHint()
        return QSize(min(hint.width(), _LONGEST_WORD), hint.height())


def text(words: str = "", role: str = "", *, wrap: bool = True) -> QLabel:
    """Make a label in plain text."""
    label = _Wrapped(words) if wrap else QLabel(words)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(wrap)
    if wrap:
        label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
    if role:
        label.setProperty("role", role)
    return label


def heading(words: str) -> QLabel:
    """Make a heading."""
    return text(words, "heading", wrap=False)


def muted(words: str = "", *, wrap: bool = True) -> QLabel:
    """Make a line of lesser weight."""
    return text(words, "muted", wrap=wrap)


def term(name: str, suffix: str = "") -> QLabel:
    """Make the name of a quantity; hovering tells what it means."""
    label = text(f"{symbol(name)}{suffix}", "heading", wrap=False)
    label.setToolTip(definition(name))
    return label


def copy_text(words: str) -> None:
    """Put ``words`` on the clipboard, with a plain hyphen as minus so that it can be typed on."""
    QGuiApplication.clipboard().setText(words.replace("−", "-"))


class Value(QLabel):
    """A number with its unit that can be selected and copied by mouse and by keyboard.

    Reaching it with Tab selects all of it, so that Ctrl+C copies the number with its unit.
    """

    def __init__(self, words: str = "", tip: str = "", parent: QWidget | None = None) -> None:
        super().__init__(words, parent)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
            | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.setToolTip(tip)
        copy = QAction(tr("Copy value with unit"), self)
        copy.setShortcut(QKeySequence(QKeySequence.StandardKey.Copy))
        copy.setShortcutContext(Qt.ShortcutContext.WidgetShortcut)
        copy.triggered.connect(self.copy)
        self.addAction(copy)

    def copy(self) -> None:
        """Copy what is selected, or all of it."""
        copy_text(self.selectedText() or self.text())

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Select all of it when it is reached by keyboard."""
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.setSelection(0, len(self.text()))

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Offer to copy."""
        menu = QMenu(self)
        menu.addActions(self.actions())
        menu.exec(event.globalPos())
        menu.deleteLater()


class Choice(QComboBox):
    """A box to choose from, with an arrow in the colours of the theme."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setToolTip(name)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page: scrolling over a box must not change what is chosen."""
        event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the box and its arrow."""
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(current().color("muted"), 1.6))
        tip = QPointF(self.width() - 14, self.height() / 2 + 2)
        painter.drawPolyline(QPolygonF([tip + QPointF(-4, -4), tip, tip + QPointF(4, -4)]))


class Elided(QWidget):
    """One line that ends in … where the place is too short; hovering tells all of it."""

    def __init__(self, role: str = "ink", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text = ""
        self._role = role
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def text(self) -> str:
        """Give the whole line."""
        return self._text

    def setText(self, words: str) -> None:
        """Show another line."""
        self._text = words
        self.setAccessibleName(words)
        self.updateGeometry()
        self.update()

    @property
    def color(self) -> str:
        """Name of its colour in the theme."""
        return self._role

    def set_color(self, role: str) -> None:
        """Write in another colour of the theme."""
        self._role = role
        self.update()

    def sizeHint(self) -> QSize:
        """As wide as the whole line."""
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance(self._text) + 4, metrics.height() + 2)

    def minimumSizeHint(self) -> QSize:
        """As wide as a few words."""
        return QSize(60, self.sizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Tell the whole line on hover where it is cut."""
        super().resizeEvent(event)
        self.setToolTip(self._text if self.sizeHint().width() > self.width() else "")

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paint the line."""
        painter = QPainter(self)
        painter.setPen(current().color(self._role))
        cut = self.fontMetrics().elidedText(self._text, Qt.TextElideMode.ElideRight, self.width())
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignVCenter, cut)


class Notice(QFrame):
    """A short caution on a ground of its own."""

    def __init__(self, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("notice")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.addWidget(text(words))
        self.setAccessibleName(words)
