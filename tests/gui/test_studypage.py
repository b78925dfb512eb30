"""A gauge study from its plan to its report, by mouse and keys."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QLabel, QWidget

from benchapp.jobs import (
    AnalyseStudy,
    FactsOfGauge,
    RecordNotes,
    not_cancelled,
    sample_folder,
    silent,
)
from tests.gui.clipping import clipped, overlapping
from tests.gui.hand import press, write
from tests.gui.lotstage import DESIGN, fill
from tests.gui.studies import AIAG, accept, by_hand, coil_words, filled


@pytest.fixture
def page(qtbot, window):
    """The view, reached by two clicks from the start."""
    window.session.open([DESIGN])
    qtbot.waitUntil(lambda: window.session.nominal is not None, timeout=10_000)
    qtbot.mouseClick(window.line.buttons[4], Qt.MouseButton.LeftButton)
    press(qtbot, window.lot_views.buttons["study"])
    assert window.stack.currentWidget() is window.page("study")
    return window.page("study")


@pytest.fixture
def study(window):
    return window.lots.studies.study


def begin(qtbot, page, path, **typed):
    """State a study and draw its order."""
    fill(qtbot, page.form.form, {"persons": "A, B, C", "parts": "10", "trials": "3", **typed})
    accept(qtbot, page, page.form.begin, path)
    qtbot.waitUntil(lambda: page.currentIndex() == 1)
    qtbot.waitUntil(path.is_file)


def type_all(qtbot, page, study, path, upto=None):
    """Measure as two persons do: one hands out by the list, the other types what is read."""
    while study.is_measuring and study.sheet.taken != upto:
        taken = study.sheet.taken
        label, person = page.bench.label.text(), page.bench.person.text()
        qtbot.waitUntil(lambda taken=taken: path.read_text("utf-8").count(" H,") >= taken)
        row = by_hand(path, person, label)
        qtbot.keyClicks(page.bench.value, coil_words(row["part"], person, row["trial"]))
        qtbot.keyClick(page.bench.value, Qt.Key.Key_Return)
        assert study.sheet.taken == taken + 1


def test_the_published_study_typed_to_its_end_gives_the_published_figures(
    qtbot, window, page, study, tmp_path
):
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, seed="7")
    type_all(qtbot, page, study, path)
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=20_000)
    found, known = study.found.variance, AIAG["published"]
    assert found.gauge.percent_study == pytest.approx(known["percent"], abs=0.05)
    assert found.gauge.sigma == pytest.approx(1e-5 * known["GRR"], abs=2e-11)
    assert found.ndc == 4
    results = page.results
    assert results.judgement.text() == "The gauge is conditionally suitable"
    assert "27.9\u00a0% of the study" in results.verdict.text()
    assert "18.7\u00a0% of the tolerance" in results.verdict.text()
    assert "ndc 4: the gauge tells 4 classes" in results.findings.text()
    again = AnalyseStudy(path=str(path))(silent, not_cancelled)
    assert again.variance.gauge.percent_study == pytest.approx(found.gauge.percent_study)
    assert again.variance.gauge.percent_tolerance == pytest.approx(18.66, abs=0.01)


def test_what_a_study_found_is_in_the_record_for_the_lots_of_its_design(
    qtbot, window, page, study, tmp_path
):
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, parts="3", trials="2")
    type_all(qtbot, page, study, path)
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=20_000)
    qtbot.waitUntil(lambda: window.lots.recorder.words != "keeping…", timeout=20_000)
    notes = RecordNotes(address=window.lots.recorder.address)
    facts = FactsOfGauge(nominal=window.session.nominal, notes=notes)(silent, not_cancelled)
    percent = study.found.variance.gauge.percent_tolerance
    assert facts.gauge_percent == pytest.approx(percent, rel=1e-12)


def shown_words(widget: QWidget) -> str:
    """Give every word and hint that can be seen on a page."""
    shown = [one for one in [widget, *widget.findChildren(QWidget)] if one.isVisible()]
    words = [one.text() for one in shown if isinstance(one, QLabel)]
    words += [one.toolTip() + one.accessibleName() for one in shown]
    return "\n".join(words)


def test_nobody_who_measures_sees_the_part_or_an_earlier_value(
    qtbot, window, page, study, tmp_path
):
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, parts="coil-X, coil-Y, coil-Z", trials="2")
    for value in ("1.6211 mH", "1.6234", "1.6257"):
        qtbot.keyClicks(page.bench.value, value)
        qtbot.keyClick(page.bench.value, Qt.Key.Key_Return)
    press(qtbot, page.bench.undo)
    assert study.sheet.taken == 2
    words = shown_words(window)
    assert "coil-" not in words
    assert not any(figure in words for figure in ("6211", "6234", "6257"))
    assert page.bench.value.text() == ""
    assert page.bench.label.text() == study.sheet.next.blind


def test_a_study_put_away_half_done_goes_on_where_it_was(qtbot, window, page, study, tmp_path):
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, parts="3", trials="2")
    type_all(qtbot, page, study, path, upto=7)
    expected = study.sheet
    press(qtbot, page.bench.away)
    assert page.currentIndex() == 0
    accept(qtbot, page, page.form.opener, path)
    qtbot.waitUntil(lambda: page.currentIndex() == 1)
    assert [one.value for one in study.sheet.readings] == [one.value for one in expected.readings]
    type_all(qtbot, page, study, path)
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=20_000)


def test_ctrl_z_takes_the_last_value_back_even_from_a_complete_study(
    qtbot, window, page, study, tmp_path
):
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, parts="2", persons="A", trials="2")
    for value in ("1.62 mH", "1.63", "1.621", "1.631"):
        write(qtbot, page.bench.value, value)
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=20_000)
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert page.currentIndex() == 1
    assert (study.sheet.taken, study.found) == (3, None)


def test_a_dropped_capture_is_a_measurement_and_is_kept(qtbot, window, page, study, tmp_path):
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, parts="2", persons="A", trials="2")
    window.session.open([str(sample_folder() / "ga12_lot" / "0201.csv")])
    qtbot.waitUntil(lambda: study.sheet.taken == 1, timeout=20_000)
    qtbot.waitUntil(lambda: window.session.result is not None, timeout=20_000)
    value = study.sheet.readings[0].value
    assert value == pytest.approx(window.session.part.result.fit.estimates["L"].value, rel=1e-9)
    assert window.stack.currentWidget() is page
    qtbot.waitUntil(lambda: window.lots.recorder.kept == 1, timeout=20_000)


def test_space_measures_the_part_in_the_clip(qtbot, window, page, study, tmp_path):
    instrument = window.instrument
    instrument.choose(profile="lcr-points")
    instrument.start_bench("tank")
    qtbot.waitUntil(lambda: bool(instrument.address) and not instrument.is_busy, timeout=20_000)
    instrument.texts.update(start="114 kHz", stop="154 kHz", points="41", level="1 V")
    path = tmp_path / "study.csv"
    begin(qtbot, page, path, parts="2", persons="A", trials="2")
    assert page.bench.sweep.isEnabled()
    qtbot.keyClick(page.bench.value, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: study.sheet.taken == 1, timeout=30_000)
    assert study.sheet.readings[0].value == pytest.approx(1.63e-3, rel=0.02)
    assert window.stack.currentWidget() is page


def test_a_file_that_is_no_study_is_told_and_nothing_changes(qtbot, window, page, study, tmp_path):
    path = tmp_path / "letter.csv"
    path.write_text("Dear diary", encoding="utf-8")
    accept(qtbot, page, page.form.opener, path)
    qtbot.waitUntil(lambda: not window.message.isHidden(), timeout=10_000)
    assert study.sheet is None
    assert page.currentIndex() == 0


def test_a_table_that_is_no_whole_study_says_why_and_is_put_away(
    qtbot, window, page, study, tmp_path
):
    path = tmp_path / "doubled.csv"
    rows = ["1,A,1,1.62 mH", "1,A,1,1.63 mH", "2,A,1,1.64 mH"]
    path.write_text("\n".join(["part,person,trial,value", *rows]), encoding="utf-8")
    accept(qtbot, page, page.form.opener, path)
    qtbot.waitUntil(lambda: page.why.text() != "", timeout=10_000)
    assert page.state.text() == "The study cannot be worked out"
    assert "must hold every trial once" in page.why.text()
    qtbot.waitUntil(lambda: clipped(window) == [])
    press(qtbot, page.away)
    assert page.currentIndex() == 0


def test_values_all_alike_say_why_and_the_last_is_measured_again(
    qtbot, window, page, study, tmp_path
):
    begin(qtbot, page, tmp_path / "study.csv", parts="2", persons="A", trials="2")
    for _ in range(4):
        write(qtbot, page.bench.value, "1.62 mH")
    qtbot.waitUntil(lambda: "must vary" in page.why.text(), timeout=10_000)
    press(qtbot, page.back)
    write(qtbot, page.bench.value, "1.63 mH")
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=10_000)


def test_the_report_button_writes_the_report_of_the_study(qtbot, window, page, study, tmp_path):
    path, paper = tmp_path / "study.csv", tmp_path / "study.html"
    path.write_text(filled().text(), encoding="utf-8")
    accept(qtbot, page, page.form.opener, path)
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=20_000)
    accept(qtbot, window, page.report, paper)
    qtbot.waitUntil(paper.is_file, timeout=20_000)
    assert "CONDITIONALLY SUITABLE" in paper.read_text(encoding="utf-8")
    assert study.found.sha256[:12] in paper.read_text(encoding="utf-8")
    press(qtbot, page.again)
    assert page.currentIndex() == 0


@pytest.mark.parametrize("size", [(960, 540), (1280, 800), (1920, 1080)])
def test_no_text_is_cut_in_any_of_its_three_states(qtbot, window, page, study, tmp_path, size):
    window.resize(*size)
    path = tmp_path / "study.csv"
    qtbot.waitUntil(lambda: clipped(window) == [])
    begin(qtbot, page, path, parts="3", trials="2")
    qtbot.waitUntil(lambda: (clipped(window), overlapping(window)) == ([], []))
    path.write_text(filled(references=tuple(1.6e-3 + at * 1e-6 for at in range(10))).text())
    study.open(str(path))
    qtbot.waitUntil(lambda: page.currentIndex() == 2, timeout=20_000)
    qtbot.waitUntil(lambda: (clipped(window), overlapping(window)) == ([], []))
    for table in (page.results.shares, page.results.sources, page.results.biases):
        header = table.horizontalHeader()
        for column in range(table.columnCount()):
            wanted = max(header.sectionSizeHint(column), table.sizeHintForColumn(column))
            assert header.sectionSize(column) >= wanted


def test_its_dialogs_ask_before_a_file_is_written_over(qtbot, page):
    press(qtbot, page.form.begin)
    dialog = page.findChildren(QFileDialog)[-1]
    assert dialog.acceptMode() == QFileDialog.AcceptMode.AcceptSave
    assert not dialog.testOption(QFileDialog.Option.DontConfirmOverwrite)
    dialog.reject()
