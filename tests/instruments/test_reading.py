"""Every shipped profile by a recorded conversation; what is left over fails."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench.scpi import block
from benchapp.errors import CancelledError, LinkError
from benchapp.instruments.plan import Plan
from benchapp.instruments.profile_text import parse_profile, shipped_profiles
from benchapp.instruments.reading import READINGS, Talk, record_of

PROFILES = shipped_profiles()
PLAN = Plan(start=1e5, stop=2e5, points=2, zoom=False, settle=0.0, series_ohm=1e3, samples=400)


def talk(play, name, conversation, **plan):
    link = play(conversation)
    link.open()
    return Talk(link=link, profile=PROFILES[name], plan=replace(PLAN, **plan))


def take(conversation_talk, *frequencies):
    method = READINGS[conversation_talk.profile.method]
    return list(method(conversation_talk, np.array(frequencies)))


def escaped(*values):
    content = block(np.array(values, dtype=">f8").tobytes()) + b"\n"
    return "<< " + "".join(f"\\x{byte:02x}" for byte in content)


def test_lcr_meter_point_by_point(play):
    one = talk(
        play,
        "lcr-points",
        """
        > SOUR:FREQ 100000
        > *OPC?
        < 1
        > INIT
        > *OPC?
        < 1
        > FETC?
        < 1.0E+05,3.0,4.0,0
        > SOUR:FREQ 200000
        > *OPC?
        < 1
        > INIT
        > *OPC?
        < +1
        > FETC?
        < 2.0E+05,9.9E+37,9.9E+37,1
        """,
    )
    first, second = take(one, 1e5, 2e5)
    assert (first.frequency, first.impedance, first.aside) == (1e5, 3 + 4j, "")
    assert (second.frequency, second.aside) == (2e5, "status 1")


def test_lcr_meter_list_sweep(play):
    sweep = talk(
        play,
        "lcr-list",
        f"""
        > SOUR:LIST:FREQ 100000,150000,200000
        > INIT
        > *OPC?
        < 1
        > FETC?
        {escaped(1e5, 1, 2, 0, 1.5e5, 3, 4, 0, 2e5, 5, 6, 0)}
        """,
    )
    points = take(sweep, 2e5, 1.5e5, 1e5)
    assert [point.impedance for point in points] == [1 + 2j, 3 + 4j, 5 + 6j]


@pytest.mark.parametrize(
    ("name", "parameter", "ratio", "z"),
    [
        ("network-reflection", "S11", 1 / 3, 100.0),
        ("network-series", "S21", 0.5, 100.0),
        ("network-shunt", "S21", 0.5, 25.0),
    ],
)
def test_network_analyser_blocks(play, name, parameter, ratio, z):
    """S21 = 0.5 is 100 ohm in series and 25 ohm in shunt (port impedance 50 ohm)."""
    sweep = talk(
        play,
        name,
        f"""
        > SENS:FREQ:STAR 100000
        > SENS:FREQ:STOP 200000
        > SENS:SWE:POIN 2
        > INIT
        > *OPC?
        < 1
        > CALC:DATA?
        {escaped(ratio, 0, ratio, 0)}
        """,
    )
    points = take(sweep, 1e5, 2e5)
    assert [point.frequency for point in points] == [1e5, 2e5]
    assert points[1].impedance == pytest.approx(z, rel=1e-12)
    assert f"'XFRequency:POWer:{parameter}'" in " ".join(sweep.profile.send["start"])


def test_a_part_that_is_an_exact_open_is_set_aside(play):
    sweep = talk(
        play,
        "network-reflection",
        f"""
        > SENS:FREQ:STAR 100000
        > SENS:FREQ:STOP 200000
        > SENS:SWE:POIN 2
        > INIT
        > *OPC?
        < 1
        > CALC:DATA?
        {escaped(1, 0, 0.5, 0)}
        """,
    )
    assert [point.aside for point in take(sweep, 1e5, 2e5)] == ["no impedance", ""]


def sines(z, *, series=1e3, samples=400, window=20e-5, f=1e5):
    t = np.arange(samples) * window / samples
    ratio = z / (z + series)
    turn = 2 * np.pi * f * t + 0.3
    return np.cos(turn), np.abs(ratio) * np.cos(turn + np.angle(ratio))


GAIN_PHASE = """
    > SOUR:FREQ 100000
    > *OPC?
    < 1
    > SENS:SWE:TINT 5.0000000000E-07
    > SENS:SWE:POIN 400
    > INIT
    > *OPC?
    < 1
    > SENS:SWE:TINT?
    < 5.0E-07
    > TRAC? CH1
    {}
    > TRAC? CH2
    {}
    """


def test_scope_and_generator_gain_phase(play):
    a, b = sines(200 + 700j)
    one = talk(play, "scope-gain-phase", GAIN_PHASE.format(escaped(*a), escaped(*b)))
    (point,) = take(one, 1e5)
    assert point.impedance == pytest.approx(200 + 700j, rel=1e-9)


def test_records_without_a_sine_are_set_aside(play):
    flat = np.zeros(400)
    one = talk(play, "scope-gain-phase", GAIN_PHASE.format(escaped(*flat), escaped(*flat)))
    (point,) = take(one, 1e5)
    assert point.aside


def test_channels_of_different_length_are_refused(play):
    a, b = sines(100.0)
    one = talk(play, "scope-gain-phase", GAIN_PHASE.format(escaped(*a), escaped(*b[:300])))
    with pytest.raises(LinkError, match=r"both channels .* \(got 400 and 300\)"):
        take(one, 1e5)


def test_scope_single_shot(play):
    volts = np.exp(-np.arange(400) / 100)
    one = talk(
        play,
        "scope-ring-down",
        f"""
        > SENS:SWE:TINT 2.5000000000E-07
        > SENS:SWE:POIN 400
        > INIT
        > *OPC?
        < 1
        > SENS:SWE:TINT?
        < 2.5E-07
        > TRAC? CH1
        {escaped(*volts)}
        """,
    )
    (record,) = record_of(one, 1e-4, ("channel_1",))
    np.testing.assert_array_equal(record.voltage, volts)
    assert record.time[-1] == pytest.approx(399 * 2.5e-7)


@pytest.mark.parametrize("answer", ["soon", "0", "-1", "inf", "nan"])
def test_a_sample_interval_that_is_none_is_refused(play, answer):
    one = talk(
        play,
        "scope-ring-down",
        f"""
        > SENS:SWE:TINT 2.5000000000E-07
        > SENS:SWE:POIN 400
        > INIT
        > *OPC?
        < 1
        > SENS:SWE:TINT?
        < {answer}
        """,
    )
    with pytest.raises(LinkError, match=r"after 'SENS:SWE:TINT\?' .* number of seconds"):
        record_of(one, 1e-4, ("channel_1",))


# --- answers that are not what they should be ---------------------------------------------


def asked(answer):
    return f"""
        > SOUR:FREQ 100000
        > *OPC?
        < 1
        > INIT
        > *OPC?
        < 1
        > FETC?
        < {answer}
        """


def test_an_answer_for_another_frequency_is_refused_as_late(play):
    one = talk(play, "lcr-points", asked("9.0E+04,3,4,0"))
    with pytest.raises(LinkError, match=r"one for 100000 Hz \(got one for 90000 Hz\).*came late"):
        take(one, 1e5)


def test_close_frequencies_are_told_apart(play):
    """Points 100 Hz apart: an answer of the neighbour's frequency must not pass."""
    one = talk(play, "lcr-points", asked("100100,3,4,0"))
    with pytest.raises(LinkError, match=r"got one for 100100 Hz"):
        take(one, 1e5, 100.1e3)


def test_an_instruments_rounded_frequency_is_taken_as_the_points_own(play):
    one = talk(play, "lcr-points", asked("100003.5,3,4,0"))
    (point,) = take(one, 1e5)
    assert point.frequency == 100003.5


@pytest.mark.parametrize("answer", ["1,2,3", "1", "HELLO", "1e5,3,4,0,9"])
def test_an_answer_of_another_shape_names_address_and_question(play, answer):
    one = talk(play, "lcr-points", asked(answer))
    with pytest.raises(LinkError, match=r"TAPE: after 'FETC\?' answer: must hold 4 values"):
        take(one, 1e5)


def test_done_must_be_answered_as_the_profile_says(play):
    one = talk(
        play,
        "lcr-points",
        """
        > SOUR:FREQ 100000
        > *OPC?
        < 1.0E+05,3,4,0
        """,
    )
    with pytest.raises(LinkError, match=r"after '\*OPC\?' the answer must be '1' \(got '1.0E"):
        take(one, 1e5)


def test_without_a_done_question_nothing_is_waited_for(play):
    text = """
        title = "simple"
        method = "impedance-points"
        [send]
        output_off = "OFF"
        output_on = "ON"
        frequency = "F {frequency}"
        [ask]
        read = "R?"
        [answer]
        columns = ["R", "X"]
        """
    link = play("> F 100000\n> R?\n< 3,4")
    link.open()
    one = Talk(link=link, profile=parse_profile(text, "simple"), plan=PLAN)
    assert take(one, 1e5)[0].impedance == 3 + 4j


def test_what_was_read_is_digested_in_order(play):
    first = talk(play, "lcr-points", asked("1e5,3,4,0"))
    second = talk(play, "lcr-points", asked("1e5,3,5,0"))
    take(first, 1e5)
    take(second, 1e5)
    assert first.digest.hexdigest() != second.digest.hexdigest()


def test_a_wait_is_as_long_as_it_should_be_and_hears_a_stop(play, late_cancel):
    one = talk(play, "lcr-points", "")
    start = time.monotonic()
    one.wait(0.15)
    assert 0.15 <= time.monotonic() - start < 0.3
    one.link.cancelled = late_cancel(2)
    with pytest.raises(CancelledError, match="measurement was stopped"):
        one.wait(30.0)
    assert time.monotonic() - start < 0.6
