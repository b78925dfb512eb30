"""From a capture to what stands behind its verdict, in the whole window."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtWidgets import QFileDialog, QLabel

from benchapp.gui.app import make_window
from benchapp.gui.startpage import sample_paths
from benchapp.jobs import sample_folder
from tests.gui.hand import press, write

METER = str(sample_folder() / "bench_meter.accuracy.toml")
SHORTED = str(sample_folder() / "ga12_lot" / "0209.csv")
DESIGN = [path for path in sample_paths() if path.endswith(".toml")]


def judged(qtbot, window, paths):
    window.session.open(paths)
    wait_for(qtbot, window)


def wait_for(qtbot, window):
    session = window.session
    qtbot.waitUntil(lambda: session.result is not None and session.is_settled, timeout=20_000)


def test_an_instrument_is_chosen_in_a_dialog_and_counts(qtbot, window):
    judged(qtbot, window, sample_paths())
    window.go("verdict")
    page = window.page("verdict")
    assert "scatter of this capture only" in page.budget.holds.text()
    page.ensureWidgetVisible(page.budget.opener)
    press(qtbot, page.budget.opener)
    dialog = window.findChild(QFileDialog)
    dialog.fileSelected.emit(METER)
    dialog.close()
    qtbot.waitUntil(page.budget.leaver.isVisible, timeout=20_000)
    wait_for(qtbot, window)
    assert window.session.result.verdict.U_holds == "scatter and instrument"
    assert page.budget.holds.text().endswith("(bench_meter.accuracy.toml)")
    press(qtbot, page.budget.leaver)
    wait_for(qtbot, window)
    assert window.session.result.verdict.U_holds == "scatter"


def test_a_failed_part_shows_what_may_be_wrong(qtbot, window):
    judged(qtbot, window, [SHORTED, *DESIGN])
    window.go("verdict")
    page = window.page("verdict")
    qtbot.waitUntil(page.faults.isVisible)
    words = [label.text() for label in page.faults.findChildren(QLabel)]
    assert any(one.startswith("shorted turn: as if") for one in words)
    assert any(one.startswith("Next: Measure R at direct current") for one in words)


def test_two_captures_are_compared_from_the_verdict_page(qtbot, window):
    judged(qtbot, window, [*sample_paths(), str(sample_folder() / "ga12_tank_status.txt")])
    qtbot.waitUntil(lambda: len(window.session.parts) == 2, timeout=20_000)
    wait_for(qtbot, window)
    window.go("verdict")
    page = window.page("verdict")
    page.ensureWidgetVisible(page.why.ask)
    press(qtbot, page.why.ask)
    qtbot.waitUntil(lambda: page.why.said != (), timeout=20_000)
    (entry,) = page.why.said
    assert {entry.first, entry.second} == {part.name for part in window.session.parts}
    assert any(label.text() for label in page.why.findChildren(QLabel))


def test_a_threshold_changed_in_the_window_raises_a_warning_and_is_there_next_time(
    qtbot, window, memory
):
    judged(qtbot, window, sample_paths())
    assert all(one.id != "low-q-resonance" for one in window.session.result.findings)
    window.go("thresholds")
    page = window.page("thresholds")
    row = next(one for one in page.rows if one.check == "low-q-resonance")
    write(qtbot, row.field, "200")
    wait_for(qtbot, window)
    assert any(one.id == "low-q-resonance" for one in window.session.result.findings)
    again = make_window(memory)
    qtbot.addWidget(again)
    assert again.session.examination.thresholds == {"low-q-resonance": {"q": 200.0}}
    again.close()


def test_a_damaged_file_of_thresholds_is_told(qtbot, memory):
    Path(memory.thresholds.path).write_text("q =\n", encoding="utf-8")
    damaged = make_window(memory)
    qtbot.addWidget(damaged)
    damaged.show()
    assert "checks.toml, line 1" in damaged.message.words.text()
    assert damaged.session.examination.thresholds == {}
    damaged.close()


def test_a_warning_is_accepted_and_stays_in_the_result(qtbot, window):
    reason = "known for this part"
    window.session.use_thresholds({"points-left-out": {"share": 0.0}})
    judged(qtbot, window, sample_paths())
    window.session.toggle_points((100, 101))
    wait_for(qtbot, window)
    window.go("capture")
    rows = window.page("capture").findings.rows
    row = next(one for one in rows if one.line.check == "points-left-out")
    press(qtbot, row.accept)
    write(qtbot, row.form.name, "A. Brandt")
    write(qtbot, row.form.reason, reason)
    wait_for(qtbot, window)
    (entry,) = [one for one in window.session.result.findings if one.acknowledged]
    assert (entry.id, entry.acknowledged.reason) == ("points-left-out", reason)
    rows = window.page("capture").findings.rows
    assert any(one.withdraw is not None for one in rows)


def test_facts_are_opened_from_the_menu_and_withhold_the_verdict(qtbot, window, tmp_path):
    judged(qtbot, window, sample_paths())
    facts = tmp_path / "facts.toml"
    facts.write_text("reference_within = false\n", encoding="utf-8")
    window.files.facts_dialog()
    dialog = window.findChild(QFileDialog)
    dialog.fileSelected.emit(str(facts))
    dialog.close()
    qtbot.waitUntil(lambda: window.session.examination.facts.reference_within is False)
    wait_for(qtbot, window)
    assert window.session.result.verdict.reason.startswith("The reference coil was outside")


def test_facts_that_cannot_be_read_are_told(qtbot, window, tmp_path):
    facts = tmp_path / "facts.toml"
    facts.write_text("dwel = 1\n", encoding="utf-8")
    window.session.open_facts(str(facts))
    qtbot.waitUntil(window.message.isVisible)
    assert "line 1: dwel must be a known key" in window.message.words.text()
