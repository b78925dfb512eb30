"""Facts of IEEE 488.2 and SCPI-1999 as common practice quotes them."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.bench.scpi import QUEUE_LENGTH, Interpreter, Refusal, block, number, switch


@pytest.fixture
def heard():
    return []


@pytest.fixture
def instrument(heard):
    commands = {
        "[SENSe:]FREQuency:STARt": lambda text: heard.append(("start", text)),
        "[SENSe:]FREQuency:STOP": lambda text: heard.append(("stop", text)),
        "SOURce:FREQuency[:CW]": lambda text: heard.append(("cw", text)),
        "DISPlay:TEXT": lambda text: heard.append(("text", text)),
        "FETCh?": lambda _: "1,2",
        "TRACe?": lambda _: block(b"\x00;\n"),
        "SET": lambda text: heard.append(("set", number(text, 0, 10))),
    }
    return Interpreter("A,B,C,D", commands, lambda: heard.append(("reset", "")))


def errors(instrument):
    found = []
    while (entry := instrument.execute("SYST:ERR?").decode()) != '0,"No error"':
        found.append(entry)
    return found


@pytest.mark.parametrize(
    "line",
    [
        "SOUR:FREQ 5",
        "SOURCE:FREQUENCY:CW 5",
        "sour:freq:cw 5",
        ":Source1:Frequency 5",
        "  SOUR:FREQ   5 ",
    ],
)
def test_short_long_and_optional_forms_are_one_header(instrument, heard, line):
    assert instrument.execute(line) is None
    assert heard == [("cw", "5")]
    assert errors(instrument) == []


@pytest.mark.parametrize(
    "line", ["SOURC:FREQ 5", "SOUR:FREQU 5", "SOUR 5", "SOUR2:FREQ 5", "*ABC"]
)
def test_anything_else_is_an_undefined_header(instrument, heard, line):
    instrument.execute(line)
    assert heard == []
    assert errors(instrument) == ['-113,"Undefined header"']


def test_the_fourth_letter_is_left_out_of_the_short_form_only_where_it_is_a_vowel(
    instrument, heard
):
    instrument.execute("DISP:TEXT 'a'")
    assert heard == [("text", "'a'")]


def test_a_semicolon_keeps_the_path_and_a_colon_returns_to_the_root(instrument, heard):
    instrument.execute("SENS:FREQ:STAR 10E6;STOP 20E6;:SOUR:FREQ 5;*RST;:FREQ:STOP 7")
    assert heard == [
        ("start", "10E6"),
        ("stop", "20E6"),
        ("cw", "5"),
        ("reset", ""),
        ("stop", "7"),
    ]


def test_a_new_message_starts_at_the_root(instrument, heard):
    instrument.execute("SENS:FREQ:STAR 1")
    instrument.execute("STOP 2")
    assert heard == [("start", "1")]
    assert errors(instrument) == ['-113,"Undefined header"']


def test_replies_of_one_message_are_joined_by_semicolons(instrument):
    assert instrument.execute("*IDN?;:FETC?;*OPC?") == b"A,B,C,D;1,2;1"


def test_a_semicolon_in_quotes_separates_nothing(instrument, heard):
    instrument.execute('DISP:TEXT "a;b";:SOUR:FREQ 1')
    assert heard == [("text", '"a;b"'), ("cw", "1")]


def test_after_a_refused_unit_the_rest_of_the_message_is_not_done(instrument, heard):
    assert instrument.execute("SOUR:FREQ 1;:WRONG;:SOUR:FREQ 2") is None
    assert heard == [("cw", "1")]


def test_errors_come_out_first_in_first_out_and_the_queue_overflows_at_its_end(instrument):
    instrument.execute("SET 99")
    for _ in range(QUEUE_LENGTH + 3):
        instrument.execute("WRONG")
    found = errors(instrument)
    assert len(found) == QUEUE_LENGTH
    assert found[0] == '-222,"Data out of range"'
    assert found[-1] == '-350,"Queue overflow"'
    assert set(found[1:-1]) == {'-113,"Undefined header"'}


def test_the_event_register_tells_power_on_and_the_class_of_errors_and_is_cleared_by_reading(
    instrument,
):
    assert instrument.execute("*ESR?") == b"128"
    instrument.execute("WRONG")
    instrument.execute("SET 99")
    instrument.execute("*OPC")
    assert instrument.execute("*ESR?") == str(0x20 | 0x10 | 0x01).encode()
    assert instrument.execute("*ESR?") == b"0"


def test_the_status_byte_sums_up_the_error_queue_and_the_enabled_events(instrument):
    instrument.execute("*CLS")
    assert instrument.execute("*STB?") == b"0"
    instrument.execute("WRONG")
    assert instrument.execute("*STB?") == b"4"
    instrument.execute("*ESE 32;*SRE 32")
    assert instrument.execute("*ESE?;*SRE?") == b"32;32"
    assert instrument.execute("*STB?") == str(4 | 0x20 | 0x40).encode()
    instrument.execute("*CLS")
    assert instrument.execute("*STB?;:SYST:ERR?") == b'0;0,"No error"'


def test_mandatory_commands_are_there(instrument):
    replies = instrument.execute("*TST?;*WAI;*OPC?;:SYST:VERS?")
    assert replies == b"0;1;1999.0"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("273", 273.0),
        ("0.273", 0.273),
        ("2.73E+2", 273.0),
        (".5", 0.5),
        ("134.2KHZ", 134.2e3),
        ("1 mhz", 1e6),
        ("5MV", 5e-3),
        ("10 us", 1e-5),
    ],
)
def test_all_three_number_forms_and_suffixes_are_read(text, value):
    assert number(text, 0, 1e9) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "code"),
    [("", -109), ("abc", -104), ("1,5", -104), ("1 parsec", -131), ("11", -222), ("-1", -222)],
)
def test_a_bad_number_is_refused_with_the_number_of_the_standard(text, code):
    with pytest.raises(Refusal) as refused:
        number(text, 0, 10)
    assert refused.value.code == code


@pytest.mark.parametrize(
    ("text", "state"), [("ON", True), ("off", False), ("1", True), ("0", False), ("0.4", False)]
)
def test_a_switch_takes_words_and_numbers(text, state):
    assert switch(text) is state


def test_a_definite_block_carries_its_length():
    """The vector that common practice quotes: #256 and 56 bytes are 14 numbers of 4 bytes."""
    content = struct.pack("<14f", *([0.01707566] * 4), *([0.017073] * 10))
    assert block(content)[:4] == b"#256"
    assert block(b"") == b"#10"
    assert block(bytes(12345))[:7] == b"#512345"


@given(st.binary(max_size=300))
def test_a_block_gives_its_content_back(content):
    made = block(content)
    digits = int(made[1:2])
    assert int(made[2 : 2 + digits]) == len(made) - 2 - digits
    assert made[2 + digits :] == content
