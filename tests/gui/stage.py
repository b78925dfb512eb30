"""Putting a widget in front of the person, as a desktop would."""

from __future__ import annotations

__all__ = ["activate"]


def activate(qtbot, widget):
    """Show a widget and give it the keyboard."""
    widget.show()
    widget.activateWindow()
    qtbot.waitActive(widget)
