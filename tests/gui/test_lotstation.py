"""A lot of the samples from its form to the signed end, in the real window."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt

from benchapp.capture import Step
from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.instruments import PARTIAL
from benchapp.jobs import FitCapture
from benchapp.logbook import Search, open_logbook
from benchapp.nominal import Outcome
from tests.gui.factories import sweep
from tests.gui.hand import choose, press, write
from tests.gui.lotstage import DESIGN, LOT, begin_lot, fill, measure
from tests.jobs.lots import FORM, keep_lot

REJECT = next(path for path in LOT if path.endswith("0209.csv"))
GOOD = tuple(path for path in LOT if path != REJECT)


def conclude(qtbot, window, page, name="B. Example", reason=""):
    page.name.clear()
    qtbot.keyClicks(page.name, name)
    if reason:
        qtbot.keyClicks(page.why, reason)
    press(qtbot, page.sign)
    qtbot.waitUntil(lambda: not window.desk.is_open, timeout=10_000)


def test_a_lot_of_13_with_one_reject_goes_to_its_signed_end(qtbot, window, memory):
    page = begin_lot(qtbot, window)
    assert page.count.text() == "0 of 13 · 0 rejected · Ac 0 Re 1"
    assert len(page.picks.text().split(", ")) == 12
    measure(qtbot, window, *GOOD[:4])
    assert page.count.text() == "4 of 13 · 0 rejected · Ac 0 Re 1"
    assert page.banner.word == "Pass"
    measure(qtbot, window, REJECT)
    assert page.banner.word == "Fail"
    assert page.decision.text() == "the plan rejects the lot"
    assert page.apart.item(0).text().startswith("0209: fail, ESR at 134.2 kHz")
    assert not page.serial.isEnabled()
    window.session.open([GOOD[5]])
    qtbot.waitUntil(lambda: len(window.session.parts) == 6, timeout=10_000)
    assert len(window.desk.state.parts) == 5, "stops when decided"
    press(qtbot, page.beyond)
    measure(qtbot, window, *GOOD[6:])
    assert window.desk.state.counted == 11
    assert page.outcome.currentData() == "reject"
    conclude(qtbot, window, page)
    assert page.ended.text().startswith("rejected · B. Example · 20")
    with open_logbook(memory.record, create=False) as book:
        (row,) = book.lots()
        assert (row.conclusion.outcome, row.conclusion.name) == ("reject", "B. Example")
        assert row.form.supplier == "Example Windings"
        kept = book.lot_state(row.key)
        assert kept.rejected == 1
        assert [one.serial for one in kept.parts] == [
            one.serial for one in window.desk.state.parts
        ]
        stored = book.entry(kept.parts[0].entry)
        assert stored.entry.raw == Path(GOOD[0]).read_bytes()
        assert stored.entry.operator == "A. Example"
        assert book.verify() == ()


def test_what_the_plan_rejects_is_not_accepted_by_signing(qtbot, window):
    page = begin_lot(qtbot, window)
    measure(qtbot, window, REJECT)
    choose(qtbot, page.outcome, "accept")
    press(qtbot, page.sign)
    qtbot.waitUntil(window.message.isVisible)
    assert "must not be accept where the plan rejects" in window.message.words.text()
    assert window.desk.is_open


def test_a_part_is_measured_again_with_a_reason_and_both_are_kept(qtbot, window):
    page = begin_lot(qtbot, window)
    measure(qtbot, window, *GOOD[:2])
    page.done.setFocus()
    page.done.setCurrentRow(1)
    assert page.again_title.text() == "Measure 0201 again"
    press(qtbot, page.again)
    assert "needs a reason" in window.message.words.text()
    write(qtbot, page.reason, "poor contact")
    assert window.desk.again == "0201"
    assert "0201" in page.pick.text()
    measure(qtbot, window, GOOD[2])
    again = window.desk.state.parts[-1]
    assert (again.serial, again.attempt, again.cause) == ("0201", 2, "poor contact")
    assert window.desk.state.counted == 2


def test_a_serial_counts_once_and_the_person_is_told(qtbot, window):
    begin_lot(qtbot, window)
    measure(qtbot, window, GOOD[0])
    window.session.close_part()
    window.session.open([GOOD[0]])
    qtbot.waitUntil(window.message.isVisible, timeout=10_000)
    assert "0201 was measured already in this lot" in window.message.words.text()
    assert len(window.desk.state.parts) == 1


def test_what_a_scanner_types_anywhere_is_the_serial_of_the_next_part(qtbot, window):
    page = begin_lot(qtbot, window)
    page.work.setFocus()
    qtbot.keyClicks(page.work, "GA-0815")
    qtbot.keyClick(page.serial, Qt.Key.Key_Return)
    assert page.work.hasFocus()
    measure(qtbot, window, GOOD[0])
    assert window.desk.state.parts[0].serial == "GA-0815"
    assert page.serial.text() == ""


def test_undo_takes_the_last_part_back_and_the_record_keeps_it(qtbot, window, memory):
    page = begin_lot(qtbot, window)
    measure(qtbot, window, *GOOD[:2])
    page.work.setFocus()
    qtbot.keyClick(page.work, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: len(window.desk.state.parts) == 1, timeout=10_000)
    assert "0202 (pass) is taken back" in window.message.words.text()
    with open_logbook(memory.record, create=False) as book:
        state = book.lot_state(window.desk.key)
    assert [one.serial for one in state.undone] == ["0202"]


def test_a_lot_goes_on_at_the_next_part_after_a_restart(qtbot, window, tmp_path):
    begin_lot(qtbot, window)
    measure(qtbot, window, *GOOD[:3])
    position = window.desk.state.next_position
    window.close()
    again = make_window(Memory(tmp_path / "settings.ini"))
    qtbot.addWidget(again)
    again.show()
    again.go_station("lot")
    start = again.page("lot").start
    qtbot.waitUntil(lambda: start.lots.count() == 1, timeout=10_000)
    assert "3 measurements, sample of 13" in start.lots.item(0).text()
    press(qtbot, start.resume)
    qtbot.waitUntil(lambda: again.desk.is_open, timeout=10_000)
    assert again.desk.state.counted == 3
    assert again.desk.state.next_position == position
    assert again.session.nominal.title == "Gate antenna coil GA-12"
    measure(qtbot, again, GOOD[3])
    assert again.desk.state.counted == 4
    again.close()


def test_a_wrong_file_counts_as_nothing(qtbot, window, tmp_path):
    begin_lot(qtbot, window)
    bad = tmp_path / "holiday.csv"
    bad.write_text("Dear diary,\nno numbers today.\n", encoding="utf-8")
    window.session.open([str(bad)])
    qtbot.waitUntil(window.message.isVisible, timeout=10_000)
    assert window.desk.state.parts == ()
    measure(qtbot, window, GOOD[0])
    assert window.desk.state.counted == 1


def test_a_paused_lot_counts_nothing(qtbot, window):
    page = begin_lot(qtbot, window)
    press(qtbot, page.pause)
    window.session.open([GOOD[0]])
    qtbot.waitUntil(lambda: window.session.part is not None, timeout=10_000)
    assert not window.desk.is_busy
    assert window.desk.state.parts == ()
    assert page.pick.text() == "The lot is paused."


def test_the_page_stays_while_parts_come(qtbot, window):
    page = begin_lot(qtbot, window)
    measure(qtbot, window, GOOD[0])
    assert window.stack.currentWidget() is page


def test_files_that_come_into_a_watched_folder_count(qtbot, window, tmp_path):
    page = begin_lot(qtbot, window)
    folder = tmp_path / "saved"
    folder.mkdir()
    window.lots.watch.start(str(folder))
    assert page.watch.text() == "Stop watching saved"
    (folder / "a.csv").write_bytes(Path(GOOD[0]).read_bytes())
    qtbot.waitUntil(lambda: window.desk.state.counted == 1, timeout=10_000)
    press(qtbot, page.watch)
    assert window.lots.watch.folder == ""


def test_a_measurement_outside_a_lot_is_kept_at_once_unless_switched_off(qtbot, window, memory):
    window.session.add_capture(sweep(part="0147"))
    qtbot.waitUntil(lambda: window.lots.recorder.kept == 1, timeout=10_000)
    assert window.foot.kept.text() == "1 measurement kept in record.benchlog"
    window.lots.recorder.switch(on=False)
    assert window.foot.kept.text() == "keeping is off (lots are kept in record.benchlog)"
    window.session.add_capture(sweep(part="0148", seed=8))
    window.close()
    with open_logbook(memory.record, create=False) as book:
        rows = book.search(Search())
    assert [row.serial for row in rows] == ["0147"]


def test_a_broken_off_sweep_never_counts_in_a_lot(qtbot, window):
    begin_lot(qtbot, window)
    step = Step(name=PARTIAL, detail="broken off after 60 of 101 points")
    broken = replace(sweep(part="0147"), history=(step,))
    window.session.add_capture(broken)
    qtbot.waitUntil(lambda: window.lots.recorder.kept == 1, timeout=10_000)
    assert window.desk.state.parts == ()


def test_a_folder_is_judged_at_once_and_its_lot_shown(qtbot, window):
    window.session.open([DESIGN])
    qtbot.waitUntil(lambda: window.session.nominal is not None, timeout=10_000)
    window.go_station("lot")
    window.lots.judge_folder(str(Path(GOOD[0]).parent), window.page("lot"))
    qtbot.waitUntil(lambda: window.desk.state is not None, timeout=60_000)
    assert len(window.desk.state.parts) == 13
    assert window.desk.state.decision == "reject"
    assert "13 parts were judged" in window.message.words.text()
    assert window.stack.currentWidget() is window.page("parts")


def test_the_lock_of_the_reference_coil_stops_a_lot_from_beginning(qtbot, window):
    window.session.open([DESIGN])
    qtbot.waitUntil(lambda: window.session.nominal is not None, timeout=10_000)
    window.session.gate = lambda: "The reference coil is overdue."
    window.go_station("lot")
    start = window.page("lot").start
    qtbot.keyClicks(start.delivery.fields["quantity"], "150")
    press(qtbot, start.begin)
    assert window.message.words.text() == "The reference coil is overdue."
    assert not window.desk.is_open


def test_closing_finishes_what_is_on_its_way_into_the_record(qtbot, window, memory):
    for seed in range(5):
        window.session.add_capture(sweep(part=f"{seed:04d}", seed=seed))
    window.close()
    with open_logbook(memory.record, create=False) as book:
        rows = book.search(Search())
    assert sorted(row.serial for row in rows) == [f"{seed:04d}" for seed in range(5)]


def test_a_record_that_cannot_be_written_is_told_and_nothing_counts(qtbot, window, memory):
    memory.record = "/proc/nowhere/record.benchlog"
    window.session.add_capture(sweep(part="0147"))
    qtbot.waitUntil(lambda: window.lots.recorder.failed == 1, timeout=10_000)
    assert window.foot.kept.text() == "NOT KEPT: 1 measurement"
    assert "save it with Ctrl+S" in window.message.hint.text()
    window.close()
    assert window.isVisible(), "what would be lost is said once before the window closes"
    assert window.message.words.text() == "1 measurement is not kept and would be lost."
    memory.record = memory.own_record
    press(qtbot, window.foot.retry)
    qtbot.waitUntil(lambda: window.lots.recorder.kept == 1, timeout=10_000)
    qtbot.waitUntil(lambda: not window.foot.retry.isVisible(), timeout=10_000)
    assert window.foot.kept.text() == "1 measurement kept in record.benchlog"


def test_the_full_screen_shows_the_count_of_the_lot(qtbot, window):
    begin_lot(qtbot, window)
    measure(qtbot, window, GOOD[0])
    window.go_station("verdict")
    assert not window.count.isVisible()
    window.toggle_full_screen()
    assert window.count.isVisible()
    assert window.count.count.text() == "1 of 13 · 0 rejected · Ac 0 Re 1 · going on"
    assert "number" in window.count.next.text()
    window.toggle_full_screen()
    assert not window.count.isVisible()


@pytest.mark.parametrize("quantity", [1, 8])
def test_a_small_lot_is_measured_whole(qtbot, window, quantity):
    page = begin_lot(qtbot, window, quantity)
    assert window.desk.state.plan.everything
    assert page.count.text().startswith(f"0 of {quantity} ")
    measure(qtbot, window, GOOD[0])
    if quantity == 1:
        assert page.decision.text() == "the plan accepts the lot"
        assert window.desk.last.outcome is Outcome.PASS


def test_a_file_written_anew_under_its_old_name_is_the_next_part(qtbot, window, tmp_path):
    begin_lot(qtbot, window)
    folder = tmp_path / "saved"
    folder.mkdir()
    window.lots.watch.start(str(folder))
    for at, path in enumerate(GOOD[:2], start=1):
        (folder / "latest.csv").write_bytes(Path(path).read_bytes())
        qtbot.waitUntil(lambda at=at: window.desk.state.counted == at, timeout=10_000)
    assert [one.serial for one in window.desk.state.parts] == ["latest", "0002"]
    window.lots.watch.stop()


def test_each_part_is_fitted_once_for_page_and_record(qtbot, window, monkeypatch):
    fitted = []
    fit = FitCapture.__call__

    def counting(job, progress, cancelled):
        fitted.append(job)
        return fit(job, progress, cancelled)

    monkeypatch.setattr(FitCapture, "__call__", counting)
    begin_lot(qtbot, window)
    measure(qtbot, window, *GOOD[:2])
    qtbot.waitUntil(lambda: window.session.is_settled and window.session.result is not None)
    assert len(fitted) == 2


def test_choices_about_a_kept_part_reach_the_record(qtbot, window, memory):
    begin_lot(qtbot, window)
    measure(qtbot, window, GOOD[0])
    qtbot.waitUntil(lambda: window.session.part.entry is not None, timeout=10_000)
    window.session.toggle_points((10, 11))
    qtbot.waitUntil(lambda: "kept beside" in window.message.words.text(), timeout=20_000)
    window.session.restrict((125e3, 145e3))
    qtbot.waitUntil(lambda: window.session.is_settled, timeout=10_000)
    assert window.desk.state.counted == 1
    window.close()
    with open_logbook(memory.record, create=False) as book:
        (row,) = book.search(Search())
        refits = book.entry(row.id).refits
    assert set(refits[0].fit.set_aside) >= {10, 11}
    assert refits[1].fit.used.sum() < refits[0].fit.used.sum(), "kept at the end at the latest"


def test_two_rejected_lots_propose_tightened_inspection_for_the_next(qtbot, window, memory):
    stated = replace(FORM, part="Gate antenna coil GA-12", supplier="Example Windings")
    for order in ("1", "2"):
        keep_lot(memory.record, "fp", replace(stated, order=order))
    window.session.open([DESIGN])
    qtbot.waitUntil(lambda: window.session.nominal is not None, timeout=10_000)
    window.go_station("lot")
    page = window.page("lot")
    fill(qtbot, page.start.delivery, {"supplier": "example windings", "quantity": "3200"})
    press(qtbot, page.start.begin)
    choice = page.start.sampling.choices["severity"]
    qtbot.waitUntil(lambda: choice.currentData() == "tightened", timeout=10_000)
    assert not window.desk.is_open, "what the record proposes is seen before it holds"
    assert "2 of the last 2 lots rejected (2 lots in the record)" in page.start.following.text()
    press(qtbot, page.start.begin)
    qtbot.waitUntil(lambda: window.desk.is_open, timeout=10_000)
    assert window.desk.state.plan.severity == "tightened"
    assert "Tightened inspection: 2 of the last 2 lots rejected." in page.about.text()
