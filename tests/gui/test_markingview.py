"""The view Marking lists every reading of the core, and puts the chosen one where it is needed."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QGuiApplication

from benchapp.gui.labels import Notice
from benchapp.gui.markingview import MarkingView
from benchapp.gui.tanksheet import EXAMPLE, TankSheet
from benchapp.marking import best_pairs, nearest, read_marking
from tests.gui.hand import choose, press, write
from tests.gui.stage import activate


@pytest.fixture
def sheet(qapp):
    made = TankSheet()
    yield made
    made.deleteLater()


@pytest.fixture
def view(qtbot, sheet):
    made = MarkingView(sheet)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def choose_activated(qtbot, box, value):
    choose(qtbot, box, value)
    box.activated.emit(box.currentIndex())


@pytest.mark.parametrize("code", ["104K 2J", "0.1", "100", "4n7", "brown black red gold", "R47"])
def test_every_reading_of_the_core_has_a_button_in_its_order(qtbot, view, code):
    write(qtbot, view.code, code)
    readings = [one for one in read_marking(code).readings if one.value is not None]
    assert len(view.uses) == len(readings)
    kinds = [button.accessibleName().split(": ")[1].split()[0] for button in view.uses]
    assert kinds == [one.kind for one in readings]
    assert not view.refusal.isVisible() or "set aside" in view.refusal.text()


def test_an_ambiguous_marking_says_that_it_is(qtbot, view):
    write(qtbot, view.code, "0.1")
    qtbot.waitUntil(lambda: any(one.isVisible() for one in view.findChildren(Notice)))
    (notice,) = (one for one in view.findChildren(Notice) if one.isVisible())
    assert "More than one value is possible" in notice.accessibleName()


def test_a_dc_rating_is_no_ac_rating(qtbot, view):
    write(qtbot, view.code, "104K 2J")
    assert any("no AC rating" in one.accessibleName() for one in view.findChildren(Notice))


def test_nonsense_is_refused_with_the_nearest_valid_form(qtbot, view):
    write(qtbot, view.code, "10O")
    assert view.refusal.isVisible()
    assert "must be a known code" in view.refusal.text()
    assert "100" in view.refusal.text()
    assert view.code.property("wrong")
    assert view.uses == []
    write(qtbot, view.code, "100")
    assert not view.code.property("wrong")


def test_the_kind_of_part_narrows_the_readings(qtbot, view):
    write(qtbot, view.code, "0.1")
    every = len(view.uses)
    choose_activated(qtbot, view.kind, "inductor")
    assert 0 < len(view.uses) < every
    assert view.uses[0].text() == "Use this as L"


def test_use_this_puts_value_tolerance_and_rating_into_the_sheet(qtbot, view, sheet):
    used = []
    view.used.connect(lambda: used.append(1))
    write(qtbot, view.code, "104K 2J")
    press(qtbot, view.uses[0])
    assert sheet.texts["C"] == "100 nF ±10 %"
    assert sheet.texts["rated_dc"] == "630.0 V"
    assert used == [1]
    sheet.undo()
    assert sheet.texts.get("C", "") == ""


@pytest.mark.parametrize(
    ("code", "kind", "key", "words"),
    [
        ("R47", "inductor", "L", "470 nH"),
        ("brown black red gold", "resistor", "sense", "1 kΩ ±5 %"),
        ("5R6D", "capacitor", "C", "5.6 pF ±500 fF"),
        ("104Z", "capacitor", "C", "100 nF -20 % +80 %"),
    ],
)
def test_each_kind_goes_to_its_blank_in_words_that_read_back(
    qtbot, view, sheet, code, kind, key, words
):
    write(qtbot, view.code, code)
    choose_activated(qtbot, view.kind, kind)
    press(qtbot, view.uses[0])
    assert sheet.texts[key] == words
    sheet.fill({"L": "1 mH"} if key != "L" else {"C": "1 nF"})
    assert sheet.refusal is None


def test_a_tolerance_can_go_to_the_design_and_a_bare_value_cannot(qtbot, view):
    found = []
    view.proposed.connect(found.append)
    write(qtbot, view.code, "104K")
    press(qtbot, view.designs[0])
    (limit,) = found[0].limits
    assert (limit.quantity, limit.nominal) == ("C", pytest.approx(100e-9))
    assert limit.upper == pytest.approx(110e-9)
    write(qtbot, view.code, "0.1")
    assert not view.designs[0].isEnabled()
    assert "no tolerance" in view.designs[0].toolTip()


def test_the_readings_are_copied_with_likelihood_and_reason(qtbot, view):
    write(qtbot, view.code, "0.1")
    press(qtbot, view.copier)
    lines = QGuiApplication.clipboard().text().split("\n")
    readings = read_marking("0.1").readings
    assert lines[0] == "0.1"
    for line, one in zip(lines[1:], readings, strict=False):
        assert line.startswith(f"{100 * one.likelihood:.0f} %\t{one.kind}")
        assert line.endswith(one.why)


def test_preferred_values_follow_the_tank_until_something_else_is_wanted(qtbot, view, sheet):
    sheet.fill(EXAMPLE)
    assert view.wanted.text() == "868.0 pF"
    assert "820 pF" in view.offers[0].accessibleName()
    write(qtbot, view.wanted, "1.5 kOhm")
    sheet.type("C", "1 nF")
    assert view.wanted.text() == "1.5 kOhm"
    assert view.offers[0].text() == "Use this as sense R"


@pytest.mark.parametrize("series", ["E6", "E12", "E96"])
def test_offers_are_the_nearest_value_and_the_best_pairs_of_the_series(qtbot, view, sheet, series):
    choose_activated(qtbot, view.series, series)
    write(qtbot, view.wanted, "868 pF")
    pairs = best_pairs(868e-12, series, "capacitor", count=4)
    assert len(view.offers) == 1 + len(pairs)
    press(qtbot, view.offers[0])
    sheet.type("L", "1 mH")
    assert sheet.worked.design.capacitance.value == pytest.approx(nearest(868e-12, series).value)
    press(qtbot, view.offers[1])
    assert sheet.worked.design.capacitance.value == pytest.approx(pairs[0].value, rel=1e-4)


@pytest.mark.parametrize(
    ("words", "reason"), [("12 V", "with its unit"), ("much", "must be a number with a unit")]
)
def test_what_cannot_be_wanted_is_refused(qtbot, view, words, reason):
    write(qtbot, view.wanted, words)
    assert reason in view.preferred_refusal.text()
    assert view.offers == []
