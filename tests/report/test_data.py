from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest

from benchapp.report.data import results_csv, results_json, sweep_csv
from tests.report.samples import subject

FAILED = "ga12_lot/0209.csv"


def table(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_a_table_has_a_row_for_each_quantity_with_unit_and_uncertainty():
    part = subject()
    rows = {row["quantity"]: row for row in table(results_csv((part,)))}
    found = part.fit.estimates["L"]
    assert float(rows["L"]["value (unit)"]) == found.value
    assert rows["L"]["unit"] == "H"
    limit = rows["limit of Q at 134.2 kHz"]
    assert (limit["lower (unit)"], limit["upper (unit)"]) == ("60.0", "110.0")
    assert limit["outcome"] == limit["verdict"] == "pass"


def test_the_columns_are_those_that_are_documented():
    assert results_csv(()).strip() == (
        "part,file,sha256,circuit,quantity,value (unit),u (unit),unit,lower (unit),upper (unit),"
        "outcome,verdict"
    )


@pytest.mark.parametrize("name", ["=1+1", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2", "\t=1", "  =1"])
def test_no_name_becomes_a_formula(name):
    part = replace(subject(), name=name, path=name)
    for row in csv.reader(io.StringIO(results_csv((part,)))):
        assert not row[0].lstrip(" ").startswith(("=", "+", "-", "@", "\t"))
        assert not row[1].lstrip(" ").startswith(("=", "+", "-", "@", "\t"))


def test_the_object_holds_the_same_numbers_and_the_verdict():
    parts = (subject(), subject(FAILED))
    found = json.loads(results_json(parts))
    assert found["schema"] == "benchapp.results/1"
    assert [one["outcome"] for one in found["parts"]] == ["pass", "fail"]
    for one, part in zip(found["parts"], parts, strict=True):
        assert one["capture_sha256"] == part.capture.digest
        for name, estimate in part.fit.estimates.items():
            assert one["estimates"][name]["value"] == estimate.value


def test_a_number_that_is_not_finite_is_null_and_never_invalid():
    part = subject()
    odd = replace(part.verdict.limits[0], expanded=float("inf"))
    part = replace(part, nominal=None, verdict=replace(part.verdict, limits=(odd,)))
    (found,) = json.loads(results_json((part,)))["parts"]
    assert found["limits"][0]["U"] is None
    assert found["design"] is None


@pytest.mark.parametrize(
    ("name", "header"),
    [
        ("ga12_tank.csv", "frequency (Hz),R (ohm),X (ohm)"),
        ("ga12_ring_down.csv", "time (s),voltage (V)"),
    ],
)
def test_the_points_of_a_capture_are_written_as_they_are(name, header):
    capture = subject(name).capture
    rows = sweep_csv(capture).splitlines()
    assert rows[0] == header
    numbers = np.array([[float(cell) for cell in row.split(",")] for row in rows[1:]])
    axis = capture.time if "ring" in name else capture.frequency
    np.testing.assert_array_equal(numbers[:, 0], axis)
