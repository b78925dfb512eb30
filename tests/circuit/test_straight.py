"""Elements in series add their impedances; elements across each other add their admittances."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.circuit.straight import basis, straight
from tests.circuit import EVERY, element_values

FREQUENCY = np.geomspace(1e3, 1e8, 40)
OMEGA = 2 * np.pi * FREQUENCY


@pytest.mark.parametrize("name", ["series-rlc", "inductor", "capacitor"])
def test_impedances_in_series_add(name):
    circuit, values = EVERY[name], element_values(name)
    value = dict(zip(circuit.elements, values, strict=True))
    expected = value["R"] + 1j * OMEGA * value.get("L", 0.0)
    if "C" in value:
        expected = expected + 1 / (1j * OMEGA * value["C"])
    np.testing.assert_allclose(circuit.impedance(FREQUENCY, values), expected, rtol=1e-12)


def test_admittances_across_each_other_add():
    inductance, capacitance, resistance = values = element_values("parallel-rlc")
    admittance = 1 / resistance + 1j * OMEGA * capacitance + 1 / (1j * OMEGA * inductance)
    z = EVERY["parallel-rlc"].impedance(FREQUENCY, values)
    np.testing.assert_allclose(z, 1 / admittance, rtol=1e-11)


def test_capacitor_and_series_circuit_are_the_same_impedance():
    capacitance, resistance, inductance = values = element_values("capacitor")
    same = EVERY["series-rlc"].impedance(FREQUENCY, (inductance, capacitance, resistance))
    np.testing.assert_allclose(EVERY["capacitor"].impedance(FREQUENCY, values), same, rtol=1e-12)


@pytest.mark.parametrize("family", ["series", "parallel"])
def test_the_immittance_is_linear_in_the_coordinates(family):
    y = np.geomspace(0.1, 10, 9)
    kernel, *_ = straight(("L", "C", "R"), family)
    p = np.array([2.0, 0.5, 0.1])
    z, _ = kernel(y, p)
    immittance = z if family == "series" else 1 / z
    np.testing.assert_allclose(immittance, p @ basis(("L", "C", "R"), family, y), rtol=1e-14)


def test_an_element_at_nothing_decodes_to_a_finite_value():
    _, _, decode = straight(("C", "R", "L"), "series")
    values, slopes = decode(np.array([0.0, 1.0, 2.0]), 1e6)
    assert np.all(np.isfinite(values))
    assert values[0] > 1e90
    assert np.isfinite(slopes[1:, 1:]).all()


def test_a_resistance_of_nothing_encodes_without_a_warning():
    _, encode, _ = straight(("L", "C", "R"), "series")
    assert encode(np.array([1e-3, 1e-9, 0.0]), 1e6)[2] == 0.0
    _, encode, _ = straight(("L", "C", "R"), "parallel")
    assert encode(np.array([1e-3, 1e-9, 0.0]), 1e6)[2] > 1e90
