"""What checks look at."""

from __future__ import annotations

import math

import pytest

from benchapp.checks.value import Acknowledgement, counted, frequency_used, resonance
from benchapp.errors import UsageError
from tests.checks.scene import TANK, coil, evidence, ring_down, sweep, transmission


def test_the_resonance_of_a_tank_has_its_half_power_bandwidth():
    f0, width = resonance(evidence(sweep(), "tank"))
    assert f0 == pytest.approx(1 / (2 * math.pi * math.sqrt(TANK[0] * TANK[1])), rel=1e-4)
    assert width == pytest.approx(TANK[2] / (2 * math.pi * TANK[0]), rel=1e-2)


def test_the_width_of_a_transmission_is_the_loaded_one():
    _, width = resonance(evidence(transmission(peak=0.5, q=80.0)))
    assert width == pytest.approx(134e3 / 80.0, rel=1e-3)


def test_a_coil_below_its_self_resonance_and_a_record_have_no_resonance_in_a_sweep():
    assert resonance(evidence(coil(), "coil")) is None
    assert resonance(evidence(ring_down())) is None
    assert resonance(evidence(sweep(low=1e3, high=4e3, noise=0.02), "tank")) is None


def test_a_count_has_its_noun_in_the_right_number():
    assert [counted(n, "point") for n in (0, 1, 2)] == ["0 points", "1 point", "2 points"]


def test_only_points_that_were_used_count():
    frequency = frequency_used(evidence(sweep(), "tank", band=(120e3, 130e3)))
    assert (frequency[0], frequency[-1]) == (120e3, 130e3)
    assert frequency_used(evidence(ring_down())) is None


@pytest.mark.parametrize("missing", ["check", "name", "reason"])
def test_an_acknowledgement_needs_a_check_a_name_and_a_reason(missing):
    whole = {"check": "resonance-at-edge", "name": "A. Brandt", "reason": "coarse search"}
    assert Acknowledgement(**whole).reason == "coarse search"
    with pytest.raises(UsageError, match=f"must have a check, .* .got no {missing}"):
        Acknowledgement(**{**whole, missing: "  "})
