"""A window with a lot of the samples on its bench, worked by mouse and keys."""

from __future__ import annotations

from benchapp.gui.startpage import sample_paths
from benchapp.jobs import sample_folder
from tests.gui.hand import press

__all__ = ["DESIGN", "LOT", "begin_lot", "fill", "measure"]

DESIGN = sample_paths()[1]
LOT = tuple(str(path) for path in sorted((sample_folder() / "ga12_lot").glob("*.csv")))
STATED = {
    "supplier": "Example Windings",
    "order": "4711",
    "date_code": "2640",
    "operator": "A. Example",
}


def fill(qtbot, form, texts):
    """Type into the blanks of a form."""
    for key, words in texts.items():
        field = form.fields[key]
        field.setFocus()
        field.selectAll()
        qtbot.keyClicks(field, words)


def begin_lot(qtbot, window, quantity=150, **stated):
    """Open the design, go to the Lot station, state the delivery and begin."""
    if window.session.nominal is None:
        window.session.open([DESIGN])
        qtbot.waitUntil(lambda: window.session.nominal is not None, timeout=10_000)
    window.go_station("lot")
    start = window.page("lot").start
    fill(qtbot, start.delivery, {**STATED, **stated, "quantity": str(quantity)})
    press(qtbot, start.begin)
    qtbot.waitUntil(lambda: window.desk.is_open, timeout=10_000)
    return window.page("lot")


def measure(qtbot, window, *paths):
    """Open captures one by one, as a person with a part in one hand does."""
    for path in paths:
        before = len(window.desk.state.parts)
        window.session.open([path])
        qtbot.waitUntil(
            lambda before=before: len(window.desk.state.parts) > before, timeout=20_000
        )
