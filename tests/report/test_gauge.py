from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.lot import (
    analysis_of_variance,
    average_and_range,
    bias_of,
    linearity_of,
    study_table,
)
from benchapp.report.document import Facts, Figure, Heading, Paragraph, Table
from benchapp.report.gauge import GaugeSubject, gauge_report
from benchapp.report.html import html_of
from benchapp.report.paper import pdf_of
from benchapp.report.scene import Dots, Label
from tests.report.samples import issue, pages


def study(noise=1e-6, persons=3):
    """Make a study of ten coils by a seed."""
    generator = np.random.default_rng(7)
    lines = ["part,person,trial,value,reference"]
    for part in range(10):
        true = 1.62e-3 + 15e-6 * generator.normal()
        lines += [
            f"P{part},N{person},{trial},{true + noise * generator.normal():.9f} H,{true:.9f} H"
            for person in range(persons)
            for trial in range(3)
        ]
    table = study_table("\n".join(lines), "study.csv")
    return GaugeSubject(
        table=table,
        variance=analysis_of_variance(table.values, tolerance=97.2e-6),
        ranges=average_and_range(table.values, tolerance=97.2e-6),
        bias=bias_of(table),
        linearity=linearity_of(table),
        path="study.csv",
        sha256="ab" * 32,
    )


def blocks(document, kind):
    return [block for block in document.blocks if isinstance(block, kind)]


@pytest.mark.parametrize(
    ("noise", "words", "tone"),
    [(2e-7, "SUITABLE", "good"), (2e-5, "NOT SUITABLE", "bad")],
)
def test_the_judgement_stands_first(noise, words, tone):
    first = blocks(gauge_report(study(noise), issue()), Paragraph)[0]
    assert (first.text, first.tone) == (f"Judgement: {words}", tone)


def test_everything_worked_out_is_in_the_report():
    titles = [block.text for block in blocks(gauge_report(study(), issue()), Heading)]
    assert titles == [
        *("Study", "Results: analysis of variance", "Results: average and range"),
        *("Analysis of variance", "Bias", "Linearity", "Statements"),
    ]


def test_shares_are_those_of_the_study():
    subject = study()
    table = blocks(gauge_report(subject, issue()), Table)[0]
    rows = {row[0]: row for row in table.rows}
    share = subject.variance.gauge
    assert rows["gauge (GRR)"][2] == f"{share.percent_study:.1f} %"
    assert rows["gauge (GRR)"][4] == f"{share.percent_tolerance:.1f} %"


def test_without_a_tolerance_no_share_of_it_is_made_up():
    subject = study()
    bare = replace(subject, variance=analysis_of_variance(subject.table.values))
    table = blocks(gauge_report(bare, issue()), Table)[0]
    assert {row[4] for row in table.rows} == {"–"}


def test_every_value_is_drawn_over_its_part():
    (figure,) = blocks(gauge_report(study(), issue()), Figure)
    dots = [mark for mark in figure.scene.marks if isinstance(mark, Dots)]
    assert sum(len(mark.points) for mark in dots if len(mark.points) > 1) == 90
    texts = {mark.text for mark in figure.scene.marks if isinstance(mark, Label)}
    assert {"P0", "P9", "N0", "N1", "N2"} <= texts


def test_bias_has_a_row_for_each_part_and_what_is_missing_is_left_out():
    subject = study()
    document = gauge_report(subject, issue())
    assert len(blocks(document, Table)[-1].rows) == len(subject.bias) == 10
    bare = replace(subject, bias=(), linearity=None, ranges=None)
    titles = {block.text for block in blocks(gauge_report(bare, issue()), Heading)}
    assert not titles & {"Bias", "Linearity", "Results: average and range"}


def test_the_size_the_file_and_its_digest_are_named():
    rows = dict(
        row for block in blocks(gauge_report(study(), issue()), Facts) for row in block.rows
    )
    assert rows["Parts, persons, trials"] == "10 × 3 × 3"
    assert rows["File"] == "study.csv"
    assert rows["SHA-256"] == "ab" * 32


def test_it_goes_on_paper_whole_and_the_same_again(tmp_path):
    document = gauge_report(study(), issue())
    assert html_of(document) == html_of(gauge_report(study(), issue()))
    found = pages(pdf_of(document), tmp_path)
    assert "End of report R-17" in found[-1]
