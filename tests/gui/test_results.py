"""Results: limits first with their gauges, then the rest, then what is not determined."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLabel

from benchapp.capture import Conditions
from benchapp.fit import Opinion
from benchapp.gui.gauge import BandGauge
from benchapp.gui.labels import Value
from benchapp.gui.results import Results, conditions_words, limit_name, value_words
from benchapp.nominal import Decision, LimitVerdict, Outcome, Verdict
from tests.gui.factories import (
    ESR_LIMIT,
    L_LIMIT,
    Q_LIMIT,
    estimate,
    fit,
    judged,
    judged_limit,
    nominal,
    sweep,
    verdict,
)


@pytest.fixture
def results(qtbot):
    made = Results()
    qtbot.addWidget(made)
    made.resize(390, 700)
    made.show()
    return made


def words(widget) -> list[str]:
    return [label.text() for label in widget.findChildren(QLabel) if not label.isHidden()]


def test_limits_come_first_in_the_order_of_the_design(results):
    results.show_result(judged())
    assert results.rows[:3] == [
        ("L", "1.6315 ± 0.0020 mH", "1.62 mH ±3 %"),
        ("Q at 134.2 kHz", "78.50 ± 0.42", "60 to 110"),
        ("ESR at 134.2 kHz", "17.52 ± 0.10 Ω", "at most 22 Ω"),
    ]


def test_what_has_no_limit_follows_with_the_same_coverage(results):
    results.show_result(judged())
    assert results.rows[3:] == [
        ("C", "864.2 ± 1.2 pF", ""),
        ("R", "17.52 ± 0.10 Ω", ""),
        ("f0", "134.044 ± 0.024 kHz", ""),
        ("Q", "78.43 ± 0.42", ""),
    ]


def test_without_a_design_everything_found_is_shown_at_k_2(results):
    results.show_result(judged(nominal=None, verdict=None))
    assert [row[0] for row in results.rows] == ["L", "C", "R", "f0", "Q"]
    assert "value ± U (k = 2)" in words(results)
    assert results.findChildren(BandGauge) == []


def test_the_coverage_of_the_design_is_used_and_named(results):
    results.show_result(judged(nominal=nominal(decision=Decision(guard=1.0, coverage=3.0))))
    assert "value ± U (k = 3)" in words(results)
    assert ("R", "17.52 ± 0.15 Ω", "") in results.rows


def test_every_limit_has_a_gauge_a_word_and_its_reason(results):
    results.show_result(judged(verdict=verdict(Outcome.CONDITIONAL_FAIL, margin=-0.1)))
    assert len(results.findChildren(BandGauge)) == 3
    assert words(results).count("conditional fail") == 1
    assert words(results).count("pass") == 2


def test_what_the_data_do_not_determine_is_named_not_numbered(results):
    bare = fit(sweep(), results=(), undetermined=("L", "C", "f0"))
    entry = LimitVerdict(limit=L_LIMIT, outcome=Outcome.NOT_JUDGED, reason="not determined")
    decision = Verdict(outcome=Outcome.NOT_JUDGED, limits=(entry,), reason="L is not determined")
    results.show_result(judged(fit=bare, verdict=decision))
    assert results.rows == [("L", "not determined", "1.62 mH ±3 %")]
    assert words(results).count("not determined by these data") == 2
    assert "C" in words(results)


def test_the_next_result_leaves_nothing_of_the_last(qtbot, results):
    results.show_result(judged())
    results.show_result(judged(nominal=None, verdict=None))
    qtbot.wait(1)
    assert len(results.rows) == 5
    assert results.findChildren(BandGauge) == []
    results.clear()
    qtbot.wait(1)
    assert results.rows == []
    assert words(results) == []


def test_every_number_is_one_that_can_be_copied(results):
    results.show_result(judged())
    values = {label.text() for label in results.findChildren(Value)}
    for _, measured, allowed in results.rows:
        assert measured in values
        assert allowed in values or not allowed


def test_all_results_are_copied_as_a_table(results):
    results.show_result(judged())
    results.copy()
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0] == "L\t1.6315 ± 0.0020 mH\t1.62 mH ±3 %"
    assert len(lines) == 7


def test_names_and_values_do_not_overlap_in_a_narrow_panel(results):
    long = judged_limit(limit=ESR_LIMIT, value=17.5178, expanded=0.0053)
    results.show_result(judged(verdict=Verdict(outcome=Outcome.PASS, limits=(long,))))
    assert results.minimumSizeHint().width() <= 360


def test_a_limit_is_named_with_its_frequency():
    assert limit_name(L_LIMIT) == "L"
    assert limit_name(Q_LIMIT) == "Q at 134.2 kHz"


def test_a_measured_value_is_written_with_the_u_of_its_verdict():
    assert value_words(judged_limit(expanded=4.2e-6)) == "1.6315 ± 0.0042 mH"


def test_conditions_are_written_on_one_line():
    stated = Conditions(
        level_volt=0.1,
        bias_ampere=0.5,
        temperature_celsius=23.0,
        equivalent_circuit="series",
        fixture="four-terminal clip",
        surroundings="ferrite plate",
    )
    assert conditions_words(sweep(5, conditions=stated)) == (
        "100 mV · 23 °C · bias 500 mA · series equivalent · four-terminal clip · ferrite plate"
    )


def test_conditions_that_are_not_stated_are_said_so():
    assert conditions_words(sweep(5, conditions=Conditions())) == (
        "conditions not stated in the file"
    )


OPINIONS = (
    Opinion(method="half-power", estimate=estimate("Q", 78.5, 0.5, "1"), agrees=True),
    Opinion(method="phase slope", estimate=estimate("Q", 60.0, 0.5, "1"), agrees=False),
    Opinion(method="half-power", estimate=estimate("L", 1.63e-3, 1e-6, "H"), agrees=True),
)


def test_what_other_methods_find_stands_below_the_value_it_is_of(results):
    results.show_result(judged(fit=fit(sweep(), opinions=OPINIONS)))
    said = words(results)
    of_q = "half-power: 78.5 ± 1.0, agrees\nphase slope: 60.0 ± 1.0, DOES NOT AGREE"
    of_l = "half-power: 1.6300 ± 0.0020 mH, agrees"
    shown = [one.replace("\u00a0", " ") for one in said]
    assert shown.index("L") < shown.index(of_l) < shown.index("Q at 134.2 kHz")
    assert shown.index("Q") < shown.index(of_q)
    assert shown.count(of_q) == 1  # Q at 134.2 kHz is another quantity than that of f0
