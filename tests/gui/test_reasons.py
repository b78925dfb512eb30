"""What stands behind a verdict can be read: budget, risks, likely faults, disagreements."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel

from benchapp.checks import Acknowledgement, Finding
from benchapp.diagnosis import Cause, Diagnosis, Disagreement, Hypothesis
from benchapp.gui.bars import ShareBar
from benchapp.gui.reasons import (
    BesideBox,
    BudgetBox,
    DisagreementBox,
    FaultBox,
    chance_words,
    risk_lines,
)
from benchapp.nominal import Outcome
from benchapp.uncertainty import Budget, Term
from tests.gui.factories import Q_LIMIT, judged, judged_limit, verdict
from tests.gui.hand import press

BUDGET = Budget(
    quantity="L",
    value=1.6315e-3,
    unit="H",
    terms=(
        Term(name="scatter of the fit", contribution=0.3e-6, evaluation="A"),
        Term(name="reading of the instrument", contribution=0.95e-6, remedy="Use a better one."),
    ),
)
SHORTED = Hypothesis(
    id="shorted-turn",
    title="a shorted turn",
    share=0.97,
    as_if="1 turn of 88",
    evidence=("L −12 %", "Q −80 %"),
    next_test="Measure the DC resistance.",
)


def texts(box):
    QApplication.processEvents()
    return [label.text() for label in box.findChildren(QLabel) if label.isVisibleTo(box)]


def shown(qtbot, box):
    qtbot.addWidget(box)
    box.resize(600, 400)
    box.show()
    return box


@pytest.fixture
def budget(qtbot):
    box = shown(qtbot, BudgetBox())
    decision = verdict()
    first, *others = decision.limits
    entry = replace(first, budget=BUDGET)
    box.show_result(judged(verdict=replace(decision, limits=(entry, *others))), "")
    return box


def test_the_budget_shows_the_largest_term_first_and_what_would_halve_it(budget):
    words = texts(budget)
    place = words.index("reading of the instrument (u = 950 nH)")
    assert place < words.index("scatter of the fit (u = 300 nH)")
    assert any(one.startswith("To halve U, bring reading of the instrument") for one in words)
    assert [bar.share for bar in budget.findChildren(ShareBar)] == pytest.approx(
        [0.909, 0.091], abs=1e-3
    )


def test_another_limit_is_chosen_by_key_and_stays_chosen(qtbot, budget):
    budget.choice.setFocus()
    qtbot.keyClick(budget.choice, Qt.Key.Key_Down)
    assert budget.choice.currentText() == "Q at 134.2 kHz"
    # Q 78.5, u 0.21, lower limit 60: 18.5 / 0.21 = 88 u
    assert "31 % inside, 88 u" in texts(budget)
    budget.show_result(judged(), "")
    assert budget.choice.currentText() == "Q at 134.2 kHz"


def test_what_u_holds_is_said_and_an_accuracy_is_a_press_away(qtbot, budget):
    assert "U holds the scatter of this capture only" in budget.holds.text()
    assert not budget.leaver.isVisible()
    with qtbot.waitSignal(budget.wants_accuracy):
        press(qtbot, budget.opener)
    both = replace(verdict(), U_holds="scatter and instrument")
    budget.show_result(judged(verdict=both), "meter.toml")
    assert budget.holds.text() == (
        "U holds the scatter and the stated errors of the instrument. (meter.toml)"
    )
    with qtbot.waitSignal(budget.leaves_accuracy):
        press(qtbot, budget.leaver)


def test_without_a_verdict_there_is_no_budget(budget):
    budget.show_result(judged(verdict=None), "")
    assert not budget.isVisible()
    budget.show_result(None, "")
    assert not budget.isVisible()


def test_risks_are_told_in_plain_words():
    # 1.6315 mH, u 1 µH, limits 1.5714 to 1.6686 mH: 37.1 u inside, 97.2 / 4 = 24 times.
    accepted = {name: words for name, words, _ in risk_lines(judged_limit(chance=0.0))}
    assert accepted == {
        "conforms": "above 99.9 %",
        "accepted wrongly": "below 0.1 %",
        "width of the limits": "24 times ± U",
        "nearest limit": "2.2 % inside, 37 u",
    }
    rejected = risk_lines(judged_limit(Outcome.FAIL, chance=0.96, margin=-1.0))
    assert rejected[1][:2] == ("rejected wrongly", "4 %")
    assert all(tip for _, _, tip in rejected)


def test_a_limit_that_was_not_judged_has_no_risks():
    entry = replace(judged_limit(limit=Q_LIMIT), probability_outside=None, margin_percent=None)
    assert [name for name, _, _ in risk_lines(entry)] == ["width of the limits"]


def test_a_limit_far_away_is_not_counted_in_u():
    far = dict([row[:2] for row in risk_lines(judged_limit(expanded=1e-9))])
    assert far["nearest limit"] == "2.2 % inside, over 100 u"
    assert far["width of the limits"] == "over 100 times ± U"


def test_chances_at_the_ends_are_not_written_as_certain():
    assert [chance_words(each) for each in (0.0, 0.042, 0.42, 1.0)] == [
        "below 0.1 %",
        "4.2 %",
        "42 %",
        "above 99.9 %",
    ]


def test_faults_are_ranked_with_evidence_and_the_next_test(qtbot):
    box = shown(qtbot, FaultBox())
    box.show_diagnosis(Diagnosis(hypotheses=(SHORTED,), found=("L −12 %",)))
    words = texts(box)
    assert "97 %" in words
    assert "a shorted turn: as if 1 turn of 88" in words
    assert any(one.startswith("Evidence: L") for one in words)
    assert "Next: Measure the DC resistance." in words
    box.show_diagnosis(None)
    assert not box.isVisible()


def test_none_fits_is_an_answer(qtbot):
    box = shown(qtbot, FaultBox())
    box.show_diagnosis(Diagnosis(reason="all are too unlikely."))
    assert "None of the known faults fits: all are too unlikely." in texts(box)


def test_a_disagreement_is_asked_for_and_told(qtbot):
    box = shown(qtbot, DisagreementBox())
    box.offer(1)
    assert not box.isVisible()
    box.offer(2)
    with qtbot.waitSignal(box.asked):
        press(qtbot, box.ask)
    cause = Cause(id="level", title="level", share=0.9, size="1 V to 2 V", next_test="Repeat.")
    entry = Disagreement(
        first="a",
        second="b",
        agree=False,
        differences=("f0 +1 %",),
        causes=(cause,),
        reason="Why.",
    )
    box.show_entries((entry,))
    words = texts(box)
    for one in ("b against a", "Why.", "f0 +1 %", "90 %", "level: 1 V to 2 V", "Repeat."):
        assert one in words
    box.offer(2)
    assert "b against a" not in texts(box)


STALE = Finding(id="compensation-stale", level="warn", text="Open is 9 h old.", advice="Again.")
WIDE = Finding(
    id="gauge-too-wide",
    level="warn",
    text="The gauge takes 35 %.",
    acknowledged=Acknowledgement(check="gauge-too-wide", name="A. E.", reason="known"),
)


def test_warnings_stand_beside_the_verdict_those_first_that_nobody_accepted(qtbot):
    box = shown(qtbot, BesideBox())
    box.show_findings((WIDE, STALE))
    assert texts(box)[1:] == [
        "Open is 9 h old.",
        "Accepted by A. E. (known): The gauge takes 35\u00a0%.",
    ]
    assert "Again." in [label.toolTip() for label in box.findChildren(QLabel)]


def test_without_warnings_nothing_stands_there(qtbot):
    box = shown(qtbot, BesideBox())
    box.show_findings((WIDE,))
    box.show_findings((replace(STALE, level="note"), replace(STALE, level="stop")))
    assert not box.isVisible()
