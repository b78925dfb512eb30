"""A report is asked for where its content stands, written by the worker and told about."""

from __future__ import annotations

from html import escape
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtWidgets import QFileDialog

from benchapp.gui.form import Form
from benchapp.gui.reporter import SETTINGS, ReportButton, _file_name
from benchapp.gui.startpage import sample_paths
from benchapp.gui.tanksheet import EXAMPLE
from tests.gui.hand import press
from tests.gui.lotstage import LOT, begin_lot, measure

CALCULATORS = {"tank": "Tank", "stress": "Stress", "marking": "Marking"}


def dialog_of(window):
    return window.findChildren(QFileDialog)[-1]


def report(qtbot, window, button, path):
    """Press the button, choose the file, wait for the word that it is written; give its text."""
    wishes = []
    button.wanted.connect(wishes.append)
    press(qtbot, button)
    dialog = dialog_of(window)
    dialog.reject()
    window.reporter.write(wishes[0], str(path))
    written = f"The report is written: {path.name}."
    qtbot.waitUntil(lambda: window.message.words.text() == written, timeout=20_000)
    return path.read_bytes().decode("utf-8", "replace")


def judged(qtbot, window):
    window.session.open(sample_paths())
    qtbot.waitUntil(
        lambda: window.session.result is not None and window.session.result.verdict is not None,
        timeout=20_000,
    )
    window.go("verdict")
    return window.page("verdict")


def test_a_verdict_is_reported_as_paper_and_for_a_browser(qtbot, window, tmp_path):
    page = judged(qtbot, window)
    pdf = report(qtbot, window, page.report, tmp_path / "a.pdf")
    assert pdf.startswith("%PDF-")
    assert "open it in the program" in window.message.hint.text()
    html = report(qtbot, window, page.report, tmp_path / "b.html")
    assert "Part report" in html
    assert window.session.result.capture.digest in html
    assert window.message.hint.text() == ""


def test_there_is_no_button_before_there_is_a_verdict(qtbot, window):
    window.go("verdict")
    assert window.page("verdict").report.isHidden()


def test_the_dialog_asks_before_it_replaces_and_gives_the_ending(qtbot, window):
    press(qtbot, judged(qtbot, window).report)
    dialog = dialog_of(window)
    assert dialog.acceptMode() == QFileDialog.AcceptMode.AcceptSave
    assert not dialog.testOption(QFileDialog.Option.DontConfirmOverwrite)
    assert dialog.defaultSuffix() == "pdf"
    dialog.filterSelected.emit(dialog.nameFilters()[1])
    assert dialog.defaultSuffix() == "html"
    dialog.reject()


def test_the_window_goes_on_while_a_report_is_written(qtbot, window, tmp_path):
    page = judged(qtbot, window)
    wish = page._wish()
    window.reporter.write(wish, str(tmp_path / "a.html"))
    assert not (tmp_path / "a.html").exists()  # it is the worker's, not the window's, to write
    assert window._worker.is_busy
    qtbot.waitUntil(lambda: not window._worker.is_busy, timeout=20_000)
    assert (tmp_path / "a.html").exists()


def test_a_report_that_cannot_be_written_is_told_and_nothing_is_lost(qtbot, window, tmp_path):
    page = judged(qtbot, window)
    window.reporter.write(page._wish(), str(tmp_path / "no" / "a.pdf"))
    words = "must be a file that can be written"
    qtbot.waitUntil(lambda: words in window.message.words.text(), timeout=20_000)
    window.reporter.write(page._wish(), str(tmp_path / "a.doc"))
    qtbot.waitUntil(lambda: "must end in .pdf" in window.message.words.text(), timeout=20_000)
    assert window.session.result is not None


def test_the_settings_of_reports_are_taken_where_they_are(qtbot, window, tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHAPP_SETTINGS", str(tmp_path))
    (tmp_path / SETTINGS).write_text('[house]\nname = "Mill Works"\n', encoding="utf-8")
    html = report(qtbot, window, judged(qtbot, window).report, tmp_path / "a.html")
    assert "Mill Works" in html


def test_a_lot_is_reported_from_the_record_and_each_of_its_parts(qtbot, window, tmp_path):
    page = begin_lot(qtbot, window)
    assert page._wish() is None
    measure(qtbot, window, *LOT[:2])
    html = report(qtbot, window, page.report, tmp_path / "lot.html")
    assert "Lot report" in html
    assert "Example Windings" in html
    window.go_station("records")
    records = window.page("records")
    qtbot.waitUntil(lambda: records.table.rows.rowCount() == 2, timeout=10_000)
    assert not records.report.isEnabled()
    records.table.selectRow(0)
    html = report(qtbot, window, records.report, tmp_path / "part.html")
    assert "Part report" in html


def test_nothing_to_report_is_said(qtbot, window):
    page = begin_lot(qtbot, window)
    press(qtbot, page.report)
    assert window.message.words.text() == "There is nothing to report yet."


def test_a_design_is_reported_with_its_stack_up(qtbot, window, tmp_path):
    window.session.open([sample_paths()[1]])
    qtbot.waitUntil(lambda: window.session.nominal is not None, timeout=10_000)
    window.go("nominal")
    html = report(qtbot, window, window.page("nominal").report, tmp_path / "d.html")
    assert "Nominal design" in html
    assert "Tolerance stack-up" in html


@pytest.mark.parametrize("key", CALCULATORS)
def test_a_calculator_is_reported_with_what_was_typed(qtbot, window, tmp_path, key):
    window.sheet.fill(EXAMPLE)
    window.go(key)
    page = window.page(key)
    if key == "marking":
        qtbot.keyClicks(page.code, "103K")
    html = report(qtbot, window, page.report, tmp_path / f"{key}.html")
    assert CALCULATORS[key] in html
    typed = [row for form in page.findChildren(Form) for row in form.typed()]
    assert typed or key == "marking"
    for row in typed:
        assert all(escape(words) in html for words in row)


def test_every_button_is_answered_once(qtbot, window):
    for key in ("verdict", "nominal", "tank", "coil"):
        for button in window.page(key).findChildren(ReportButton):
            assert button.receivers("2wanted(PyObject)") == 1


@given(st.text())
def test_every_name_becomes_one_that_a_file_can_have(name):
    made = _file_name(name)
    assert made == Path(made).name
    assert made.endswith(".pdf")
    assert 5 <= len(made) <= 84
    assert not set(made) & set('<>:"/\\|?*\n\r\t\0')
