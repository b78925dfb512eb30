"""The bench on a loopback port: instruments that a link talks to as it would to real ones."""

from __future__ import annotations

import contextlib
import select
import socket
import threading
import time
from collections.abc import Callable
from types import TracebackType
from typing import Self

import numpy as np

from benchapp.bench.device import Setup
from benchapp.bench.fault import FAULTS, Fault
from benchapp.bench.panel import Panel
from benchapp.errors import UsageError

__all__ = ["BenchServer"]

LOOPBACK = "127.0.0.1"
TICK_SECONDS = 0.05  # how soon a waiting thread notices that it should stop
LONGEST_LINE = 1 << 20


class BenchServer:
    """One instrument of the bench behind a TCP port of this computer only.

    Use it as a context manager; `address` is what a link opens.

    Parameters
    ----------
    panel : Panel
    port : int
        0 takes any free one.
    end : bytes
        End mark of lines in both directions.
    faults : tuple of Fault
        What goes wrong and when; replies are counted over all connections.
    seed : int
        For the random part of faults.
    slow : float, s
        Every reply comes this much later.
    """

    def __init__(
        self,
        panel: Panel,
        *,
        port: int = 0,
        end: bytes = b"\n",
        faults: tuple[Fault, ...] = (),
        seed: int = 1,
        slow: float = 0.0,
    ) -> None:
        self.panel = panel
        self.end = end
        self.slow = slow
        self.stopping = threading.Event()
        self.heard: list[str] = []
        self.port = port
        self._faults = {fault.reply: fault.kind for fault in faults}
        self._generator = np.random.default_rng(seed)
        self._replies = 0
        self._lock = threading.Lock()
        self._refuse_until = 0.0
        self._threads: list[threading.Thread] = []
        self._listener: socket.socket | None = None

    @property
    def address(self) -> str:
        """The VISA address of this instrument."""
        return f"TCPIP0::{LOOPBACK}::{self.port}::SOCKET"

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Open the port and answer until stopped.

        Raises
        ------
        UsageError
            When the port is taken or not allowed.
        """
        self._listener = self._listen()
        self._start(self._accept, "bench-accept")

    def stop(self) -> None:
        """Close the port and all connections, and wait for the threads."""
        self.stopping.set()
        for thread in self._threads:
            thread.join()
        if self._listener is not None:
            self._listener.close()

    def clip(self, setup: Setup) -> None:
        """Put another part in the clip, between two lines."""
        with self._lock:
            self.panel.clip(setup)

    def refuse(self, seconds: float) -> None:
        """Take no connection for a while."""
        self._refuse_until = time.monotonic() + seconds

    def answer(self, line: str) -> tuple[bytes | None, str | None]:
        """Do one line; give the reply with its end mark, and the fault that is due for it."""
        with self._lock:
            self.heard.append(line)
            reply = self.panel.execute(line)
            if reply is None:
                return None, None
            due = self._faults.pop(self._replies, None)
            self._replies += 1
        return reply + self.end, due

    def spoil(self, kind: str, wire: _Wire, reply: bytes) -> bool:
        """Deliver a reply with a fault; True keeps the connection."""
        return FAULTS[kind](wire, reply, self._generator)

    def _start(self, target: Callable[[], None], name: str) -> None:
        thread = threading.Thread(target=target, name=name, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _listen(self) -> socket.socket:
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((LOOPBACK, self.port))
        except OSError as cause:
            listener.close()
            raise UsageError(
                f"port {self.port}: must be free (got {cause.strerror}).",
                hint="Choose another one, or 0 for any free one.",
            ) from cause
        listener.listen()
        self.port = listener.getsockname()[1]
        return listener

    def _accept(self) -> None:
        while not self.stopping.is_set():
            listener = self._open_listener()
            if listener is None or not select.select([listener], [], [], TICK_SECONDS)[0]:
                continue
            connection, _ = listener.accept()
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._start(_Wire(self, connection).serve, "bench-serve")

    def _open_listener(self) -> socket.socket | None:
        """Give the listening socket; None, after a moment, while connections are refused."""
        if time.monotonic() < self._refuse_until:
            if self._listener is not None:
                self._listener.close()
                self._listener = None
            self.stopping.wait(TICK_SECONDS)
        elif self._listener is None:
            self._listener = self._listen()
        return self._listener


class _Wire:
    """One connection: lines in, replies out."""

    def __init__(self, server: BenchServer, connection: socket.socket) -> None:
        self.server = server
        self.connection = connection
        self.last = b""
        self.held = b""
        self._pending = b""

    def serve(self) -> None:
        """Answer until the client goes, a fault ends it, or the server stops."""
        with self.connection, contextlib.suppress(OSError):  # the client may go at any time
            while (line := self._line()) is not None:
                if not self._answer(line):
                    return

    def send(self, content: bytes) -> None:
        """Send bytes as they are."""
        self.connection.sendall(content)

    def refuse(self, seconds: float) -> None:
        """Accept no connection for a while."""
        self.server.refuse(seconds)

    def wait(self, seconds: float | None) -> bool:
        """Wait; True when the server stops. None waits for that or for the client to go."""
        if seconds is not None:
            return self.server.stopping.wait(seconds)
        while not self.server.stopping.is_set():
            if self._readable() and self.connection.recv(4096) == b"":
                return False
        return True

    def _answer(self, line: str) -> bool:
        if self.wait(self.server.panel.busy(line)):
            return False
        reply, fault = self.server.answer(line)
        if reply is None:
            return True
        if self.wait(self.server.slow):
            return False
        if fault is not None:
            return self.server.spoil(fault, self, reply)
        self.send(self.held + reply)
        self.last, self.held = reply, b""
        return True

    def _line(self) -> str | None:
        while self.server.end not in self._pending:
            if self.server.stopping.is_set() or len(self._pending) > LONGEST_LINE:
                return None
            if not self._readable():
                continue
            received = self.connection.recv(65536)
            if not received:
                return None
            self._pending += received
        line, _, self._pending = self._pending.partition(self.server.end)
        return line.decode("latin-1").strip()

    def _readable(self) -> bool:
        return bool(select.select([self.connection], [], [], TICK_SECONDS)[0])
