"""What an inspector does with mouse, keys and scanner in the whole window, part after part."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtWidgets import QApplication

from benchapp.logbook import open_logbook
from benchapp.nominal import Outcome
from tests.gui.hand import choose, press
from tests.gui.lotstage import LOT, begin_lot, measure

REJECT = next(path for path in LOT if path.endswith("0209.csv"))
GOOD = tuple(path for path in LOT if path != REJECT)
LEFT = Qt.MouseButton.LeftButton


def click(qtbot, plot, x, y):
    """Click a place of a plot with the mouse, in the plot's own coordinates."""
    plot.grab()
    spot = plot.plotItem.vb.mapViewToScene(QPointF(x, y))
    qtbot.mouseClick(plot.viewport(), LEFT, pos=plot.mapFromScene(spot))


def scan(qtbot, code):
    """Send the keys of a scanner to whatever has them: capitals come with Shift, Return ends."""
    for sign in code:
        shift = Qt.KeyboardModifier.ShiftModifier
        held = shift if sign.isupper() else Qt.KeyboardModifier.NoModifier
        qtbot.keyClick(QApplication.focusWidget(), sign, held)
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)


@pytest.fixture
def figures(qtbot, window):
    """The page with every part of a lot of ten, one of them with a shorted turn."""
    begin_lot(qtbot, window)
    window.desk.go_on(beyond=True)
    measure(qtbot, window, *GOOD[:8], REJECT, GOOD[8])
    window.go("parts")
    page = window.page("parts")
    qtbot.waitUntil(lambda: page._found is not None, timeout=20_000)
    qtbot.waitUntil(lambda: len(page.overlay._sweeps) == 10, timeout=20_000)
    return page


def marked(page):
    """What is chosen: rows of the table, place in the run chart, value, and the drawn sweep."""
    ring = page.run.ring.getData()[0]
    sweep = page.overlay.one.getOriginalDataset()[1]
    drawn = [
        serial
        for serial, (_, z) in page.overlay._sweeps.items()
        if sweep is not None and sweep.size == z.size and np.allclose(sweep, np.abs(z))
    ]
    return (
        page.table.chosen_keys(),
        None if ring is None or not ring.size else int(ring[0]),
        page.histogram.mark.value() if page.histogram.mark.isVisible() else None,
        drawn,
    )


def test_a_click_anywhere_marks_the_part_everywhere(qtbot, figures, window):
    found = figures._found
    place = found.serials.index("0203")
    table = figures.table
    row = table.rows.row_of("0203")
    table.scrollTo(table.rows.index(row, 0))
    spot = table.visualRect(table.rows.index(row, 1)).center()
    qtbot.mouseClick(table.viewport(), LEFT, pos=spot)
    wanted = (("0203",), place + 1, found.values[place], ["0203"])
    assert marked(figures) == wanted
    assert window.desk.chosen == "0203"

    at = found.serials.index("0206")
    click(qtbot, figures.run, at + 1, found.values[at])
    qtbot.waitUntil(lambda: window.desk.chosen == "0206", timeout=5_000)
    assert marked(figures) == (("0206",), at + 1, found.values[at], ["0206"])

    frequency, z = figures.overlay._sweeps["0209"]
    middle = frequency.size // 3
    click(qtbot, figures.overlay, frequency[middle], np.log10(abs(z[middle])))
    qtbot.waitUntil(lambda: window.desk.chosen == "0209", timeout=5_000)
    assert marked(figures)[0] == ("0209",)
    assert marked(figures)[3] == ["0209"]


def test_a_click_on_a_bar_marks_its_parts(qtbot, figures, window):
    found = figures._found
    bar = int(np.argmax(found.counts))
    low, high = found.edges[bar], found.edges[bar + 1]
    click(qtbot, figures.histogram, (low + high) / 2, found.counts[bar] / 2)
    qtbot.waitUntil(lambda: len(figures.table.chosen_keys()) == found.counts[bar], timeout=5_000)
    inside = {
        serial
        for serial, value in zip(found.serials, found.values, strict=True)
        if low <= value < high or value == high == found.values.max()
    }
    assert set(figures.table.chosen_keys()) == inside
    assert window.desk.chosen in inside


def test_a_part_chosen_in_the_figures_is_the_one_to_measure_again(qtbot, figures, window):
    at = figures._found.serials.index("0206")
    click(qtbot, figures.run, at + 1, figures._found.values[at])
    qtbot.waitUntil(lambda: window.desk.chosen == "0206", timeout=5_000)
    window.go("lot")
    page = window.page("lot")
    assert page.again_title.text() == "Measure 0206 again"
    page.reason.setFocus()
    qtbot.keyClicks(page.reason, "poor contact")
    press(qtbot, page.again)
    assert page.pick.text() == "Put 0206 into the clip again (poor contact)."


@pytest.fixture
def bench(qtbot, window):
    """A lot on the simulated bench, a good tank in its clip."""
    window.instrument.choose(profile="lcr-points")
    window.instrument.start_bench("tank")
    at_rest(qtbot, window)
    texts = {"start": "119 kHz", "stop": "149 kHz", "points": "61", "level": "1 V"}
    window.instrument.texts.update(texts, temperature="23 degC")
    begin_lot(qtbot, window)
    return window


def at_rest(qtbot, window):
    qtbot.waitUntil(lambda: not window.instrument.is_busy, timeout=30_000)


def counted(qtbot, window, count):
    qtbot.waitUntil(lambda: len(window.desk.state.parts) == count, timeout=30_000)
    at_rest(qtbot, window)


def test_hands_busy_scan_place_space_part_after_part(qtbot, bench, memory, monkeypatch):
    """Full screen, scanner and Space alone; a slip is taken back with Ctrl+Z; no sound."""
    beeps = []
    monkeypatch.setattr(QApplication, "beep", lambda: beeps.append(True))
    bench.go_station("verdict")
    qtbot.keyClick(bench, Qt.Key.Key_F11)
    assert bench.isFullScreen()
    assert bench.count.isVisible()
    page = bench.page("verdict")
    scan(qtbot, "GA12-0147")
    assert bench.count.next.text().startswith("next: GA12-0147")
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    counted(qtbot, bench, 1)
    assert bench.stack.currentWidget() is page, "the verdict stays in front"
    scan(qtbot, "GA12-0148")
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    counted(qtbot, bench, 2)
    assert [one.serial for one in bench.desk.state.parts] == ["GA12-0147", "GA12-0148"]
    bench.instrument.clip("shorted-turn")
    at_rest(qtbot, bench)
    scan(qtbot, "GA12-0149")
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    counted(qtbot, bench, 3)
    assert bench.desk.last.outcome is Outcome.FAIL
    qtbot.waitUntil(lambda: page.banner.word == "Fail", timeout=20_000)
    qtbot.keyClick(bench, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    counted(qtbot, bench, 2)
    assert "GA12-0149 (fail) is taken back" in bench.message.words.text()
    assert beeps == [], "off until it is switched on"
    memory.sounds = True
    scan(qtbot, "GA12-0149")
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    counted(qtbot, bench, 3)
    assert beeps == [True]
    qtbot.keyClick(bench, Qt.Key.Key_Escape)
    assert not bench.isFullScreen()


def test_space_on_the_lot_page_is_the_next_sweep_after_any_click(qtbot, bench):
    page = bench.page("lot")
    press(qtbot, page.pause)
    press(qtbot, page.pause)
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    counted(qtbot, bench, 1)
    assert not bench.desk.paused
    place = page.done.visualItemRect(page.done.item(0)).center()
    qtbot.mouseClick(page.done.viewport(), LEFT, pos=place)
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    counted(qtbot, bench, 2)
    assert bench.stack.currentWidget() is page


def test_a_part_set_apart_is_tried_again_and_leaves_the_list(qtbot, window, memory):
    page = begin_lot(qtbot, window)
    window.desk.go_on(beyond=True)
    measure(qtbot, window, GOOD[0], REJECT)
    assert page.apart_title.text() == "1 part to set apart"
    box = page.apart
    qtbot.mouseClick(box.viewport(), LEFT, pos=box.visualItemRect(box.item(0)).center())
    press(qtbot, page.again)
    assert window.message.words.text() == "A retest needs a reason."
    page.reason.setFocus()
    qtbot.keyClicks(page.reason, "a chip of wire lay on it")
    qtbot.keyClick(page.reason, Qt.Key.Key_Return)
    assert page.pick.text().startswith("Put 0209 into the clip again")
    measure(qtbot, window, GOOD[1])
    assert page.apart_title.text() == "0 parts to set apart"
    assert window.desk.state.counted == 2
    with open_logbook(memory.record, create=False) as book:
        rows = book.parts(window.desk.key)
    assert [(row.serial, row.attempt, row.retest_reason) for row in rows[1:]] == [
        ("0209", 1, ""),
        ("0209", 2, "a chip of wire lay on it"),
    ]


def test_a_rejected_lot_is_taken_by_concession_with_name_and_reason(qtbot, window, memory):
    page = begin_lot(qtbot, window)
    measure(qtbot, window, REJECT)
    assert page.outcome.currentData() == "reject", "what the plan says is proposed"
    choose(qtbot, page.outcome, "concession")
    press(qtbot, page.sign)
    assert "must have a reason for concession" in window.message.words.text()
    assert window.desk.is_open
    page.name.setFocus()
    page.name.selectAll()
    qtbot.keyClicks(page.name, "B. Example")
    qtbot.keyClick(page.name, Qt.Key.Key_Tab)
    qtbot.keyClicks(QApplication.focusWidget(), "spares for the old readers")
    assert page.outcome.currentData() == "concession", "typing the reason does not change it"
    press(qtbot, page.sign)
    qtbot.waitUntil(lambda: not window.desk.is_open, timeout=10_000)
    assert page.ended.text().startswith("taken by concession · B. Example · ")
    assert page.ended.text().endswith("spares for the old readers")
    with open_logbook(memory.record, create=False) as book:
        ended = book.lot(window.desk.key).conclusion
    assert (ended.outcome, ended.name, ended.reason) == (
        "concession",
        "B. Example",
        "spares for the old readers",
    )
