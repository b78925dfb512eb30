"""A gauge study from its drawn plan to its figures."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from benchapp.errors import (
    CancelledError,
    CaptureError,
    FileAccessError,
    QuantityError,
    ReadError,
    UsageError,
)
from benchapp.fit import fit, quantity
from benchapp.jobs import (
    AnalyseStudy,
    ComparePart,
    MeasureStudied,
    OpenStudy,
    PlanStudy,
    SaveStudy,
    not_cancelled,
    sample_folder,
    silent,
    studied,
)
from benchapp.lot import StudyPlan, draw_sheet, key_of
from benchapp.readers import read
from tests.coil.truth import values as sections

AIAG = sections("gauge_aiag.toml")
VALUES = np.array(AIAG["values"]).reshape(10, 3, 3)


def named(count: int) -> tuple[str, ...]:
    return tuple(str(number + 1) for number in range(count))


def plan(parts=10, persons=3, trials=3, seed=7, **stated) -> str:
    study = StudyPlan(parts=named(parts), persons=named(persons), trials=trials, **stated)
    return PlanStudy(study=study, seed=seed)(silent, not_cancelled).text()


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


SHEET = draw_sheet(
    StudyPlan(parts=named(2), persons=named(1), trials=2, quantity="L", unit="H"),
    np.random.default_rng(1),
)


def test_what_is_saved_is_opened_again(tmp_path):
    path, sheet = str(tmp_path / "study.csv"), SHEET.take(1.62e-3)
    assert SaveStudy(path=path, sheet=SHEET)(silent, not_cancelled) == path
    SaveStudy(path=path, sheet=sheet)(silent, not_cancelled)
    found = OpenStudy(path=path)(silent, not_cancelled)
    assert (found.taken, found.quantity, found.unit) == (1, "L", "H")
    assert [one.blind for one in found.readings] == [one.blind for one in sheet.readings]
    assert [one.name for one in tmp_path.iterdir()] == ["study.csv"]


def test_a_study_is_not_saved_where_nothing_can_be_written(tmp_path):
    with pytest.raises(FileAccessError, match="must be a file that can be written"):
        SaveStudy(path=str(tmp_path / "no" / "study.csv"), sheet=SHEET)(silent, not_cancelled)


def test_both_analyses_of_variance_stand_beside_the_one_that_decides(tmp_path):
    done = analysed(tmp_path, filled(plan()))
    assert done.pooled.gauge.sigma == done.variance.gauge.sigma
    assert done.kept.repeatability.sigma == pytest.approx(AIAG["kept"]["EV"], rel=1e-12)
    one = analysed(tmp_path, "part,person,trial,value\n1,A,1,1\n1,A,2,2\n2,A,1,3\n2,A,2,5")
    assert (one.kept, one.pooled) == (None, None)


def test_the_tolerance_that_the_table_states_holds_unless_another_is_given(tmp_path):
    text = filled(plan(quantity="L", unit="H", tolerance=8.0), " H")
    share = 100 * 6 * AIAG["pooled"]["GRR"]
    stated, given = analysed(tmp_path, text), analysed(tmp_path, text, tolerance="4 H")
    assert stated.variance.gauge.percent_tolerance == pytest.approx(share / 8, rel=1e-9)
    assert given.variance.gauge.percent_tolerance == pytest.approx(share / 4, rel=1e-9)
    assert given.ranges.gauge.percent_tolerance > 30


TANK = read(sample_folder() / "ga12_tank.csv")[0]


def measured(quantity: str, capture=TANK, unit="H") -> float:
    job = MeasureStudied(compare=ComparePart(capture=capture), quantity=quantity, unit=unit)
    return job(silent, not_cancelled)


def test_the_quantity_of_a_study_is_that_of_the_fit_of_its_capture():
    found = fit(TANK)
    assert measured("L") == pytest.approx(found.estimates["L"].value, rel=1e-12)
    assert measured("ESR at 134.2 kHz", unit="ohm") == quantity(found, "ESR", 134.2e3).value


def test_a_capture_that_does_not_determine_the_quantity_is_not_counted():
    with pytest.raises(CaptureError, match=r"must determine \|Z\| \(got a fit of tank"):
        measured("|Z|", unit="ohm")


def test_a_capture_that_a_check_stops_is_not_counted():
    """Every point alike is no measurement of a tank."""
    lot = read(sample_folder() / "ga12_lot" / "0209.csv")[0]
    broken = replace(lot, impedance=lot.impedance[::-1].copy())
    with pytest.raises(CaptureError, match=r"must be one that can be judged \(got a stop: "):
        measured("L", broken)


@pytest.mark.parametrize("unit", ["", "ohm"])
def test_values_in_another_unit_are_not_mixed_with_those_of_captures(unit):
    with pytest.raises(UsageError, match="its values must be in H to take those of captures"):
        measured("L", unit=unit)
    assert measured("Q", unit="") == pytest.approx(quantity(fit(TANK), "Q").value, rel=1e-9)


@pytest.mark.parametrize(("name", "unit"), [("L", "H"), ("Q at 134.2 kHz", ""), ("", "")])
def test_an_empty_sheet_has_the_unit_of_its_quantity(tmp_path, name, unit):
    path = tmp_path / "study.csv"
    path.write_text(plan(parts=2, persons=1, trials=2, quantity=name), encoding="utf-8")
    assert OpenStudy(path=str(path))(silent, not_cancelled).unit == unit


def test_a_quantity_is_named_as_its_limit_is():
    for name in ("L", "Q at 134.2 kHz"):
        assert key_of(studied(name)) == name
    assert key_of(studied("Q at 134.2kHz")) == "Q at 134.2 kHz"
    with pytest.raises(UsageError, match="quantity: must be one that a design can limit"):
        studied("loudness")
    with pytest.raises(QuantityError):
        studied("Q at noon")


@pytest.mark.parametrize(
    "job",
    [
        AnalyseStudy(path="study.csv"),
        PlanStudy(study=StudyPlan(parts=("1", "2"), persons=("A",), trials=2), seed=1),
        OpenStudy(path="study.csv"),
        SaveStudy(path="study.csv", sheet=SHEET),
        MeasureStudied(compare=ComparePart(capture=TANK), quantity="L", unit="H"),
    ],
)
def test_a_stopped_job_does_nothing(job):
    with pytest.raises(CancelledError):
        job(silent, lambda: True)
