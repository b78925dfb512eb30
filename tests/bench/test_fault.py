from __future__ import annotations

import socket
import time

import numpy as np
import pytest

from benchapp.bench.fault import FAULTS, REFUSED_SECONDS, Fault, draw_faults
from benchapp.bench.scpi import block
from benchapp.bench.server import BenchServer

TEXT = b"1.5,2.5,0"
BLOCK = block(bytes(range(64)))


class Panel:
    """Replies TEXT to a?, BLOCK to b?, the count to n?."""

    def __init__(self):
        self.count = 0

    def busy(self, _line):
        return 0.0

    def execute(self, line):
        self.count += 1
        return {"a?": TEXT, "b?": BLOCK, "n?": str(self.count).encode()}[line]


def spoilt(kind, ask=b"a?\n", before=b""):
    """Serve with one fault; give what arrives until silence or the end, and how it ended."""
    faults = (Fault(kind=kind, reply=1 if before else 0),)
    with BenchServer(Panel(), faults=faults, seed=4) as server:
        client = socket.create_connection(("127.0.0.1", server.port), timeout=1)
        with client:
            if before:
                client.sendall(before)
                client.recv(1000)
            client.settimeout(0.4)
            client.sendall(ask)
            return drain(client)


def drain(client):
    received = b""
    try:
        while piece := client.recv(1000):
            received += piece
    except TimeoutError:
        return received, "silence"
    except ConnectionResetError:
        return received, "reset"
    return received, "closed"


def test_a_stall_says_nothing_and_keeps_the_line_open():
    assert spoilt("stall") == (b"", "silence")


def test_a_late_reply_comes_in_front_of_the_next_one():
    with (
        BenchServer(Panel(), faults=(Fault(kind="late", reply=0),)) as server,
        socket.create_connection(("127.0.0.1", server.port), timeout=1) as client,
    ):
        client.settimeout(0.2)
        for received in (b"", b"1\n2\n", b"3\n"):
            client.sendall(b"n?\n")
            assert drain(client) == (received, "silence")


def test_a_stale_reply_is_the_one_before():
    assert spoilt("stale", ask=b"a?\n", before=b"n?\n") == (b"1\n", "silence")


@pytest.mark.parametrize(("kind", "end"), [("drop", "closed"), ("reset", "reset")])
def test_a_broken_connection_leaves_less_than_the_whole_block(kind, end):
    received, how = spoilt(kind, ask=b"b?\n")
    assert how == end
    assert BLOCK.startswith(received)
    assert len(received) < len(BLOCK)


def test_garbage_is_a_line_that_no_number_is_in():
    received, how = spoilt("garbage")
    assert how == "silence"
    assert received.endswith(b"\n")
    assert received.count(b"\n") == 1
    with pytest.raises(ValueError, match="could not convert"):
        [float(cell) for cell in received.decode("latin-1").split(",")]


def test_a_wrong_length_promises_another_number_of_bytes_than_it_brings():
    received, _ = spoilt("length", ask=b"b?\n")
    digits = int(received[1:2])
    assert int(received[2 : 2 + digits]) != 64
    assert received.endswith(bytes(range(64)) + b"\n")


def test_of_a_text_the_end_is_lost():
    assert spoilt("length") == (b"1.5,2\n", "silence")


def test_a_drip_brings_everything_byte_by_byte():
    start = time.monotonic()
    assert spoilt("drip")[0] == TEXT + b"\n"
    assert time.monotonic() - start > 9 * 0.02


def test_after_a_refusal_the_port_is_closed_and_later_open_again():
    with BenchServer(Panel(), faults=(Fault(kind="refused", reply=0),)) as server:
        with socket.create_connection(("127.0.0.1", server.port), timeout=1) as client:
            client.sendall(b"a?\n")
            assert drain(client) == (b"", "closed")
        time.sleep(0.15)
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", server.port), timeout=1)
        time.sleep(REFUSED_SECONDS)
        with socket.create_connection(("127.0.0.1", server.port), timeout=1) as client:
            client.sendall(b"a?\n")
            assert client.recv(100) == TEXT + b"\n"


def test_faults_are_drawn_of_every_kind_and_place_and_repeat_from_the_seed():
    def drawn():
        rng = np.random.default_rng(9)
        return [draw_faults(rng, 20)[0] for _ in range(2000)]

    assert {fault.kind for fault in drawn()} == set(FAULTS)
    assert {fault.reply for fault in drawn()} == set(range(20))
    assert drawn() == drawn()
    only = {draw_faults(np.random.default_rng(n), 5, kinds=("drip",))[0].kind for n in range(9)}
    assert only == {"drip"}
