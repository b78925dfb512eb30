"""Hostile clients: whatever is sent to the bench, it answers by its rules and stays usable."""

from __future__ import annotations

import contextlib
import re
import socket
import string
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchapp.bench import Setup, scenario
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer

DESK = Desk(setup=Setup(device=scenario.TANK), reading_time=0.0)
WORDS = st.sampled_from(
    [
        "SOUR:FREQ",
        "SENS:AVER:COUN",
        "OUTP",
        "INIT",
        "FETC?",
        "CALC:DATA?",
        "TRAC?",
        "FORM",
        "*RST",
        "*IDN?",
        "*OPC?",
        "SYST:ERR?",
        "SOUR:LIST:FREQ",
        "SENS:SWE:POIN",
        "BOGUS",
        ":",
    ]
)
NUMBERS = st.sampled_from(["", "1", "1E5", "-5", "1E400", "abc", "1 KHZ", "CH1", "1,2", "'", '"'])
LINES = st.lists(st.tuples(WORDS, NUMBERS), max_size=6).map(
    lambda units: ";:".join(f"{word} {number}".strip() for word, number in units)
)


@settings(deadline=None, max_examples=60)
@pytest.mark.parametrize("name", ["lcr", "analyser", "scope"])
@given(lines=st.lists(LINES, max_size=5))
def test_any_words_leave_a_panel_that_still_knows_who_it_is(name, lines):
    panel = PANELS[name](DESK)
    for line in lines:
        reply = panel.execute(line)
        assert reply is None or isinstance(reply, bytes)
    assert panel.execute("*IDN?").startswith(b"SIMULATED BENCH,")
    errors = []
    while not (error := panel.execute("SYST:ERR?").decode()).startswith("0,"):
        errors.append(error)
    assert all(re.fullmatch(r'-\d+,"[^"]+"', error) for error in errors)
    assert len(errors) <= 16


@settings(deadline=None, max_examples=60)
@given(st.text(alphabet=string.printable, max_size=60))
def test_any_text_leaves_the_terse_meter_answering(text):
    panel = PANELS["terse"](DESK)
    panel.execute(text)
    assert panel.execute("I").startswith(b"TERSE")


@given(st.text(alphabet=string.printable, max_size=60))
def test_a_reset_always_brings_the_output_off(text):
    panel = PANELS["lcr"](DESK)
    panel.execute("OUTP ON")
    panel.execute(text)
    panel.execute("*RST")
    assert panel.execute("OUTP?") == b"0"


def test_clients_that_come_and_go_in_mid_word_leave_a_server_that_still_serves():
    with BenchServer(PANELS["lcr"](DESK)) as server:
        for content in (b"", b"*ID", b"\xff\x00\xfe\n", b"FETC?\n" * 50, b"*IDN?"):
            with socket.create_connection(("127.0.0.1", server.port), timeout=1) as client:
                client.sendall(content)
        with socket.create_connection(("127.0.0.1", server.port), timeout=1) as client:
            client.sendall(b"*IDN?\n")
            assert client.recv(100).startswith(b"SIMULATED BENCH")


def test_many_clients_at_once_each_get_their_own_answers():
    """Eight clients ask 40 questions each; the panel is one, its answers must not mix."""
    wrong = []

    class Echo:
        def busy(self, _line):
            return 0.0

        def execute(self, line):
            return line.encode()

    with BenchServer(Echo()) as server:

        def chat(name):
            with socket.create_connection(("127.0.0.1", server.port), timeout=5) as client:
                stream = client.makefile("rwb")
                for number in range(40):
                    stream.write(f"{name}:{number}\n".encode())
                    stream.flush()
                    if stream.readline() != f"{name}:{number}\n".encode():
                        wrong.append((name, number))
                with contextlib.suppress(OSError):
                    stream.close()

        threads = [threading.Thread(target=chat, args=(name,)) for name in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert wrong == []
