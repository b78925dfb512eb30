from __future__ import annotations

import numpy as np
import skrf
from hypothesis import given
from hypothesis import strategies as st

from benchapp.bench.fixture import OPEN, SPEED_OF_LIGHT, Cable, Fixture, through

F = np.array([10e3, 100e3, 1e6, 10e6])


def same(impedance):
    return np.full(F.shape, impedance, dtype=complex)


def test_an_ideal_fixture_changes_nothing():
    z = same(3 + 4j)
    np.testing.assert_array_equal(through(Fixture(), F, z), z)


def test_a_short_shows_the_leads():
    z = through(Fixture(short_ohm=0.04, short_henry=30e-9, open_farad=2e-12), F, same(0))
    np.testing.assert_allclose(z, 0.04 + 2j * np.pi * F * 30e-9)


def test_an_open_shows_the_strays():
    fixture = Fixture(open_farad=2e-12, open_siemens=1e-9)
    z = through(fixture, F, same(OPEN))
    np.testing.assert_allclose(1 / z, 1e-9 + 2j * np.pi * F * 2e-12, rtol=1e-9)


def test_a_cable_is_the_line_that_a_general_network_library_has():
    """Independent reference: scikit-rf's transmission-line media."""
    cable = Cable(length=1.0, impedance=50.0, speed=0.66, loss_db=0.0)
    z = same(200 + 30j)
    frequency = skrf.Frequency.from_f(F, unit="Hz")
    media = skrf.media.DefinedGammaZ0(
        frequency, gamma=2j * np.pi * F / (0.66 * SPEED_OF_LIGHT), z0_port=50.0, z0=50.0
    )
    load = skrf.Network(frequency=frequency, z=z.reshape(-1, 1, 1), z0=50.0)
    reference = (media.line(1.0, "m") ** load).z[:, 0, 0]
    np.testing.assert_allclose(through(Fixture(cable=cable), F, z), reference, rtol=1e-9)


def test_a_quarter_wave_of_cable_turns_a_short_into_an_open():
    quarter = np.array([0.66 * SPEED_OF_LIGHT / 4])  # one metre is a quarter wave here
    fixture = Fixture(cable=Cable(length=1.0, loss_db=0.01))
    assert abs(through(fixture, quarter, np.array([0j]))[0]) > 1000


def test_cable_loss_is_the_stated_decibels_per_metre():
    """A matched pad of A dB seen twice: |reflection| of a short is 10^(-2A/20)."""
    fixture = Fixture(cable=Cable(length=3.0, loss_db=0.2))
    f = np.array([1e6, 4e6])
    z = through(fixture, f, np.zeros(2, dtype=complex))
    gamma = np.abs((z - 50) / (z + 50))
    np.testing.assert_allclose(20 * np.log10(gamma), [-2 * 3 * 0.2, -2 * 3 * 0.2 * 2], rtol=1e-9)


@given(
    farad=st.floats(0, 1e-9),
    ohm=st.floats(0, 10),
    henry=st.floats(0, 1e-6),
    length=st.floats(0.01, 3),
    resistance=st.floats(0, 1e6),
    reactance=st.floats(-1e6, 1e6),
)
def test_a_passive_part_stays_passive(farad, ohm, henry, length, resistance, reactance):
    fixture = Fixture(
        open_farad=farad, short_ohm=ohm, short_henry=henry, cable=Cable(length=length)
    )
    z = through(fixture, F, same(complex(resistance, reactance)))
    assert np.all(z.real >= -1e-9 * np.abs(z))
