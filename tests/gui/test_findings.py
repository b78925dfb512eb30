"""Warnings: the gravest first, each with reason and advice; choosing one rings its points."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from benchapp.checks import Acknowledgement, Finding
from benchapp.fit import Opinion
from benchapp.gui.findings import Findings, Line, lines_of
from tests.gui.factories import FINDINGS, estimate, fit, judged, sweep
from tests.gui.hand import press, write

STOP = Finding(id="sign", level="stop", text="The phase has the wrong sign.", advice="Swap.")


@pytest.fixture
def findings(qtbot):
    made = Findings()
    qtbot.addWidget(made)
    made.show_lines(lines_of(judged()))
    made.show()
    return made


def test_the_gravest_stand_first():
    lines = lines_of(judged(findings=(*FINDINGS, STOP)))
    assert [line.level for line in lines] == ["stop", "warn", "note"]
    assert lines[0].advice == "Swap."


def _said(*opinions):
    return lines_of(judged(findings=(), fit=fit(sweep(), opinions=opinions)))


def test_an_independent_method_that_agrees_is_not_told_again():
    agreeing = Opinion(method="half-power", estimate=estimate("Q", 78.5, 0.5, "1"), agrees=True)
    assert _said(agreeing) == ()


def test_a_method_has_one_line_for_all_that_contradicts():
    opinions = tuple(
        Opinion(method="half-power", estimate=estimate(name, 78.5, 0.5, "1"), agrees=agrees)
        for name, agrees in (("Q", False), ("R", True), ("D", False))
    )
    (line,) = _said(*opinions)
    assert line.level == "warn"
    assert line.words == (
        "half-power gives Q 78.5 ± 1.0, D 78.5 ± 1.0: does not agree with the fit."
    )


def test_one_that_disagrees_is_a_warning():
    opinion = Opinion(method="half-power", estimate=estimate("Q", 60.0, 0.5, "1"), agrees=False)
    (line,) = lines_of(judged(findings=(), fit=fit(sweep(), opinions=(opinion,))))
    assert line.level == "warn"
    assert "does not agree" in line.words


def test_a_row_is_read_out_with_word_reason_and_advice(findings):
    said = [row.accessibleName() for row in findings.rows]
    assert said == [
        f"warning: {FINDINGS[1].text} {FINDINGS[1].advice}",
        "note: 2 points lie off the curve. ",
    ]


def test_choosing_a_warning_rings_its_points_and_choosing_again_does_not(qtbot, findings):
    rung = []
    findings.pointed.connect(rung.append)
    button = findings.rows[0].button
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert rung == [(50, 51), ()]


def test_one_warning_at_a_time_rings_its_points(qtbot, findings):
    rung = []
    findings.pointed.connect(rung.append)
    first, second = (row.button for row in findings.rows)
    first.setFocus()
    qtbot.keyClick(first, Qt.Key.Key_Space)
    qtbot.keyClick(second, Qt.Key.Key_Space)
    assert rung == [(50, 51), (3, 40)]
    assert (first.isChecked(), second.isChecked()) == (False, True)


def test_a_warning_without_points_offers_none(findings):
    findings.show_lines([Line(level="note", words="Nothing to point at.")])
    assert findings.rows[0].button is None


def test_new_warnings_take_the_old_rings_away(findings):
    rung = []
    findings.pointed.connect(rung.append)
    findings.show_lines([])
    assert rung == [()]
    assert findings.rows == []


def test_sentences_start_below_each_other(qtbot, findings):
    findings.resize(390, 300)
    qtbot.waitExposed(findings)
    places = {row.layout().itemAtPosition(0, 2).geometry().x() for row in findings.rows}
    assert len(places) == 1


def test_a_warning_is_accepted_with_name_and_reason(qtbot, findings):
    given = []
    findings.accepted.connect(lambda *words: given.append(words))
    row = findings.rows[0]
    press(qtbot, row.accept)
    assert not row.form.ok.isEnabled()
    write(qtbot, row.form.name, "A. Brandt")
    assert given == []
    assert row.form.reason.hasFocus()
    write(qtbot, row.form.reason, "coarse search only")
    assert given == [(FINDINGS[1].id, "A. Brandt", "coarse search only")]


def test_an_acceptance_can_be_left(qtbot, findings):
    given = []
    findings.accepted.connect(lambda *words: given.append(words))
    row = findings.rows[0]
    press(qtbot, row.accept)
    press(qtbot, row.form.leave)
    assert row.form is None
    assert row.accept.isVisible()
    assert given == []


def test_a_stop_and_a_note_cannot_be_accepted(findings):
    findings.show_lines(lines_of(judged(findings=(STOP, FINDINGS[0]))))
    assert [row.accept for row in findings.rows if row.line.level != "warn"] == [None, None]


def test_an_accepted_warning_stays_with_name_and_reason_and_is_withdrawn(qtbot, findings):
    who = Acknowledgement(check="edge", name="A. Brandt", reason="search only")
    line = Line(level="warn", words="Edge.", check="edge", acknowledged=who)
    findings.show_lines([line])
    row = findings.rows[0]
    shown = [label.text() for label in row.findChildren(QLabel)]
    assert "Edge." in shown
    assert "Accepted by A. Brandt: search only" in shown
    assert row.accept is None
    given = []
    findings.withdrawn.connect(given.append)
    press(qtbot, row.withdraw)
    assert given == ["edge"]
