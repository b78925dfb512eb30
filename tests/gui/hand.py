"""What a person does with mouse and keyboard."""

from __future__ import annotations

from PySide6.QtCore import Qt

__all__ = ["choose", "judged", "opened", "press", "write"]


def write(qtbot, field, words):
    """Type ``words`` instead of what stands in a field, key by key, and press Return."""
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClicks(field, words)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def press(qtbot, button):
    """Click a button that can be seen and pressed."""
    qtbot.waitUntil(button.isVisible)
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def choose(qtbot, box, value):
    """Choose an entry with the arrow keys."""
    box.setFocus()
    qtbot.keyClick(box, Qt.Key.Key_Home)
    while box.currentData() != value:
        before = box.currentIndex()
        qtbot.keyClick(box, Qt.Key.Key_Down)
        assert box.currentIndex() != before, f"no entry {value!r}"


def judged(window) -> bool:
    """Say whether the shown part has the result of the choices that hold."""
    session = window.session
    return session.result is not None and session.is_settled


def opened(qtbot, window, *paths):
    """Open files and wait until the last one is judged."""
    window.session.open(paths)
    qtbot.waitUntil(lambda: window.session.part is not None and judged(window), timeout=20_000)
    return window
