"""Pages are made when they are wanted, once, and take no drop of their own."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QGraphicsView, QLineEdit

from benchapp.gui.stations import STATIONS

KEYS = (
    *(station.key for station in STATIONS),
    *("start", "tank", "stress", "marking", "coil", "live", "thresholds", "ask", "parts"),
    *("no_nominal", "no_capture"),
)


@pytest.mark.parametrize("key", KEYS)
def test_a_page_is_made_once_and_leaves_drops_to_the_window(window, key):
    page = window.pages.give(key)
    assert window.pages.give(key) is page
    assert window.stack.indexOf(page) >= 0
    inside = page.findChildren(QLineEdit) + page.findChildren(QGraphicsView)
    assert [one for one in inside if one.acceptDrops()] == []


def test_a_page_that_nobody_makes_is_no_page(window):
    with pytest.raises(AttributeError, match="make_attic"):
        window.pages.give("attic")
