"""The view Stress: five limits apart, no pass without a derating curve, cautions beside."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QGuiApplication

from benchapp.gui.labels import Notice
from benchapp.gui.stressview import StressView
from benchapp.gui.tanksheet import EXAMPLE, TankSheet
from tests.gui.hand import choose, press, write
from tests.gui.stage import activate


@pytest.fixture
def sheet(qapp):
    made = TankSheet()
    yield made
    made.deleteLater()


@pytest.fixture
def view(qtbot, sheet):
    made = StressView(sheet)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def choose_duty(qtbot, view, value):
    box = view.duty.choices["duty"]
    choose(qtbot, box, value)
    box.activated.emit(box.currentIndex())


def typed_example(qtbot, view):
    """20 A through 220 nF at 100 kHz."""
    choose_duty(qtbot, view, "typed")
    for key, words in (
        ("duty_C", "220 nF"),
        ("duty_frequency", "100 kHz"),
        ("duty_size", "20 A"),
        ("duty_tangent", "3e-4"),
    ):
        write(qtbot, view.duty.fields[key], words)


def rate(qtbot, view, **texts):
    for key, words in texts.items():
        write(qtbot, view.ratings.fields[key], words)


def outcomes(view):
    return {row.name.text(): row.outcome.text() for row in view.rows}


def test_without_a_drive_it_says_where_to_state_one(view):
    assert "view Tank" in view.nothing.text()
    assert not view.table.isVisible()
    assert not view.duty.fields["duty_C"].isEnabled()


def test_a_typed_duty_is_shown_with_the_figures_of_practice(qtbot, view):
    typed_example(qtbot, view)
    assert view.duty_line.text() == (
        "220.0 nF at 100.0 kHz: 144.7 V rms, 204.6 V peak, 20.00 A rms"
    )
    assert view.rows[4].seen.text() == "868.1 mW"


def test_without_a_curve_the_rms_voltage_cannot_be_judged_whatever_else_is_rated(qtbot, view):
    typed_example(qtbot, view)
    rate(
        qtbot,
        view,
        rated_dc="2 kV",
        rated_ac="500 V",
        rated_current="50 A",
        rated_slew="500",
        rated_heat="3 W",
    )
    found = outcomes(view)
    assert found.pop("rms voltage at the frequency") == "cannot be judged"
    assert set(found.values()) == {"within"}
    assert "derating curve missing" in view.rows[1].reason.text()
    assert view.summary.text() == "Cannot be judged"
    assert view.rows[1].gauge.scale is None


def test_a_curve_decides_and_the_mark_tells_it_without_colour(qtbot, view):
    typed_example(qtbot, view)
    rate(qtbot, view, curve="10kHz:250V 200kHz:100V")
    row = view.rows[1]
    assert row.outcome.text() == "over the limit"
    assert row.mark.mark == "stop"
    assert row.gauge.scale.value > row.gauge.scale.allowed[1]
    rate(qtbot, view, curve="10kHz:250V 200kHz:240V")
    assert row.outcome.text() == "within"
    assert row.mark.mark == "good"


def test_slew_is_shown_in_volts_per_microsecond(qtbot, view):
    typed_example(qtbot, view)
    rate(qtbot, view, rated_slew="100")
    assert view.rows[3].seen.text() == "128.6 V/µs"
    assert view.rows[3].allowed.text() == "100 V/µs"
    assert view.rows[3].outcome.text() == "over the limit"


def test_the_caution_stands_above_the_touch_limit_and_not_below(qtbot, view):
    typed_example(qtbot, view)
    qtbot.waitUntil(lambda: sum(one.isVisible() for one in view.findChildren(Notice)) == 1)
    notice = next(one for one in view.findChildren(Notice) if one.isVisible())
    assert "204" in notice.accessibleName() or "205" in notice.accessibleName()
    assert "follow your workplace's rules" in notice.accessibleName()
    assert "discharge it through a resistor" in notice.accessibleName()  # 45.01 µC
    write(qtbot, view.duty.fields["duty_size"], "25 V")
    assert not any(one.isVisible() for one in view.findChildren(Notice))


def test_the_worst_case_of_the_driven_tank_is_shown_first(qtbot, view, sheet):
    sheet.fill({**EXAMPLE, "rated_dc": "1 kV"})
    assert view.case.currentData() == "at the drive frequency, load taken away"
    assert view.case.currentText() == "load taken away: over the limit"
    assert view.summary.text() == "Over the limit"
    assert view.duty.fields["duty_C"].placeholderText() == "= 868.0 pF"
    view.case.setFocus()
    choose(qtbot, view.case, "at the drive frequency")
    view.case.activated.emit(view.case.currentIndex())
    assert view.summary.text() == "Cannot be judged"
    assert view.rows[0].seen.text().startswith("813")


def test_a_chosen_case_stays_while_typing(qtbot, view, sheet):
    sheet.fill(EXAMPLE)
    at = view.case.findData("at the drive frequency")
    view.case.setCurrentIndex(at)
    view.case.activated.emit(at)
    rate(qtbot, view, rated_dc="1 kV")
    assert view.case.currentData() == "at the drive frequency"


def test_a_wrong_curve_is_refused_at_its_blank(qtbot, view):
    typed_example(qtbot, view)
    rate(qtbot, view, curve="100 V")
    assert view.refusal.isVisible()
    assert "must be points FREQUENCY:VOLTAGE" in view.refusal.text()
    assert view.ratings.fields["curve"].property("wrong")
    assert not view.table.isVisible()
    press(qtbot, view.undo)
    assert not view.refusal.isVisible()


def test_all_cases_are_copied_with_their_limits_and_cautions(qtbot, view, sheet):
    sheet.fill({**EXAMPLE, "rated_dc": "1 kV"})
    press(qtbot, view.copier)
    words = QGuiApplication.clipboard().text()
    assert words.count("peak voltage with DC\t") == len(sheet.cases) >= 3
    assert "derating curve missing" in words
    assert "follow your workplace's rules" in words
