from __future__ import annotations

import contextlib
import socket
import threading
import time

import pytest

from benchapp.bench.fault import Fault
from benchapp.bench.server import BenchServer


class Echo:
    """Answers each line that ends in ? with the line itself, and counts."""

    def __init__(self):
        self.lines = []

    def busy(self, _line):
        return 0.0

    def execute(self, line):
        self.lines.append(line)
        return line.encode() if line.endswith("?") else None


@pytest.fixture
def server():
    with BenchServer(Echo()) as running:
        yield running


def dial(server):
    client = socket.create_connection(("127.0.0.1", server.port), timeout=2)
    client.settimeout(2)
    return client


def ask(client, text, size=1 << 16):
    client.sendall(text)
    return client.recv(size)


def test_the_address_is_a_socket_of_this_computer_only(server):
    assert server.address == f"TCPIP0::127.0.0.1::{server.port}::SOCKET"
    assert server.port > 0


def test_queries_are_answered_and_commands_are_not(server):
    with dial(server) as client:
        assert ask(client, b"set 1\nwhat?\n") == b"what?\n"
    assert server.heard == ["set 1", "what?"]


def test_a_line_may_come_in_pieces_and_several_at_once(server):
    with dial(server) as client:
        client.sendall(b"wh")
        time.sleep(0.02)
        client.sendall(b"at?\nand?\n")
        received = b""
        while received.count(b"\n") < 2:
            received += client.recv(100)
        assert received == b"what?\nand?\n"


def test_the_end_mark_is_the_one_that_was_chosen():
    with BenchServer(Echo(), end=b"\r") as server, dial(server) as client:
        assert ask(client, b"what?\r") == b"what?\r"


def test_two_clients_are_served_each_with_its_own_replies(server):
    with dial(server) as one, dial(server) as two:
        assert ask(one, b"one?\n") == b"one?\n"
        assert ask(two, b"two?\n") == b"two?\n"


def test_slow_replies_come_later():
    with BenchServer(Echo(), slow=0.15) as server, dial(server) as client:
        start = time.monotonic()
        assert ask(client, b"what?\n") == b"what?\n"
        assert time.monotonic() - start >= 0.15


def test_stopping_leaves_no_thread_and_closes_the_port():
    before = threading.active_count()
    with BenchServer(Echo()) as server, dial(server) as client:
        ask(client, b"what?\n")
        port = server.port
        assert threading.active_count() > before
    assert threading.active_count() == before
    with pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port), timeout=1)


def test_stopping_ends_a_stalled_connection_too():
    faults = (Fault(kind="stall", reply=0),)
    before = threading.active_count()
    with BenchServer(Echo(), faults=faults) as server, dial(server) as client:
        client.sendall(b"what?\n")
        time.sleep(0.05)
    assert threading.active_count() == before


def test_a_fault_strikes_the_reply_it_names_and_no_other():
    faults = (Fault(kind="garbage", reply=1),)
    with BenchServer(Echo(), faults=faults) as server, dial(server) as client:
        assert ask(client, b"a?\n") == b"a?\n"
        assert ask(client, b"b?\n") != b"b?\n"
        assert ask(client, b"c?\n") == b"c?\n"


def test_a_line_that_never_ends_is_cut_off(monkeypatch):
    monkeypatch.setattr("benchapp.bench.server.LONGEST_LINE", 1000)
    with BenchServer(Echo()) as server, dial(server) as client:
        client.sendall(b"x" * 5000)
        with contextlib.suppress(ConnectionResetError):  # the rest of the line was never read
            assert client.recv(10) == b""
