"""Two results beside each other say how far they differ, and whether it is more than scatter."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication, QLabel

from benchapp.gui.comparison import Comparison, distance_words
from benchapp.gui.labels import Value
from benchapp.nominal import Outcome
from tests.gui.factories import estimate


@pytest.mark.parametrize(
    ("second", "words"),
    [
        (estimate("L", 1.0e-3, 1e-6, "H"), "the same"),
        (estimate("L", 1.001e-3, 1e-6, "H"), "+0.1 %, within both U"),
        (estimate("L", 1.1e-3, 1e-6, "H"), "+10 %, more than both U"),
        (estimate("L", 1.1e-3, None, "H"), "+10 %"),
        (None, "only one of them"),
    ],
)
def test_the_distance_is_told_with_what_it_means(second, words):
    assert distance_words(estimate("L", 1.0e-3, 1e-6, "H"), second) == words


def test_a_quantity_of_only_one_result_stands_there_all_the_same(qtbot):
    made = Comparison()
    qtbot.addWidget(made)
    first = {"L": estimate("L", 1e-3, 1e-6, "H")}
    second = {"C": estimate("C", 1e-9, 1e-12, "F")}
    made.show_results("two", ("one", "other"), (first, second))
    words = [label.text() for label in made.findChildren(Value)]
    assert words.count("not determined") == 2
    assert words.count("only one of them") == 2


def texts(made, kind=Value):
    return [label.text() for label in made.findChildren(kind) if label.isVisibleTo(made)]


def test_three_results_stand_side_by_side_and_the_last_is_measured_at_the_first(qtbot):
    made = Comparison()
    qtbot.addWidget(made)
    results = [{"L": estimate("L", value, 1e-6, "H")} for value in (1e-3, 1.1e-3, 1.001e-3)]
    made.show_results("0147", ("kept", "then", "now"), results)
    assert made.title.text() == "Compared: 0147"
    heads = texts(made, QLabel)
    assert [one for one in heads if one in ("kept", "then", "now")] == ["kept", "then", "now"]
    assert "the last against the first" in heads
    assert texts(made)[-1] == "+0.1 %, within both U"


def test_verdicts_stand_above_the_values(qtbot):
    made = Comparison()
    qtbot.addWidget(made)
    result = {"L": estimate("L", 1e-3, 1e-6, "H")}
    made.show_results("x", ("a", "b"), (result, result), (Outcome.PASS, None))
    assert texts(made)[:2] == ["pass", "not judged"]


def test_one_result_is_compared_with_nothing(qtbot):
    made = Comparison()
    qtbot.addWidget(made)
    made.show_results("x", ("kept",), ({"L": estimate("L", 1e-3, 1e-6, "H")},))
    assert texts(made) == ["1.0000 ± 0.0020 mH"]
    assert "the last against the first" not in texts(made, QLabel)


def test_what_was_compared_before_is_gone(qtbot):
    made = Comparison()
    qtbot.addWidget(made)
    made.show()
    wide = {name: estimate(name, 1e-3, 1e-6, "H") for name in ("L", "M", "N")}
    made.show_results("x", ("a", "b", "c"), (wide, wide, wide))
    made.show_results("y", ("a",), ({"L": wide["L"]},))
    QApplication.processEvents()
    assert len(texts(made)) == 1


def test_a_value_can_be_copied_with_its_unit(qtbot, qapp):
    made = Comparison()
    qtbot.addWidget(made)
    made.show_results("x", ("a",), ({"L": estimate("L", 1e-3, 1e-6, "H")},))
    made.findChildren(Value)[0].copy()
    assert qapp.clipboard().text() == "1.0000 ± 0.0020 mH"
