"""A gauge study as a table: what is read, in which order, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError
from benchapp.lot import bias_of, linearity_of, study_table
from tests.coil.truth import values as sections

AIAG = np.array(sections("gauge_aiag.toml")["values"]).reshape(10, 3, 3)
HEAD = "part,person,trial,value"


def rows_of(values) -> list[str]:
    return [
        f"{part + 1},{'ABC'[person]},{trial + 1},{float(value)!r}"
        for (part, person, trial), value in np.ndenumerate(values)
    ]


SMALL = rows_of(np.arange(8.0).reshape(2, 2, 2))


def test_the_published_study_comes_out_as_parts_by_persons_by_trials():
    found = study_table("\n".join([HEAD, *rows_of(AIAG)]))
    assert np.array_equal(found.values, AIAG)
    assert found.persons == ("A", "B", "C")
    assert found.parts == tuple(str(part) for part in range(1, 11))
    assert (found.unit, found.references) == ("", None)


@given(st.permutations(rows_of(AIAG)))
def test_in_whatever_order_every_part_and_person_keep_their_own_values(rows):
    found = study_table("\n".join([HEAD, *rows]))
    parts = [int(part) - 1 for part in found.parts]
    persons = ["ABC".index(person) for person in found.persons]
    expected = AIAG[np.ix_(parts, persons)]
    assert np.array_equal(np.sort(found.values, axis=2), np.sort(expected, axis=2))


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_comma_semicolon_and_tabulator_part_the_cells(mark):
    text = "\n".join([HEAD, *SMALL]).replace(",", mark)
    assert study_table(text).values.tolist() == np.arange(8.0).reshape(2, 2, 2).tolist()


def test_a_decimal_comma_is_read_between_semicolons():
    text = "Part;Person;Trial;Value\n" + "\n".join(
        f"{part};A;{trial};1,62{part}{trial} mH" for part in "12" for trial in "12"
    )
    found = study_table(text)
    assert found.unit == "H"
    assert found.values[:, 0, :].ravel() == pytest.approx(
        [1.6211e-3, 1.6212e-3, 1.6221e-3, 1.6222e-3], rel=1e-12
    )


def test_further_columns_and_empty_lines_are_left_alone():
    rows = [f"{place},1-01,{row},note" for place, row in enumerate(SMALL)]
    found = study_table(
        "\n".join([f"order,blind,{HEAD},remark", *rows[:4], "", *rows[4:], ",,,,"])
    )
    assert found.values.shape == (2, 2, 2)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", r"study, line 1: must name the columns part, person, trial, value \(got none named"),
        ("part,person,value\n1,A,2", r"line 1: must name .* \(got none named trial\)"),
        ("\n".join([HEAD, *SMALL[:-1]]), "got no part 2, person B, trial 2"),
        ("\n".join([HEAD, *SMALL, SMALL[0]]), "got part 1, person A, trial 1 twice"),
        ("\n".join([HEAD, *SMALL[:3], "1,B,2,"]), r"line 5: must have a value \(got an empty"),
        ("\n".join([HEAD, "1,A,1"]), r"line 2: must have a value \(got an empty"),
        ("\n".join([HEAD, "1,A,1,much"]), "line 2: "),
        (
            "\n".join([HEAD, "1,A,1,1.62 mH", "1,A,2,1.63"]),
            r"line 3: must have the unit of the first value, H \(got '1.63'\)",
        ),
        (
            "\n".join([HEAD, "1,A,1,1.62", "1,A,2,1.63 mH"]),
            r"line 3: must have the unit of the first value, none \(got '1.63 mH'\)",
        ),
    ],
)
def test_a_study_that_is_not_whole_is_refused_with_the_place(text, words):
    with pytest.raises(ReadError, match=words):
        study_table(text)


def referenced(*stated: str) -> str:
    rows = [f"{row},{known}" for row, known in zip(SMALL, stated, strict=True)]
    return "\n".join([f"{HEAD},reference", *rows])


def test_a_reference_may_stand_once_for_its_part():
    found = study_table(referenced("1.5", "", "", "", "", "", "", "5.5"))
    assert found.references.tolist() == [1.5, 5.5]


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        (("1", "2", *[""] * 6), r"must state one reference for part 1 \(got two\)"),
        (("1", *[""] * 7), r"of every part or of none \(got none for part 2\)"),
    ],
)
def test_references_must_be_whole_and_agree(stated, words):
    with pytest.raises(ReadError, match=words):
        study_table(referenced(*stated))


def test_bias_and_linearity_of_known_errors():
    known = np.array([1.0, 2.0, 3.0])
    off = np.array([-1.0, 1.0]) * 1e-3
    values = known[:, None, None] * 1.01 + 0.02 + off[None, None, :]
    rows = [
        f"{row},{known[place // 2]}" for place, row in enumerate(rows_of(values.reshape(3, 1, 2)))
    ]
    found = study_table("\n".join([f"{HEAD},reference", *rows]))
    assert [one.value for one in bias_of(found)] == pytest.approx([0.03, 0.04, 0.05])
    line = linearity_of(found)
    assert line.slope == pytest.approx(0.01)
    assert line.intercept == pytest.approx(0.02)


def test_without_references_there_is_no_bias_and_with_one_no_linearity():
    assert bias_of(study_table("\n".join([HEAD, *SMALL]))) == ()
    assert linearity_of(study_table("\n".join([HEAD, *SMALL]))) is None
    one = study_table(referenced("1", "", "", "", "1", "", "", ""))
    assert len(bias_of(one)) == 2
    assert linearity_of(one) is None
