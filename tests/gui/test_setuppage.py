"""The Set-up page and the strip of the instrument, by mouse and key in the whole window."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from benchapp.bench.offer import PARTS
from benchapp.gui.setuppage import BENCH_PARTS, Steps
from benchapp.instruments import Examined, visa
from benchapp.readers import read


def press(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def idle(qtbot, window):
    qtbot.waitUntil(lambda: not window.instrument.is_busy, timeout=20_000)


@pytest.fixture
def bench(qtbot, window):
    """The window at its Set-up page with the simulated bench running."""
    window.go("setup")
    page = window.page("setup")
    window.instrument.texts["points"] = "21"
    press(qtbot, page.bench)
    idle(qtbot, window)
    return page


def test_every_part_of_the_bench_can_be_chosen():
    assert set(BENCH_PARTS) == set(PARTS)


def test_the_bench_is_started_and_stopped_from_a_button(qtbot, window, bench):
    assert bench.bench.text() == "Stop the simulated bench"
    assert bench.where.fields["address"].text() == window.instrument.address
    assert window.strip.isVisible()
    press(qtbot, bench.bench)
    idle(qtbot, window)
    assert bench.bench.text() == "Start the simulated bench"
    assert not window.strip.isVisible()


def test_from_a_first_start_to_a_verdict_without_any_file(qtbot, window, bench, tmp_path):
    press(qtbot, bench.trier)
    idle(qtbot, window)
    assert bench.says.text() == "It says of itself: SIMULATED BENCH,LCR METER,1,1.0"
    assert bench.trial.text().startswith("Trial reading at 114.0 kHz: R 228.")
    qtbot.keyClick(window.stack.currentWidget(), Qt.Key.Key_Space)
    assert window.stack.currentWidget() is window.page("live")
    assert window.strip.state.text() == "OUTPUT ON"
    idle(qtbot, window)
    qtbot.waitUntil(lambda: window.session.result is not None and window.session.is_settled)
    assert window.stack.currentWidget() is window.page("capture")
    assert window.strip.state.text() == "output off"
    assert window.session.part.name == "0001 (sweep)"
    assert window.session.result.fit.estimates["L"].value == pytest.approx(1.6313e-3, rel=2e-3)
    path = tmp_path / "0001.csv"
    window.files.save_capture(str(path))
    qtbot.waitUntil(lambda: window.message.words.text() == "Saved as 0001.csv.")
    assert [one.digest for one in read(path)] == [window.session.part.capture.digest]


def test_a_place_that_cannot_be_written_is_said(qtbot, window, bench, tmp_path):
    window.take_sweep()
    idle(qtbot, window)
    window.files.save_capture(str(tmp_path / "no" / "x.csv"))
    qtbot.waitUntil(lambda: "must be a file that can be written" in window.message.words.text())


def test_space_at_the_verdict_takes_the_next_part_and_stays_there(qtbot, window, bench):
    window.go("verdict")
    for count in (1, 2):
        qtbot.keyClick(window.stack.currentWidget(), Qt.Key.Key_Space)
        idle(qtbot, window)
        assert len(window.session.parts) == count
        assert window.stack.currentWidget() is window.page("verdict")
    assert window.session.part.name == "0002 (sweep)"


def test_space_in_a_blank_is_a_blank_and_measures_nothing(qtbot, window, bench):
    field = bench.form.fields["level"]
    field.setFocus()
    qtbot.keyClick(field, Qt.Key.Key_Space)
    assert not window.instrument.is_busy


def test_escape_stops_and_says_what_was_kept(qtbot, window, bench):
    window.instrument.set_text("points", "2001")
    press(qtbot, window.strip.take)
    qtbot.waitUntil(lambda: len(window.instrument.points) > 5, timeout=10_000)
    assert window.strip.stopper.isEnabled()
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    idle(qtbot, window)
    assert "points are kept." in window.message.words.text()
    assert window.session.part.name == "0001 (sweep, partial)"


def test_f9_switches_the_output_off(qtbot, window, bench):
    window.instrument.server.panel.execute("OUTP ON")
    qtbot.keyClick(window, Qt.Key.Key_F9)
    idle(qtbot, window)
    assert not window.instrument.server.panel.output


def test_the_examination_stands_in_words(qtbot, window, bench):
    press(qtbot, bench.examiner)
    idle(qtbot, window)
    assert bench.examined.isVisible()
    assert [step.step for step in bench.steps.shown][:3] == ["address", "connection", "identity"]


def test_a_bias_shows_its_caution_beside_the_consent(qtbot, window, bench):
    assert not bench.caution.isVisible()
    bench.form.fields["bias"].setFocus()
    qtbot.keyClicks(bench.form.fields["bias"], "2 V")
    assert bench.caution.isVisible()
    bench.consent.click()
    assert window.instrument.texts["consent"] == "yes"
    qtbot.keyClicks(bench.form.fields["bias"], "0")
    assert not bench.consent.isChecked()


def test_a_wrong_blank_is_marked(qtbot, window, bench):
    field = bench.form.fields["stop"]
    field.selectAll()
    qtbot.keyClicks(field, "soon")
    assert field.property("wrong")


def test_open_and_short_show_their_age_and_the_rule_of_100(qtbot, window, bench):
    for name, part in (("opened", "open"), ("shorted", "short")):
        window.instrument.clip(part)
        press(qtbot, bench.standards[name])
        idle(qtbot, window)
    assert bench.ages.text() == "open: just now · short: just now"
    assert not bench.ratios.isVisible()
    window.instrument.clip("tank")
    window.take_sweep()
    idle(qtbot, window)
    window.go("setup")
    assert bench.ratios.isVisible()
    assert "of 21 points open or short lies within 100 times" in bench.rule.text()
    assert bench.ratios.opened.getData()[0].size == 21
    press(qtbot, bench.forget)
    assert bench.ages.text() == "Nothing was read yet."
    assert not bench.ratios.isVisible()


def test_the_part_in_the_clip_is_chosen_from_the_list(qtbot, window, bench):
    bench.parts.setCurrentIndex(bench.parts.findData("load"))
    bench.parts.activated.emit(bench.parts.currentIndex())
    press(qtbot, bench.trier)
    idle(qtbot, window)
    assert "R 1.00" in bench.trial.text() or "R 999" in bench.trial.text()


def test_an_address_is_typed_and_a_profile_chosen(qtbot, window):
    window.go("setup")
    page = window.page("setup")
    qtbot.keyClicks(page.where.fields["address"], "GPIB0::5::INSTR")
    qtbot.keyClick(page.where.fields["address"], Qt.Key.Key_Return)
    assert window.instrument.address == "GPIB0::5::INSTR"
    page.profiles.setCurrentIndex(page.profiles.findData("scope-ring-down"))
    page.profiles.activated.emit(page.profiles.currentIndex())
    assert window.instrument.profile == "scope-ring-down"


def test_an_own_profile_is_listed_by_its_name(qtbot, window):
    window.go("setup")
    window.instrument.choose(profile="/some/where/mine.toml")
    assert window.page("setup").profiles.currentText() == "mine.toml"


def test_steps_of_another_examination_replace_the_old_ones(qtbot):
    steps = Steps()
    qtbot.addWidget(steps)
    first = Examined(step="address", well=True, found="fine")
    other = Examined(step="address", well=False, found="none", advice="Write another.")
    steps.show_steps([first])
    steps.show_steps([first, other])
    assert steps.shown == [first, other]
    steps.show_steps([other])
    assert steps.shown == [other]


def test_conditions_and_corrections_travel_with_the_sweep(qtbot, window, bench):
    qtbot.keyClicks(bench.form.fields["temperature"], "24")
    qtbot.keyClicks(bench.conditions.fields["fixture"], "clip")
    qtbot.keyClicks(bench.blanks.fields["source"], "1 ohm")
    window.take_sweep()
    idle(qtbot, window)
    capture = window.session.part.capture
    assert capture.conditions.temperature_celsius == 24
    assert capture.conditions.fixture == "clip"
    assert [step.name for step in capture.history] == ["series resistance"]


def test_a_wrong_correction_is_marked(qtbot, window, bench):
    qtbot.keyClicks(bench.blanks.fields["delay"], "long")
    assert bench.blanks.fields["delay"].property("wrong")
    assert not bench.form.fields["stop"].property("wrong")


def test_instruments_are_looked_for_from_a_button_that_says_what_it_does(
    qtbot, window, monkeypatch
):
    monkeypatch.setattr(visa, "discover", lambda _backend: ("GPIB0::5::INSTR", "ASRL1::INSTR"))
    window.go("setup")
    page = window.page("setup")
    assert not page.found.isVisible()
    assert "broadcasts" in page.finder.toolTip()
    press(qtbot, page.finder)
    idle(qtbot, window)
    assert "Raw network sockets are never found" in page.found_words.text()
    page.found.setCurrentIndex(1)
    page.found.activated.emit(1)
    assert window.instrument.address == "ASRL1::INSTR"
    monkeypatch.setattr(visa, "discover", lambda _backend: ())
    press(qtbot, page.finder)
    idle(qtbot, window)
    assert page.found_words.text().startswith("Nothing was found.")
    assert not page.found.isVisible()


def test_a_saved_reading_shows_its_file_and_age(qtbot, window, bench, tmp_path):
    window.instrument.clip("short")
    window.take_sweep()
    idle(qtbot, window)
    path = tmp_path / "short.csv"
    window.files.save_capture(str(path))
    qtbot.waitUntil(path.exists)
    qtbot.waitUntil(lambda: window.message.words.text() == "Saved as short.csv.")
    window.instrument.open_standard("shorted", str(path))
    idle(qtbot, window)
    assert bench.ages.text() == "short: just now (short.csv)"


def test_a_reading_of_the_fixture_is_saved_and_serves_after_it_was_forgotten(
    qtbot, window, bench, tmp_path
):
    assert not bench.saver.isEnabled()
    window.instrument.clip("short")
    press(qtbot, bench.standards["shorted"])
    idle(qtbot, window)
    assert bench.saver.isEnabled()
    assert bench.savings["shorted"].isEnabled()
    assert not bench.savings["opened"].isEnabled()
    before = window.instrument.standards["shorted"].sweep
    bench.savings["shorted"].trigger()
    (dialog,) = bench.findChildren(QFileDialog)
    dialog.fileSelected.emit(str(tmp_path / "short.csv"))
    idle(qtbot, window)
    assert window.message.words.text() == "Saved as short.csv."
    assert bench.ages.text() == "short: just now (short.csv)"
    press(qtbot, bench.forget)
    window.instrument.open_standard("shorted", str(tmp_path / "short.csv"))
    idle(qtbot, window)
    again = window.instrument.standards["shorted"].sweep
    assert np.array_equal(again.impedance, before.impedance)
    window.instrument.save_standard("shorted", str(tmp_path / "no" / "short.csv"))
    idle(qtbot, window)
    assert "must be a file that can be written" in window.message.words.text()


def test_the_set_up_is_remembered(qtbot, window, memory):
    window.go("setup")
    page = window.page("setup")
    qtbot.keyClicks(page.where.fields["address"], "GPIB0::5::INSTR")
    qtbot.keyClick(page.where.fields["address"], Qt.Key.Key_Return)
    window.instrument.set_text("stop", "155 kHz")
    window.close()
    assert memory.instrument["address"] == "GPIB0::5::INSTR"
    assert memory.instrument["stop"] == "155 kHz"


def test_cautions_stand_beside_the_act(qtbot, window):
    window.go("setup")
    page = window.page("setup")
    assert "Discharge a part before it touches" in page.before.accessibleName()
    assert "mains" in page.before.accessibleName()
    assert page.before.isVisible()
    assert not page.ringing.isVisible()
    for profile in ("scope-ring-down", "scope-gain-phase"):
        window.instrument.choose(profile=profile)
        assert page.ringing.isVisible()
    window.instrument.choose(profile="network-series")
    assert not page.ringing.isVisible()
