"""A coil across its capacitance, against the same network written out with plain elements."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchapp.circuit.shunted import coil_branch
from tests.circuit import EVERY, element_values

FREQUENCY = np.geomspace(1e4, 1e6, 31)
OMEGA = 2 * np.pi * FREQUENCY


def across(*branches):
    """Impedance of branches across each other."""
    return 1 / sum(1 / branch for branch in branches)


def written_out(name, values):
    """The network of a circuit from its elements, without any of our code."""
    inductance, capacitance = values[:2]
    coil = 1j * OMEGA * inductance
    capacitor = 1 / (1j * OMEGA * capacitance)
    if name == "coupled-pair":
        resistance, k, f2, q2 = values[2:]
        other = 1e-4  # any inductance of the second coil gives the same
        w2 = 2 * np.pi * f2
        loop = w2 * other / q2 + 1j * OMEGA * other + w2**2 * other / (1j * OMEGA)
        mutual = k * math.sqrt(inductance * other)
        return across(coil + resistance + (OMEGA * mutual) ** 2 / loop, capacitor)
    copper = coil + values[2]
    if name != "tank":
        copper = copper + values[3] * np.sqrt(FREQUENCY)
    branches = [copper, capacitor] + ([values[4]] if name.endswith("core loss") else [])
    return across(*branches)


@pytest.mark.parametrize("name", ["tank", "coil", "coil with core loss", "coupled-pair"])
def test_the_impedance_is_that_of_the_network_written_out(name):
    values = element_values(name)
    z = EVERY[name].impedance(FREQUENCY, values)
    np.testing.assert_allclose(z, written_out(name, values), rtol=1e-12)


def test_without_skin_effect_a_coil_is_a_tank():
    tank, coil = EVERY["tank"], EVERY["coil"]
    values = element_values("tank")
    same = coil.impedance(FREQUENCY, (*values, 0.0))
    np.testing.assert_allclose(same, tank.impedance(FREQUENCY, values), rtol=1e-14)


def test_without_coupling_a_pair_is_a_tank():
    values = element_values("tank")
    same = EVERY["coupled-pair"].impedance(FREQUENCY, (*values, 1e-9, 2e5, 30.0))
    np.testing.assert_allclose(same, EVERY["tank"].impedance(FREQUENCY, values), rtol=1e-12)


@pytest.mark.parametrize("q", [1e3, 1e5, 1e7])
def test_a_sharp_resonance_keeps_its_digits(q):
    # at the resonance Z = X^2 / R - jX exactly: cancellation would show in the digits
    x = 1000.0
    inductance, capacitance = x / (2 * np.pi * 1e5), 1 / (2 * np.pi * 1e5 * x)
    z = EVERY["tank"].impedance([1e5], (inductance, capacitance, x / q))[0]
    assert z == pytest.approx(x * q - 1j * x, rel=1e-15 * 10 * q)


@pytest.mark.parametrize("name", ["tank", "coil", "coil with core loss", "coupled-pair"])
def test_the_coil_branch_has_the_slopes_it_says(name):
    circuit, values, omega = EVERY[name], element_values(name), 2 * np.pi * 134.2e3
    _, slopes = coil_branch(circuit.elements, omega, values)
    for place in range(values.size):
        step = np.zeros(values.size)
        step[place] = 1e-6 * values[place]
        above, _ = coil_branch(circuit.elements, omega, values + step)
        below, _ = coil_branch(circuit.elements, omega, values - step)
        assert (above - below) / (2 * step[place]) == pytest.approx(slopes[place], rel=1e-6)


def test_the_coil_branch_of_a_lossy_core_lies_across_its_loss():
    values = element_values("coil with core loss")
    omega = 2 * np.pi * 134.2e3
    z, _ = coil_branch(EVERY["coil with core loss"].elements, omega, values)
    copper = values[2] + values[3] * math.sqrt(134.2e3) + 1j * omega * values[0]
    assert z == pytest.approx(1 / (1 / copper + 1 / values[4]), rel=1e-12)
