from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.jobs import (
    AnalyseStudy,
    ReportChoices,
    WriteCalculation,
    WriteDesignReport,
    WriteGaugeReport,
    not_cancelled,
    silent,
)
from benchapp.jobs.study_report import design_stack
from benchapp.nominal import Limit
from benchapp.report.design import Calculation
from tests.jobs.lots import nominal

TIME = "2026-03-01T10:00:00Z"


def text_of(job):
    return Path(job(silent, not_cancelled)).read_text(encoding="utf-8")


def choices(folder):
    return ReportChoices(path=str(folder / "r.html"), time=TIME)


def test_a_gauge_study_is_reported_with_the_digest_of_its_table(tmp_path):
    rows = ["part,person,trial,value"]
    rows += [
        f"{part},{person},{trial},{1 + part + 0.01 * person + 0.001 * trial * part}"
        for part in range(1, 6)
        for person in (1, 2)
        for trial in (1, 2)
    ]
    path = tmp_path / "study.csv"
    path.write_text("\n".join(rows), encoding="utf-8")
    study = AnalyseStudy(path=str(path))(silent, not_cancelled)
    text = text_of(WriteGaugeReport(study=study, path=str(path), choices=choices(tmp_path)))
    assert "Gauge study" in text
    assert study.sha256 in text
    assert len(study.sha256) == 64


def test_a_design_is_reported_with_the_stack_up_of_its_limits(tmp_path):
    text = text_of(WriteDesignReport(nominal=nominal(), choices=choices(tmp_path)))
    assert "Tolerance stack-up" in text
    assert "C has no tolerance of its own" in text


def test_a_calculation_is_reported(tmp_path):
    found = Calculation(title="tank", lines=("  f0   134 kHz",), given=(("L", "1 mH"),))
    text = text_of(WriteCalculation(found=found, choices=choices(tmp_path)))
    assert "134 kHz" in text
    assert "1 mH" in text


def test_the_stack_up_of_l_and_c_has_both_and_the_worst_case_is_their_corner():
    capacitance = Limit(quantity="C", unit="F", nominal=868e-12, lower=850e-12, upper=886e-12)
    both = replace(nominal(), limits=(nominal().limits[0], capacitance))
    stack, note = design_stack(both)
    assert note == ""
    assert {share.name for share in stack.shares} == {"L", "C"}
    lowest = 1 / (2 * math.pi * math.sqrt(both.limits[0].upper * 886e-12))
    assert stack.worst_low == pytest.approx(lowest, rel=1e-9)


@pytest.mark.parametrize("kept", [(), (0,), (1,), (2, 3)])
def test_limits_that_make_no_tank_have_no_stack_up(kept):
    few = replace(nominal(), limits=tuple(nominal().limits[place] for place in kept))
    assert design_stack(few) == (None, "")


def test_a_one_sided_limit_is_no_tolerance():
    open_ended = Limit(quantity="L", unit="H", nominal=1e-3, upper=2e-3)
    few = replace(nominal(), limits=(open_ended, nominal().limits[1]))
    assert design_stack(few) == (None, "")
