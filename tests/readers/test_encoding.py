"""Bytes to text on evidence, and line ends of every kind."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.errors import ReadError
from benchapp.readers.encoding import decode, lines_of
from benchapp.readers.reading import Answers
from benchapp.readers.source import Source


def decoded(data: bytes, **answers):
    source = Source(path="a.csv", name="a.csv", size=len(data), head=data[:65536], data=data)
    return decode(source, Answers(**answers))


HEADING = "Frequenz [kHz];Ls [µH];Güte\n134,2;1620,5;80\n"


@pytest.mark.parametrize(
    ("encoding", "found"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("cp1252", "cp1252"),
    ],
)
def test_a_heading_survives_its_encoding(encoding, found):
    text = decoded(HEADING.encode(encoding))
    assert text.content == HEADING
    assert text.encoding == found


def test_what_a_file_states_itself_is_no_assumption():
    assert decoded(HEADING.encode("utf-16")).assumptions == ()
    assert decoded(HEADING.encode("utf-8")).assumptions == ()
    assert len(decoded(HEADING.encode("cp1252")).assumptions) == 1


def test_old_code_page_needs_unit_signs_that_make_sense_in_it():
    text = decoded("f (kHz),Ls (µH),Phase (°)\n".encode("cp437"))
    assert text.content == "f (kHz),Ls (µH),Phase (°)\n"
    assert text.encoding == "cp437"
    assert decoded("Gerät;Größe\n".encode("cp1252")).encoding == "cp1252"


def test_chinese_headings_are_known_without_a_mark():
    text = decoded("频率,阻抗,相位\n1,2,3\n".encode("gb18030"))
    assert text.content.startswith("频率,阻抗,相位")
    assert text.assumptions[0].confidence >= 0.9


def test_bytes_that_no_later_code_page_has_are_still_read():
    text = decoded(b"a\x81b;\xff\n1;2\n")
    assert text.encoding == "latin-1"


def test_a_wide_text_cut_in_the_middle_of_a_sign_keeps_the_rest():
    data = HEADING.encode("utf-16")[:-1]
    assert decoded(data).content == HEADING[:-1]
    bare = "1000,5\n2000,6\n".encode("utf-16-le")[:-1]
    assert decoded(bare).content.startswith("1000,5\n2000,6")


def test_a_text_cut_in_the_middle_of_a_sign_stays_utf_8():
    data = HEADING.encode("utf-8") + "µ".encode()[:1]
    assert decoded(data).encoding == "utf-8"
    assert decoded(data).content == HEADING


def test_an_answer_overrides_the_evidence():
    assert decoded(b"\xe6H\n", encoding="cp437").content == "µH\n"


@pytest.mark.parametrize("name", ["no-such-encoding", "ascii"])
def test_an_answer_that_does_not_fit_is_refused(name):
    with pytest.raises(ReadError, match=f"must be text in the encoding '{name}'"):
        decoded("µ".encode(), encoding=name)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end_parts_lines(end):
    assert lines_of(end.join(["a", "b", "", "c"]) + end) == ["a", "b", "", "c"]


def test_signs_that_only_look_like_line_ends_part_nothing():
    assert lines_of("a\x0b\x0c\x85\u2028b\nc") == ["a\x0b\x0c\x85\u2028b", "c"]


@given(st.binary(max_size=400))
def test_any_bytes_become_some_text(data):
    assert isinstance(decoded(data).content, str)


@pytest.mark.parametrize("data", [b"a\n\xef\xbb\xbfb\n", b"\xb5H\n\xef\xbb\xbfb\n"])
def test_a_byte_order_mark_inside_the_text_is_left_out_and_said(data):
    text = decoded(data)
    assert text.content.endswith("\nb\n")
    assert text.assumptions[-1].value == "1 left out"
