"""Captures: lawful arrays, no change after making, identity by content."""

from __future__ import annotations

import copy
import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Conditions, Noise, Origin, Response, Step, Sweep, Transient
from benchapp.errors import CaptureError

F = np.array([1e3, 2e3, 3e3])
Z = np.array([1 + 1j, 2 + 2j, 3 + 3j])


def sweep(**changes) -> Sweep:
    return Sweep(**{"frequency": F, "impedance": Z, **changes})


def response(**changes) -> Response:
    return Response(**{"frequency": F, "ratio": Z / 10, "kind": "reflection", **changes})


def transient(**changes) -> Transient:
    return Transient(**{"time": [-1e-6, 0.0, 1e-6], "voltage": [0.0, 1.0, 0.5], **changes})


MAKERS = [sweep, response, transient]


@pytest.mark.parametrize("make", MAKERS)
def test_arrays_are_copied_in_and_read_only(make):
    source = np.array(F)
    capture = make(**({"frequency": source} if make is not transient else {"time": source}))
    source[:] = 7.0
    held = capture.time if make is transient else capture.frequency
    assert held.tolist() == F.tolist()
    with pytest.raises(ValueError, match="read-only"):
        held[0] = 1.0


@pytest.mark.parametrize("make", MAKERS)
def test_arrays_stay_read_only_after_pickling_and_copying(make):
    for twin in (pickle.loads(pickle.dumps(make())), copy.deepcopy(make()), copy.copy(make())):
        held = twin.voltage if make is transient else twin.frequency
        with pytest.raises(ValueError, match="read-only"):
            held[0] = 1.0
        assert twin.digest == make().digest


@pytest.mark.parametrize("make", MAKERS)
def test_equal_content_has_an_equal_digest_and_any_change_another(make):
    first = make()
    assert make().digest == first.digest
    changed = [
        make(conditions=Conditions(temperature_celsius=23.0)),
        make(origin=Origin(source="a.csv")),
        first.with_step(Step(name="open and short", detail="2 pF, 30 nH")),
    ]
    digests = {first.digest, *(capture.digest for capture in changed)}
    assert len(digests) == 1 + len(changed)


def test_one_changed_bit_of_an_array_changes_the_digest():
    moved = Z.copy()
    moved[1] = np.nextafter(2.0, 3.0) + 2j
    assert sweep(impedance=moved).digest != sweep().digest


def test_a_step_leaves_origin_and_the_earlier_capture_alone():
    first = sweep(origin=Origin(source="a.csv", sha256="ab" * 32))
    second = first.with_step(Step(name="port delay", detail="1.2 ns"), impedance=2 * Z)
    assert first.history == ()
    assert [step.name for step in second.history] == ["port delay"]
    assert second.origin == first.origin
    assert second.impedance.tolist() == (2 * Z).tolist()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"frequency": [1e3, 1e3, 2e3]}, "must rise strictly .* at point 2"),
        ({"frequency": [3e3, 2e3, 1e3]}, "must rise strictly"),
        ({"frequency": [0.0, 1e3, 2e3]}, "must be above zero"),
        ({"frequency": [1e3, np.nan, 2e3]}, "must be finite .* at point 2"),
        ({"impedance": [1, np.inf, 2]}, "must be finite"),
        ({"impedance": [1, 2]}, "as many points as frequency .*2 for 3"),
        ({"frequency": [], "impedance": []}, "at least one point"),
        ({"frequency": np.ones((2, 2))}, "one row of numbers"),
    ],
)
def test_a_sweep_refuses_what_cannot_be_a_sweep(changes, words):
    with pytest.raises(CaptureError, match=words):
        sweep(**changes)


def test_a_response_without_phase_holds_magnitudes_only():
    kept = response(ratio=[0.1, 0.2, 0.3], has_phase=False)
    assert kept.ratio.tolist() == [0.1, 0.2, 0.3]
    with pytest.raises(CaptureError, match="must hold magnitudes only"):
        response(has_phase=False)
    with pytest.raises(CaptureError, match="must hold magnitudes only"):
        response(ratio=[-0.1, 0.2, 0.3], has_phase=False)


def test_reference_and_noise_level_must_be_positive():
    with pytest.raises(CaptureError, match="reference impedance: must be positive"):
        response(reference=0.0)
    with pytest.raises(CaptureError, match="reference impedance: must be positive"):
        Noise(kind="reflection", reference=-50.0)
    with pytest.raises(CaptureError, match="noise level: must be positive"):
        Noise(level=0.0)


def test_time_may_start_below_zero_but_must_rise():
    assert transient().time[0] < 0
    with pytest.raises(CaptureError, match="time: must rise strictly"):
        transient(time=[0.0, 0.0, 1.0])
    with pytest.raises(CaptureError, match="as many points as time"):
        transient(voltage=[1.0])


def test_captures_compare_by_identity_not_by_array():
    assert sweep() != sweep()
    assert len({sweep(), sweep()}) == 2


@given(
    st.lists(st.floats(min_value=1e-3, max_value=1e12), min_size=1, max_size=40, unique=True).map(
        sorted
    )
)
def test_any_rising_positive_frequencies_make_a_sweep(frequency):
    made = sweep(frequency=frequency, impedance=np.full(len(frequency), 50.0 + 0j))
    assert made.frequency.tolist() == frequency
    assert pickle.loads(pickle.dumps(made)).digest == made.digest
