"""The limits of a verdict have one form in every JSON."""

from __future__ import annotations

import json
import math

import pytest

from benchapp.jobs import (
    ComparePart,
    Examination,
    OpenAccuracy,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.jobs.report import part_file
from benchapp.nominal import load_nominal
from benchapp.nominal.plain import limit_values
from benchapp.readers import read
from benchapp.report.data import results_json


@pytest.fixture(scope="module")
def part():
    folder = sample_folder()
    accuracy = OpenAccuracy(path=str(folder / "bench_meter.accuracy.toml"))(silent, not_cancelled)
    return ComparePart(
        capture=read(folder / "ga12_tank.csv")[0],
        nominal=load_nominal(folder / "ga12.toml"),
        examination=Examination(accuracy=accuracy),
    )(silent, not_cancelled)


def test_every_limit_is_told_with_its_risks_and_its_budget(part):
    for entry in part.verdict.limits:
        found = limit_values(entry)
        assert found["measured"] == entry.measured.value
        assert (found["U"], found["guard"]) == (entry.expanded, entry.guard)
        assert found["outcome"] == entry.outcome.value
        shares = [term["share"] for term in found["budget"]["terms"]]
        assert sum(shares) == pytest.approx(1.0)
        assert found["budget"]["u"] == pytest.approx(entry.measured.u)
        assert all(
            term["dof"] is None or math.isfinite(term["dof"]) for term in found["budget"]["terms"]
        )


def test_what_is_not_known_is_none():
    capture = read(sample_folder() / "ga12_tank.csv")[0]
    job = ComparePart(capture=capture, nominal=load_nominal(sample_folder() / "ga12.toml"))
    bare = job(silent, not_cancelled).verdict.limits
    one_sided = [entry for entry in bare if entry.limit.lower is None]
    assert one_sided
    assert all(limit_values(entry)["lower"] is None for entry in one_sided)


def test_an_export_writes_limits_as_the_comparison_does(part):
    (exported,) = json.loads(results_json([part_file(part)]))["parts"]
    assert exported["limits"] == [limit_values(entry) for entry in part.verdict.limits]
