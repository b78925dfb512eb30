"""Checks of the part at work."""

from __future__ import annotations

import pytest

from benchapp.tank import CapacitorDuty, CapacitorRatings
from tests.checks.scene import Case, evidence, found, known, sweep

# 20 A at 100 kHz through 220 nF: 144.69 V rms, 204.62 V peak.
DUTY = CapacitorDuty(voltage=144.69, frequency=100e3, capacitance=220e-9, loss_tangent=3e-4)
CURVE = ((1e3, 250.0), (200e3, 250.0))


def stressed(**ratings):
    return known(duty=DUTY, ratings=CapacitorRatings(**ratings))


CASES = {
    "capacitor-overstressed": Case(
        raises=lambda: stressed(dc_volt=250.0), misses=lambda: stressed(dc_volt=260.0)
    ),
    "capacitor-rating-missing": Case(
        raises=lambda: stressed(dc_volt=630.0, mains_volt=250.0),
        misses=lambda: stressed(curve=CURVE),
    ),
    "capacitor-class-two": Case(
        raises=lambda: known(dielectric="X7R"), misses=lambda: known(dielectric="C0G, class 1")
    ),
    "duty-without-load": Case(
        raises=lambda: known(duty=DUTY, duty_q_loaded=False),
        misses=lambda: known(duty=DUTY, duty_q_loaded=True),
    ),
    "band-edge": Case(
        raises=lambda: known(band=(133e3, 136e3), f0_tolerance=0.01),
        misses=lambda: known(band=(132.6e3, 136e3), f0_tolerance=0.01),
    ),
    "drive-below-resonance": Case(
        raises=lambda: known(drive_frequency=133.9e3),
        misses=lambda: known(drive_frequency=134.2e3),
    ),
}


def test_what_is_borne_and_what_is_allowed_are_told():
    (finding,) = found(stressed(dc_volt=200.0), "capacitor-overstressed")
    assert "peak voltage with DC of the capacitor, 204.6 V, is beyond what is allowed" in (
        finding.text
    )
    assert "close to what is" in found(stressed(dc_volt=250.0), "capacitor-overstressed")[0].text


@pytest.mark.parametrize(
    "ratings",
    [{"current": 19.0}, {"slew": 1e8}, {"dissipation": 0.8}, {"curve": ((1e3, 9.0), (1e6, 9.0))}],
)
def test_each_limit_of_a_capacitor_is_looked_at(ratings):
    assert len(found(stressed(**ratings), "capacitor-overstressed")) == 1


@pytest.mark.parametrize(
    ("ratings", "words"),
    [
        ({"dc_volt": 630.0}, "a DC rating only"),
        ({"mains_volt": 275.0}, "a rating for mains frequency only"),
        ({"curve": ((1e3, 250.0), (5e3, 250.0))}, "a curve that ends elsewhere only"),
        ({}, "no AC rating only"),
    ],
)
def test_which_rating_is_known_is_told(ratings, words):
    (finding,) = found(stressed(**ratings), "capacitor-rating-missing")
    assert words in finding.text


def test_a_capacitor_without_any_rating_is_told():
    (finding,) = found(known(duty=DUTY), "capacitor-rating-missing")
    assert "No rating of the capacitor is known." in finding.text


@pytest.mark.parametrize(
    ("words", "raised"), [("Y5V 25 V", True), ("class II", True), ("polypropylene", False)]
)
def test_class_two_is_told_by_its_code(words, raised):
    assert bool(found(known(dielectric=words), "capacitor-class-two")) is raised


def test_how_many_lie_outside_the_band_is_told():
    # 134.044 kHz +- 1 %: 132.70 to 135.38 kHz; 1.340 kHz of 2.681 kHz lie below 134.044 kHz.
    (finding,) = found(known(band=(134.044e3, 140e3), f0_tolerance=0.01), "band-edge")
    assert "spread evenly, 50 % lie outside" in finding.text


def test_without_a_tolerance_the_uncertainty_counts():
    seen = evidence(sweep(), "tank")
    f0 = seen.fit.estimates["f0"]
    low = f0.value - 1.9 * f0.u
    assert found(known(band=(low, 140e3)), "band-edge")
    assert not found(known(band=(f0.value - 2.1 * f0.u, 140e3)), "band-edge")
