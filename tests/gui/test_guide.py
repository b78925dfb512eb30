"""The guided first run leads through the whole job; the person's own work comes back after it."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog

from benchapp.gui.app import make_window
from benchapp.gui.guidesteps import MARKING, PARTS, STEPS
from benchapp.gui.memory import Memory
from benchapp.gui.startpage import sample_paths
from benchapp.nominal import Outcome
from tests.gui.hand import choose, opened, press, write

CONTROL = Qt.KeyboardModifier.ControlModifier
SAMPLE, DESIGN = sample_paths()
LONG = 20_000


@pytest.fixture
def guide(qtbot, window):
    window.ahead.stop()
    press(qtbot, window.page("start").buttons[0])
    return window.guide


def at(qtbot, guide, key):
    qtbot.waitUntil(lambda: guide.step is not None and guide.step.key == key, timeout=LONG)
    qtbot.waitUntil(lambda: not guide.is_waiting, timeout=LONG)


def done_until(qtbot, guide, key):
    """Let the program do every step before one."""
    for step in STEPS:
        if step.key == key:
            break
        if step.key in guide.passed:
            continue
        at(qtbot, guide, step.key)
        while guide.step is not None and guide.step.key == step.key:
            count = measured(guide)
            guide.act()
            qtbot.waitUntil(
                lambda step=step, count=count: (
                    guide.step is None or guide.step.key != step.key or measured(guide) > count
                ),
                timeout=LONG,
            )
            qtbot.waitUntil(lambda: not guide.is_waiting, timeout=LONG)
    at(qtbot, guide, key)


def measured(guide) -> int:
    state = guide._window.desk.state
    return 0 if state is None else len(state.parts)


def show_place(qtbot, window):
    press(qtbot, window.guide_panel.place_button)


def test_the_whole_job_is_done_by_hand(qtbot, window, guide, tmp_path):
    """Every act with the window's own controls: no step is done by the program."""
    at(qtbot, guide, "marking")
    marking = window.page("marking")
    assert window.stack.currentWidget() is marking
    qtbot.keyClicks(marking.code, MARKING)
    press(qtbot, marking.uses[0])

    at(qtbot, guide, "tank")
    write(qtbot, window.page("tank").forms["tank"].fields["L"], "1.620 mH ±3 %")

    at(qtbot, guide, "design")
    show_place(qtbot, window)
    qtbot.keyClick(window, Qt.Key.Key_O, CONTROL)
    (dialog,) = window.findChildren(QFileDialog)
    assert Path(dialog.directory().absolutePath()) == Path(DESIGN).parent
    dialog.filesSelected.emit([DESIGN])
    dialog.close()
    window.activateWindow()
    qtbot.waitActive(window)

    at(qtbot, guide, "bench")
    show_place(qtbot, window)
    setup = window.page("setup")
    press(qtbot, setup.bench)

    at(qtbot, guide, "conditions")
    write(qtbot, setup.form.fields["level"], "1 V")
    write(qtbot, setup.form.fields["temperature"], "23 degC")

    for key, part, name in (("open", "open", "opened"), ("short", "short", "shorted")):
        at(qtbot, guide, key)
        choose(qtbot, setup.parts, part)
        setup.parts.activated.emit(setup.parts.currentIndex())
        assert window.instrument.clipped == part
        press(qtbot, setup.standards[name])

    at(qtbot, guide, "sweep")
    choose(qtbot, setup.parts, "tank")
    setup.parts.activated.emit(setup.parts.currentIndex())
    qtbot.keyClick(window, Qt.Key.Key_F8)
    at(qtbot, guide, "fit")
    assert window.session.result.verdict.outcome is Outcome.PASS
    views = window.page("capture").bar.views
    views.setFocus()
    qtbot.keyClick(views, Qt.Key.Key_End)

    at(qtbot, guide, "verdict")
    qtbot.keyClick(window, Qt.Key.Key_4, CONTROL)

    at(qtbot, guide, "lot")
    show_place(qtbot, window)
    start = window.page("lot").start
    write(qtbot, start.delivery.fields["quantity"], str(len(PARTS)))
    press(qtbot, start.begin)

    at(qtbot, guide, "parts")
    for count in range(3):
        qtbot.waitUntil(
            lambda count=count: (window.instrument.clipped, window.instrument.seed) == PARTS[count]
        )
        qtbot.keyClick(window.page("lot").work, Qt.Key.Key_Space)
        qtbot.waitUntil(
            lambda count=count: measured(guide) == count + 1 and not guide.is_waiting, timeout=LONG
        )
    outcomes = [part.outcome for part in window.desk.state.parts]
    assert outcomes == [Outcome.PASS, Outcome.PASS, Outcome.FAIL]
    assert [part.serial for part in window.desk.state.parts] == ["0002", "0003", "0004"]

    at(qtbot, guide, "sign")
    page = window.page("lot")
    write(qtbot, page.name, "A. Example")
    show_place(qtbot, window)
    press(qtbot, page.sign)

    at(qtbot, guide, "report")
    assert window.desk.state.conclusion.name == "A. Example"
    press(qtbot, page.report)
    (dialog,) = window.findChildren(QFileDialog)
    report = tmp_path / "lot.pdf"
    dialog.fileSelected.emit(str(report))
    dialog.close()
    qtbot.waitUntil(lambda: guide.is_done, timeout=LONG)
    assert report.read_bytes().startswith(b"%PDF")
    assert guide.step is None


def test_the_program_does_every_step_that_is_left_to_it(qtbot, window, guide):
    for step in STEPS:
        done_until(qtbot, guide, step.key)
        assert guide.passed == tuple(one.key for one in STEPS[: STEPS.index(step)])
    guide.act()
    qtbot.waitUntil(lambda: guide.is_done, timeout=LONG)
    assert Path(window._memory.record).with_name("GA-12 guided run.pdf").is_file()


def test_the_own_record_is_not_touched(qtbot, window, guide, memory, tmp_path):
    done_until(qtbot, guide, "parts")
    guide.act()
    qtbot.waitUntil(lambda: measured(guide) == 1, timeout=LONG)
    assert (tmp_path / "practice.benchlog").is_file()
    assert "practice.benchlog" in window.foot.findChildren(type(window.foot.doing))[-1].text() or (
        "practice.benchlog" in window.lots.recorder.words
    )
    guide.leave()
    assert not (tmp_path / "record.benchlog").exists()
    assert memory.record == str(tmp_path / "record.benchlog")
    assert window.desk.state is None
    assert all(part.entry is None for part in window.session.parts)
    qtbot.waitUntil(lambda: not window.instrument.is_busy, timeout=LONG)


def test_what_stood_on_the_bench_comes_back(qtbot, window, memory, tmp_path):
    window.ahead.stop()
    opened(qtbot, window, SAMPLE, DESIGN)
    nominal, part = window.session.nominal, window.session.part
    part.entry = 7
    instrument = window.instrument
    instrument.choose(address="TCPIP0::192.0.2.7::5025::SOCKET", profile="lcr-list")
    instrument.set_text("level", "0.3 V")
    instrument.set_text("surroundings", "on wood")
    memory.operator = "B. Example"
    window.guide.begin()
    assert part.entry is None
    window.session.use_nominal(None)
    done_until(qtbot, window.guide, "conditions")
    window.guide.act()
    assert instrument.texts["level"] == "1 V"
    window.guide.leave()
    qtbot.waitUntil(lambda: instrument.server is None and not instrument.is_busy, timeout=LONG)
    assert instrument.address == "TCPIP0::192.0.2.7::5025::SOCKET"
    assert instrument.profile == "lcr-list"
    assert instrument.texts["level"] == "0.3 V"
    assert instrument.texts["surroundings"] == "on wood"
    assert window.session.nominal is nominal
    assert part.entry == 7
    assert memory.operator == "B. Example"


def test_it_is_gone_on_with_where_it_was_left(qtbot, window, guide, memory):
    done_until(qtbot, guide, "parts")
    guide.act()
    qtbot.waitUntil(lambda: measured(guide) == 1 and not guide.is_waiting, timeout=LONG)
    press(qtbot, window.guide_panel.leave_button)
    assert not window.guide_panel.isVisible()
    window.go("start")
    assert window.page("start").buttons[0].text() == "Go on with the guided run"
    qtbot.waitUntil(lambda: not window.instrument.is_busy, timeout=LONG)
    press(qtbot, window.page("start").buttons[0])
    qtbot.waitUntil(lambda: measured(guide) == 1, timeout=LONG)
    assert guide.passed[-1] == "lot"
    assert guide.step.key == "bench"  # what the next part needs comes first
    assert "GA-12" in window.session.nominal.title


def test_another_start_of_the_program_knows_where_it_was(qtbot, memory, tmp_path):
    first = make_window(memory)
    first.ahead.stop()
    first.show()
    first.guide.begin()
    first.instrument.address = ""
    first.guide.act()
    qtbot.waitUntil(lambda: first.guide.passed == ("marking",))
    first.close()
    again = Memory(tmp_path / "settings.ini")
    assert again.guide == (("marking",), "")
    second = make_window(again)
    qtbot.addWidget(second)
    second.ahead.stop()
    second.show()
    assert not second.guide.is_on
    assert second.page("start").buttons[0].text() == "Go on with the guided run"
    second.guide.begin()
    assert second.guide.step.key == "tank"
    second.close()


def test_the_step_stays_while_the_instrument_is_at_work(qtbot, window, guide):
    done_until(qtbot, guide, "open")
    guide.act()
    assert window.instrument.is_busy
    seen = {guide.step.key}
    guide.changed.connect(lambda: seen.add(guide.step.key))
    at(qtbot, guide, "short")
    assert seen == {"open", "short"}


def test_a_step_whose_outcome_is_gone_comes_again(qtbot, window, guide):
    done_until(qtbot, guide, "short")
    window.instrument.forget_standards()
    window.instrument.stop_bench()
    at(qtbot, guide, "bench")
    guide.act()
    at(qtbot, guide, "short")


def test_when_it_is_over_it_can_be_begun_anew(qtbot, window, guide, memory):
    guide._passed = [step.key for step in STEPS]
    guide.changed.emit()
    assert window.guide_panel.title.text() == "That was the whole job"
    press(qtbot, window.guide_panel.again_button)
    assert guide.passed == ()
    assert guide.step.key == "marking"
    assert window.session.nominal is None
    guide._passed = [step.key for step in STEPS]
    guide.leave()
    assert window.page("start").buttons[0].text() == "Begin the guided run"
    guide.begin()
    assert guide.passed == ()


def test_it_waits_until_a_measurement_is_kept(qtbot, window, monkeypatch):
    window.ahead.stop()
    recorder = window.lots.recorder
    recorder._waiting = 1
    window.guide.begin()
    assert not window.guide.is_on
    assert "still on its way" in window.message.words.text()
    recorder._waiting = 0
    window.guide.begin()
    assert window.guide.is_on
    recorder._waiting = 1
    window.guide.leave()
    assert window.guide.is_on
    recorder._waiting = 0


def test_a_locked_station_does_not_lock_practice(window, guide, monkeypatch):
    monkeypatch.setattr(type(window.coil), "obstacle", property(lambda _self: "locked"))
    assert window.session.lot_obstacle == ""
    guide.leave()
    assert window.session.lot_obstacle == "locked"
