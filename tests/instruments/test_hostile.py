"""Hostile input: whatever comes over a link or stands in a profile, only plain errors come out."""

from __future__ import annotations

import itertools
import string
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.bench.scpi import block
from benchapp.errors import LinkError, ProfileError
from benchapp.instruments import Link, LinkSettings, parse_profile
from benchapp.instruments.answer import understand
from benchapp.instruments.profile import AnswerForm, Column
from tests.instruments.test_profile_text import GOOD

QUICK = LinkSettings(identify="", timeout=0.01)
PATIENT = LinkSettings(identify="", timeout=5.0)
pieces = st.lists(st.binary(min_size=1, max_size=12), max_size=6)


class Stream:
    """A transport that gives pieces of bytes as they are, and then nothing."""

    def __init__(self, parts):
        self.parts = list(parts)
        self.ready = False

    def __call__(self, *_):
        return self

    def write(self, _content):
        self.ready = True

    def read(self, most, _seconds):
        if not self.parts:
            return b""
        piece = self.parts.pop(0)
        if piece[most:]:
            self.parts.insert(0, piece[most:])
        return piece[:most]

    def waiting(self):
        return self.ready and bool(self.parts)

    def close(self):
        self.parts.clear()


def answered(parts, ask, settings=QUICK):
    """Ask once; give the answer, or None for a plain error."""
    link = Link("STREAM", settings, dial=Stream(parts))
    link.open()
    try:
        return ask(link)
    except LinkError:
        assert not link.is_open, "a link with a broken answer must be closed"
        return None


def cut(content, places):
    """Cut bytes into pieces at places."""
    edges = [0, *sorted(place % (len(content) + 1) for place in places), len(content)]
    return [content[a:b] for a, b in itertools.pairwise(edges) if content[a:b]]


@settings(deadline=None)
@given(pieces)
def test_any_bytes_are_either_one_whole_line_or_a_plain_error(parts):
    whole = b"".join(parts)
    found = answered(parts, lambda link: link.ask("A?"))
    if found is not None:
        assert whole.endswith(b"\n")
        assert whole.count(b"\n") == 1
        assert found == whole.decode("ascii").strip()


@settings(deadline=None)
@given(pieces)
def test_any_bytes_are_either_one_whole_block_or_a_plain_error(parts):
    whole = b"".join(parts)
    found = answered(parts, lambda link: link.ask_block("B?"))
    if found is not None:
        digits = int(whole[1:2])
        assert whole[2 + digits :] == found + b"\n"
        assert int(whole[2 : 2 + digits]) == len(found)


@given(
    line=st.text(alphabet=string.printable[:95], max_size=80),
    places=st.lists(st.integers(0, 100), max_size=5),
)
def test_a_line_arrives_whole_however_it_is_cut(line, places):
    parts = cut(line.encode("ascii") + b"\n", places)
    assert answered(parts, lambda link: link.ask("A?"), PATIENT) == line.strip()


@given(content=st.binary(max_size=300), places=st.lists(st.integers(0, 400), max_size=6))
def test_a_block_arrives_whole_however_it_is_cut(content, places):
    parts = cut(block(content) + b"\n", places)
    assert answered(parts, lambda link: link.ask_block("B?"), PATIENT) == content


@settings(deadline=None)
@given(
    content=st.binary(min_size=1, max_size=60),
    places=st.lists(st.integers(0, 80), max_size=4),
    lost=st.integers(1, 60),
)
def test_a_block_that_lost_its_end_is_never_taken(content, places, lost):
    whole = block(content) + b"\n"
    parts = cut(whole[: -min(lost, len(whole))], places)
    assert answered(parts, lambda link: link.ask_block("B?")) is None


# --- answers ------------------------------------------------------------------------------

FORMS = st.builds(
    lambda roles, separator, good: AnswerForm(
        columns=(*(Column(role=role) for role in roles), Column(role="status")),
        separator=separator,
        good=good,
    ),
    st.sampled_from([("R", "X"), ("frequency", "R", "X"), ("skip", "|Z|", "theta")]),
    st.sampled_from([",", ";", " ", "\t"]),
    st.sampled_from([("0",), ("N", "OK")]),
)


@given(reply=st.text(alphabet=string.printable[:95], max_size=60), form=FORMS)
def test_any_line_is_understood_as_finite_readings_or_set_aside_or_refused(reply, form):
    try:
        rows = understand(reply, form)
    except LinkError:
        return
    for values in rows.values.values():
        assert values.size == len(rows.aside)
        assert np.all(np.isfinite(values[rows.good]))
        assert np.all(np.abs(values[rows.good]) < form.overload)


@given(
    reply=st.binary(max_size=100),
    number=st.sampled_from(["float64", "float32", "int32", "int16", "int8"]),
    order=st.sampled_from(["big", "little"]),
)
@pytest.mark.filterwarnings("ignore:invalid value encountered in cast")
def test_any_block_is_understood_as_finite_readings_or_set_aside_or_refused(reply, number, order):
    form = AnswerForm(
        columns=(Column(role="R"), Column(role="X")), number=number, byte_order=order
    )
    try:
        rows = understand(reply, form)
    except LinkError:
        return
    assert len(rows.aside) * 2 * form.dtype.itemsize == len(reply)
    assert np.all(np.isfinite(rows.values["R"][rows.good]))


# --- profiles -----------------------------------------------------------------------------

KEYS = [line.partition(" =")[0] for line in GOOD.splitlines() if " = " in line]
VALUES = st.sampled_from(
    [
        "1",
        "-1",
        "true",
        '""',
        '"x"',
        "[]",
        "[1]",
        '["{}"]',
        '["{a}"]',
        '["\\u0000"]',
        "1e400",
        "nan",
        "inf",
        "{}",
        "2020-01-01",
        '"1..2"',
        '"..."',
        '"1V.."',
        "[[]]",
        "0",
        "0.5",
        '"Ω"',
        '[""]',
        '["Q","Q"]',
    ]
)


def read(text):
    """Give the profile, or the refusal."""
    try:
        return parse_profile(text, "m")
    except ProfileError as refusal:
        return refusal


@given(key=st.sampled_from(KEYS), value=VALUES)
def test_any_value_at_any_key_is_taken_or_refused_with_what_to_do(key, value):
    found = read(
        "\n".join(
            f"{key} = {value}" if line.startswith(f"{key} = ") else line
            for line in GOOD.splitlines()
        )
    )
    if isinstance(found, ProfileError):
        assert found.message.startswith("m")
        assert found.hint
    else:
        assert found.send["output_off"]
        assert found.answer.overload > 0


@given(st.text(max_size=200))
def test_no_random_text_is_a_profile(text):
    assert isinstance(read(text), ProfileError)


@given(lines=st.sets(st.integers(0, len(GOOD.splitlines()) - 1), min_size=1, max_size=4))
def test_any_lines_left_out_give_a_profile_or_a_plain_refusal(lines):
    text = "\n".join(line for number, line in enumerate(GOOD.splitlines()) if number not in lines)
    found = read(text)
    if isinstance(found, ProfileError):
        assert found.hint
    else:
        assert found.method == tomllib.loads(text)["method"]


@pytest.mark.parametrize(
    ("sent", "taken"),
    [
        ("__import__('os')", True),
        ("`reboot`", True),
        ("$(reboot)", True),
        ("; rm -rf /", True),
        ("%s", True),
        ("${HOME}", False),
        ("{0.__class__}", False),
    ],
)
def test_nothing_in_a_profile_is_ever_run(sent, taken):
    """Such a text is sent as it is, or refused for its braces; there is nothing that runs it."""
    found = read(GOOD.replace("OUT 1", sent))
    if taken:
        assert found.commands("output_on") == (sent,)
    else:
        assert "known names in braces" in found.message
