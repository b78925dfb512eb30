from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.capture import Conditions, Step
from benchapp.checks import Acknowledgement, Finding
from benchapp.nominal import Decision, Limit
from benchapp.report.document import Caution, Facts, Figure, Paragraph, Signature, Table
from benchapp.report.html import html_of
from benchapp.report.paper import pdf_of
from benchapp.report.part import (
    condition_rows,
    decision_rule,
    limit_name,
    limit_words,
    part_report,
)
from tests.report.samples import SAMPLES, TIME, issue, pages, subject

FAILED = "ga12_lot/0209.csv"


def text_of(part, **changes):
    return html_of(part_report(part, issue(**changes)))


@pytest.mark.parametrize(
    "asked",
    [
        "R-17",  # unique number
        TIME,  # date of issue
        "A. Brandt",
        "ga12_tank.csv",  # item
        "Gate antenna coil GA-12 C",  # design
        "weighted least squares",  # method
        "level 1 V; temperature 23 °C; fixture four-terminal clip",  # conditions
        "1.63133 ± 0.00012 mH",  # result with U and unit
        "U = 2 u",
        "JCGM 106:2012, 8.3",  # decision rule
        "concern only the items tested",
        "no accreditation is claimed",
        "Authorised by",
        "End of report R-17",
        "benchapp 1",
    ],
)
def test_a_part_report_holds_what_a_test_report_is_asked_for(asked):
    assert asked in text_of(subject())


def test_digests_of_file_capture_and_design_are_whole():
    part = subject()
    text = text_of(part)
    assert part.sha256 in text
    assert part.capture.digest in text
    assert part.nominal.sha256 in text


def test_every_block_of_a_report_is_there():
    kinds = {type(block) for block in part_report(subject(), issue()).blocks}
    assert {Facts, Table, Figure, Paragraph, Signature, Caution} <= kinds


def test_same_inputs_give_the_same_bytes_and_another_time_does_not():
    assert text_of(subject()) == text_of(subject())
    assert text_of(subject()) != text_of(subject(), time="2026-03-02T10:00:00Z")


def test_a_failed_part_says_so_and_what_may_be_wrong():
    document = part_report(subject(FAILED), issue())
    verdict = next(block for block in document.blocks if isinstance(block, Paragraph))
    assert verdict.text.startswith("Verdict: FAIL")
    assert verdict.tone == "bad"
    assert "shorted turn" in html_of(document)


def test_a_part_without_a_design_is_not_judged():
    part = replace(subject(), nominal=None, verdict=None, envelope=None)
    assert "No design was given: nothing is judged." in text_of(part)


def test_a_fit_that_misses_says_not_to_use_the_values():
    part = subject()
    part = replace(part, fit=replace(part.fit, describes=False, undetermined=("C",)))
    text = text_of(part)
    assert "do not use these values" in text
    assert "Not determined by these data: C" in text


def test_an_accepted_warning_stands_with_name_and_reason():
    who = Acknowledgement(check="x", name="B. Cole", reason="known")
    found = Finding(id="x", level="warn", text="odd.", advice="look", acknowledged=who)
    assert "odd. accepted by B. Cole: known" in text_of(replace(subject(), findings=(found,)))
    assert '<p class="plain">none</p>' in text_of(replace(subject(), findings=()))


def test_steps_applied_are_named():
    part = subject()
    part = replace(part, capture=part.capture.with_step(Step(name="open", detail="taken away")))
    assert "open (taken away)" in text_of(part)


@pytest.mark.parametrize(
    ("limit", "name", "words"),
    [
        (Limit(quantity="L", unit="H", lower=1e-3, upper=2e-3), "L", "1 mH … 2 mH"),
        (Limit(quantity="Q", unit="1", lower=60, at=134.2e3), "Q at 134.2 kHz", "≥ 60"),
        (Limit(quantity="R", unit="ohm", upper=22), "R", "≤ 22 Ω"),
    ],
)
def test_a_limit_is_named_and_said(limit, name, words):
    assert limit_name(limit) == name
    assert limit_words(limit) == words


def test_conditions_that_are_not_stated_are_not_made_up():
    assert condition_rows(Conditions()) == ()
    found = condition_rows(
        Conditions(bias_ampere=0.1, temperature_celsius=0.0, equivalent_circuit="series")
    )
    assert found == (
        ("bias", "100 mA"),
        ("temperature", "0 °C"),
        ("equivalent circuit", "series"),
    )


def test_simple_acceptance_is_called_so():
    nominal = replace(subject().nominal, decision=Decision(guard=0.0))
    assert decision_rule(nominal).startswith("simple acceptance")


@pytest.mark.parametrize(
    "name", [path.name for path in sorted(SAMPLES.glob("ga12_*.csv"))] + [FAILED]
)
def test_every_sample_makes_a_report_on_paper(name, tmp_path):
    found = pages(pdf_of(part_report(subject(name), issue())), tmp_path)
    assert 2 <= len(found) <= 7
    assert "End of report R-17" in found[-1]
