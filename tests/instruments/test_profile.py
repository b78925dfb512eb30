from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ProfileError
from benchapp.instruments.profile import (
    METHODS,
    SENDS,
    AnswerForm,
    Column,
    Profile,
    fill,
    written,
)


def profile(**changes):
    given = {
        "title": "t",
        "method": "impedance-points",
        "answer": AnswerForm(columns=(Column(role="R"), Column(role="X"))),
        "send": {"frequency": ("F {frequency}", "GO"), "sweep": ("{start}-{stop}/{points}",)},
        "ask": {"read": "R?"},
    }
    return Profile(**(given | changes))


def test_an_act_gives_its_texts_with_the_values_in_their_places():
    assert profile().commands("frequency", frequency=1000.0) == ("F 1000", "GO")
    sweep = profile().commands("sweep", start=1.0, stop=2.5, points=3)
    assert sweep == ("1-2.5000000000E+00/3",)


def test_an_act_that_is_not_described_sends_nothing():
    assert profile().commands("level", level=1.0) == ()


@pytest.mark.parametrize(
    ("text", "filled"),
    [
        ("F {frequency} {frequency}", "F 5 5"),
        ("{frequency.__class__}", "{frequency.__class__}"),
        ("{0}{frequency!r}", "{0}{frequency!r}"),
        ("%(frequency)s $frequency", "%(frequency)s $frequency"),
    ],
)
def test_nothing_in_a_text_but_a_plain_name_in_braces_is_replaced(text, filled):
    assert fill(text, {"frequency": "5"}) == filled


@given(st.floats(allow_nan=False, allow_infinity=False, width=32).map(float))
def test_a_number_is_written_so_that_it_reads_back(value):
    for numbers in ("plain", "exponent"):
        text = written(value, numbers)
        assert float(text) == pytest.approx(value, rel=1e-10, abs=0)
        assert text.isascii()
    assert "E" not in written(value, "plain").upper()


@pytest.mark.parametrize("value", [math.inf, math.nan])
def test_what_is_no_number_is_never_sent(value):
    with pytest.raises(ProfileError, match="a number to send: must be finite"):
        written(value, "plain")


@pytest.mark.parametrize(
    ("order", "expected"), [("big", np.dtype(">i2")), ("little", np.dtype("<i2"))]
)
def test_numbers_of_a_block_have_the_chosen_kind_and_order(order, expected):
    form = AnswerForm(columns=(Column(role="voltage"),), number="int16", byte_order=order)
    assert form.dtype == expected


def test_every_method_needs_acts_and_questions_that_exist():
    for needs in METHODS.values():
        assert set(needs.send) <= set(SENDS)
        assert {"output_off", "output_on"} <= set(needs.send)
        assert needs.ask
