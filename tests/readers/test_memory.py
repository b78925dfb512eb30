"""Answers by layout: the fingerprint, and the file that a person can read and edit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError, UsageError
from benchapp.readers import (
    Answers,
    Remembered,
    answers_from_toml,
    answers_to_toml,
    fingerprint,
    understand,
)
from tests.readers.writing import written

HEAD = "Frequency (Hz),L (H),Q\n"


def reading_of(folder, text, name="a.csv", **answers):
    return understand(written(folder, name, text), Answers(**answers))


def test_files_of_one_set_up_have_one_fingerprint(tmp_path):
    first = reading_of(tmp_path, HEAD + "1000,1e-3,50\n2000,1.1e-3,60\n", "a.csv")
    second = reading_of(tmp_path, HEAD + "5000,2e-3,70\n6000,2e-3,70\n7000,2e-3,7\n", "b.csv")
    assert fingerprint(first) == fingerprint(second)
    assert len(fingerprint(first)) == 16


@pytest.mark.parametrize(
    "text",
    [
        "Frequency (kHz),L (H),Q\n1,1e-3,50\n2,1.1e-3,60\n",
        "Frequency (Hz);L (H);Q\n1000;1e-3;50\n2000;1.1e-3;60\n",
        "Frequency (Hz),L (H),D\n1000,1e-3,0.02\n2000,1.1e-3,0.02\n",
        "Frequency (Hz);L (H);Q\n1000;0,001;50\n2000;0,0011;60\n",
    ],
)
def test_another_layout_has_another_fingerprint(tmp_path, text):
    usual = reading_of(tmp_path, HEAD + "1000,1e-3,50\n2000,1.1e-3,60\n")
    assert fingerprint(reading_of(tmp_path, text, "b.csv")) != fingerprint(usual)


def test_a_refused_reading_has_a_fingerprint_too(tmp_path):
    with pytest.raises(ReadError) as refusal:
        reading_of(tmp_path, "1000,5,6\n2000,6,7\n3000,7,8\n")
    assert len(fingerprint(refusal.value.facts["reading"])) == 16


def test_touchstone_layouts_differ_by_kind_and_ports(tmp_path):
    one = reading_of(tmp_path, "# MHz S RI R 50\n1 0.1 0\n", "a.s1p")
    other = reading_of(tmp_path, "# MHz Z RI R 50\n1 0.1 0\n", "b.s1p")
    assert fingerprint(one) != fingerprint(other)


def test_answers_come_back_from_their_file():
    remembered = {
        "0123456789abcdef": Remembered(answers=Answers(model="series", reference=75.0)),
        "fedcba9876543210": Remembered(
            answers=Answers(columns='f/kHz, Ls/µH, "Q", -', probe=10.0), layout="table | tab"
        ),
    }
    text = answers_to_toml(remembered)
    assert text.startswith("# How capture files")
    assert answers_from_toml(text) == remembered


@given(
    st.dictionaries(
        st.text("0123456789abcdef", min_size=16, max_size=16),
        st.builds(
            Remembered,
            answers=st.builds(
                Answers, columns=st.text() | st.none(), probe=st.floats(1e-6, 1e6) | st.none()
            ),
            layout=st.text(),
        ),
        max_size=4,
    )
)
def test_any_answers_survive_the_file(remembered):
    assert answers_from_toml(answers_to_toml(remembered)) == remembered


def test_an_empty_memory_is_an_empty_file():
    assert answers_from_toml(answers_to_toml({})) == {}


def test_a_broken_file_is_refused_with_what_to_do():
    with pytest.raises(ReadError, match="remembered answers: must be TOML") as refusal:
        answers_from_toml("[layouts\n")
    assert refusal.value.hint == "Correct the file, or delete it to start again."


@pytest.mark.parametrize("text", ["layouts = 3\n", "[layouts]\nabc = 5\n"])
def test_a_file_of_another_form_is_refused(text):
    with pytest.raises(ReadError, match=r"must hold one table \[layouts.NAME\]"):
        answers_from_toml(text)


def test_an_unknown_answer_in_the_file_is_refused():
    words = r"remembered answers, layout a: answer: must be one of .* \(got 'colour'\)"
    with pytest.raises(UsageError, match=words):
        answers_from_toml('[layouts."a"]\ncolour = "red"\n')


def test_a_second_table_makes_another_layout(tmp_path):
    one = HEAD + "1000,1e-3,50\n2000,1e-3,60\n3000,1e-3,70\n"
    two = one + "\nFrequency (Hz),R (ohm),X (ohm)\n1000,1,2\n2000,1,4\n3000,1,6\n"
    first, second = (reading_of(tmp_path, *pair) for pair in ((one, "a.csv"), (two, "b.csv")))
    assert fingerprint(first) != fingerprint(second)


@pytest.mark.parametrize(
    ("text", "other"),
    [
        ("1000,5,6\n2000,6,7\n3000,7,8\n", "1.0E3,5,6\n2.0E3,6,7\n3.0E3,7,8\n"),
        ("1000,5,6\n2000,6,7\n3000,7,8\n", "1000,5\n2000,6\n3000,7\n"),
    ],
)
def test_bare_numbers_of_another_form_are_another_layout(tmp_path, text, other):
    found = []
    for rows in (text, other):
        with pytest.raises(ReadError) as refusal:
            reading_of(tmp_path, rows)
        found.append(fingerprint(refusal.value.facts["reading"]))
    assert found[0] != found[1]
