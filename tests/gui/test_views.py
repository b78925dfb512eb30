"""Plotted quantities follow from the impedance by their definitions."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Response, Sweep, Transient
from benchapp.gui.views import (
    VIEWS,
    abscissa,
    ordinate,
    points_outside,
    spans_decades,
    views_for,
)
from tests.gui.factories import envelope, response, sweep, transient

F = np.array([1e3, 1e5])
W = 2 * np.pi * F


def traces(key):
    return VIEWS[key].upper.of, VIEWS[key].lower.of


def test_a_series_coil_shows_its_inductance_and_q():
    inductance, quality = traces("inductance-quality")
    z = 2.0 + 1j * W * 1.5e-3
    assert inductance(F, z) == pytest.approx([1.5e-3, 1.5e-3])
    assert quality(F, z) == pytest.approx(W * 1.5e-3 / 2.0)


def test_a_parallel_capacitor_shows_its_capacitance_and_dissipation():
    capacitance, dissipation = traces("capacitance-dissipation")
    z = 1 / (1e-6 + 1j * W * 868e-12)
    assert capacitance(F, z) == pytest.approx([868e-12, 868e-12])
    assert dissipation(F, z) == pytest.approx(1e-6 / (W * 868e-12))


def test_magnitude_and_phase_are_those_of_the_impedance():
    magnitude, phase = traces("magnitude-phase")
    z = np.array([3 + 4j, -1j])
    assert magnitude(F, z) == pytest.approx([5, 1])
    assert phase(F, z) == pytest.approx([53.130102, -90])


def test_resistance_and_reactance_are_the_parts_of_the_impedance():
    resistance, reactance = traces("resistance-reactance")
    z = np.array([3 + 4j, 1 - 2j])
    assert resistance(F, z) == pytest.approx([3, 1])
    assert reactance(F, z) == pytest.approx([4, -2])


def test_q_without_a_positive_resistance_has_no_value():
    _, quality = traces("inductance-quality")
    assert np.isnan(quality(F, np.array([0 + 5j, -1 + 5j]))).all()


@pytest.mark.parametrize(
    ("capture", "kind", "first"),
    [
        (sweep(5), Sweep, "magnitude-phase"),
        (response(), Response, "ratio"),
        (transient(), Transient, "voltage"),
    ],
    ids=["sweep", "response", "transient"],
)
def test_each_kind_of_capture_has_views_of_its_own(capture, kind, first):
    offered = views_for(capture)
    assert offered[0].key == first
    assert all(view.kind is kind for view in offered)
    x, y = abscissa(capture), ordinate(capture)
    for view in offered:
        for trace in filter(None, (view.upper, view.lower)):
            assert trace.of(x, y).shape == x.shape


def test_keys_are_unique_and_envelopes_name_real_columns():
    assert len(VIEWS) == len({view.title for view in VIEWS.values()})
    band = envelope(np.array([1e5]))
    for view in VIEWS.values():
        for trace in filter(None, (view.upper, view.lower)):
            for column in trace.envelope or ():
                assert getattr(band, column).shape == (1,)


def test_a_record_over_time_is_plotted_over_time():
    ring = transient()
    assert abscissa(ring) is ring.time
    assert ordinate(ring).real == pytest.approx(ring.voltage)


def test_points_outside_a_band_are_those_below_and_above_it():
    capture = sweep(5)
    assert points_outside(capture, None) == set()
    assert points_outside(capture, (120e3, 144e3)) == {0, 4}
    assert points_outside(transient(), (1.0, 2.0)) == set()


def test_a_sweep_over_a_decade_or_more_spans_decades():
    wide = Sweep(frequency=[1e3, 1e4], impedance=[1, 1])
    assert spans_decades(wide)
    assert not spans_decades(sweep(5))
    assert not spans_decades(transient())
