"""The calculators in the whole window: two clicks away, into the design and back, no text cut."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.startpage import sample_paths
from benchapp.gui.tanksheet import EXAMPLE
from benchapp.gui.viewrow import NOMINAL_VIEWS
from tests.gui.clipping import clipped, overlapping
from tests.gui.hand import press, write

CALCULATORS = [key for key, _name, _tip in NOMINAL_VIEWS if key != "nominal"]
SIZES = ((960, 540), (1092, 614), (1280, 800), (1920, 1080))


def open_sample(qtbot, window):
    window.session.open(sample_paths())
    qtbot.waitUntil(
        lambda: window.session.result is not None and window.session.is_settled, timeout=20_000
    )


def fill(window):
    window.sheet.fill({**EXAMPLE, "rated_dc": "630 V", "rated_slew": "50"})
    window.page("marking").code.setText("0.1")
    window.page("marking").code.textEdited.emit("0.1")


@pytest.mark.parametrize("key", CALCULATORS)
def test_a_calculator_is_two_clicks_away_even_without_a_design(qtbot, window, key):
    press(qtbot, window.line.buttons[0])
    press(qtbot, window.views.buttons[key])
    assert window.stack.currentWidget() is window.page(key)
    assert window.views.buttons[key].isChecked()


def test_the_row_of_views_belongs_to_the_station_nominal(qtbot, window):
    assert not window.views.isVisible()
    window.go("tank")
    assert window.views.isVisible()
    window.go("verdict")
    assert not window.views.isVisible()


def test_the_keys_lead_to_the_views_and_the_station_comes_back_to_the_last(qtbot, window):
    window.activateWindow()
    qtbot.waitActive(window)
    qtbot.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.AltModifier)
    assert window.stack.currentWidget() is window.page("marking")
    qtbot.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert window.stack.currentWidget() is window.page("marking")
    qtbot.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert window.stack.currentWidget() is window.page("no_nominal")


def test_the_tank_starts_from_the_design_that_is_opened(qtbot, window):
    open_sample(qtbot, window)
    window.go("tank")
    assert window.page("tank").forms["tank"].fields["L"].text() == "1.62 mH ±3 %"
    assert window.page("tank").forms["drive"].fields["band_low"].text() == "132.187 kHz"


def test_a_marking_is_used_in_the_tank_and_its_limits_in_the_design_and_taken_back(qtbot, window):
    open_sample(qtbot, window)
    before = window.session.nominal
    window.go("marking")
    page = window.page("marking")
    write(qtbot, page.code, "821J")
    press(qtbot, page.uses[0])
    tank = window.page("tank")
    assert window.stack.currentWidget() is tank
    assert tank.sums.value("f0").text() == "138.1 kHz"
    press(qtbot, tank.user)
    design = window.page("nominal")
    assert window.stack.currentWidget() is design
    limits = {one.quantity: one for one in window.session.nominal.limits}
    assert limits["C"].nominal == pytest.approx(820e-12)
    assert limits["f0"].nominal == pytest.approx(138.09e3, rel=1e-4)
    assert {"L", "Q", "ESR"} <= limits.keys()
    assert design.rows.fields["C", 0, "tolerance"].text() == "±5 %"
    assert window.message.isVisible()
    assert "Undo takes that back" in window.message.words.text()
    press(qtbot, design.undo)
    assert window.session.nominal.limits == before.limits


def test_without_a_design_a_new_one_is_begun_and_can_be_undone(qtbot, window):
    window.sheet.fill(EXAMPLE)
    window.go("tank")
    press(qtbot, window.page("tank").user)
    nominal = window.session.nominal
    assert nominal.title == "New design"
    assert nominal.circuit == "series-rlc"
    assert [one.quantity for one in nominal.limits] == ["L", "C", "f0"]
    page = window.page("nominal")
    assert "not saved" in page.file.text()
    press(qtbot, page.undo)
    assert window.session.nominal is None
    assert window.stack.currentWidget() is window.page("no_nominal")


def test_limits_of_a_coil_reach_the_design(qtbot, window):
    open_sample(qtbot, window)
    window.go("coil")
    page = window.page("coil")
    write(qtbot, page.forms["shape"].fields["diameter"], "50mm ±0.5mm")
    qtbot.waitUntil(page.user.isEnabled, timeout=10_000)
    press(qtbot, page.user)
    limit = next(one for one in window.session.nominal.limits if one.quantity == "L")
    assert limit.nominal == pytest.approx(116e-6, rel=0.01)


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("filled", [False, True], ids=["empty", "filled"])
def test_no_text_of_a_calculator_is_cut_off_at_any_size(qtbot, window, size, filled):
    window.resize(*size)
    if filled:
        fill(window)
    for key in CALCULATORS:
        window.go(key)
        qtbot.waitUntil(lambda: (clipped(window), overlapping(window)) == ([], []))


def test_no_calculator_can_be_scrolled_sideways(qtbot, window):
    window.resize(960, 540)
    fill(window)
    for key in CALCULATORS:
        window.go(key)
        qtbot.wait(20)
        page = window.page(key)
        assert page.widget().width() <= page.viewport().width(), key
