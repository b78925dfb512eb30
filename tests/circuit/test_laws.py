"""Laws that every circuit keeps: scaling, limits, duality, and what a resonance looks like."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.circuit import CIRCUITS
from tests.circuit import EVERY, element_values

FREQUENCY = np.geomspace(2e4, 8e5, 31)
LEVEL = {"L": 1.0, "R": 1.0, "Rdc": 1.0, "Rac": 1.0, "Rcore": 1.0, "C": -1.0}
PITCH = {"L": -1.0, "C": -1.0, "Rac": -0.5, "f2": 1.0}
RESONANT = ("series-rlc", "parallel-rlc", "tank", "coil", "coil with core loss")


def _powers(name, table):
    return np.array([table.get(element, 0.0) for element in EVERY[name].elements])


@pytest.mark.parametrize("name", EVERY)
@given(factor=st.floats(1e-3, 1e3))
@settings(max_examples=30)
def test_a_circuit_moved_in_frequency_keeps_its_shape(name, factor):
    values = element_values(name)
    moved = values * factor ** _powers(name, PITCH)
    np.testing.assert_allclose(
        EVERY[name].impedance(FREQUENCY * factor, moved),
        EVERY[name].impedance(FREQUENCY, values),
        rtol=1e-10,
    )


@pytest.mark.parametrize("name", EVERY)
@given(factor=st.floats(1e-6, 1e6))
@settings(max_examples=30)
def test_the_level_of_impedance_scales_over_twelve_decades(name, factor):
    values = element_values(name)
    scaled = values * factor ** _powers(name, LEVEL)
    z = EVERY[name].impedance(FREQUENCY, scaled) / factor
    np.testing.assert_allclose(z, EVERY[name].impedance(FREQUENCY, values), rtol=1e-10)


@pytest.mark.parametrize("name", EVERY)
def test_the_gradient_adds_up_to_one_for_the_level(name):
    # Euler's theorem: Z is homogeneous of degree one in the level of impedance.
    values = element_values(name)
    slopes = EVERY[name].gradient(FREQUENCY, values) * values[:, None]
    np.testing.assert_allclose(_powers(name, LEVEL) @ slopes, 1.0, atol=1e-9)


@pytest.mark.parametrize("name", EVERY)
def test_the_gradient_adds_up_to_the_slope_over_frequency(name):
    # and of degree zero in frequency together with all that has a pitch.
    values, step = element_values(name), 1e-6
    slopes = EVERY[name].gradient(FREQUENCY, values) * values[:, None]
    above, below = (
        np.log(EVERY[name].impedance(FREQUENCY * (1 + sign * step), values)) for sign in (1, -1)
    )
    by_frequency = (above - below) / (2 * step)
    np.testing.assert_allclose(-_powers(name, PITCH) @ slopes, by_frequency, atol=2e-6)


@pytest.mark.parametrize("name", EVERY)
def test_points_are_independent_of_each_other_and_of_their_order(name):
    values = element_values(name)
    z = EVERY[name].impedance(FREQUENCY, values)
    order = np.random.default_rng(1).permutation(FREQUENCY.size)
    np.testing.assert_allclose(EVERY[name].impedance(FREQUENCY[order], values), z[order])
    alone = [EVERY[name].impedance(FREQUENCY[k : k + 1], values)[0] for k in range(FREQUENCY.size)]
    np.testing.assert_allclose(alone, z, rtol=1e-11)


def _omega(frequency):
    return 2 * np.pi * frequency


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("series-rlc", lambda f, v: 1 / (1j * _omega(f) * v[1])),
        ("parallel-rlc", lambda f, v: 1j * _omega(f) * v[0]),
        ("tank", lambda f, v: v[2] + 1j * _omega(f) * v[0]),
        ("coil", lambda f, v: v[2] + v[3] * f**0.5 + 1j * _omega(f) * v[0]),
        ("inductor", lambda _, v: v[1]),
        ("capacitor", lambda f, v: 1 / (1j * _omega(f) * v[0])),
        ("coupled-pair", lambda f, v: v[2] + 1j * _omega(f) * v[0]),
    ],
)
def test_far_below_resonance_one_element_is_left(name, expected):
    frequency = 1e-3 if name == "inductor" else 10.0
    z = CIRCUITS[name].impedance([frequency], element_values(name))[0]
    assert z == pytest.approx(expected(frequency, element_values(name)), rel=1e-5)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("series-rlc", lambda w, v: 1j * w * v[0]),
        ("parallel-rlc", lambda w, v: 1 / (1j * w * v[1])),
        ("tank", lambda w, v: 1 / (1j * w * v[1])),
        ("coil", lambda w, v: 1 / (1j * w * v[1])),
        ("inductor", lambda w, v: 1j * w * v[0]),
        ("capacitor", lambda w, v: 1j * w * v[2]),
        ("coupled-pair", lambda w, v: 1 / (1j * w * v[1])),
    ],
)
def test_far_above_resonance_one_element_is_left(name, expected):
    z = CIRCUITS[name].impedance([1e10], element_values(name))[0]
    assert z == pytest.approx(expected(_omega(1e10), element_values(name)), rel=1e-4)


@given(
    henry=st.floats(1e-7, 1.0),
    farad=st.floats(1e-13, 1e-5),
    ohm=st.floats(1e-3, 1e6),
)
def test_series_and_parallel_are_duals_of_each_other(henry, farad, ohm):
    series = CIRCUITS["series-rlc"].impedance(FREQUENCY, (henry, farad, ohm))
    parallel = CIRCUITS["parallel-rlc"].impedance(FREQUENCY, (farad, henry, 1 / ohm))
    np.testing.assert_allclose(1 / parallel, series, rtol=1e-9, atol=1e-9 * ohm)


@pytest.mark.parametrize("name", ["series-rlc", "parallel-rlc"])
def test_at_f0_a_straight_circuit_is_its_resistance_alone(name):
    values = element_values(name)
    f0 = 1 / (2 * np.pi * np.sqrt(values[0] * values[1]))
    assert CIRCUITS[name].impedance([f0], values)[0] == pytest.approx(values[2], rel=1e-9)


@pytest.mark.parametrize("name", ["series-rlc", "parallel-rlc", "tank"])
def test_the_q_that_a_circuit_states_is_that_of_its_half_power_points(name):
    values = element_values(name)
    names, _, factors, exponents = CIRCUITS[name].powers
    told = dict(zip(names, factors * np.prod(values**exponents, axis=1), strict=True))
    fine = told["f0"] * np.linspace(1 - 2 / told["Q"], 1 + 2 / told["Q"], 400_001)
    z = np.abs(CIRCUITS[name].impedance(fine, values))
    size = 1 / z if name == "series-rlc" else z
    within = fine[size >= size.max() / np.sqrt(2)]
    assert told["f0"] / (within[-1] - within[0]) == pytest.approx(told["Q"], rel=2e-3)


@pytest.mark.parametrize("name", RESONANT)
@given(factor=st.floats(1.05, 5.0))
@settings(max_examples=12)
def test_more_capacitance_lowers_the_resonance_by_the_root(name, factor):
    circuit, values = EVERY[name], element_values(name)
    more = values * np.array([factor if each == "C" else 1.0 for each in circuit.elements])
    names, _, factors, exponents = circuit.powers
    place = names.index("f0")
    before, after = (factors[place] * np.prod(v ** exponents[place]) for v in (values, more))
    assert before / after == pytest.approx(factor**0.5)
    fine = np.linspace(0.9 * after, 1.1 * before, 20_001)
    size = [np.abs(circuit.impedance(fine, v)) for v in (values, more)]
    found = [fine[(np.argmin if name == "series-rlc" else np.argmax)(each)] for each in size]
    assert found[0] / found[1] == pytest.approx(factor**0.5, rel=2e-3)


def test_a_second_circuit_tuned_far_above_is_not_seen():
    values = element_values("coupled-pair")
    values[4] = 1e9
    np.testing.assert_allclose(
        CIRCUITS["coupled-pair"].impedance(FREQUENCY, values),
        CIRCUITS["tank"].impedance(FREQUENCY, values[:3]),
        rtol=1e-4,
    )


def test_a_second_circuit_tuned_far_below_takes_its_share_of_the_inductance():
    # Above its own resonance it is a closed turn without resistance: L (1 - k^2) is left.
    values = element_values("coupled-pair")
    values[4], values[5] = 1.0, 1e6
    leakage = (values[0] * (1 - values[3] ** 2), values[1], values[2])
    np.testing.assert_allclose(
        CIRCUITS["coupled-pair"].impedance(FREQUENCY, values),
        CIRCUITS["tank"].impedance(FREQUENCY, leakage),
        rtol=1e-4,
    )


@given(loss=st.floats(1e7, 1e12))
def test_a_core_without_loss_leaves_the_coil(loss):
    values = element_values("coil with core loss")
    values[4] = loss
    coil = EVERY["coil"].impedance(FREQUENCY, values[:4])
    cored = EVERY["coil with core loss"].impedance(FREQUENCY, values)
    most = np.abs(coil).max() / loss
    assert np.abs(cored / coil - 1).max() <= 1.01 * most
