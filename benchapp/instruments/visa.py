"""The only door to VISA: opens connections, and turns its many errors into plain sentences."""

from __future__ import annotations

import contextlib
import os
import re
import select
import socket
import time
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import pyvisa
from pyvisa.constants import InterfaceType, ResourceAttribute, StatusCode

from benchapp.errors import CancelledError, LinkError
from benchapp.instruments.link import SLICE_SECONDS, Cancelled, LinkSettings, Transport

__all__ = ["dial", "discover", "explain"]

POLL_SECONDS = 0.005
LIBRARY_CHUNK = 4095  # bytes; from 4096 on the library takes more than it is asked for
GAP_SECONDS = 2.0  # for the rest of an answer that has begun
MESSAGE_AVAILABLE = 0x10  # IEEE 488.2 status byte: an answer waits
LEAKS = (pyvisa.errors.Error, OSError, ValueError, TypeError, EOFError, RuntimeError, KeyError)
"""What comes out of VISA libraries beside their own errors."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Text that a library's error contains, what it means, and what to do."""

    pattern: str
    meaning: str
    hint: str


TROUBLES = (
    Trouble(
        pattern=r"wrapper not found|LibraryError|shared object|dynamic library",
        meaning="the VISA library must be installed (got: {detail}).",
        hint="Leave the VISA library out to use the built-in one, or give the path of the one "
        "that is installed.",
    ),
    Trouble(
        pattern=r"refused|WinError 10061",
        meaning="something must listen at this address (got a refused connection).",
        hint="Switch the instrument on, enable its remote control over the network, and check "
        "the address and the port.",
    ),
    Trouble(
        pattern=r"name or service|name resolution|getaddrinfo|gaierror|nodename|no address",
        meaning="the host name must be known in this network (got an unknown one).",
        hint="Check the spelling, or use the number address that the instrument shows.",
    ),
    Trouble(
        pattern=r"unreachable|no route",
        meaning="the host must be reachable (got no route to it).",
        hint="Check the cable, and that computer and instrument are in the same network.",
    ),
    Trouble(
        pattern=r"permission|access denied|errno 13",
        meaning="this user must be allowed to use the device (got permission denied).",
        hint="On Linux add a rule for the device (udev), or join the group of serial ports "
        "(dialout); ask the administrator of the computer.",
    ),
    Trouble(
        pattern=r"install|no module named|not available|could not locate|no library|backend",
        meaning="the VISA library must be able to use this kind of address (got: {detail}).",
        hint="Install what is missing, or choose another VISA library.",
    ),
    Trouble(
        pattern=r"INV_RSRC_NAME|Invalid.?Resource|parsing error|could not parse",
        meaning="the address must be a VISA address (got one that cannot be understood).",
        hint="Write for example TCPIP::192.0.2.7::5025::SOCKET, ASRL/dev/ttyUSB0::INSTR or "
        "USB0::0x1234::0x5678::SERIAL::INSTR.",
    ),
    Trouble(
        pattern=r"not found|no device|no such|RSRC_NFOUND|could not open port|not present",
        meaning="the device must be there (got no such device).",
        hint="Plug it in, switch it on, and check the address.",
    ),
    Trouble(
        pattern=r"busy|locked|exclusive",
        meaning="the device must be free (got a busy one).",
        hint="Close the other program that uses it.",
    ),
    Trouble(
        pattern=r"reset|broken.?pipe|closed|aborted|shutdown|end-of-file|EOFError|CONN_LOST",
        meaning="the connection must stay open (got it closed by the instrument).",
        hint="Another program or person may hold the instrument, or it was switched off; wait a "
        "moment and connect again.",
    ),
    Trouble(
        pattern=r"timeout|timed out|TMO|could not connect",
        meaning="the instrument must answer the connection in time (got no answer).",
        hint="Check that it is switched on, its address, its cable, and that no firewall is "
        "between.",
    ),
)
"""The first that matches counts."""


def explain(cause: BaseException) -> LinkError:
    """Turn an error of a VISA library into a plain sentence with what to do."""
    text = f"{type(cause).__name__}: {cause}"
    for trouble in TROUBLES:
        if re.search(trouble.pattern, text, re.IGNORECASE):
            meaning = trouble.meaning.replace(
                "{detail}", str(cause).partition("\n")[0].rstrip(".")
            )
            return LinkError(meaning, hint=trouble.hint, detail=text)
    return LinkError(
        f"the VISA library must be able to do this (got {text}).",
        hint="Connect again; if it happens again, try another VISA library.",
        detail=text,
    )


def dial(address: str, settings: LinkSettings, cancelled: Cancelled) -> Transport:
    """Open a VISA address.

    Opening cannot be interrupted, so it runs in a thread of its own; when stopped, or late, the
    connection is closed as soon as it opens after all.

    Raises
    ------
    LinkError
        When it cannot be opened in ``settings.open_timeout``.
    CancelledError
        When stopped.
    """
    executor = ThreadPoolExecutor(1, thread_name_prefix="visa-open")
    future = executor.submit(_open, address, settings)
    executor.shutdown(wait=False)
    deadline = time.monotonic() + settings.open_timeout + SLICE_SECONDS
    while not _done(future):
        late = time.monotonic() > deadline
        if late or cancelled():
            future.add_done_callback(_close_late)
        if late:
            raise explain(TimeoutError("timed out"))
        if cancelled():
            raise CancelledError("the connection was stopped.", hint="Connect again.")
    cause = future.exception()
    if cause is not None:
        raise explain(cause) from cause
    return _transport(future.result(), settings)


def discover(backend: str = "@py") -> tuple[str, ...]:
    """List the addresses that VISA finds. Takes seconds and sends broadcasts: only on request.

    Raw network sockets are never found; their address must be typed.

    Raises
    ------
    LinkError
        When the VISA library is missing or fails.
    """
    try:
        manager = pyvisa.ResourceManager(backend)
        return tuple(manager.list_resources())
    except LEAKS as cause:
        raise explain(cause) from cause


def _done(future: Future[Any]) -> bool:
    with contextlib.suppress(TimeoutError):
        future.exception(timeout=SLICE_SECONDS)
    return future.done()


def _close_late(future: Future[Any]) -> None:
    if future.exception() is None:
        future.result().close()


def _open(address: str, settings: LinkSettings) -> Any:
    with contextlib.suppress(pyvisa.rname.InvalidResourceName):  # it may be an alias
        host = getattr(pyvisa.rname.ResourceName.from_string(address), "host_address", None)
        if host is not None:
            socket.getaddrinfo(host, None)  # the library leaks a socket at an unknown host
    manager = pyvisa.ResourceManager(settings.backend)
    resource = manager.open_resource(address, open_timeout=int(settings.open_timeout * 1000))
    if resource.interface_type == InterfaceType.asrl:
        resource.set_visa_attribute(ResourceAttribute.asrl_baud_rate, settings.baud_rate)
    return resource


def _transport(resource: Any, settings: LinkSettings) -> Transport:
    try:
        return _kind_of_transport(resource, settings)
    except LinkError:
        resource.close()
        raise


def _kind_of_transport(resource: Any, settings: LinkSettings) -> Transport:
    if resource.interface_type == InterfaceType.asrl:
        return _Serial(resource)
    end = settings.terminator.encode("ascii")
    if resource.resource_class != "SOCKET":
        return _Message(resource, end)
    sessions = getattr(resource.visalib, "sessions", {})
    inner = getattr(sessions.get(resource.session), "interface", None)
    return _Socket(resource, inner) if isinstance(inner, socket.socket) else _Opaque(resource, end)


class _Visa:
    """What all kinds of connection share."""

    def __init__(self, resource: Any) -> None:
        self.resource = resource
        self._seconds = -1.0

    def write(self, content: bytes) -> None:
        with _plainly():
            self.resource.write_raw(content)

    def close(self) -> None:
        with contextlib.suppress(*LEAKS):
            self.resource.close()

    def _read(self, most: int, seconds: float) -> tuple[bytes, StatusCode]:
        """Read once; empty, with the status of a timeout, when nothing came in time."""
        if seconds != self._seconds:
            self.resource.timeout = max(1, round(seconds * 1000))
            self._seconds = seconds
        library, session = self.resource.visalib, self.resource.session
        try:
            with library.ignore_warning(session, StatusCode.success_max_count_read):
                content, status = library.read(session, most)
        except pyvisa.errors.VisaIOError as cause:
            if cause.error_code == StatusCode.error_timeout:
                return b"", StatusCode.error_timeout
            raise
        return bytes(content), status


class _Socket(_Visa):
    """A raw network socket of the pure Python library, which lets its socket be looked at.

    Only what has arrived is read: a read of the library that waits for more neither ends in
    time while bytes keep dripping, nor notices that the other side has closed.
    """

    def __init__(self, resource: Any, inner: socket.socket) -> None:
        super().__init__(resource)
        self._socket = inner
        with _plainly():
            number = inner.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
            if number:  # what connecting ended with: the library does not ask
                raise OSError(number, os.strerror(number))
            # Without this each command waits 40 ms for the one before to be acknowledged.
            inner.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def read(self, most: int, seconds: float) -> bytes:
        with _plainly():
            if not self._readable(seconds):
                return b""
            arrived = len(self._socket.recv(min(most, LIBRARY_CHUNK), socket.MSG_PEEK))
            if arrived == 0:
                raise ConnectionResetError("closed by the other side")
            return self._read(arrived, seconds)[0]

    def waiting(self) -> bool:
        with _plainly():
            return self._readable(0) and self._socket.recv(1, socket.MSG_PEEK) != b""

    def _readable(self, seconds: float) -> bool:
        return bool(select.select([self._socket], [], [], seconds)[0])


class _Opaque(_Visa):
    """A raw network socket of another library: wait for one byte, then for the rest of the line.

    Other libraries drop what had come before a timeout, so a timeout in mid-answer is an error.
    """

    def __init__(self, resource: Any, end: bytes) -> None:
        super().__init__(resource)
        self._end = end
        self._first = b""
        with _plainly():
            resource.set_visa_attribute(ResourceAttribute.termchar, end[-1])
            resource.set_visa_attribute(ResourceAttribute.termchar_enabled, bool(end))

    def read(self, most: int, seconds: float) -> bytes:
        with _plainly():
            first = self._first or self._read(1, seconds)[0]
            self._first = b""
            if not first or most == 1 or first == self._end[-1:]:
                return first
            rest, status = self._read(most - 1, GAP_SECONDS)
            if status == StatusCode.error_timeout:
                raise TimeoutError("timed out in mid-answer")
            return first + rest

    def waiting(self) -> bool:
        with _plainly():
            self._first = self._first or self._read(1, POLL_SECONDS)[0]
            return bool(self._first)


class _Serial(_Visa):
    """A serial line: only what has arrived is read, so that nothing is lost at a timeout."""

    def __init__(self, resource: Any) -> None:
        super().__init__(resource)
        with _plainly():
            self._arrived(1 << 16)  # left over from before

    def read(self, most: int, seconds: float) -> bytes:
        deadline = time.monotonic() + seconds
        with _plainly():
            while not (content := self._arrived(most)) and time.monotonic() < deadline:
                time.sleep(POLL_SECONDS)
        return content

    def waiting(self) -> bool:
        with _plainly():
            return bool(self.resource.bytes_in_buffer)

    def _arrived(self, most: int) -> bytes:
        count = min(most, self.resource.bytes_in_buffer)
        return self._read(count, SLICE_SECONDS)[0] if count else b""


class _Message(_Visa):
    """USB, GPIB, VXI-11, HiSLIP: whole messages, whose end stands for a line end.

    The status byte tells when an answer is there, so that no read is ever broken off; where the
    status byte cannot be read, a read waits.
    """

    def __init__(self, resource: Any, end: bytes) -> None:
        super().__init__(resource)
        self._end = end
        self._owed = b""
        self._polls = True

    def read(self, most: int, seconds: float) -> bytes:
        if self._owed:
            owed, self._owed = self._owed[:most], self._owed[most:]
            return owed
        deadline = time.monotonic() + seconds
        with _plainly():
            while not self._answered():
                if time.monotonic() >= deadline:
                    return b""
                time.sleep(POLL_SECONDS)
            content, status = self._read(most, GAP_SECONDS)
        if status == StatusCode.success and not content.endswith(self._end):
            self._owed = self._end
        return content

    def waiting(self) -> bool:
        with _plainly():
            answered = self._answered()
            return bool(self._owed) or (self._polls and answered)

    def _answered(self) -> bool:
        if not self._polls:
            return True
        try:
            return bool(self.resource.read_stb() & MESSAGE_AVAILABLE)
        except pyvisa.errors.VisaIOError as cause:
            if cause.error_code != StatusCode.error_nonsupported_operation:
                raise
        except NotImplementedError:
            pass
        self._polls = False
        return True


@contextlib.contextmanager
def _plainly() -> Iterator[None]:
    try:
        yield
    except LEAKS as cause:
        raise explain(cause) from cause
