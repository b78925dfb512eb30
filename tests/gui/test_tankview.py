"""The view Tank, by mouse and key: live sums, tanks drawn by the worker, limits for the design."""

from __future__ import annotations

import time

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from benchapp.errors import QuantityError
from benchapp.gui.labels import Notice
from benchapp.gui.tanksheet import EXAMPLE, TankSheet
from benchapp.gui.tankview import TankView
from benchapp.gui.tankwords import sums_answers
from benchapp.jobs import SimulateTanks
from benchapp.tank import simulate
from tests.gui.factories import nominal
from tests.gui.hand import choose, press, write
from tests.gui.stage import activate


@pytest.fixture
def sheet(qapp):
    made = TankSheet()
    yield made
    made.deleteLater()


@pytest.fixture
def view(qtbot, session, sheet, direct):
    made = TankView(session, sheet, direct)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def field(view, key):
    return next(form.fields[key] for form in view.forms.values() if key in form.fields)


def drawn(qtbot, view, direct):
    """Wait for the job, and answer it with fewer tanks."""
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=3000)
    task = direct.take("tanks")
    assert isinstance(task.job, SimulateTanks)
    task.done(simulate(task.job.stack_up, np.random.default_rng(1), 5000))
    return task


def test_an_empty_sheet_says_what_to_do_and_offers_an_example(qtbot, view, sheet):
    assert view.start.isVisible()
    assert not view.copier.isVisible()
    assert view.refusal.text().startswith("Type two of L, C and f0")
    press(qtbot, view.example)
    assert sheet.worked is not None
    assert not view.start.isVisible()
    assert view.copier.isVisible()


def test_two_typed_values_give_the_third_and_all_sums_at_once(qtbot, view, sheet):
    write(qtbot, field(view, "L"), "1.62 mH")
    assert view.sums.values == []
    write(qtbot, field(view, "f0"), "134.2 kHz")
    assert field(view, "C").placeholderText() == "= 868.2 pF"
    assert view.sums.value("C").text() == "868.2 pF"
    assert view.sums.answers == sums_answers(sheet.worked)


def test_sums_follow_each_key_without_return(qtbot, view):
    write(qtbot, field(view, "L"), "1 mH")
    write(qtbot, field(view, "C"), "1 n")
    qtbot.keyClicks(field(view, "C"), "F")
    assert view.sums.value("f0").text() == "159.2 kHz"
    qtbot.keyClick(field(view, "C"), Qt.Key.Key_Home)
    qtbot.keyClicks(field(view, "C"), "4")
    assert view.sums.value("C").text() == "41.00 nF"


def test_what_cannot_be_taken_takes_the_results_away_and_says_why(qtbot, view):
    press(qtbot, view.example)
    write(qtbot, field(view, "load"), "12 V")
    assert view.refusal.text().startswith("load: quantity: must be in Ω")
    assert field(view, "load").property("wrong")
    assert view.sums.values == []
    assert not view.user.isEnabled()
    write(qtbot, field(view, "load"), "12 ohm")
    assert not field(view, "load").property("wrong")
    qtbot.waitUntil(lambda: view.sums.value("Q loaded").isVisible())


def test_undo_takes_typing_back(qtbot, view, sheet):
    press(qtbot, view.example)
    write(qtbot, field(view, "coil_q"), "120")
    press(qtbot, view.undo)
    assert field(view, "coil_q").text() == "85"
    press(qtbot, view.undo)
    assert sheet.worked is None
    assert not view.undo.isEnabled()


def test_tanks_are_drawn_by_the_worker_once_typing_rests(qtbot, view, direct):
    press(qtbot, view.example)
    assert direct.tasks == []
    assert view.plot.plan.outline == ()
    drawn(qtbot, view, direct)
    assert view.plot.plan.outline
    assert view.tolerances.value("95 of 100 tanks").text().endswith("kHz")


def test_what_does_not_move_f0_draws_no_tanks_anew(qtbot, view, direct):
    press(qtbot, view.example)
    drawn(qtbot, view, direct)
    write(qtbot, field(view, "load"), "50 ohm")
    assert view.plot.plan.outline
    qtbot.wait(400)
    assert direct.tasks == []


def test_tanks_of_an_older_tolerance_are_not_shown(qtbot, view, direct):
    press(qtbot, view.example)
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=3000)
    old = direct.take("tanks")
    write(qtbot, field(view, "L"), "1.62 mH ±1 %")
    old.done(simulate(old.job.stack_up, np.random.default_rng(1), 1000))
    assert view.plot.plan.outline == ()
    drawn(qtbot, view, direct)
    assert view.plot.plan.outline


def test_a_simulation_that_fails_says_why(qtbot, view, direct):
    press(qtbot, view.example)
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=3000)
    direct.take("tanks").failed(QuantityError("correlations: must be possible together."))
    assert view.spread_note.text() == "correlations: must be possible together."


def test_the_real_worker_draws_a_million_tanks(qtbot, session, sheet, worker):
    view = TankView(session, sheet, worker)
    qtbot.addWidget(view)
    view.show()
    sheet.fill(EXAMPLE)
    qtbot.waitUntil(lambda: view.plot.plan.outline != (), timeout=20_000)
    assert "1 000 000" in view.tolerances.value("95 of 100 tanks").toolTip()


def test_a_caution_with_the_deferring_sentence_stands_beside_high_voltages(qtbot, view):
    press(qtbot, view.example)
    (notice,) = view.findChildren(Notice)
    qtbot.waitUntil(notice.isVisible)
    assert "touch limit" in notice.accessibleName()
    assert "follow your workplace's rules" in notice.accessibleName()
    write(qtbot, field(view, "size"), "0.2 V")
    qtbot.waitUntil(lambda: not any(one.isVisible() for one in view.findChildren(Notice)))


def test_results_are_copied_as_text_with_units(qtbot, view, direct):
    press(qtbot, view.example)
    drawn(qtbot, view, direct)
    press(qtbot, view.copier)
    words = QGuiApplication.clipboard().text()
    assert "L\t1.620 mH\t1.571 to 1.669 mH" in words
    assert "worst case\t130.9 to 137.7 kHz\t-2.4 % +2.6 %" in words
    assert "capacitor\t575.1 V\t1.203 kV unloaded" in words
    assert "\nload\t5.38 W\t61.9 %" in words


def test_limits_are_proposed_from_the_chosen_basis(qtbot, view, direct):
    found = []
    view.proposed.connect(found.append)
    press(qtbot, view.example)
    press(qtbot, view.user)
    choose(qtbot, view.basis, "simulated")
    view.basis.activated.emit(view.basis.currentIndex())
    assert not view.user.isEnabled()
    drawn(qtbot, view, direct)
    press(qtbot, view.user)
    worst, simulated = (one.limits[-1] for one in found)
    assert worst.quantity == simulated.quantity == "f0"
    assert worst.lower < simulated.lower < simulated.upper < worst.upper


def test_without_a_tolerance_the_button_says_what_is_missing(qtbot, view):
    write(qtbot, field(view, "L"), "1 mH")
    write(qtbot, field(view, "C"), "1 nF")
    assert not view.user.isEnabled()
    assert view.user.toolTip().startswith("Give L or C with a tolerance")


def test_the_sheet_is_filled_from_the_open_design(qtbot, view, session, sheet):
    assert not view.taker.isEnabled()
    session.use_nominal(nominal())
    press(qtbot, view.taker)
    assert sheet.texts["L"] == "1.62 mH ±3 %"


def test_the_circuit_is_drawn_as_it_is_connected(qtbot, view):
    press(qtbot, view.example)
    assert view.drawing.accessibleName().endswith("L 1.620 mH, C 868.0 pF, R 16.5 Ω")
    series = view.drawing.grab().toImage()
    choose(qtbot, view.forms["tank"].choices["circuit"], "parallel")
    box = view.forms["tank"].choices["circuit"]
    box.activated.emit(box.currentIndex())
    assert view.drawing.grab().toImage() != series


def test_tab_reaches_every_blank_and_button(qtbot, view):
    press(qtbot, view.example)
    wanted = {
        f for form in view.forms.values() for f in (*form.fields.values(), *form.choices.values())
    }
    wanted |= {view.copier, view.user, view.basis, view.undo}
    field(view, "L").setFocus()
    reached = set()
    for _ in range(120):
        now = view.focusWidget()
        reached.add(now)
        qtbot.keyClick(now, Qt.Key.Key_Tab)
    assert wanted <= reached


def test_a_key_costs_little_time(qtbot, view, sheet):
    """Far above what it takes (2 ms), so that it holds on a busy machine too."""
    press(qtbot, view.example)
    costs = []
    for turn in range(20):
        start = time.perf_counter()
        sheet.type("coil_q", str(80 + turn))
        costs.append(time.perf_counter() - start)
    assert sorted(costs)[10] < 0.05
