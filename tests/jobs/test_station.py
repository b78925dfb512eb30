"""What the station knows becomes facts, and facts become findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.capture import Conditions, Origin, Sweep
from benchapp.checks import Facts
from benchapp.fixture import Compensation, validity
from benchapp.instruments import Ending, Taken
from benchapp.jobs import facts_of_fixture, facts_of_reference, facts_of_sweep
from benchapp.lot import Gate
from tests.checks.scene import TANK, evidence, found, sweep, transmission

OFF = Ending(output="off", bias="off")
GRID = np.linspace(114e3, 154e3, 41)
NOON = "2026-03-31T12:00:00+00:00"
MORNING = "2026-03-31T03:00:00+00:00"


def taken(*captures, **more):
    more = {"partial": False, "trouble": None, "ending": OFF, **more}
    return Taken(captures=captures, **more)


def labelled(label, shift=1.0):
    values = (TANK[0], TANK[1] / shift**2, TANK[2])
    return replace(sweep(values=values, noise=1e-5), origin=Origin(label=label))


def reading(impedance, *, at=MORNING, celsius=None):
    return Sweep(
        frequency=GRID,
        impedance=np.broadcast_to(impedance, GRID.shape).astype(complex),
        conditions=Conditions(temperature_celsius=celsius),
        origin=Origin(taken=at),
    )


def part(celsius=None, at=NOON):
    return reading(1000 + 1j, at=at, celsius=celsius)


def capacitor(farad=5e-12):
    return reading(1 / (2j * np.pi * GRID * farad))


def nulled(raw, **readings):
    compensation = Compensation(**readings)
    return facts_of_fixture(raw, compensation, validity(raw, compensation))


def test_the_wait_and_the_date_of_calibration_come_from_the_instrument():
    facts = facts_of_sweep(taken(sweep(), dwell=2e-3, calibration_due="2027-01-01"))
    assert facts == Facts(dwell=2e-3, calibration_due="2027-01-01")


def test_both_passes_are_fitted():
    facts = facts_of_sweep(taken(labelled("fine down", 1.002), labelled("fine up")))
    assert facts.f0_up == pytest.approx(134.04e3, rel=1e-4)
    assert facts.f0_down == pytest.approx(1.002 * facts.f0_up, rel=1e-4)
    seen = evidence(sweep(), "tank")
    assert found(replace(seen, facts=facts), "sweeps-differ-by-direction")


def test_passes_that_agree_raise_nothing():
    facts = facts_of_sweep(taken(labelled("sweep down", 1.0002), labelled("sweep up")))
    seen = replace(evidence(sweep(), "tank"), facts=facts)
    assert not found(seen, "sweeps-differ-by-direction")


def test_one_pass_tells_nothing_of_the_other():
    assert facts_of_sweep(taken(labelled("fine up"))).f0_down is None
    assert facts_of_sweep(taken(labelled("sweep"))) == Facts()


def test_a_sweep_that_was_broken_off_is_not_compared():
    both = (labelled("fine down"), labelled("fine up"))
    assert facts_of_sweep(taken(*both, partial=True)) == Facts()


def test_a_pass_that_cannot_be_fitted_has_no_resonance():
    flat = Sweep(
        frequency=np.array([1e5]), impedance=np.array([1 + 1j]), origin=Origin(label="fine up")
    )
    assert facts_of_sweep(taken(flat)).f0_up is None


def test_without_readings_of_the_fixture_nothing_is_said():
    assert facts_of_fixture(part(), None, None) == Facts()
    assert facts_of_fixture(transmission(), Compensation(opened=capacitor()), None) == Facts()


def test_the_oldest_reading_gives_the_age():
    facts = nulled(part(), opened=capacitor(), shorted=reading(0.01, at="2026-03-31T11:00+00:00"))
    assert facts.compensated is True
    assert facts.compensation_age_hours == pytest.approx(9.0)
    assert found(replace(evidence(sweep(), "tank"), facts=facts), "compensation-stale")


def test_readings_without_a_time_have_no_age():
    assert nulled(part(at=None), opened=capacitor()).compensation_age_hours is None


def test_the_largest_change_of_temperature_counts():
    facts = nulled(
        part(celsius=23.0),
        opened=reading(1e7, celsius=22.0),
        shorted=reading(0.01, celsius=27.5),
    )
    assert facts.compensation_change_kelvin == pytest.approx(-4.5)
    assert nulled(part(), opened=reading(1e7, celsius=22.0)).compensation_change_kelvin is None


def test_the_rule_of_100_is_told_by_its_worst_point():
    facts = nulled(part(), opened=reading(50e3), shorted=reading(2.0))
    assert facts.open_ratio == pytest.approx(50.0, rel=0.03)
    assert facts.short_ratio == pytest.approx(2e-3, rel=0.03)
    assert nulled(part(), opened=reading(50e3)).short_ratio is None


def test_a_fixture_that_stays_a_capacitor_has_no_resonance_of_its_own():
    assert nulled(part(), opened=capacitor()).fixture_resonance is None


def test_the_resonance_of_leads_and_fixture_is_found_in_the_open():
    w = 2 * np.pi * GRID
    leads = 1j * w * 1 / ((2 * np.pi * 140e3) ** 2 * 5e-9) + 1 / (1j * w * 5e-9) + 0.1
    facts = nulled(part(), opened=reading(leads))
    assert facts.fixture_resonance == pytest.approx(141e3, abs=1e3)
    assert found(replace(evidence(sweep(), "tank"), facts=facts), "fixture-resonates")


def test_single_points_above_zero_are_noise():
    noisy = capacitor().impedance.copy()
    noisy[[5, 6, 20]] = 1e6j
    assert nulled(part(), opened=reading(noisy)).fixture_resonance is None


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        ("open", Facts(reference_within=True)),
        ("outside", Facts(reference_within=False)),
        ("overdue", Facts(reference_open="why")),
        ("never", Facts(reference_open="why")),
        ("not judged", Facts(reference_open="why")),
        ("certificate", Facts(reference_open="why")),
    ],
)
def test_the_gate_of_the_reference_coil_becomes_a_fact(state, expected):
    assert facts_of_reference(Gate(state=state, reason="why")) == expected


def test_a_station_without_a_reference_coil_says_nothing():
    assert facts_of_reference(None) == Facts()
