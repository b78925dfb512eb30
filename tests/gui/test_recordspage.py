"""The record is searched, opened as it was, fitted again, compared, saved, verified, copied."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from PySide6.QtCore import QItemSelectionModel, Qt

from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from tests.gui.hand import choose, press
from tests.gui.lotstage import LOT, begin_lot, measure


def records(qtbot, window, count):
    """Go to the Records station and wait for the rows."""
    window.go_station("records")
    page = window.page("records")
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == count, timeout=10_000)
    return page


def lot_of(qtbot, window, count):
    page = begin_lot(qtbot, window)
    press(qtbot, page.pause)
    press(qtbot, page.pause)
    measure(qtbot, window, *LOT[:count])


def told(qtbot, window, words):
    qtbot.waitUntil(lambda: words in window.message.words.text(), timeout=10_000)


def test_the_place_of_the_record_is_said_before_anything_is_kept(qtbot, window, memory):
    window.go_station("records")
    page = window.page("records")
    assert page.place.text() == f"The record: {memory.record}"
    assert page.found.text() == "Nothing is kept yet: measure a part, or begin a lot."
    assert not page.verify.isEnabled()


def test_last_months_part_opens_with_the_same_numbers(qtbot, window, tmp_path):
    lot_of(qtbot, window, 2)
    qtbot.waitUntil(lambda: window.session.result is not None and window.session.is_settled)
    serial, before = "0202", window.session.result.fit
    window.close()
    again = make_window(Memory(tmp_path / "settings.ini"))
    qtbot.addWidget(again)
    again.show()
    page = records(qtbot, again, 2)
    qtbot.keyClicks(page.search.fields["serial"], serial)
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == 1, timeout=10_000)
    page.table.selectRow(0)
    press(qtbot, page.open)
    qtbot.waitUntil(lambda: again.session.part is not None, timeout=10_000)
    result = again.session.result
    assert result.fit.results == before.results
    assert result.fit.fitted.tobytes() == before.fitted.tobytes()
    assert again.session.is_settled
    assert result.verdict.outcome.value == "pass"
    assert again.stack.currentWidget() is again.page("capture")
    told(qtbot, again, "0202 as it was kept on")
    again.close()


def test_records_are_found_by_outcome_and_by_day(qtbot, window):
    lot_of(qtbot, window, 9)
    page = records(qtbot, window, 9)
    choose(qtbot, page.search.choices["outcome"], "fail")
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == 1, timeout=10_000)
    assert page.table.rows.lines[0].cells[0] == "0209"
    choose(qtbot, page.search.choices["outcome"], "")
    qtbot.keyClicks(page.search.fields["until"], "2020-01-01")
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == 0, timeout=10_000)
    assert page.found.text() == "0 measurements"


def test_a_new_fit_stands_beside_the_old_one(qtbot, window):
    lot_of(qtbot, window, 1)
    page = records(qtbot, window, 1)
    page.table.selectRow(0)
    press(qtbot, page.refit)
    qtbot.waitUntil(page.comparison.isVisible, timeout=10_000)
    assert page.comparison.title.text() == "Compared: 0201"
    told(qtbot, window, "kept beside the old one")


def test_two_measurements_are_compared(qtbot, window):
    lot_of(qtbot, window, 2)
    page = records(qtbot, window, 2)
    assert not page.compare.isEnabled()
    page.table.selectRow(0)
    flag = QItemSelectionModel.SelectionFlag
    index = page.table.rows.index(1, 0)
    page.table.selectionModel().select(index, flag.Select | flag.Rows)
    page._show_choice()
    press(qtbot, page.compare)
    assert page.comparison.isVisible()
    assert page.comparison.title.text() == "Compared: two measurements"


def test_the_lot_of_a_part_goes_back_to_the_bench(qtbot, window):
    lot_of(qtbot, window, 1)
    window.desk.leave()
    page = records(qtbot, window, 1)
    page.table.selectRow(0)
    press(qtbot, page.lot)
    qtbot.waitUntil(lambda: window.desk.is_open, timeout=10_000)
    assert window.desk.state.counted == 1
    assert window.stack.currentWidget() is window.page("lot")


def test_what_is_found_is_saved_and_a_file_given_back(qtbot, window, tmp_path):
    lot_of(qtbot, window, 1)
    page = records(qtbot, window, 1)
    page.save_table(str(tmp_path / "found.csv"))
    told(qtbot, window, "Saved as found.csv")
    assert "0201" in (tmp_path / "found.csv").read_text(encoding="utf-8")
    page.save_raw(page.table.rows.lines[0].key, str(tmp_path / "raw.csv"))
    told(qtbot, window, "Saved as raw.csv")
    assert (tmp_path / "raw.csv").read_bytes() == Path(LOT[0]).read_bytes()


def test_the_record_is_verified_copied_and_merged(qtbot, window, tmp_path):
    lot_of(qtbot, window, 1)
    page = records(qtbot, window, 1)
    press(qtbot, page.verify)
    told(qtbot, window, "Nothing was changed since it was kept.")
    copy = str(tmp_path / "copy.benchlog")
    page.back_up(copy)
    told(qtbot, window, f"Copied to {copy}.")
    page.take_in(copy)
    told(qtbot, window, "0 entries were taken in")


def test_a_changed_record_is_told(qtbot, window, memory):
    lot_of(qtbot, window, 1)
    with sqlite3.connect(memory.record) as connection:
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        connection.execute("UPDATE entry SET outcome = 'fail' WHERE kind = 'part'")
    connection.close()
    page = records(qtbot, window, 1)
    press(qtbot, page.verify)
    told(qtbot, window, "not as")
    assert window.message.isVisible()


def test_return_opens_the_row_and_ctrl_c_copies_it(qtbot, window, qapp):
    lot_of(qtbot, window, 1)
    page = records(qtbot, window, 1)
    page.table.selectRow(0)
    page.table.setFocus()
    qtbot.keyClick(page.table, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    copied = qapp.clipboard().text().split("\n")
    assert copied[0].startswith("outcome\tserial\tpart\ttime")
    assert copied[1].startswith("pass\t0201\tGate antenna coil GA-12")
    count = len(window.session.parts)
    qtbot.keyClick(page.table, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: len(window.session.parts) == count + 1, timeout=10_000)
