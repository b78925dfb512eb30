from __future__ import annotations

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Response
from benchapp.errors import UsageError
from benchapp.readers import read
from benchapp.report.touchstone import one_port, touchstone_of
from tests.report.samples import subject


def network(text, folder):
    path = folder / "x.s1p"
    path.write_text(text, encoding="ascii")
    return skrf.Network(str(path)), path


def test_a_sweep_read_by_an_independent_library_agrees_in_all_digits(tmp_path):
    capture = subject().capture
    found, _ = network(touchstone_of(capture), tmp_path)
    np.testing.assert_array_equal(found.f, capture.frequency)
    np.testing.assert_allclose(found.z[:, 0, 0], capture.impedance, rtol=1e-9)


def test_a_sweep_is_read_back_bit_for_bit(tmp_path):
    capture = subject().capture
    _, path = network(touchstone_of(capture, ("note",)), tmp_path)
    (back,) = read(path)
    np.testing.assert_array_equal(back.frequency, capture.frequency)
    np.testing.assert_array_equal(back.impedance, capture.impedance)


def test_a_reflection_keeps_its_port(tmp_path):
    f = np.array([1e5, 2e5])
    capture = Response(
        frequency=f, ratio=np.array([0.5 + 0.1j, -0.2j]), kind="reflection", reference=75.0
    )
    found, _ = network(touchstone_of(capture), tmp_path)
    np.testing.assert_array_equal(found.s[:, 0, 0], capture.ratio)
    assert found.z0[0, 0] == 75


@given(st.text())
def test_no_note_becomes_a_row(note):
    rows = one_port(np.array([1.0]), np.array([1 + 1j]), "Z", 1.0, (note,)).split("\n")
    assert rows[0].startswith("! ")
    assert rows[1:] == ["# Hz Z RI R 1.0", "1.0 1.0 1.0", ""]


@pytest.mark.parametrize("kind", ["gain", "transmission"])
def test_what_is_no_port_is_refused(kind):
    capture = Response(frequency=np.array([1.0]), ratio=np.array([1.0 + 0j]), kind=kind)
    with pytest.raises(UsageError, match="must be a sweep of impedance, or a reflection"):
        touchstone_of(capture)
