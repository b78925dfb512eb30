"""A gauge study in words: the verdict, what to do, figures that can be compared down a column."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QLocale

from benchapp.gui.studywords import (
    JUDGEMENTS,
    METHODS,
    advice_words,
    bias_rows,
    finding_words,
    method_of,
    share_rows,
    size_words,
    source_rows,
    verdict_words,
)
from benchapp.lot import analysis_of_variance
from tests.gui.studies import AIAG, VALUES, analysed


@pytest.fixture(scope="module")
def found():
    return analysed()


def test_the_size_of_a_study_is_said_with_its_tolerance(found):
    words = "L: 10 parts, 3 persons, 3 trials each; tolerance 97.20 µH, upper less lower limit"
    assert size_words(found) == words
    bare = replace(found, table=replace(found.table, quantity="", tolerance=None))
    assert size_words(bare) == "10 parts, 3 persons, 3 trials each"


def test_the_verdict_says_by_what_it_is_judged(found):
    words = "GRR takes 18.7 % of the tolerance, by which it is judged, and 27.9 % of the study."
    assert verdict_words(found.variance) == words
    bare = analysis_of_variance(VALUES)
    assert verdict_words(bare) == "GRR takes 27.9 % of the study; no tolerance is stated."


def test_advice_goes_to_what_is_largest():
    assert "agree on how a part is placed" in advice_words(analysis_of_variance(VALUES))
    alike = VALUES - VALUES.mean(axis=(0, 2), keepdims=True)
    assert "look at the fixture" in advice_words(analysis_of_variance(alike))
    good = analysis_of_variance(VALUES, tolerance=100)
    assert "common practice" in advice_words(good)


@pytest.mark.parametrize("tolerance", [100.0, 8.0, 3.0])
def test_every_judgement_has_its_mark_and_words(tolerance):
    mark, words = JUDGEMENTS[analysis_of_variance(VALUES, tolerance=tolerance).judgement]
    assert (mark, words[:13]) in {(one, "The gauge is ") for one in ("good", "doubt", "stop")}


def test_classes_and_interaction_are_said(found):
    words = finding_words(found)
    assert words[0].startswith("ndc 4: the gauge tells 4 classes of these parts apart; 5 or more")
    assert words[1] == "Persons by parts: p 0.974, counted as repeatability (above 0.25)."
    assert len(words) == 2
    apart = analysed(persons="ABC")
    kept = replace(apart, variance=apart.kept)
    assert "counted for itself" in finding_words(kept)[1]


def test_a_slope_of_the_bias_is_said_where_true_values_are_known():
    known = tuple(1.62e-3 + 1e-5 * float(one) for one in VALUES.mean(axis=(1, 2)))
    words = finding_words(analysed(references=known))
    assert words[-1].startswith("Linearity: the bias changes by ")
    assert words[-1].endswith("none shown).")


def test_deviations_stand_in_one_unit_with_the_decimals_of_the_smallest(found):
    heads, rows = share_rows(found.variance, "H")
    assert heads[1] == "standard\ndeviation, µH"
    figures = {row[0]: row[1] for row in rows}
    for name, letter in (("GRR, the gauge", "GRR"), ("TV, total", "TV")):
        assert float(figures[name]) == pytest.approx(10 * AIAG["pooled"][letter], abs=0.0051)
    assert len({len(one.partition(".")[2]) for one in figures.values()}) == 1
    assert [row[2] for row in rows][-1] == "100.0"
    assert all(row[-1].endswith(".") for row in rows), "every row tells what it means"


def test_a_deviation_of_nothing_has_no_unit_and_no_sign():
    flat = np.arange(2.0)[:, None, None] + np.array([[[0.0, 0.1], [0.0, 0.1]]])
    rows = share_rows(analysis_of_variance(flat, tolerance=None), "")[1]
    cells = {row[0]: row[1:4] for row in rows}
    assert float(cells["AV, reproducibility"][0]) == 0
    assert cells["AV, reproducibility"][2] == ""


def test_the_analysis_of_variance_stands_with_and_without_the_interaction(found):
    heads, rows = source_rows(found)
    assert heads[2] == "sum of squares,\nµH²"
    names = [row[0] for row in rows]
    assert names == [
        "with the interaction",
        *("parts", "persons", "persons by parts", "repeatability"),
        "without the interaction",
        *("parts", "persons", "repeatability"),
    ]
    known = AIAG["sums_of_squares"]
    assert float(rows[1][2]) == pytest.approx(100 * known["parts"], rel=1e-3)
    assert float(rows[1][4]) == pytest.approx(known["parts_f"], rel=1e-3)
    assert rows[1][5] == "< 0.001"
    assert float(rows[3][5]) == pytest.approx(known["interaction_p"], abs=5e-4)
    assert float(rows[-1][3]) == pytest.approx(100 * known["pooled_mean_square"], rel=1e-3)


def test_one_person_has_one_table_and_one_method(found):
    alone = analysed(persons="A")
    names = [row[0] for row in source_rows(alone)[1]]
    assert names == ["parts", "repeatability"]
    assert [name for name, _ in METHODS if method_of(alone, name)] == ["variance"]
    assert [name for name, _ in METHODS if method_of(found, name)] == [one for one, _ in METHODS]


def test_bias_of_each_part_with_its_interval():
    known = tuple(1.62e-3 + 1e-5 * float(one) for one in VALUES.mean(axis=(1, 2)))
    shifted = (known[0] - 2e-5, *known[1:])
    heads, rows = bias_rows(analysed(references=shifted))
    assert len(heads) == len(rows[0]) == 5
    assert rows[0][0] == "1"
    assert rows[0][2].startswith("20.")
    assert rows[0][4] == "yes"
    assert {row[4] for row in rows[1:]} == {"none shown"}
    assert bias_rows(analysed())[1] == []


def test_figures_follow_the_decimal_mark_of_the_desktop(found):
    QLocale.setDefault(QLocale(QLocale.Language.German, QLocale.Country.Germany))
    assert "18,7 % of the tolerance" in verdict_words(found.variance)
    cells = [cell for row in share_rows(found.variance, "H")[1] for cell in row[1:4]]
    cells += [cell for row in source_rows(found)[1] for cell in row]
    assert not any("." in cell for cell in cells)
