from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench import Core, Device, Element, Fixture, Setup, draw
from benchapp.bench.device import impedance, seen, settling_time
from benchapp.bench.fixture import OPEN
from benchapp.errors import UsageError
from tests.bench.conftest import part
from tests.truth.spice import PRINTED, SWEEPS, load

F = np.array([100e3, 134.2e3, 170e3])


@pytest.mark.parametrize("name", SWEEPS)
def test_a_part_has_the_impedance_that_an_independent_simulator_finds(name):
    solved = load(name)
    ours = impedance(part(solved.circuit, **solved.elements), solved.x)
    assert np.all(np.abs(ours - solved.y) <= PRINTED * np.abs(solved.y))


def test_an_unknown_circuit_is_refused_with_the_known_ones():
    with pytest.raises(UsageError, match=r"circuit must be a known one.*'ladder'.*tank"):
        Device(circuit="ladder", elements=())


def test_elements_of_another_circuit_are_refused_by_name():
    with pytest.raises(UsageError, match=r"elements must be L C R .got L C."):
        part("tank", L=1e-3, C=1e-9)


def test_an_element_given_twice_is_refused():
    twice = tuple(Element(name=name, value=1.0) for name in ("L", "C", "R", "R"))
    with pytest.raises(UsageError, match=r"elements must be L C R .got L C R R."):
        Device(circuit="tank", elements=twice)


def test_warming_copper_by_fifty_kelvin_raises_its_resistance_by_a_fifth():
    coil = Device(
        circuit="inductor",
        elements=(
            Element(name="R", value=10.0, per_kelvin=0.00393),
            Element(name="L", value=1e-3),
        ),
    )
    warm = impedance(coil, F, temperature_celsius=73.0)
    np.testing.assert_allclose(warm.real, 10 * (1 + 50 * 0.00393))
    np.testing.assert_allclose(warm.imag, impedance(coil, F).imag)


def test_a_part_without_core_is_the_same_at_every_level(tank):
    np.testing.assert_array_equal(impedance(tank, F, volt=10.0), impedance(tank, F, volt=0.0))


def test_a_core_in_line_follows_rayleighs_law():
    """At constant current: L grows by growth*I_peak, R by 4/(3 pi) omega L growth I_peak."""
    growth = 0.5
    plain = part("inductor", R=1.0, L=1e-3)
    cored = replace(plain, core=Core(growth_per_ampere=growth))
    omega = 2 * np.pi * F
    z = impedance(cored, F, volt=20.0)
    peak = np.sqrt(2) * 20.0 / np.abs(z)
    np.testing.assert_allclose(z.imag, omega * 1e-3 * (1 + growth * peak), rtol=1e-6)
    loss = 4 / (3 * np.pi) * omega * 1e-3 * growth * peak
    np.testing.assert_allclose(z.real, 1.0 + loss, rtol=1e-6)


@pytest.mark.parametrize(
    ("circuit", "elements"),
    [
        ("tank", {"L": 1.62e-3, "C": 868e-12, "R": 17.0}),
        ("coil", {"L": 1.62e-3, "C": 9e-12, "Rdc": 6.0, "Rac": 0.03}),
    ],
)
def test_a_core_across_the_clips_sees_the_current_of_its_own_branch(circuit, elements):
    growth, volt, f = 2.0, 1.0, np.array([50e3])
    cored = replace(part(circuit, **elements), core=Core(growth_per_ampere=growth))
    z = impedance(cored, f, volt=volt)[0]
    omega = 2 * np.pi * f[0]
    branch = 1 / (1 / z - 1j * omega * elements["C"])
    peak = np.sqrt(2) * volt / abs(branch)
    assert branch.imag == pytest.approx(omega * elements["L"] * (1 + growth * peak), rel=1e-4)


def test_parts_of_one_design_scatter_as_stated_and_repeat_from_the_seed():
    design = Device(
        circuit="inductor",
        elements=(
            Element(name="R", value=10.0, spread=0.0),
            Element(name="L", value=1e-3, spread=0.02),
        ),
        name="design",
    )

    def lot():
        rng = np.random.default_rng(7)
        return [draw(design, rng, name=str(n)) for n in range(2000)]

    values = np.array([device.value("L") for device in lot()])
    assert values.std() / 1e-3 == pytest.approx(0.02, rel=0.06)  # 4 sigma of a deviation
    assert values.mean() == pytest.approx(1e-3, abs=4 * 0.02e-3 / np.sqrt(2000))
    assert {device.value("R") for device in lot()} == {10.0}
    assert [device.name for device in lot()[:2]] == ["0", "1"]
    np.testing.assert_array_equal(values, [device.value("L") for device in lot()])


def test_contacts_add_their_resistance_inside_the_fixture(tank):
    setup = Setup(device=tank, contact_ohm=0.5)
    np.testing.assert_allclose(seen(setup, F), impedance(tank, F) + 0.5)


def test_the_fixture_lies_between_part_and_instrument(tank):
    setup = Setup(device=tank, fixture=Fixture(open_farad=10e-12))
    more = part("tank", L=1.62e-3, C=878e-12, R=17.08)
    np.testing.assert_allclose(seen(setup, F), impedance(more, F), rtol=1e-12)


def test_a_plain_resistance_stands_for_a_resistor_a_short_or_an_empty_fixture():
    stray = Fixture(open_farad=2e-12, short_ohm=0.04)
    for ohm in (0.0, 50.0):
        np.testing.assert_allclose(seen(Setup(device=ohm), F), ohm)
    assert seen(Setup(device=0.0, fixture=stray), F)[0] == pytest.approx(0.04)
    empty = seen(Setup(device=OPEN, fixture=stray), F)
    np.testing.assert_allclose((1 / empty).imag, 2 * np.pi * F * 2e-12, rtol=1e-6)
    assert settling_time(50.0) == 0.0


@pytest.mark.parametrize(
    ("circuit", "elements", "tau"),
    [
        ("tank", {"L": 1e-3, "C": 1e-9, "R": 10.0}, 2e-4),
        ("series-rlc", {"L": 1e-3, "C": 1e-9, "R": 10.0}, 2e-4),
        ("parallel-rlc", {"L": 1e-3, "C": 1e-9, "R": 1e5}, 2e-4),
        ("coil", {"L": 1e-3, "C": 1e-9, "Rdc": 5.0, "Rac": 5 / 159154.943**0.5}, 2e-4),
        ("inductor", {"L": 1e-3, "R": 10.0}, 0.0),
    ],
)
def test_a_part_settles_with_the_time_constant_of_its_resonance(circuit, elements, tau):
    """tau = 2L/R in series and 2RC across; Q = pi f0 tau = 100 here."""
    assert settling_time(part(circuit, **elements)) == pytest.approx(tau, rel=1e-6)
