"""Captures: lawful arrays, no change after making, identity by content."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, astuple, fields

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


@pytest.mark.parametrize("make", MAKERS)
def test_every_field_takes_part_in_the_digest(make):
    first = make()
    other = {
        "noise": Noise(kind="relative", level=1e-3),
        "conditions": Conditions(level_volt=0.5),
        "origin": Origin(part="0147"),
        "history": (Step(name="port delay"),),
        "kind": "transmission",
        "reference": 75.0,
        "noise_level": 1e-4,
        "step_volt": 8e-3,
        "limits_volt": (-1.0, 1.0),
    }
    held = {entry.name for entry in fields(first)} & set(other)
    digests = {make(**{name: other[name]}).digest for name in held}
    assert len(digests) == len(held) >= 4
    assert first.digest not in digests


@pytest.mark.parametrize(
    "stated",
    [
        {"level_volt": 0.0},
        {"level_ampere": 0.0},
        {"bias_volt": 0.0},
        {"bias_ampere": 0.0},
        {"temperature_celsius": 0.0},
        {"equivalent_circuit": "series"},
        {"fixture": ""},
        {"surroundings": ""},
    ],
)
def test_zero_or_nothing_stated_is_another_thing_than_not_stated(stated):
    assert sweep(conditions=Conditions(**stated)).digest != sweep().digest
    assert all(value is None for value in astuple(Conditions()))


def test_captures_of_another_kind_never_share_a_digest():
    ratio = Response(frequency=F, ratio=Z / 10, kind="gain")
    assert len({sweep().digest, response().digest, ratio.digest, transient().digest}) == 4


def test_steps_are_kept_in_their_order():
    first, second = Step(name="open"), Step(name="short")
    one = sweep().with_step(first).with_step(second)
    other = sweep().with_step(second).with_step(first)
    assert [step.name for step in one.history] == ["open", "short"]
    assert one.digest != other.digest


@pytest.mark.parametrize("make", MAKERS)
def test_a_step_that_would_break_a_rule_is_refused_and_loses_nothing(make):
    first = make()
    name = "time" if make is transient else "frequency"
    with pytest.raises(CaptureError, match="must rise strictly"):
        first.with_step(Step(name="odd"), **{name: F[::-1]})
    assert first.digest == make().digest


@pytest.mark.parametrize("make", MAKERS)
def test_no_field_can_be_set_after_making(make):
    first = make()
    for entry in fields(first):
        with pytest.raises(FrozenInstanceError):
            setattr(first, entry.name, None)


def test_the_error_of_a_bad_point_names_its_place_for_the_window_too():
    with pytest.raises(CaptureError, match="at point 2") as caught:
        sweep(impedance=[1, np.nan, np.nan])
    assert caught.value.facts["points"] == [1, 2]
    assert caught.value.hint == "Set unreadable points aside before making a capture."
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)


@given(scale=st.floats(1e-6, 1e6), count=st.integers(1, 30))
def test_values_go_in_and_come_out_to_the_last_bit(scale, count):
    rng = np.random.default_rng(count)
    z = scale * (rng.standard_normal(count) + 1j * rng.standard_normal(count))
    f = np.cumsum(rng.random(count) + 0.1)
    made = Sweep(frequency=f.tolist(), impedance=z.tolist())
    assert np.array_equal(made.impedance, z)
    assert np.array_equal(made.frequency, f)
    assert made.digest == Sweep(frequency=f, impedance=z).digest
