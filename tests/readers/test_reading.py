"""The values a reading is made of, and answers from text."""

from __future__ import annotations

import pickle

import pytest

from benchapp.errors import UsageError
from benchapp.readers import Answers, Question, SetAside


def test_answers_are_made_from_names_and_texts():
    made = Answers.from_mapping({"port": "reflection", "reference": "75", "probe": 10})
    assert made == Answers(port="reflection", reference=75.0, probe=10.0)
    assert made.given == {"port": "reflection", "reference": 75.0, "probe": 10.0}


def test_no_answers_give_nothing():
    assert Answers().given == {}
    assert Answers.from_mapping({}) == Answers()


def test_an_unknown_name_is_refused_with_the_known_ones():
    with pytest.raises(UsageError, match=r"answer: must be one of encoding, .* \(got 'prot'\)"):
        Answers.from_mapping({"prot": "reflection"})


@pytest.mark.parametrize("value", ["0", "-50", "many", "inf", "nan"])
def test_a_number_must_be_one_above_zero(value):
    with pytest.raises(
        UsageError, match=f"answer reference: must be a number above zero .*'{value}'"
    ):
        Answers.from_mapping({"reference": value})


def test_values_cross_a_process_boundary():
    for value in (Answers(port="x"), Question(name="port", text="?"), SetAside(line=3, why="cut")):
        assert pickle.loads(pickle.dumps(value)) == value
