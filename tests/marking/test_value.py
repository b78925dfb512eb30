"""The values that a marking is decoded into."""

from __future__ import annotations

import dataclasses

import pytest

from benchapp.marking import Part, Reading, read_marking
from benchapp.units import Estimate


def test_marking_decoded_and_measured_are_three_fields():
    part = Part(marking="104K 2J")
    decoded = dataclasses.replace(part, decoded=read_marking(part.marking).readings[0])
    measured = dataclasses.replace(
        decoded, measured=Estimate(name="C", value=97.3e-9, u=0.1e-9, unit="F")
    )
    assert (part.decoded, part.measured) == (None, None)
    assert measured.marking == "104K 2J"
    assert measured.decoded is decoded.decoded
    assert measured.measured is not None
    assert measured.measured.value != measured.decoded.value


def test_values_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        Part(marking="104").marking = "105"


@pytest.mark.parametrize(
    ("reading", "lower", "upper"),
    [
        ({"value": 1e-7, "tolerance_low": -0.2, "tolerance_high": 0.8}, 0.8e-7, 1.8e-7),
        ({"value": 4.7e-12, "absolute_tolerance": 0.25e-12}, 4.45e-12, 4.95e-12),
    ],
)
def test_bounds_follow_from_the_marked_tolerance(reading, lower, upper):
    found = Reading(kind="capacitor", unit="F", **reading)
    assert found.lower == pytest.approx(lower)
    assert found.upper == pytest.approx(upper)


def test_bounds_are_unknown_without_value_or_tolerance():
    for reading in (
        Reading(kind="capacitor", unit="F", value=1e-9),
        Reading(kind="capacitor", unit="F", tolerance_low=-0.1, tolerance_high=0.1),
    ):
        assert reading.lower is None
        assert reading.upper is None


def test_a_reading_without_rating_has_none():
    assert Reading(kind="capacitor", unit="F").rating is None
