"""A gauge study from its drawn plan to its figures."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest

from benchapp.errors import CancelledError, CaptureError, FileAccessError, ReadError, UsageError
from benchapp.jobs import AnalyseStudy, PlanStudy, not_cancelled, silent
from tests.coil.truth import values as sections

AIAG = sections("gauge_aiag.toml")
VALUES = np.array(AIAG["values"]).reshape(10, 3, 3)


def plan(**changes) -> str:
    sizes = {"parts": 10, "persons": 3, "trials": 3, "seed": 7, **changes}
    return PlanStudy(**sizes)(silent, not_cancelled)


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def filled(text: str, unit: str = "") -> str:
    rows = rows_of(text)
    for row in rows:
        place = tuple(int(row[name]) - 1 for name in ("part", "person", "trial"))
        row["value"] = f"{float(VALUES[place])!r}{unit}"
    out = io.StringIO()
    writer = csv.DictWriter(out, rows[0])
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def analysed(tmp_path, text, **choices):
    path = tmp_path / "study.csv"
    path.write_text(text, encoding="utf-8")
    return AnalyseStudy(path=str(path), **choices)(silent, not_cancelled)


def test_a_drawn_plan_filled_with_the_published_values_gives_the_published_figures(tmp_path):
    done = analysed(tmp_path, filled(plan()))
    known = AIAG["pooled"]
    assert done.variance.gauge.sigma == pytest.approx(known["GRR"], rel=1e-12)
    assert done.variance.total.sigma == pytest.approx(known["TV"], rel=1e-12)
    assert done.ranges.method == "average and range"
    assert done.variance.ndc == 4
    assert (done.bias, done.linearity) == ((), None)


def test_the_interaction_may_be_kept_for_itself(tmp_path):
    done = analysed(tmp_path, filled(plan()), interaction="keep")
    assert done.variance.interaction is not None
    assert done.variance.pooled == ()


def test_the_order_is_random_blind_and_drawn_again_by_its_seed():
    assert plan() == plan()
    assert plan() != plan(seed=8)
    rows = rows_of(plan())
    assert [int(row["order"]) for row in rows] == list(range(1, 91))
    assert len({(row["part"], row["person"], row["trial"]) for row in rows}) == 90
    for trial in "123":
        labels = {row["blind"] for row in rows if row["trial"] == trial}
        assert labels == {f"{trial}-{label:02d}" for label in range(1, 11)}
    assert len({row["blind"] for row in rows if row["part"] == "1"}) > 3
    assert all(row["value"] == "" for row in rows)


def test_a_tolerance_is_read_in_the_unit_of_the_values(tmp_path):
    done = analysed(tmp_path, filled(plan(), " uH"), tolerance="8 uH")
    assert done.table.unit == "H"
    expected = 100 * 6 * AIAG["pooled"]["GRR"] / 8
    assert done.variance.gauge.percent_tolerance == pytest.approx(expected, rel=1e-9)


def test_a_study_beyond_the_tables_of_ranges_has_the_analysis_of_variance_alone(tmp_path):
    values = np.random.default_rng(5).normal(size=(12, 4, 2))
    rows = [f"{i},{j},{k},{float(value)!r}" for (i, j, k), value in np.ndenumerate(values)]
    done = analysed(tmp_path, "\n".join(["part,person,trial,value", *rows]))
    assert done.ranges is None
    assert done.variance.total.sigma > 0


@pytest.mark.parametrize(
    ("tolerance", "words"),
    [
        ("0", r"tolerance: must be above zero \(got '0'\)"),
        ("8 uH", r"tolerance: must have the unit of the values, none \(got '8 uH'\)"),
    ],
)
def test_a_tolerance_that_cannot_be_is_refused(tmp_path, tolerance, words):
    with pytest.raises(UsageError, match=words):
        analysed(tmp_path, filled(plan()), tolerance=tolerance)


def test_a_bare_tolerance_of_values_with_units_is_refused(tmp_path):
    with pytest.raises(UsageError, match=r"must have the unit of the values, H \(got '8'\)"):
        analysed(tmp_path, filled(plan(), " uH"), tolerance="8")


def test_a_plan_without_its_values_is_no_study(tmp_path):
    with pytest.raises(ReadError, match=r"study\.csv, line 2: must have a value"):
        analysed(tmp_path, plan())


def test_a_study_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(FileAccessError, match=r"must be a table that can be read \(got "):
        AnalyseStudy(path=str(tmp_path / "none.csv"))(silent, not_cancelled)


def test_a_plan_of_one_part_is_refused():
    with pytest.raises(CaptureError, match="must have two parts"):
        plan(parts=1)


@pytest.mark.parametrize(
    "job", [AnalyseStudy(path="study.csv"), PlanStudy(parts=2, persons=1, trials=2, seed=1)]
)
def test_a_stopped_job_does_nothing(job):
    with pytest.raises(CancelledError):
        job(silent, lambda: True)
