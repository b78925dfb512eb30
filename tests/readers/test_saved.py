"""What the program saves comes back as it was, bit for bit, and a changed file is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.capture import Conditions, Noise, Origin, Response, Step, Sweep, Transient
from benchapp.errors import CaptureError, ReadError
from benchapp.readers import read, saved_text, understand
from benchapp.readers.saved import FIRST, is_saved

ORIGIN = Origin(
    source='MAKER "X", MODEL\n1 µ',
    reader="profile lcr-points.toml",
    sha256="ab" * 32,
    taken="2026-03-04T05:06:07+00:00",
    label="fine, partial",
    part="0007 # a",
)
CONDITIONS = Conditions(
    level_volt=0.5,
    bias_volt=0.0,
    temperature_celsius=23.4,
    equivalent_circuit="series",
    fixture="four-terminal clip",
    surroundings="no metal within 10 cm",
)
SWEEP = Sweep(
    frequency=[1e3, 2e3, 3e3],
    impedance=[complex(1 / 3, -0.0), complex(-0.0, 1e-300), 7e8 - 3j],
    noise=Noise(kind="reflection", level=1e-4, reference=75.0),
    conditions=CONDITIONS,
    origin=ORIGIN,
    history=(Step(name="compensation", detail="open, short"), Step(name="partial sweep")),
)
RESPONSE = Response(
    frequency=[10.0, 20.0], ratio=[0.5, 0.25], kind="gain", has_phase=False, noise_level=1e-3
)
TRANSIENT = Transient(
    time=[-1e-6, 0.0, 0.1], voltage=[0.1, -0.2, 0.3], step_volt=0.01, limits_volt=(-1.0, 1.0)
)


def saved(tmp_path, *captures):
    path = tmp_path / "saved.csv"
    path.write_text(saved_text(captures), encoding="ascii")
    return path


@pytest.mark.parametrize(
    "capture", [SWEEP, RESPONSE, TRANSIENT], ids=lambda one: type(one).__name__
)
def test_a_saved_capture_comes_back_the_same_to_the_last_bit_and_fact(tmp_path, capture):
    (back,) = read(saved(tmp_path, capture))
    assert type(back) is type(capture)
    assert back.digest == capture.digest


def test_several_captures_keep_their_order_and_nothing_is_assumed(tmp_path):
    reading = understand(saved(tmp_path, SWEEP, TRANSIENT, SWEEP))
    assert [one.digest for one in reading.captures] == [
        one.digest for one in (SWEEP, TRANSIENT, SWEEP)
    ]
    assert reading.reader == "saved"
    assert (reading.assumptions, reading.questions, reading.set_aside) == ((), (), ())


def test_the_signs_of_zero_survive(tmp_path):
    (back,) = read(saved(tmp_path, SWEEP))
    assert math.copysign(1, back.impedance[0].imag) == -1
    assert math.copysign(1, back.impedance[1].real) == -1


@settings(max_examples=40, deadline=None)
@given(
    values=st.lists(
        st.complex_numbers(allow_nan=False, allow_infinity=False), min_size=1, max_size=5
    ),
    words=st.text(max_size=20),
    level=st.none() | st.floats(allow_nan=False, allow_infinity=False),
)
def test_any_numbers_and_words_come_back(tmp_path_factory, values, words, level):
    sweep = Sweep(
        frequency=np.arange(1.0, len(values) + 1),
        impedance=values,
        conditions=Conditions(level_volt=level, fixture=words),
        origin=Origin(source=words, part=words),
    )
    (back,) = read(saved(tmp_path_factory.mktemp("saved"), sweep))
    assert back.digest == sweep.digest


def test_a_long_capture_comes_back_whole(tmp_path):
    time = np.arange(30_000) / 3e6
    long = Transient(time=time, voltage=np.sin(1e5 * time), origin=ORIGIN)
    path = saved(tmp_path, long)
    assert path.stat().st_size > 1 << 18
    (back,) = read(path)
    assert back.digest == long.digest


def test_without_its_preamble_it_is_a_plain_table_with_units(tmp_path):
    path = tmp_path / "plain.csv"
    rows = [line for line in saved_text([SWEEP]).splitlines() if not line.startswith("#")]
    path.write_text("\n".join(rows) + "\n", encoding="ascii")
    reading = understand(path)
    assert reading.reader == "table"
    assert np.array_equal(reading.captures[0].impedance, SWEEP.impedance)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("# points: 3", "# points: 4", r"must end after 4 points, not 3"),
        ('# is: "sweep"', '# is: "song"', r"must say what the capture is: sweep, response"),
        ("2000.0,", "two,", r"line \d+: must hold 3 numbers with commas between \(got 'two,"),
        ("2000.0,", "2000.0,1,", r"must hold 3 numbers with commas between"),
        ("2000.0,", "500.0,", r"must hold a capture as it was saved \(frequency: must rise"),
        ("level_volt: 0.5", "level_volt: half", r"must be NAME: VALUE as it was saved"),
        ("level_volt: 0.5", 'level_volt: "half"', r"must be NAME: VALUE as it was saved"),
        ("conditions.fixture", "conditions.fixtures", r"must hold a capture as it was saved"),
    ],
)
def test_a_changed_file_is_refused_with_its_line(tmp_path, old, new, words):
    path = tmp_path / "changed.csv"
    text = saved_text([SWEEP])
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="ascii")
    with pytest.raises(ReadError, match=words) as refusal:
        read(path)
    assert "remove the lines that begin with #" in refusal.value.hint


def test_a_file_cut_off_in_its_preamble_is_refused(tmp_path):
    path = tmp_path / "cut.csv"
    path.write_text(f'{FIRST}\n# is: "sweep"\n', encoding="ascii")
    with pytest.raises(ReadError, match="must be followed by a table"):
        read(path)


def test_saving_nothing_is_refused():
    with pytest.raises(CaptureError, match=r"saving: must have at least one capture"):
        saved_text([])


def test_a_file_is_known_by_its_first_line():
    assert is_saved(saved_text([SWEEP]).encode())
    assert not is_saved(b"Frequency (Hz),R (ohm),X (ohm)\n1,2,3\n")
