from __future__ import annotations

import numpy as np
import pytest

from benchapp.errors import LinkError
from benchapp.instruments.answer import impedance, same, understand
from benchapp.instruments.profile import AnswerForm, Column

F = np.array([1e5])


def form(*roles, **more):
    columns = tuple(Column(role=role) if isinstance(role, str) else role for role in roles)
    return AnswerForm(columns=columns, **more)


RX = form("R", "X")


def test_a_line_of_numbers_is_taken_apart_in_order():
    rows = understand("1.5, -2.5E+1,3,4", RX)
    np.testing.assert_array_equal(rows.values["R"], [1.5, 3.0])
    np.testing.assert_array_equal(rows.values["X"], [-25.0, 4.0])
    assert rows.aside == ("", "")
    assert rows.good.all()


@pytest.mark.parametrize(
    ("separator", "text"), [(";", "1;2"), (" ", "  1   2 "), ("\t", "1\t2"), (",", " 1 , 2 ")]
)
def test_any_separator_and_blanks_around_are_fine(separator, text):
    rows = understand(text, form("R", "X", separator=separator))
    assert (rows.values["R"][0], rows.values["X"][0]) == (1.0, 2.0)


@pytest.mark.parametrize("number", ["float64", "float32", "int32", "int16", "int8"])
@pytest.mark.parametrize("order", ["big", "little"])
def test_a_block_of_any_number_kind_is_taken_apart(number, order):
    shape = form("R", "X", number=number, byte_order=order)
    content = np.array([1, -2, 3, 4]).astype(shape.dtype).tobytes()
    rows = understand(content, shape, 2)
    np.testing.assert_array_equal(rows.values["R"], [1, 3])
    np.testing.assert_array_equal(rows.values["X"], [-2, 4])


def test_factors_bring_values_to_si_units():
    rows = understand("1620,80", form(Column(role="Ls", factor=1e-6), "Q"))
    assert rows.values["Ls"][0] == pytest.approx(1.62e-3)


def test_words_in_skipped_columns_do_not_matter():
    rows = understand("Z 5 P 6", form("skip", "R", "skip", "X", separator=" "))
    assert (rows.values["R"][0], rows.values["X"][0]) == (5.0, 6.0)


@pytest.mark.parametrize(
    ("reply", "count", "why"),
    [
        ("1,2,3", None, r"must hold 2 values a point \(got 3: '1,2,3'\)"),
        ("1,2", 2, r"must hold 2 values for each of 2 points \(got 2"),
        ("", None, r"must hold 2 values a point \(got 1: ''\)"),
        (b"", None, r"must hold 2 values a point \(got 0: 'a block of 0 bytes'\)"),
        ("1,abc", None, r"must hold numbers where the profile says so \(got '1,abc'\)"),
        (b"1234567", None, r"whole numbers of 8 bytes \(got 7 bytes\)"),
    ],
)
def test_an_answer_of_another_shape_is_refused(reply, count, why):
    with pytest.raises(LinkError, match=why):
        understand(reply, RX, count)


def test_a_status_that_is_not_good_sets_its_row_aside_whatever_its_numbers_are():
    shape = form("R", "X", "status", good=("0", "N"))
    rows = understand("1,2,0,----,----,+3,5,6,N,7,8,0.0", shape)
    assert rows.aside == ("", "status +3", "", "")
    np.testing.assert_array_equal(rows.values["R"][rows.good], [1, 5, 7])


@pytest.mark.parametrize("value", ["9.9E37", "-9.9E37", "9.91E37", "inf", "nan"])
def test_the_numbers_for_no_number_are_set_aside(value):
    """SCPI-1999: +-9.9E37 for infinity, 9.91E37 for not a number."""
    assert understand(f"{value},2", RX).aside == ("overload",)
    assert understand(f"1,{value}", RX).aside == ("overload",)


def test_an_instruments_own_overload_value_counts():
    assert understand("1e10,2", form("R", "X", overload=1e9)).aside == ("overload",)


def test_a_status_in_a_block_is_a_number():
    shape = form("R", "X", "status", good=("0",))
    content = np.array([1, 2, 0, 3, 4, 2], dtype=">f8").tobytes()
    assert understand(content, shape).aside == ("", "status 2.0")


@pytest.mark.parametrize(
    ("roles", "text"),
    [
        (("R", "X"), "3,4"),
        ((Column(role="|Z|"), Column(role="theta", factor=np.pi / 180)), "5,53.13010235415598"),
        (("Ls", "Rs"), f"{4 / (2 * np.pi * 1e5)!r},3"),
        (("Ls", "Q"), f"{4 / (2 * np.pi * 1e5)!r},{4 / 3!r}"),
        (("Cp", "G"), f"{-0.16 / (2 * np.pi * 1e5)!r},0.12"),
    ],
)
def test_any_pair_gives_the_same_impedance(roles, text):
    assert impedance(understand(text, form(*roles)), F)[0] == pytest.approx(3 + 4j, rel=1e-12)


def test_a_row_set_aside_has_no_impedance():
    assert not np.isfinite(impedance(understand("9.9E37,4", RX), F)[0])


@pytest.mark.parametrize(
    ("answer", "wanted", "equal"),
    [
        ("1", "1", True),
        ("+1", "1", True),
        ("1.0E+00", "1", True),
        ("READY", "READY", True),
        ("1x", "1", False),
        ("", "1", False),
        ("10", "1", False),
    ],
)
def test_an_answer_is_the_wanted_one_as_text_or_as_number(answer, wanted, equal):
    assert same(answer, wanted) is equal
