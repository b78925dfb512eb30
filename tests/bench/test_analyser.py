from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.bench import Analyser, Setup
from benchapp.bench.analyser import measure, parameter
from benchapp.bench.device import impedance

TRUTH = tomllib.loads((Path(__file__).parent.parent / "truth/resonance.toml").read_text())
F = np.linspace(114e3, 154e3, 401)
BACK = {
    "reflection": lambda s, r: r * (1 + s) / (1 - s),
    "series-through": lambda s, r: 2 * r * (1 - s) / s,
    "shunt-through": lambda s, r: r / 2 * s / (1 - s),
}


@pytest.mark.parametrize(
    ("case", "name", "method"),
    [
        ("S-1", "S11", "reflection"),
        ("S-2", "S21", "shunt-through"),
        ("S-3", "S21", "series-through"),
    ],
)
def test_s_parameters_agree_with_the_published_identities_to_14_digits(case, name, method):
    truth = TRUTH[case]
    ours = parameter(method, np.array([complex(*truth["Z"])]), truth["Zr"])[0]
    assert ours == pytest.approx(complex(*truth[name]), rel=1e-14, abs=1e-14)


def test_a_milliohm_in_shunt_attenuates_by_88_decibels():
    ours = parameter("shunt-through", np.array([1e-3 + 0j]), 50.0)[0]
    assert 20 * np.log10(abs(ours)) == pytest.approx(TRUTH["S-2"]["milliohm_db"], rel=1e-12)


@given(
    resistance=st.floats(0.1, 1e4), reactance=st.floats(-1e4, 1e4), reference=st.floats(1, 1000)
)
def test_every_arrangement_can_be_turned_back_into_the_impedance(resistance, reactance, reference):
    z = np.array([complex(resistance, reactance)])
    for method, back in BACK.items():
        s = parameter(method, z, reference)
        assert abs(s[0]) <= 1 + 1e-12
        assert abs(back(s, reference) - z)[0] <= 1e-6 * abs(z[0])


@pytest.mark.parametrize("method", list(BACK))
def test_a_measured_tank_is_the_tank_within_the_stated_noise(tank, rng, method):
    analyser = Analyser(noise=2e-4)
    ratio = measure(analyser, Setup(device=tank), method, F, rng)
    error = ratio - parameter(method, impedance(tank, F), 50.0)
    rms = np.sqrt(np.mean(np.abs(error) ** 2))
    assert rms == pytest.approx(2e-4, rel=0.2)  # 4 sigma for 401 points


def test_a_port_delay_turns_the_phase_twice(tank, rng):
    analyser = Analyser(noise=0.0, delay=1e-7)
    ratio = measure(analyser, Setup(device=tank), "reflection", F, rng)
    plain = parameter("reflection", impedance(tank, F), 50.0)
    np.testing.assert_allclose(ratio, plain * np.exp(-2j * np.pi * F * 2e-7), rtol=1e-12)


def test_directivity_adds_a_constant(tank, rng):
    leaky = measure(
        Analyser(noise=0.0, directivity=0.01j), Setup(device=tank), "reflection", F, rng
    )
    clean = measure(Analyser(noise=0.0), Setup(device=tank), "reflection", F, rng)
    np.testing.assert_allclose(leaky - clean, 0.01j)
