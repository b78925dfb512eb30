"""Every value comes back as it went in, and the same value always gives the same text."""

from __future__ import annotations

import hashlib
import json
import math
import struct
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Step, Sweep, Transient
from benchapp.errors import RecordError
from benchapp.logbook import codec
from benchapp.logbook.codec import KINDS, canonical, decode, encode, named_blobs, sha256
from benchapp.nominal import Outcome
from benchapp.units import Estimate


def there_and_back(value):
    blobs = {}
    text = canonical(encode(value, blobs))
    assert named_blobs(text) == blobs.keys()
    return decode(json.loads(text), blobs.__getitem__)


def bits(number):
    return struct.pack("<d", number)


plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=4).map(tuple),
    max_leaves=10,
)


@given(plain)
def test_plain_values_come_back(value):
    assert there_and_back(value) == value


@given(st.floats())
def test_every_float_comes_back_bit_for_bit(number):
    found = there_and_back(number)
    assert math.isnan(found) if math.isnan(number) else bits(found) == bits(number)


@given(st.lists(st.integers(0, 2**64 - 1), min_size=1, max_size=40))
def test_every_pattern_of_bits_in_an_array_comes_back(patterns):
    array = np.array(patterns, dtype=np.uint64).view(np.float64)
    assert there_and_back(array).tobytes() == array.tobytes()


@pytest.mark.parametrize("size", [0, 1, 16, 17, 401])
@pytest.mark.parametrize("dtype", [np.float64, np.complex128, np.bool_, np.int64])
def test_arrays_of_every_kind_and_length_come_back(size, dtype):
    array = np.arange(size).astype(dtype)
    found = there_and_back(array)
    assert found.dtype == dtype
    assert np.array_equal(found, array)


def test_an_array_keeps_its_shape_and_order():
    array = np.asfortranarray(np.arange(35.0).reshape(5, 7))
    assert np.array_equal(there_and_back(array), array)


def test_a_long_array_is_a_blob_in_the_layout_that_is_documented():
    blobs = {}
    frequency = np.linspace(1e3, 2e3, 20)
    tree = encode(frequency, blobs)
    ((digest, content),) = blobs.items()
    assert content == struct.pack("<20d", *frequency)
    assert digest == hashlib.sha256(content).hexdigest() == sha256(content)
    assert tree == {"is": "array", "dtype": "<f8", "shape": [20], "blob": digest}


def test_a_big_endian_array_keeps_its_values():
    array = np.array([1.0, 2.5], dtype=">f8")
    assert there_and_back(array).tolist() == [1.0, 2.5]


def test_captures_come_back_with_the_same_digest(entry):
    transient = Transient(
        time=[-0.1, 0.0, 0.2], voltage=[1.0, -0.0, 3.0], limits_volt=(-5, 5), step_volt=0.1
    )
    corrected = entry.capture.with_step(Step(name="open", detail="C 0.1 pF"))
    for capture in (entry.capture, corrected, transient):
        assert there_and_back(capture).digest == capture.digest


def test_outcomes_mappings_bytes_and_complex_numbers_come_back():
    for value in (Outcome.FAIL, b"\0\xff", 1.5 - 2j, complex(0.0, -0.0), {"b": 1, "a": (2.5,)}):
        found = there_and_back(value)
        assert (dict(found) if isinstance(value, dict) else found) == value
    assert list(there_and_back({"b": 1, "a": 2})) == ["b", "a"]


def test_scalars_of_numpy_come_back_as_plain_numbers():
    assert there_and_back((np.float64(0.1), np.int64(3), np.bool_(True))) == (0.1, 3, True)


def test_a_typed_text_that_looks_like_a_blob_is_none():
    assert named_blobs(canonical(encode({"blob": '"blob":"' + "a" * 64 + '"'}, {}))) == set()


def test_equal_values_give_equal_text():
    one = Estimate(name="L", value=1.62e-3, u=None, unit="H")
    text = canonical(encode(one, {}))
    assert text == '{"is":"Estimate","name":"L","u":null,"unit":"H","value":0.00162}'
    assert text.isascii()
    assert canonical(encode("µ", {})) == '"\\u00b5"'


def test_a_value_of_no_known_kind_is_refused():
    @dataclass(frozen=True)
    class Stranger:
        x: int

    with pytest.raises(RecordError, match=r"values of a known kind \(got Stranger\)"):
        encode(Stranger(1), {})


def test_an_array_of_another_type_is_refused():
    with pytest.raises(RecordError, match=r"arrays of <f8.*\(got float32\)"):
        encode(np.zeros(3, dtype=np.float32), {})


@pytest.mark.parametrize(
    "tree",
    [
        {"is": "Hologram"},
        {"no": "kind"},
        {"is": "Step", "name": "x", "detail": "", "colour": "red"},
    ],
)
def test_what_a_newer_version_wrote_is_refused_in_plain_words(tree):
    with pytest.raises(RecordError, match="written by a newer version"):
        decode(tree, lambda _: b"")


def test_a_field_that_an_older_version_did_not_know_takes_its_default():
    tree = encode(Step(name="open", detail="x"), {})
    del tree["detail"]
    assert decode(tree, lambda _: b"") == Step(name="open")


def test_every_kind_that_is_measured_judged_or_planned_has_a_place():
    wanted = {"Sweep", "Response", "Transient", "Conditions", "Origin", "Step", "Noise", "Fit"}
    wanted |= {"Remark", "Alternative", "Opinion", "Nominal", "Limit", "Verdict", "LimitVerdict"}
    wanted |= {"Budget", "Term", "Finding", "Acknowledgement", "Answers", "Assumption", "Outcome"}
    assert wanted <= KINDS.keys()
    assert all(name == kind.__name__ for name, kind in KINDS.items())


def test_arrays_that_come_back_cannot_be_written_to(entry):
    found = there_and_back(entry.capture)
    assert isinstance(found, Sweep)
    with pytest.raises(ValueError, match="read-only"):
        found.frequency[0] = 1.0


def test_no_two_kinds_share_a_name():
    named = {}
    for room in codec._ROOMS:
        for name in room.__all__:
            kind = getattr(room, name)
            if name in KINDS and isinstance(kind, type):
                named.setdefault(name, set()).add(kind)
    for kind in codec._OTHERS:
        named.setdefault(kind.__name__, set()).add(kind)
    assert {name: kinds for name, kinds in named.items() if len(kinds) > 1} == {}
    assert KINDS["Finding"].__module__.startswith("benchapp.checks")
