"""The view Coil: a form for every shape, live results with method and error, turns as wanted."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QGuiApplication

from benchapp.coil import SHAPES, calculate
from benchapp.gui.coilview import _NAMES, CoilView
from benchapp.gui.tanksheet import EXAMPLE, TankSheet
from benchapp.gui.words import quantity
from benchapp.jobs import not_cancelled, silent
from tests.gui.hand import choose, press, write
from tests.gui.stage import activate


@pytest.fixture
def sheet(qapp):
    made = TankSheet()
    yield made
    made.deleteLater()


@pytest.fixture
def view(qtbot, sheet, direct):
    made = CoilView(sheet, direct)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def choose_shape(qtbot, view, name):
    choose(qtbot, view.shapes, name)
    view.shapes.activated.emit(view.shapes.currentIndex())


def done(qtbot, direct):
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=3000)
    task = direct.take("coil")
    task.done(task.job(silent, not_cancelled))


@pytest.mark.parametrize("name", SHAPES)
def test_every_shape_has_its_form_and_computes_at_once(qtbot, view, name):
    choose_shape(qtbot, view, name)
    shape = SHAPES[name]
    form = view.forms["shape"]
    assert {*form.fields, *form.choices} == {entry.name for entry in shape.entries}
    values = {}
    for entry in shape.entries:
        read = entry.read(entry.example)
        values[entry.name] = read if isinstance(read, str) else read.value
    expected = calculate(shape.build(values)).quantities
    shown = [one.value for one in view.results.answers]
    assert shown == [quantity(one.value, one.unit) for one in expected]
    assert all(one.quantity in _NAMES for one in expected)


def test_each_result_says_its_method_and_how_far_to_trust_it(view):
    first = view.results.answers[0]
    assert first.name == "inductance L"
    assert "Rosa's round-wire corrections, within" in first.remark
    beside = [one.remark for one in view.beside.answers]
    assert any(one.startswith("Wheeler, single layer, within 1 %, +") for one in beside)
    assert "Source: E. B. Rosa" in first.tip
    assert "measure those in place" in view.remarks.text()


def test_results_follow_the_keys(qtbot, view):
    before = view.results.value("inductance L").text()
    write(qtbot, view.forms["shape"].fields["turns"], "25")
    assert view.results.value("inductance L").text() != before


def test_a_coil_that_cannot_be_wound_says_why(qtbot, view):
    write(qtbot, view.forms["shape"].fields["turns"], "500")
    assert view.refusal.isVisible()
    assert view.results.values == []
    assert not view.copier.isEnabled()
    write(qtbot, view.forms["shape"].fields["turns"], "x")
    assert view.forms["shape"].fields["turns"].property("wrong")


def test_what_was_typed_for_a_shape_is_kept_while_another_is_shown(qtbot, view):
    write(qtbot, view.forms["shape"].fields["diameter"], "77mm")
    choose_shape(qtbot, view, "loop")
    choose_shape(qtbot, view, "solenoid")
    assert view.forms["shape"].fields["diameter"].text() == "77mm"


def test_the_frequency_is_the_tanks_until_another_is_typed(qtbot, view, sheet):
    sheet.fill(EXAMPLE)
    assert view.forms["asked"].fields["frequency"].text() == "134.2 kHz"
    assert "AC resistance at 134.2 kHz" in [one.name for one in view.results.answers]
    write(qtbot, view.forms["asked"].fields["frequency"], "50 kHz")
    sheet.type("C", "1 nF")
    assert view.forms["asked"].fields["frequency"].text() == "50 kHz"


def test_turns_for_a_wanted_inductance_are_found_by_the_worker(qtbot, view, direct):
    write(qtbot, view.forms["asked"].fields["wanted"], "140 uH")
    done(qtbot, direct)
    (row,) = view.turns.answers
    assert row.name == "turns for 140.0 µH"
    assert int(row.value) in (54, 55, 56)
    assert row.remark.count(" give ") == 2


def test_more_turns_than_fit_are_said_not_to_fit(qtbot, view, direct):
    write(qtbot, view.forms["asked"].fields["wanted"], "1.62 mH")
    done(qtbot, direct)
    assert view.turns.answers[0].remark.startswith("the most that fit give")


def test_turns_of_an_older_wish_are_not_shown(qtbot, view, direct):
    write(qtbot, view.forms["asked"].fields["wanted"], "140 uH")
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=3000)
    old = direct.take("coil")
    write(qtbot, view.forms["asked"].fields["wanted"], "100 uH")
    old.done(old.job(silent, not_cancelled))
    assert view.turns.answers == ()
    done(qtbot, direct)
    assert view.turns.answers[0].name == "turns for 100.0 µH"


def test_tolerances_bound_a_limit_for_the_design(qtbot, view, direct):
    found = []
    view.proposed.connect(found.append)
    assert not view.user.isEnabled()
    assert "tolerances" in view.user.toolTip()
    write(qtbot, view.forms["shape"].fields["diameter"], "50mm ±0.5mm")
    done(qtbot, direct)
    press(qtbot, view.user)
    (limit,) = found[0].limits
    assert limit.quantity == "L"
    assert limit.lower < limit.nominal < limit.upper
    assert limit.upper / limit.nominal == pytest.approx(1.017, abs=0.004)


def test_the_coil_goes_to_the_tank_with_its_resistance(qtbot, view, sheet):
    used = []
    view.used.connect(lambda: used.append(1))
    write(qtbot, view.forms["asked"].fields["frequency"], "134.2 kHz")
    press(qtbot, view.tank_user)
    assert used == [1]
    assert sheet.texts["L"] == view.results.value("inductance L").text()
    shown = view.results.value("AC resistance at 134.2 kHz").text()
    assert sheet.texts["coil_resistance"] == shown


def test_results_are_copied_as_text(qtbot, view):
    press(qtbot, view.copier)
    words = QGuiApplication.clipboard().text()
    assert words.startswith("Single-layer solenoid\ninductance L\t")
    assert "Handbook formulas beside it\n" in words
    assert "measure those in place" in words
