"""The reference coil on the Set-up page, from its file to a check and a review."""

from __future__ import annotations

import shutil

import pytest
from PySide6.QtCore import Qt

from benchapp.jobs import sample_folder


def press(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def idle(qtbot, window):
    qtbot.waitUntil(lambda: not window.instrument.is_busy, timeout=20_000)


@pytest.fixture
def card(qtbot, window, tmp_path, monkeypatch):
    """The card with a reference coil and the simulated bench running."""
    monkeypatch.setenv("BENCHAPP_RECORD", str(tmp_path / "parts.benchlog"))
    path = shutil.copy(sample_folder() / "ga12_reference.toml", tmp_path / "coil.toml")
    window.go("setup")
    made = window.page("setup").card
    window.instrument.texts.update(points="41", temperature="23 degC")
    window.instrument.start_bench("tank")
    idle(qtbot, window)
    window.coil.open(str(path))
    qtbot.waitUntil(lambda: window.coil.reference is not None)
    return made


def check(qtbot, window, card):
    before = window.coil.gate.last
    press(qtbot, card.checker)
    idle(qtbot, window)
    qtbot.waitUntil(lambda: window.coil.gate.last is not before, timeout=10_000)


def test_without_a_coil_the_card_says_what_one_is_for(window):
    window.go("setup")
    made = window.page("setup").card
    assert made.state.text() == "No reference coil is used here."
    assert "no lot can be worked on" in made.about.text()
    assert not made.checker.isVisible()
    assert not made.chart.isVisible()
    assert window.session.lot_obstacle == ""


def test_a_check_from_the_button_opens_lot_work(qtbot, window, card):
    assert card.state.text().startswith("Lot work is locked: reference RC-1 has not been checked")
    assert window.session.lot_obstacle.startswith("Lot work is locked")

    qtbot.keyClicks(card.who.fields["who"], "A. Brandt")
    check(qtbot, window, card)
    assert card.state.text() == "Lot work is open: reference RC-1 is within its limits."
    assert card.mark.mark == "good"
    assert card.measured.text().startswith("L 1.63")
    assert ", stated 1.6313 mH: " in card.measured.text()
    assert "Last check: just now." in card.about.text()
    assert "Control limits follow after 9 more good readings" in card.cautions.text()
    assert card.chart.isVisible()
    assert [card.keys.itemText(at) for at in range(card.keys.count())] == ["L", "f0", "Q"]
    assert window.coil.gate.last.who == "A. Brandt"
    assert window.session.lot_obstacle == ""
    assert window.session.parts == ()


def test_a_wrong_coil_locks_and_a_review_is_asked_for(qtbot, window, card):
    window.instrument.clip("shorted-turn")
    check(qtbot, window, card)
    assert card.mark.mark == "stop"
    assert "is outside its limits" in card.state.text()
    assert card.reviewer.isVisible()
    assert "is outside its limits" in window.session.lot_obstacle
    qtbot.keyClicks(card.who.fields["who"], "A. Brandt")
    qtbot.keyClicks(card.reason.fields["reason"], "wrong coil")
    press(qtbot, card.reviewer)
    qtbot.waitUntil(lambda: window.coil.gate.state == "never", timeout=5000)
    assert not card.reviewer.isVisible()
    assert card.reason.fields["reason"].text() == ""


def test_another_quantity_is_charted(qtbot, window, card):
    check(qtbot, window, card)
    first = card.chart.trace.getData()[1].tolist()
    card.keys.setCurrentIndex(2)
    card.keys.activated.emit(2)
    assert card.chart.trace.getData()[1].tolist() != first


def test_none_can_be_used_again(qtbot, window, card):
    press(qtbot, card.forgetter)
    assert card.state.text() == "No reference coil is used here."
    assert window.coil.path == ""


def test_the_coil_cannot_be_checked_without_an_instrument(qtbot, window, card):
    window.instrument.stop_bench()
    idle(qtbot, window)
    assert not card.checker.isEnabled()
