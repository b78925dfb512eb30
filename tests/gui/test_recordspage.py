"""The record is searched, opened as it was, fitted again, compared, saved, verified, copied."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtWidgets import (
    QApplication,
    QComboBox,
    QFileDialog,
    QLabel,
    QLineEdit,
    QPushButton,
)

from benchapp import __version__
from benchapp.errors import FileAccessError
from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.gui.partstable import PartsTable
from benchapp.gui.recorder import Recorder
from benchapp.gui.recordspage import RecordsPage
from benchapp.jobs import FoundParts, Refitted, not_cancelled, silent
from benchapp.logbook import (
    Broken,
    Merged,
    PartEntry,
    PartRow,
    Refit,
    Search,
    StoredEntry,
    parse_address,
)
from benchapp.nominal import Outcome
from tests.gui.factories import estimate, judged, sweep
from tests.gui.hand import choose, press
from tests.gui.lotstage import LOT, begin_lot, measure
from tests.gui.stage import activate


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
    assert page.place.words.text() == f"The record: {memory.record}"
    assert page.search.found.text() == "Nothing is kept yet: measure a part, or begin a lot."
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
    qtbot.keyClicks(page.search.form.fields["serial"], serial)
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
    choose(qtbot, page.search.form.choices["outcome"], "fail")
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == 1, timeout=10_000)
    assert page.table.rows.lines[0].cells[0] == "0209"
    choose(qtbot, page.search.form.choices["outcome"], "")
    qtbot.keyClicks(page.search.form.fields["until"], "2020-01-01")
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == 0, timeout=10_000)
    words = "Nothing in the record is like this: end at a later day, or show everything."
    assert page.search.found.text() == words
    press(qtbot, page.search.clear)
    qtbot.waitUntil(lambda: page.table.rows.rowCount() == 9, timeout=10_000)


def test_records_are_found_by_lot_by_supplier_and_by_a_piece_of_the_serial(qtbot, window):
    lot_of(qtbot, window, 2)
    page = records(qtbot, window, 2)
    line = page.table.rows.lines[0]
    assert line.cells[2:4] == ("4711 2640", "Example Windings")
    for key, typed, count in (
        ("lot", "47", 2),
        ("lot", "4712", 0),
        ("supplier", "example w", 2),
        ("supplier", "Another", 0),
        ("serial", "*01", 1),
        ("serial", "01", 0),
        ("part", "gate ant", 2),
        ("part", "*GA-12", 2),
    ):
        qtbot.keyClicks(page.search.form.fields[key], typed)
        qtbot.waitUntil(lambda n=count: page.table.rows.rowCount() == n, timeout=10_000)
        if page.search.clear.isVisible():
            page.table.show_lines([], [])
            press(qtbot, page.search.clear)
            qtbot.waitUntil(lambda: page.table.rows.rowCount() == 2, timeout=10_000)


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
    assert copied[0].startswith("outcome\tserial\ttime\tlot\tL\t")
    assert copied[1].startswith("pass\t0201\t")
    assert "\t4711 2640\t" in copied[1]
    assert "\tExample Windings\tGate antenna coil GA-12\t" in copied[1]
    count = len(window.session.parts)
    qtbot.keyClick(page.table, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: len(window.session.parts) == count + 1, timeout=10_000)


@pytest.fixture
def page(qtbot, memory, session, direct):
    """The page alone; its worker answers when the test says so."""
    Path(memory.record).touch()
    recorder = Recorder(memory)
    made = RecordsPage(recorder, direct, session)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    yield made
    recorder.deleteLater()


@pytest.fixture
def said(session):
    words = []
    session.told.connect(words.append)
    return words


def row(number=1, serial="", **facts):
    values = {
        "id": number,
        "key": f"chain-{number}",
        "lot": None,
        "serial": serial or f"{number:04d}",
        "part": "GA-12",
        "position": None,
        "attempt": 1,
        "time": f"2026-05-04T10:20:{number % 60:02d}.000Z",
        "operator": "A. Example",
        "outcome": Outcome.PASS,
        "deciding": "L",
        "reason": "",
        "path": "",
        "retest_reason": "",
        "estimates": {"L": estimate("L", 1.62e-3 + number * 1e-7, 1e-6, "H")},
    }
    return PartRow(**(values | facts))


def find(page, direct, *rows, lots=None):
    direct.take("search").done(FoundParts(rows=rows[::-1], lots=lots or {}))


def searched(qtbot, page, direct):
    """What is searched for after a short rest."""
    direct.tasks.clear()
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=5_000)
    return direct.take("search").job


EVERYTHING = Search(limit=20_000, newest_first=True)


def test_the_record_is_searched_each_time_the_page_is_shown(page, direct):
    assert direct.take("search").job.wanted == EVERYTHING
    page.hide()
    page.show()
    assert direct.take("search").job.record == page._recorder.address


@pytest.mark.parametrize(
    ("key", "typed", "wanted"),
    [
        ("serial", " 0147 ", {"serial_like": "0147*"}),
        ("serial", "*47", {"serial_like": "*47*"}),
        ("part", "Gate antenna coil GA-12", {"part_like": "Gate antenna coil GA-12*"}),
        ("since", "2026-05-04", {"since": "2026-05-04T00:00:00"}),
        ("until", "2026-05-04", {"until": "2026-05-05T00:00:00"}),
        ("since", "20260504", {"since": "2026-05-04T00:00:00"}),
        ("serial", "   ", {}),
        ("serial", "%_'; DROP", {"serial_like": "%_'; DROP*"}),
    ],
)
def test_what_is_typed_is_searched_for(qtbot, page, direct, key, typed, wanted):
    qtbot.keyClicks(page.search.form.fields[key], typed)
    assert searched(qtbot, page, direct).wanted == replace(EVERYTHING, **wanted)


@pytest.mark.parametrize("key", ["lot", "supplier"])
def test_lot_and_supplier_are_looked_for_as_typed(qtbot, page, direct, key):
    qtbot.keyClicks(page.search.form.fields[key], " Coil works ")
    job = searched(qtbot, page, direct)
    assert getattr(job, key) == "Coil works"
    assert job.wanted == EVERYTHING


@pytest.mark.parametrize("outcome", list(Outcome))
def test_each_outcome_can_be_searched_for(qtbot, page, direct, outcome):
    choose(qtbot, page.search.form.choices["outcome"], outcome.value)
    assert searched(qtbot, page, direct).wanted.outcome is outcome


@pytest.mark.parametrize("key", ["since", "until"])
@pytest.mark.parametrize("typed", ["31.01.2026", "2026-13-01", "2026-02-30", "yesterday"])
def test_what_is_no_day_is_marked_and_nothing_is_searched(qtbot, page, direct, key, typed):
    direct.tasks.clear()
    qtbot.keyClicks(page.search.form.fields[key], typed)
    page._later.stop()
    page.look()
    assert direct.tasks == []
    assert page.search.form.fields[key].property("wrong") is True
    assert page.search.found.text() == "A day is typed as year, month and day: 2026-01-31."
    page.search.form.fields[key].clear()
    page.search.form.edited.emit(key, "")
    page._later.stop()
    page.look()
    assert page.search.form.fields[key].property("wrong") is False
    assert len(direct.tasks) == 1


def test_fast_typing_searches_once(qtbot, page, direct):
    direct.tasks.clear()
    qtbot.keyClicks(page.search.form.fields["serial"], "0147")
    assert direct.tasks == []
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=5_000)
    assert [task.job.wanted.serial_like for task in direct.tasks] == ["0147*"]


def test_the_newest_stands_first_with_everything_about_it(page, direct):
    find(page, direct, row(1), row(2, attempt=2, withdrawn=True, outcome=Outcome.FAIL))
    first, second = page.table.rows.lines
    assert first.cells == (
        *("0002", "2026-05-04 10:20 UTC", "", "", "GA-12"),
        *("A. Example", "2", "taken back", "1"),
    )
    assert first.tip == "2026-05-04 10:20:02 UTC = 2026-05-04 10:20:02 UTC"
    assert first.outcome is Outcome.FAIL
    assert second.cells[-2:] == ("yes", "1")
    assert page.search.found.text() == "2 measurements"
    columns = page.table.rows.columnCount()
    assert page.table.rows.headerData(columns - 1, Qt.Orientation.Horizontal) == "L"


def test_one_measurement_is_told_as_one(page, direct):
    find(page, direct, row(1))
    assert page.search.found.text() == "1 measurement"


def test_a_search_that_finds_more_than_is_shown_says_so(page, direct, monkeypatch):
    monkeypatch.setattr("benchapp.gui.recordsearch._MOST", 3)
    find(page, direct, row(1), row(2), row(3))
    assert page.search.found.text() == "Only the newest 3 are shown: narrow the search."


def test_ten_thousand_measurements_are_listed_and_saved_in_the_order_shown(page, direct):
    rows = tuple(row(at) for at in range(1, 10_001))
    find(page, direct, *rows)
    assert page.table.rows.rowCount() == 10_000
    assert page.table.rows.lines[0].key == "10000"
    page.table.sortByColumn(1, Qt.SortOrder.AscendingOrder)
    page.save_table("/bench/found.csv")
    assert direct.take("records").job.rows == rows


@pytest.mark.parametrize(
    ("chosen", "enabled"),
    [
        ((), {"save"}),
        (("1",), {"save", "open", "refit", "results", "raw"}),
        (("2",), {"save", "open", "refit", "results", "raw", "lot"}),
        (("1", "2"), {"save", "refit", "compare"}),
        (("1", "2", "3"), {"save", "refit"}),
    ],
)
def test_only_what_has_something_to_act_on_can_be_pressed(page, direct, chosen, enabled):
    find(page, direct, row(1), row(2, lot="lot-1"), row(3))
    page.table.choose(chosen)
    page._show_choice()
    names = ("open", "refit", "results", "compare", "lot", "save", "raw")
    assert {name for name in names if getattr(page, name).isEnabled()} == enabled


def test_a_row_that_is_let_go_leaves_nothing_to_press(qtbot, page, direct):
    find(page, direct, row(1, lot="lot-1"), row(2))
    table = page.table
    place = table.visualRect(table.rows.index(0, 1)).center()
    left, control = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier
    qtbot.mouseClick(table.viewport(), left, pos=place)
    assert page.refit.isEnabled()
    qtbot.mouseClick(table.viewport(), left, control, pos=place)
    assert not page.refit.isEnabled()
    assert not page.open.isEnabled()
    assert not page.lot.isEnabled()


def test_a_search_that_loses_the_chosen_row_leaves_nothing_to_press(page, direct):
    find(page, direct, row(1))
    page.table.selectRow(0)
    page.look()
    find(page, direct, row(2))
    assert not page.open.isEnabled()
    page.look()
    find(page, direct)
    assert not page.save.isEnabled()


def test_a_chosen_row_stays_chosen_when_more_is_kept(page, direct):
    find(page, direct, row(1))
    page.table.selectRow(0)
    page.look()
    find(page, direct, row(1), row(2))
    assert page.table.chosen_keys() == ("1",)
    assert page.open.isEnabled()


def stored(**facts):
    capture = sweep(21)
    part = judged(capture)
    values = {
        "serial": "0147",
        "time": "2026-05-04T10:20:30.000Z",
        "path": "tank.csv",
        "capture": capture,
        "nominal": part.nominal,
        "fit": part.fit,
        "verdict": part.verdict,
        "findings": part.findings,
        "software": "0.0.9",
    }
    entry = PartEntry(**(values | facts))
    return StoredEntry(id=1, key="chain-1", bench="bench", digest="ab", entry=entry)


def test_a_stored_measurement_is_shown_as_it_was_kept(qtbot, page, direct, session, said):
    find(page, direct, row(1))
    page.table.selectRow(0)
    press(qtbot, page.open)
    task = direct.take("entry")
    assert task.job.number == 1
    kept = stored()
    with qtbot.waitSignal(page.wants_capture_page):
        task.done(kept)
    assert session.result.fit is kept.entry.fit
    assert session.result.verdict is kept.entry.verdict
    assert session.part.stored == "chain-1"
    assert said[-1].text == "0147 as it was kept on 2026-05-04 10:20 UTC, by version 0.0.9."
    assert said[-1].mark == "note"


@pytest.mark.parametrize("missing", ["fit", "capture"])
def test_what_was_kept_without_a_result_says_so(page, direct, session, said, missing):
    find(page, direct, row(1))
    page._open("1")
    direct.take("entry").done(stored(**{missing: None}))
    assert said[-1].text == "0147 was kept without a result: it could not be fitted."
    assert said[-1].mark == "doubt"
    assert session.part is None


def test_a_new_fit_is_compared_with_the_kept_one(qtbot, page, direct, said):
    find(page, direct, row(1))
    page.table.selectRow(0)
    press(qtbot, page.refit)
    task = direct.take("refit")
    assert task.job.numbers == (1,)
    part = judged()
    newer = Refit(
        id=2,
        key="chain-2",
        time="2026-05-05T08:00:00.000Z",
        software="0.1.0",
        fit=part.fit,
        verdict=part.verdict,
        findings=(),
    )
    task.done((Refitted(stored=replace(stored(), refits=(newer,)), part=part),))
    heads = [label.text() for label in page.comparison.findChildren(QLabel)]
    assert "kept 2026-05-04 10:20 UTC" in heads
    assert "2026-05-05 08:00 UTC by 0.1.0" in heads
    assert heads.count("the same") == len(part.fit.estimates)
    assert said[-1].text == "The new result is kept beside the old one."


def test_two_rows_are_compared_value_by_value(qtbot, page, direct):
    find(page, direct, row(1), row(101))
    flags = QItemSelectionModel.SelectionFlag
    page.table.selectRow(0)
    page.table.selectionModel().select(page.table.rows.index(1, 0), flags.Select | flags.Rows)
    press(qtbot, page.compare)
    words = [label.text() for label in page.comparison.findChildren(QLabel)]
    assert "0101 · 2026-05-04 10:20 UTC" in words
    assert "0001 · 2026-05-04 10:20 UTC" in words
    assert "-0.613 %, more than both U" in words  # 10 µH of 1.6301 mH; both U are 2.8 µH


def test_the_lot_of_a_row_is_asked_for(qtbot, page, direct):
    find(page, direct, row(1, lot="lot-7"))
    page.table.selectRow(0)
    with qtbot.waitSignal(page.wants_lot) as seen:
        press(qtbot, page.lot)
    assert seen.args == ["lot-7"]


@pytest.mark.parametrize(
    ("broken", "text", "hint", "mark"),
    [
        ((), "Nothing was changed since it was kept.", "", "good"),
        (
            (Broken(where="entry 3", what="digest differs"),),
            "1 thing is not as it was kept.",
            "entry 3: digest differs",
            "stop",
        ),
        (
            tuple(Broken(where=f"entry {at}", what="gone") for at in range(5)),
            "5 things are not as kept.",
            "entry 0: gone; entry 1: gone; entry 2: gone",
            "stop",
        ),
    ],
)
def test_what_verifying_found_is_told(qtbot, page, direct, said, broken, text, hint, mark):
    press(qtbot, page.verify)
    direct.take("records").done(broken)
    assert (said[-1].text, said[-1].hint, said[-1].mark) == (text, hint, mark)


@pytest.mark.parametrize(
    ("copied", "present", "words"),
    [
        (0, 4, "0 entries were taken in, 4 were there already."),
        (1, 0, "1 entry was taken in, 0 were there already."),
        (7, 2, "7 entries were taken in, 2 were there already."),
    ],
)
def test_a_merge_is_told_and_searched_anew(page, direct, said, copied, present, words):
    direct.tasks.clear()
    page.take_in("/bench/other.benchlog")
    task = direct.take("records")
    assert task.job.source == "/bench/other.benchlog"
    task.done(Merged(copied=copied, present=present))
    assert said[-1].text == words
    assert [one.subject for one in direct.tasks] == ["search"]


def test_a_copy_tells_where_it_is(page, direct, said):
    page.back_up("/bench/copy.benchlog")
    task = direct.take("records")
    assert task.job.path == "/bench/copy.benchlog"
    task.done("/bench/copy.benchlog")
    assert said[-1].text == "Copied to /bench/copy.benchlog."


@pytest.mark.parametrize("name", ["found.csv", "found.json"])
def test_a_table_that_is_saved_is_told_by_its_name(page, direct, said, tmp_path, name):
    find(page, direct, row(1, serial="=1+1"))
    page.save_table(str(tmp_path / name))
    task = direct.take("records")
    task.done(task.job(silent, not_cancelled))
    assert said[-1].text == f"Saved as {name}."
    text = (tmp_path / name).read_text(encoding="utf-8")
    if name.endswith("json"):
        (found,) = json.loads(text)
        assert found["serial"] == "=1+1"
        assert found["outcome"] == "pass"
    else:
        assert "'=1+1" in text, "no formula for a spreadsheet"


@pytest.mark.parametrize("act", ["save_table", "back_up", "take_in"])
def test_a_failure_is_told_with_what_to_do(page, direct, said, act):
    find(page, direct, row(1))
    getattr(page, act)("/bench/x.csv")
    error = FileAccessError("/bench/x.csv: must be a file (got none).", hint="Choose another.")
    direct.take("records").failed(error)
    assert (said[-1].text, said[-1].hint) == (error.message, "Choose another.")
    assert said[-1].mark == "stop"


@pytest.mark.parametrize(
    ("button", "title"),
    [
        ("save", "Save what is found"),
        ("raw", "Save its file"),
        ("backup", "Copy the record to"),
        ("merge", "Take in another record"),
    ],
)
def test_a_place_is_asked_for_and_nothing_happens_without_one(qtbot, page, direct, button, title):
    find(page, direct, row(1))
    page.table.selectRow(0)
    press(qtbot, getattr(page, button))
    dialog = page.findChild(QFileDialog)
    assert dialog.windowTitle() == title
    dialog.reject()
    assert direct.tasks == []


def test_the_file_of_the_row_that_was_chosen_is_saved(qtbot, page, direct):
    find(page, direct, row(1), row(2))
    page.table.choose(["1"])
    page._show_choice()
    press(qtbot, page.raw)
    dialog = page.findChild(QFileDialog)
    page.table.choose(["2"])
    dialog.fileSelected.emit("/bench/raw.csv")
    dialog.reject()
    job = direct.take("records").job
    assert (job.number, job.path) == (1, "/bench/raw.csv")


def test_what_is_kept_meanwhile_is_searched_after_a_rest(qtbot, page, direct):
    direct.tasks.clear()
    page._recorder.changed.emit()
    page._recorder.changed.emit()
    assert direct.tasks == []
    qtbot.waitUntil(lambda: bool(direct.tasks), timeout=5_000)
    assert [task.subject for task in direct.tasks] == ["search"]
    page.hide()
    direct.tasks.clear()
    page._recorder.changed.emit()
    assert not page._later.isActive()


def test_a_record_on_a_server_is_asked_without_a_file(page, direct, memory):
    direct.tasks.clear()
    memory.record = "postgresql://bench@server/record"
    page.look()
    asked = parse_address(direct.take("search").job.record)
    assert asked.text == "postgresql+psycopg://bench@server/record"
    assert asked.standby == memory.own_record.replace("record.", "record-away.")
    assert page.place.words.text() == "The record: postgresql://bench@server/record"
    assert page.verify.isEnabled()


def test_controls_are_named_and_reached_by_tab(qtbot, page, direct):
    find(page, direct, row(1, lot="lot-1"), row(2))
    page.table.selectRow(1)
    kinds = (QLineEdit, QComboBox, QPushButton, PartsTable)
    wanted = {
        widget
        for kind in kinds
        for widget in page.findChildren(kind)
        if widget.isVisible() and widget.isEnabled()
    }
    assert len(wanted) == 6 + 1 + 5 + 6 + 1
    reached = set()
    page.verify.setFocus()
    for _ in range(30):
        reached.add(QApplication.focusWidget())
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert wanted <= reached
    for widget in wanted:
        assert widget.accessibleName() or widget.text()
    for button in page.findChildren(QPushButton):
        assert button.toolTip()


def test_long_words_do_not_widen_the_page(page, direct, memory):
    memory.record = "/" + "a folder with a long name/" * 12 + "x" * 90 + ".benchlog"
    find(page, direct, row(1, serial="x" * 400, part="y" * 400))
    page.look()
    QApplication.processEvents()
    assert page.width() == 1280
    assert page.minimumSizeHint().width() <= 960


def test_a_whole_lot_is_fitted_again_and_old_and_new_are_reached(qtbot, window, memory):
    """Each part of a stored lot keeps its first result; every newer one is there."""
    lot_of(qtbot, window, 3)
    window.desk.leave()
    page = records(qtbot, window, 3)
    page.table.setFocus()
    qtbot.keyClick(page.table, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    press(qtbot, page.refit)
    told(qtbot, window, "3 were fitted again")
    assert "All of them agree with the old ones" in window.message.hint.text()
    qtbot.waitUntil(
        lambda: all(line.cells[-1] == "2" for line in page.table.rows.lines), timeout=10_000
    )
    page.table.clearSelection()
    place = page.table.visualRect(page.table.rows.index(1, 1)).center()
    qtbot.mouseClick(page.table.viewport(), Qt.MouseButton.LeftButton, pos=place)
    press(qtbot, page.results)
    qtbot.waitUntil(page.comparison.isVisible, timeout=10_000)
    assert page.comparison.title.text() == "Compared: 0202"
    heads = [label.text() for label in page.comparison.findChildren(QLabel)]
    assert sum(one.startswith("kept ") for one in heads) == 1
    assert sum(one.endswith(f" by {__version__}") for one in heads) == 1
    press(qtbot, page.lot)
    qtbot.waitUntil(lambda: window.desk.state is not None, timeout=10_000)
    assert window.desk.state.counted == 3, "a newer result is no other measurement"


def test_results_that_say_something_else_are_named(page, said):
    part, kept = judged(), stored()
    same = Refitted(stored=kept, part=part)
    other = Refitted(stored=replace(kept, entry=replace(kept.entry, fit=None)), part=part)
    page._refitted((same, other, same))
    assert said[-1].text.startswith("3 were fitted again")
    assert said[-1].hint == "1 says something else than before: 0147. See Its results."
    assert said[-1].mark == "doubt"


def test_a_measurement_with_one_result_says_so(qtbot, page, direct, said):
    find(page, direct, row(1))
    page.table.selectRow(0)
    press(qtbot, page.results)
    direct.take("entry").done(stored())
    assert said[-1].text == "0147 has this one result."
    assert page.comparison.isVisible()


def test_how_many_results_there_are_stands_in_the_row(page, direct):
    direct.take("search").done(FoundParts(rows=(row(1), row(2)), lots={}, refits={"chain-2": 2}))
    assert [line.cells[-1] for line in page.table.rows.lines] == ["1", "3"]
