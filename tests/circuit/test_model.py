"""A circuit gives its impedance and the exact gradient of its logarithm."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.circuit import EVERY, element_values

FREQUENCY = np.geomspace(1e4, 1e6, 25)


def relative(circuit, values, frequency=FREQUENCY):
    """Gradient by the logarithm of each element."""
    return circuit.gradient(frequency, values) * values[:, None]


@pytest.mark.parametrize("name", EVERY)
def test_the_gradient_is_the_slope_of_the_impedance(name):
    circuit, values = EVERY[name], element_values(name)
    for place, row in enumerate(relative(circuit, values)):
        step = np.ones(values.size)
        step[place] = 1 + 1e-5
        above = np.log(circuit.impedance(FREQUENCY, values * step))
        below = np.log(circuit.impedance(FREQUENCY, values / step))
        np.testing.assert_allclose(row, (above - below) / (2 * np.log1p(1e-5)), atol=1e-8)


@pytest.mark.parametrize("name", EVERY)
def test_the_gradient_has_a_row_for_each_element_and_a_column_for_each_frequency(name):
    circuit = EVERY[name]
    shape = circuit.gradient(FREQUENCY, element_values(name)).shape
    assert shape == (len(circuit.elements), FREQUENCY.size)
    assert len(circuit.units) == len(circuit.elements)


@pytest.mark.parametrize("name", EVERY)
def test_scaling_the_impedance_level_scales_the_impedance(name):
    # every L, R times k and every C over k makes Z times k
    circuit, values, k = EVERY[name], element_values(name), 7.0
    power = {"L": 1, "R": 1, "Rdc": 1, "Rac": 1, "Rcore": 1, "C": -1}
    scaled = values * np.array([k ** power.get(element, 0) for element in circuit.elements])
    np.testing.assert_allclose(
        circuit.impedance(FREQUENCY, scaled), k * circuit.impedance(FREQUENCY, values), rtol=1e-12
    )


@pytest.mark.parametrize("name", EVERY)
def test_a_passive_circuit_takes_power_at_every_frequency(name):
    z = EVERY[name].impedance(np.geomspace(1.0, 1e9, 200), element_values(name))
    assert np.all(z.real > 0)


@pytest.mark.parametrize("name", EVERY)
@given(
    scales=st.lists(st.floats(0.01, 100), min_size=6, max_size=6),
    reference=st.floats(1e2, 1e9),
)
def test_values_survive_the_way_to_coordinates_and_back(name, scales, reference):
    circuit = EVERY[name]
    values = element_values(name) * np.array(scales[: len(circuit.elements)])
    back, _ = circuit.decode(circuit.encode(values, reference), reference)
    np.testing.assert_allclose(back, values, rtol=1e-12)


@pytest.mark.parametrize("name", EVERY)
def test_many_points_are_decoded_as_each_alone(name):
    circuit, reference = EVERY[name], 6e5
    rows = [element_values(name) * factor for factor in (0.5, 1.0, 3.0)]
    points = np.array([circuit.encode(row, reference) for row in rows])
    values, slopes = circuit.decode(points, reference)
    for place, point in enumerate(points):
        alone, steep = circuit.decode(point, reference)
        np.testing.assert_allclose(values[place], alone, rtol=1e-15)
        np.testing.assert_allclose(slopes[place], steep, rtol=1e-15)


@pytest.mark.parametrize("name", EVERY)
def test_powers_name_elements_first_and_then_what_follows_from_them(name):
    circuit, values = EVERY[name], element_values(name)
    names, units, factors, exponents = circuit.powers
    made = dict(zip(names, factors * np.prod(values**exponents, axis=1), strict=True))
    assert names[: values.size] == circuit.elements
    assert len(units) == len(names)
    for element, value in zip(circuit.elements, values, strict=True):
        assert made[element] == pytest.approx(value)
    if "f0" in made:
        inductance = values[circuit.elements.index("L")]
        capacitance = values[circuit.elements.index("C")]
        expected = 1 / (2 * np.pi * np.sqrt(inductance * capacitance))
        assert made["f0"] == pytest.approx(expected)
