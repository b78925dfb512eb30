"""One door for all captures."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.capture import Noise, Response, Transient
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.units import Estimate
from tests.fit.simulated import simulated

RESPONSE = Response(
    frequency=np.linspace(0.9e6, 1.1e6, 101),
    ratio=1 / (1 + 2j * 50 * (np.linspace(0.9, 1.1, 101) - 1)) * 0.5,
    kind="transmission",
)
TIME = np.linspace(0, 1e-4, 2000)
TRANSIENT = Transient(time=TIME, voltage=np.exp(-TIME / 3e-5) * np.cos(2e6 * TIME))

SCALES = {"L": (1.0, -1.0), "C": (-1.0, -1.0), "R": (1.0, 0.0), "Rdc": (1.0, 0.0)}
"""Powers of the impedance level and of frequency by which an element grows."""


def test_a_response_goes_to_the_resonance_fit():
    assert fit(RESPONSE).circuit == "resonance"
    assert fit(RESPONSE, "resonance").kind == "response"


def test_a_transient_goes_to_the_ring_down_fit():
    assert fit(TRANSIENT).circuit == "ring-down"
    assert fit(TRANSIENT, "ring-down").kind == "transient"


@pytest.mark.parametrize(
    ("capture", "message"),
    [
        (RESPONSE, r"circuit: must be resonance for a response \(got tank\)"),
        (TRANSIENT, r"circuit: must be ring-down for a transient \(got tank\)"),
    ],
)
def test_a_circuit_that_does_not_suit_the_capture_is_refused(capture, message):
    with pytest.raises(FitError, match=message):
        fit(capture, "tank")


@pytest.mark.parametrize("band", [(2e5, 1e5), (-1.0, 1e5), (1e5, 1e5)])
def test_a_band_must_rise(band):
    with pytest.raises(FitError, match="band: must rise from its first to its second frequency"):
        fit(simulated("tank"), "tank", band=band)


@pytest.mark.parametrize("name", ["tank", "series-rlc", "parallel-rlc", "inductor", "capacitor"])
@pytest.mark.parametrize(("level", "speed"), [(8.0, 1.0), (1.0, 32.0), (1 / 64, 1 / 4)])
def test_values_scale_with_impedance_level_and_frequency(name, level, speed):
    plain = simulated(name, seed=5)
    scaled = replace(plain, frequency=plain.frequency * speed, impedance=plain.impedance * level)
    one, other = fit(plain, name), fit(scaled, name)
    for element in one.elements:
        by_level, by_speed = SCALES[element]
        factor = level**by_level * speed**by_speed
        first, second = one.estimates[element], other.estimates[element]
        assert second.value == pytest.approx(factor * first.value, rel=1e-8)
        assert second.u == pytest.approx(factor * first.u, rel=1e-6)
    assert other.noise == pytest.approx(one.noise, rel=1e-8)


def test_a_sweep_taken_twice_has_the_same_values_and_a_smaller_uncertainty():
    plain = simulated("tank", seed=2, noise=Noise(kind="relative"))
    nearly = plain.frequency * (1 + 1e-13)
    frequency = np.stack([plain.frequency, nearly], axis=1).ravel()
    again = simulated("tank", seed=3, noise=Noise(kind="relative"))
    both = np.stack([plain.impedance, again.impedance], axis=1).ravel()
    whole = fit(replace(plain, frequency=frequency, impedance=both), "tank")
    parts = [fit(plain, "tank"), fit(again, "tank")]
    for name in whole.elements:
        middle = np.mean([part.estimates[name].value for part in parts])
        found = whole.estimates[name]
        assert found.value == pytest.approx(middle, abs=0.1 * found.u)
        spread = np.mean([part.estimates[name].u for part in parts])
        assert found.u == pytest.approx(spread / np.sqrt(2), rel=0.1)


def test_a_band_is_the_sweep_of_its_points():
    plain = simulated("tank", seed=4)
    inside = (plain.frequency >= 1e5) & (plain.frequency <= 3e5)
    cut = replace(plain, frequency=plain.frequency[inside], impedance=plain.impedance[inside])
    banded, alone = fit(plain, "tank", band=(1e5, 3e5)), fit(cut, "tank")
    assert banded.values == pytest.approx(alone.values, rel=1e-10)
    assert np.array_equal(banded.used, inside)


def test_the_uncertainty_of_a_known_element_reaches_the_others():
    plain = simulated("tank", sigma=1e-4)
    held = {
        u: fit(plain, "tank", fix={"C": Estimate(name="C", value=1e-9, u=u, unit="F")})
        for u in (0.0, 1e-11)
    }
    sure, unsure = (held[u].estimates["L"] for u in (0.0, 1e-11))
    # 1 % of C is 1 % of L where the resonance ties their product
    assert sure.u < 1e-4 * sure.value
    assert unsure.u == pytest.approx(0.01 * unsure.value, rel=0.5)
    assert held[1e-11].estimates["f0"].u < 2e-3 * held[1e-11].estimates["f0"].value


def test_a_conjugate_sweep_is_not_called_described():
    plain = simulated("tank", seed=6)
    mirrored = replace(plain, impedance=plain.impedance.conj())
    result = fit(mirrored, "tank")
    assert not (result.describes and result.results)


@pytest.mark.parametrize("seed", range(5))
def test_points_set_aside_by_hand_have_no_say(seed):
    plain = simulated("tank", seed=seed)
    places = np.random.default_rng(seed).choice(plain.frequency.size, 9, replace=False)
    z = plain.impedance.copy()
    z[places] *= 7.0
    spoilt = replace(plain, impedance=z)
    chosen = tuple(int(place) for place in places)
    clean, other = (fit(sweep, "tank", set_aside=chosen) for sweep in (plain, spoilt))
    assert other.values == pytest.approx(clean.values, rel=1e-12)
    assert other.set_aside == tuple(sorted(chosen))
