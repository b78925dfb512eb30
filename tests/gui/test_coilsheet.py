"""Texts about a coil become the computation that the core's table of shapes asks for."""

from __future__ import annotations

import pytest

from benchapp.coil import SHAPES
from benchapp.gui.coilsheet import (
    ASKED,
    CONDUCTOR,
    PLATE,
    blanks_of,
    example_of,
    has_turns,
    job_of,
)
from benchapp.gui.tanksheet import Refusal
from benchapp.jobs import ComputeCoil, not_cancelled, silent

ALL = pytest.mark.parametrize("shape", SHAPES.values(), ids=lambda shape: shape.name)
SOLENOID = SHAPES["solenoid"]


@ALL
def test_every_shape_has_a_blank_for_each_entry_and_an_example_that_computes(shape):
    assert [blank.key for blank in blanks_of(shape)] == [entry.name for entry in shape.entries]
    job = job_of(shape, example_of(shape))
    assert isinstance(job, ComputeCoil)
    result = job(silent, not_cancelled).result
    assert result.quantities[0].value > 0


def test_no_blank_of_the_common_forms_hides_one_of_a_shape():
    common = {blank.key for blank in (*ASKED, *CONDUCTOR, *PLATE)}
    for shape in SHAPES.values():
        assert common.isdisjoint(entry.name for entry in shape.entries)


def test_conductor_plate_frequency_and_tolerance_reach_the_computation():
    texts = {
        **example_of(SOLENOID),
        "diameter": "50mm ±0.5mm",
        "conductor_material": "aluminium",
        "conductor_temperature_celsius": "60 degC",
        "conductor_strands": "45",
        "conductor_strand": "0.071mm",
        "plate_kind": "ferrite",
        "plate_gap": "2mm",
        "frequency": "134.2 kHz",
        "wanted": "1.62 mH",
    }
    job = job_of(SOLENOID, texts)
    assert job.conductor.material == "aluminium"
    assert job.conductor.temperature_celsius == 60
    assert (job.conductor.strands, job.conductor.strand) == (45, pytest.approx(71e-6))
    assert (job.plate.kind, job.plate.gap) == ("ferrite", pytest.approx(2e-3))
    assert job.frequencies == (pytest.approx(134.2e3),)
    assert job.inductance == pytest.approx(1.62e-3)
    assert job.deviations["diameter"].high == pytest.approx(0.5e-3)


def test_a_gauge_is_understood_as_wire():
    job = job_of(SOLENOID, {**example_of(SOLENOID), "wire": "AWG24"})
    assert job.values["wire"] == pytest.approx(0.511e-3, rel=2e-3)


def test_a_shape_without_turns_ignores_a_wanted_inductance():
    loop = SHAPES["loop"]
    assert not has_turns(loop)
    assert job_of(loop, {**example_of(loop), "wanted": "1 mH"}).inductance is None


@pytest.mark.parametrize(
    ("key", "words", "reason"),
    [
        ("diameter", "50 V", "Mean diameter: quantity: must be in m"),
        ("frequency", "fast", "at frequency: quantity: must be a number"),
        ("frequency", "0 Hz", "frequency: must be above zero"),
        ("conductor_strand", "thin", "Strand: "),
        ("plate_gap", "1 kHz", "Gap: "),
    ],
)
def test_what_cannot_be_taken_names_its_blank(key, words, reason):
    found = job_of(SOLENOID, {**example_of(SOLENOID), key: words})
    assert isinstance(found, Refusal)
    assert found.key == key
    assert reason in found.words


def test_a_plate_needs_its_gap():
    found = job_of(SOLENOID, {**example_of(SOLENOID), "plate_kind": "metal"})
    assert (found.key, found.words.split(".")[0]) == (
        "plate_gap",
        "Gap: must be given for a plate (got nothing)",
    )


def test_a_required_dimension_that_is_missing_is_named():
    found = job_of(SOLENOID, {**example_of(SOLENOID), "turns": ""})
    assert "turns: must be given for the shape solenoid" in found.words
