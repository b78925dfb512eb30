"""Two results beside each other say how far they differ, and whether it is more than scatter."""

from __future__ import annotations

import pytest

from benchapp.gui.comparison import Comparison, distance_words
from benchapp.gui.labels import Value
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
    made.show_two("two", ("one", "other"), (first, second))
    words = [label.text() for label in made.findChildren(Value)]
    assert words.count("not determined") == 2
    assert words.count("only one of them") == 2
