"""The one family of errors."""

from __future__ import annotations

import pickle

import pytest

from benchapp import errors
from benchapp.errors import BenchError

CHILDREN = [getattr(errors, name) for name in errors.__all__ if name != "BenchError"]
BUILT_INS = {
    "CaptureError": ValueError,
    "FileAccessError": OSError,
    "FitError": ValueError,
    "LinkError": ConnectionError,
    "NominalError": ValueError,
    "ProfileError": ValueError,
    "QuantityError": ValueError,
    "ReadError": ValueError,
    "RecordAwayError": RuntimeError,
    "RecordError": RuntimeError,
    "UsageError": ValueError,
    "CancelledError": RuntimeError,
}


@pytest.mark.parametrize("kind", CHILDREN, ids=lambda kind: kind.__name__)
def test_each_child_is_a_bench_error_and_the_right_built_in(kind):
    assert issubclass(kind, BenchError)
    assert issubclass(kind, BUILT_INS[kind.__name__])


@pytest.mark.parametrize("kind", [BenchError, *CHILDREN], ids=lambda kind: kind.__name__)
def test_an_error_survives_pickling_whole(kind):
    error = kind("row 7: must be a number (got 'OL').", hint="Set it aside.", row=7)
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is kind
    assert (back.message, back.hint, back.facts) == (error.message, error.hint, {"row": 7})
    assert str(back) == "row 7: must be a number (got 'OL'). Set it aside."


@pytest.mark.parametrize("kind", [BenchError, *CHILDREN], ids=lambda kind: kind.__name__)
def test_without_a_hint_the_sentence_stands_alone(kind):
    assert str(kind("file: must exist (got 'a.csv').")) == "file: must exist (got 'a.csv')."


def test_every_error_of_the_family_is_public():
    assert set(BUILT_INS) == {kind.__name__ for kind in CHILDREN}
