"""The lot on the bench, worked by mouse and keys; the record answers when the test says so."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QLocale, QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QComboBox,
    QLineEdit,
    QListWidget,
    QPushButton,
)

from benchapp.gui.desk import Desk
from benchapp.gui.instrument import Instrument
from benchapp.gui.lotpage import LotPage
from benchapp.lot import LotForm, LotPlan
from benchapp.nominal import Outcome
from tests.gui.hand import choose, press, write
from tests.gui.heldrecord import (
    HeldRecord,
    conclusion,
    count,
    lot,
    measured,
    opened,
    part,
    put_on,
)
from tests.gui.stage import activate

LONG = LotForm(
    part="Gate antenna coil GA-12",
    revision="C",
    supplier="Example Windings and Coil Formers Company of the Upper Valley, Incorporated",
    order="PO-2026-4711",
    date_code="2640",
    quantity=150,
)
GERMAN = QLocale(QLocale.Language.German, QLocale.Country.Germany)
PASS, FAIL, NOT_JUDGED = Outcome.PASS, Outcome.FAIL, Outcome.NOT_JUDGED


@pytest.fixture
def desk(qapp, memory):
    made = Desk(HeldRecord(), memory)
    yield made
    made.deleteLater()


@pytest.fixture
def told(desk):
    said = []
    desk.told.connect(said.append)
    return said


@pytest.fixture
def page(qtbot, desk):
    made = LotPage(desk, Instrument(), "A. Example")
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def listed(box):
    return [box.item(at).text() for at in range(box.count())]


def set_up(page):
    page._instrument.choose(address="GPIB0::5::INSTR")


def test_without_a_lot_the_form_is_shown_with_the_operator(page):
    assert page.currentWidget() is page.start
    assert page.start.delivery.fields["operator"].text() == "A. Example"


def test_a_lot_is_shown_with_its_count_its_delivery_and_its_plan(page, desk):
    form = LotForm(part="GA-12", supplier="Example Windings", order="4711", quantity=150)
    put_on(desk, lot(PASS, form=form))
    assert page.currentWidget() is page.work
    assert page.count.text() == "1 of 3 · 0 rejected · Ac 0 Re 1"
    about = page.about.text().split("\n")
    assert about[0] == "GA-12 · Example Windings · 4711"
    assert about[1].startswith("Code letter F. 3 of 150 parts are measured")
    assert page.decision.text() == "going on"
    assert page.mark.accessibleName() == "going on"


def test_the_next_part_and_those_after_it_are_named(page, desk):
    put_on(desk, lot())
    assert page.pick.text() == "Take part number 7 of the delivery."
    assert page.picks.text() == "7, 31, 99"
    put_on(desk, lot(PASS))
    assert page.pick.text() == "Take part number 31 of the delivery."
    assert page.picks.text() == "31, 99"
    assert page.serial.placeholderText() == "0002, counted"


def test_of_many_positions_twelve_are_listed_with_a_sign_that_there_are_more(page, desk):
    plan = LotPlan(kind="attributes", quantity=150, n=20, accept=0, reject=1)
    put_on(desk, lot(plan=plan, positions=tuple(range(5, 105, 5))))
    assert page.picks.text() == "5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60 and 8 more"


def test_a_lot_measured_whole_names_no_positions(page, desk):
    plan = LotPlan(kind="all", quantity=3, n=3, accept=0, reject=1, everything=True)
    put_on(desk, lot(plan=plan, positions=()))
    assert not page.picks.isVisible()
    assert not page.pick.isVisible()


def test_before_the_first_part_the_banner_says_so(page, desk):
    put_on(desk, lot())
    assert page.banner.word == "No part yet"
    assert page.said.text() == ""
    assert listed(page.done) == []


def test_while_a_part_is_judged_the_banner_says_so_then_its_outcome(page, desk):
    put_on(desk, lot())
    desk.take(part("0147"))
    assert page.banner.word == "Judging"
    count(desk, FAIL, reason="L is above its limit")
    assert page.banner.word == "Fail"
    assert page.said.text() == "0147: fail, L 1.6315 mH. L is above its limit"


@pytest.mark.parametrize(
    ("outcome", "words"),
    [
        (PASS, "0001: pass"),
        (Outcome.CONDITIONAL_PASS, "0001: conditional pass, L 1.6315 mH"),
        (Outcome.CONDITIONAL_FAIL, "0001: conditional fail, L 1.6315 mH"),
        (FAIL, "0001: fail, L 1.6315 mH"),
        (NOT_JUDGED, "0001: not judged, L 1.6315 mH"),
    ],
)
def test_each_outcome_is_listed_in_words_with_what_decided_it(page, desk, outcome, words):
    put_on(desk, lot(outcome))
    assert listed(page.done) == [words]
    assert not page.done.item(0).icon().isNull()


def test_values_are_written_with_the_decimal_mark_of_the_desktop(page, desk):
    QLocale.setDefault(GERMAN)
    put_on(desk, lot(FAIL))
    assert listed(page.done) == ["0001: fail, L 1,6315 mH"]


def test_parts_are_listed_the_last_first_and_no_more_than_fifty(page, desk):
    plan = LotPlan(kind="all", quantity=80, n=80, accept=0, reject=1, everything=True)
    put_on(desk, lot(*[PASS] * 60, plan=plan, positions=()))
    words = listed(page.done)
    assert (words[0], words[-1], len(words)) == ("0060: pass", "0011: pass", 50)


def test_parts_to_set_apart_are_listed_rejected_and_not_judged_alike(page, desk):
    plan = LotPlan(kind="all", quantity=5, n=5, accept=3, reject=4, everything=True)
    put_on(desk, lot(PASS, FAIL, NOT_JUDGED, plan=plan, positions=()))
    assert page.apart_title.text() == "2 parts to set apart"
    assert listed(page.apart) == ["0002: fail, L 1.6315 mH", "0003: not judged, L 1.6315 mH"]
    desk.retest("0002", "poor contact")
    desk.take(part())
    count(desk, PASS)
    assert page.apart_title.text() == "1 part to set apart"
    assert listed(page.done)[1] == "0002: pass, measurement 2"


def test_nothing_to_set_apart_takes_no_room(page, desk):
    put_on(desk, lot(PASS))
    assert not page.apart.isVisible()
    assert page.apart_title.text() == "0 parts to set apart"


def test_a_serial_is_typed_and_return_gives_the_keyboard_to_the_sweep(qtbot, page, desk):
    put_on(desk, lot())
    write(qtbot, page.serial, "GA-0815")
    assert desk.next_serial == "GA-0815"
    assert page.work.hasFocus()
    desk.take(part())
    assert page.serial.text() == ""
    assert desk.recorder.place.serial == "GA-0815"


def test_what_a_scanner_types_goes_into_the_serial_wherever_the_focus_is(qtbot, page, desk):
    put_on(desk, lot(PASS))
    page.done.clearFocus()
    page.work.setFocus()
    qtbot.keyClicks(page.work, "0815")
    assert page.serial.text() == "0815"
    assert page.work.hasFocus()
    assert desk.serial == "0815"


def scan(qtbot, code):
    """Send the keys of a scanner to whatever has them: capitals come with Shift, Return ends."""
    for sign in code:
        shift = Qt.KeyboardModifier.ShiftModifier
        held = shift if sign.isupper() else Qt.KeyboardModifier.NoModifier
        qtbot.keyClick(QApplication.focusWidget(), sign, held)
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)


@pytest.mark.parametrize("where", ["work", "done", "apart", "sweep", "pause"])
def test_a_scanned_code_is_whole_wherever_the_keys_were(qtbot, page, desk, where):
    put_on(desk, lot(PASS, NOT_JUDGED))
    set_up(page)
    getattr(page, where).setFocus(Qt.FocusReason.TabFocusReason)
    scan(qtbot, "GA12-0815")
    assert desk.serial == page.serial.text() == "GA12-0815"
    scan(qtbot, "GA12-0816")
    assert desk.serial == "GA12-0816", "a second scan is another part, not a longer serial"


@pytest.mark.parametrize("name", ["done", "pause", "capture", "watch", "undo", "parts"])
def test_a_click_does_not_take_the_keys_away_from_the_sweep(qtbot, page, desk, name):
    put_on(desk, lot(PASS))
    page.work.setFocus()
    widget = getattr(page, name)
    target = widget.viewport() if name == "done" else widget
    qtbot.mouseClick(target, Qt.MouseButton.LeftButton)
    assert page.work.hasFocus()


def test_a_wheel_over_the_outcome_does_not_change_it(qtbot, page, desk):
    put_on(desk, lot(PASS, FAIL))
    before = page.outcome.currentData()
    page.outcome.setFocus()
    middle = QPointF(page.outcome.rect().center())
    wheel = QWheelEvent(
        middle,
        page.outcome.mapToGlobal(middle),
        QPoint(),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(page.outcome, wheel)
    assert page.outcome.currentData() == before


@pytest.mark.parametrize(
    "modifier", [Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.AltModifier]
)
def test_shortcuts_are_no_serial(qtbot, page, desk, modifier):
    put_on(desk, lot())
    page.setFocus()
    qtbot.keyClick(page, Qt.Key.Key_5, modifier)
    qtbot.keyClick(page, Qt.Key.Key_Space)
    assert page.serial.text() == ""


def test_a_paused_lot_says_so_takes_no_serial_and_goes_on_by_key(qtbot, page, desk):
    set_up(page)
    put_on(desk, lot())
    page.pause.setFocus()
    qtbot.keyClick(page.pause, Qt.Key.Key_Space)
    assert desk.paused
    assert page.pick.text() == "The lot is paused."
    enabled = (page.serial, page.sweep, page.capture, page.watch)
    assert [widget.isEnabled() for widget in enabled] == [False] * 4
    page.setFocus()
    qtbot.keyClicks(page, "0815")
    assert page.serial.text() == ""
    press(qtbot, page.pause)
    assert [widget.isEnabled() for widget in enabled] == [True] * 4


def test_a_decided_lot_says_what_can_be_done_and_goes_on_by_choice(qtbot, page, desk):
    put_on(desk, lot(FAIL))
    assert page.pick.text() == "The plan is decided: conclude the lot, or go on by choice."
    assert page.decision.text() == "the plan rejects the lot"
    assert page.sign.property("role") == "main"
    press(qtbot, page.beyond)
    assert desk.is_counting
    assert page.pick.text() == "Take part number 31 of the delivery."


def test_going_on_is_no_question_before_the_plan_is_decided(page, desk):
    put_on(desk, lot(PASS))
    assert not page.beyond.isVisible()
    assert page.sign.property("role") == ""


@pytest.mark.parametrize(
    ("button", "signal"),
    [("sweep", "wants_sweep"), ("capture", "wants_capture"), ("watch", "wants_watch")],
)
def test_each_way_to_measure_is_a_press(qtbot, page, desk, button, signal):
    set_up(page)
    put_on(desk, lot())
    with qtbot.waitSignal(getattr(page, signal)):
        press(qtbot, getattr(page, button))


def test_without_an_instrument_captures_are_the_way_and_it_is_said(page, desk):
    put_on(desk, lot())
    assert not page.sweep.isEnabled()
    assert page.capture.property("role") == "main"
    assert page.how.text().startswith("No instrument is set up: open the captures")
    set_up(page)
    assert page.sweep.isEnabled()
    assert page.sweep.property("role") == "main"
    assert page.how.text() == (
        "Scan or type the serial and press Enter, then Space takes the sweep."
    )


def test_no_sweep_is_offered_while_the_instrument_measures(page, desk):
    set_up(page)
    put_on(desk, lot())
    page._instrument.doing = "sweep"
    page._instrument.changed.emit()
    assert not page.sweep.isEnabled()
    page._instrument.doing = ""
    page._instrument.changed.emit()
    assert page.sweep.isEnabled()


@pytest.mark.parametrize(
    ("bias", "output", "warned"),
    [
        ("off", "off", False),
        ("off", "on", False),
        ("on", "on", True),
        ("unknown", "off", True),
        ("off", "unknown", True),
    ],
)
def test_the_caution_stands_where_a_bias_is_on_or_may_be(page, desk, bias, output, warned):
    put_on(desk, lot())
    page._instrument.bias, page._instrument.output = bias, output
    page._instrument.changed.emit()
    assert page.caution.isVisible() == warned
    assert "do not disconnect the part" in page.caution.accessibleName()
    assert "(F9)" in page.caution.accessibleName()


def test_the_watched_folder_is_named_on_its_button(page, desk):
    put_on(desk, lot())
    page.show_watch("/bench/saved sweeps")
    assert page.watch.text() == "Stop watching saved sweeps"
    page.show_watch("")
    assert page.watch.text() == "Watch a folder…"


def test_a_part_is_chosen_with_the_keys_and_measured_again_with_a_reason(qtbot, page, desk):
    put_on(desk, lot(PASS, PASS))
    assert page.again_title.text() == "Measure a part again"
    assert not page.again.isEnabled()
    page.done.setFocus()
    qtbot.keyClick(page.done, Qt.Key.Key_Down)
    qtbot.keyClick(page.done, Qt.Key.Key_Down)
    assert desk.chosen == "0001"
    assert page.again_title.text() == "Measure 0001 again"
    qtbot.keyClicks(page.reason, "poor contact")
    press(qtbot, page.again)
    assert (desk.again, desk.cause) == ("0001", "poor contact")
    assert page.pick.text() == "Put 0001 into the clip again (poor contact)."
    assert page.serial.placeholderText() == "0001, counted"
    assert not page.serial.isEnabled()
    assert page.reason.text() == ""
    assert page.work.hasFocus()


def test_a_retest_without_a_reason_is_refused_and_the_part_stays_chosen(qtbot, page, desk, told):
    put_on(desk, lot(PASS))
    desk.choose("0001")
    page.reason.setFocus()
    qtbot.keyClick(page.reason, Qt.Key.Key_Return)
    assert told[-1].text == "A retest needs a reason."
    assert desk.again == ""
    assert page.again_title.text() == "Measure 0001 again"


def test_a_retest_can_be_called_off(qtbot, page, desk):
    put_on(desk, lot(PASS))
    desk.choose("0001")
    write(qtbot, page.reason, "poor contact")
    assert page.again.text() == "Do not, after all"
    press(qtbot, page.again)
    assert desk.again == ""
    assert page.again.text() == "Measure again"


def test_what_a_scanner_types_does_not_rename_a_retest(qtbot, page, desk):
    put_on(desk, lot(PASS))
    desk.retest("0001", "poor contact")
    page.work.setFocus()
    qtbot.keyClicks(page.work, "0815")
    assert desk.next_serial == "0001"


def test_a_part_set_apart_is_chosen_by_a_click(qtbot, page, desk):
    put_on(desk, lot(FAIL))
    box = page.apart
    place = box.visualItemRect(box.item(0)).center()
    qtbot.mouseClick(box.viewport(), Qt.MouseButton.LeftButton, pos=place)
    assert desk.chosen == "0001"


def test_a_list_that_is_filled_chooses_nothing_by_itself(page, desk):
    put_on(desk, lot(FAIL))
    assert desk.chosen == ""


def test_the_last_part_is_taken_back_by_a_press_and_only_where_there_is_one(qtbot, page, desk):
    put_on(desk, lot())
    assert not page.undo.isEnabled()
    put_on(desk, lot(PASS))
    press(qtbot, page.undo)
    desk.recorder.acts.pop().done(101)
    assert page.count.text().startswith("0 of 3")
    assert page.banner.word == "No part yet"
    assert not page.undo.isEnabled()


@pytest.mark.parametrize(
    ("outcomes", "proposed"),
    [
        ((), "hold"),
        ((PASS,) * 3, "accept"),
        ((FAIL,), "reject"),
        ((PASS, PASS, NOT_JUDGED), "hold"),
    ],
)
def test_what_the_plan_says_is_proposed(page, desk, outcomes, proposed):
    put_on(desk, lot(*outcomes))
    assert page.outcome.currentData() == proposed
    assert page.name.text() == "A. Example"


@pytest.mark.parametrize("outcome", ["reject", "hold", "concession"])
def test_a_lot_is_signed_by_keys_alone(qtbot, page, desk, outcome):
    put_on(desk, lot(FAIL))
    choose(qtbot, page.outcome, outcome)
    write(qtbot, page.name, "B. Example")
    write(qtbot, page.why, "as agreed")
    page.sign.setFocus()
    qtbot.keyClick(page.sign, Qt.Key.Key_Space)
    signed = desk.recorder.acts.pop()
    found = signed.job.conclusion
    assert (found.outcome, found.name, found.reason) == (outcome, "B. Example", "as agreed")
    signed.done(conclusion(outcome, reason="as agreed"))
    words = {"reject": "rejected", "hold": "on hold", "concession": "taken by concession"}
    assert page.ended.text() == (
        f"{words[outcome]} · B. Example · 2026-05-04 11:00 UTC\nas agreed"
    )
    assert page.decision.text() == words[outcome]
    assert not page.sign.isVisible()
    assert not page.outcome.isVisible()
    assert not page.beyond.isVisible()
    assert not page.pause.isVisible()
    assert not page.picks.isVisible()
    assert not page.reason.isEnabled()


def test_a_choice_of_how_it_ends_stays_while_the_reason_is_typed(qtbot, page, desk):
    put_on(desk, lot(PASS))
    choose(qtbot, page.outcome, "concession")
    qtbot.keyClicks(page.why, "spares")
    desk.name("0815")
    assert page.outcome.currentData() == "concession"


def test_signing_without_a_name_is_refused_with_what_to_do(qtbot, page, desk, told):
    put_on(desk, lot(FAIL))
    page.name.clear()
    press(qtbot, page.sign)
    assert "must have the name of who decides" in told[-1].text
    assert told[-1].hint == "Type your name."
    assert desk.is_open


def test_name_and_reason_of_one_lot_do_not_sign_the_next(qtbot, page, desk):
    put_on(desk, lot(FAIL))
    write(qtbot, page.name, "B. Example")
    write(qtbot, page.why, "used as spares")
    qtbot.keyClicks(page.reason, "poor contact")
    put_on(desk, lot(FAIL, form=LotForm(quantity=150, operator="C. Example")), "lot-2")
    assert page.why.text() == ""
    assert page.reason.text() == ""
    assert page.name.text() == "C. Example"
    assert page.outcome.currentData() == "reject"


def test_a_concluded_lot_that_is_opened_again_is_only_looked_at(page, desk):
    put_on(desk, lot(FAIL).conclude(conclusion("hold")))
    assert page.ended.text().startswith("on hold · B. Example")
    assert not page.serial.isEnabled()
    assert not page.sweep.isEnabled()
    assert not page.undo.isEnabled()
    assert page.pick.text() == ""


def test_the_parts_are_a_press_away_and_the_lot_is_put_away_by_one(qtbot, page, desk):
    put_on(desk, lot(PASS))
    with qtbot.waitSignal(page.wants_parts):
        press(qtbot, page.parts)
    press(qtbot, page.away)
    assert desk.state is None
    assert page.currentWidget() is page.start


def test_a_lot_chosen_in_the_form_is_opened(page, desk):
    page.start.wanted.emit("lot-5")
    assert desk.recorder.acts[-1].job.key == "lot-5"
    desk.recorder.acts.pop().done(opened(lot(PASS), "lot-5"))
    assert page.currentWidget() is page.work


def test_tab_reaches_every_control_of_the_lot(qtbot, page, desk):
    set_up(page)
    plan = LotPlan(kind="all", quantity=9, n=9, accept=0, reject=1, everything=True)
    put_on(desk, lot(FAIL, PASS, plan=plan, positions=()))
    desk.go_on(beyond=True)
    desk.choose("0001")
    kinds = (QLineEdit, QComboBox, QPushButton, QListWidget, QCheckBox)
    wanted = {
        widget
        for kind in kinds
        for widget in page.work.findChildren(kind)
        if widget.isVisible() and widget.isEnabled()
    }
    assert len(wanted) == 4 + 1 + 9 + 2 + 2
    reached = set()
    page.parts.setFocus()
    for _ in range(40):
        reached.add(QApplication.focusWidget())
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert wanted <= reached


def test_every_control_of_the_lot_has_a_name_that_is_read_out(page):
    for kind in (QLineEdit, QComboBox, QListWidget):
        for widget in page.work.findChildren(kind):
            assert widget.accessibleName(), widget
    for button in page.work.findChildren(QPushButton):
        assert button.text()
        assert button.toolTip()


def test_long_words_do_not_widen_the_page(page, desk):
    form = LotForm(part="x" * 300, supplier="y" * 200, quantity=150)
    state = lot(form=form).add(measured("z" * 200, FAIL, reason="w" * 400))
    put_on(desk, state)
    QApplication.processEvents()
    assert page.work.widget().width() <= page.work.viewport().width()


def test_the_report_of_a_lot_says_how_the_reference_coil_stands(page, desk):
    put_on(desk, lot(PASS))
    page.reference = lambda: "GA-12 reference: open; last check within limits"
    job = page._wish().job(None)
    assert (job.key, job.reference) == ("lot-1", "GA-12 reference: open; last check within limits")


def test_the_positions_to_draw_can_be_printed_while_there_are_any(qtbot, page, desk):
    put_on(desk, lot())
    with qtbot.waitSignal(page.print.wanted) as asked:
        press(qtbot, page.print)
    assert asked.args[0].name == "Parts to draw at random GA-12 Example Windings 3 / 150"
    put_on(desk, lot(PASS, PASS, PASS))
    assert not page.print.isVisible()


@pytest.mark.parametrize("parts", [0, 13])
def test_the_whole_page_is_seen_at_the_smallest_common_window(page, desk, parts):
    """All of it fits 1280x800 less the strips of the window, decided and with a long reason."""
    reason = "ESR is 21 ohm above the upper limit of 22 ohm and outside the guard band. " * 2
    state = lot(*[PASS] * min(parts, 2), form=LONG)
    for at in range(2, parts):
        state = state.add(measured(f"{at:04d}x", FAIL, reason=reason))
    put_on(desk, state)
    page.resize(1280, 660)
    QApplication.processEvents()
    assert page.work.verticalScrollBar().maximum() == 0


def test_a_serial_scanned_into_its_field_leaves_the_keys_to_the_sweep(qtbot, page, desk):
    put_on(desk, lot(PASS))
    page.serial.setFocus()
    scan(qtbot, "GA12-0815")
    assert desk.serial == "GA12-0815"
    assert page.work.hasFocus()
