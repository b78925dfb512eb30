"""The link to one instrument: questions and answers under a total deadline.

After any failure, and after a person's stop in mid-answer, the connection is closed: a late answer
can never be taken for the next one. `Link.open` connects again and checks the identity.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from types import TracebackType
from typing import Protocol, Self

from benchapp.errors import CancelledError, LinkError

__all__ = ["SLICE_SECONDS", "Cancelled", "Dial", "Link", "LinkSettings", "Transport"]

Cancelled = Callable[[], bool]
SLICE_SECONDS = 0.1  # a stop is noticed this soon
LONGEST_ANSWER = 64 * 1024 * 1024  # bytes
CHUNK = 64 * 1024
SHOWN = 60  # characters of an answer that a message quotes


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkSettings:
    """How to talk over a link.

    ``terminator`` ends every line in both directions. ``timeout`` is the total time in s for one
    answer, ``open_timeout`` for connecting and identifying. ``identify`` asks who is there (empty:
    the instrument cannot say), and ``expect`` must occur in the answer. ``backend`` names the VISA
    library, ``@py`` is the pure Python one. ``baud_rate`` counts on serial lines only.
    """

    terminator: str = "\n"
    timeout: float = 5.0
    open_timeout: float = 3.0
    identify: str = "*IDN?"
    expect: str = ""
    backend: str = "@py"
    baud_rate: int = 9600


class Transport(Protocol):
    """An open connection that carries bytes. Every method may raise `LinkError`."""

    def write(self, content: bytes) -> None:
        """Send all bytes."""

    def read(self, most: int, seconds: float) -> bytes:
        """Give what has arrived, up to ``most``; empty if nothing does in that time."""

    def waiting(self) -> bool:
        """Tell whether bytes wait that nobody asked for."""

    def close(self) -> None:
        """Close the connection; harmless when it is broken."""


Dial = Callable[[str, LinkSettings, Cancelled], Transport]
"""Opens a connection to an address."""


def never() -> bool:
    """Answer that nobody stopped anything."""
    return False


class Link:
    """One instrument at one address.

    Parameters
    ----------
    address : str
        A VISA address, such as ``TCPIP::192.0.2.7::5025::SOCKET``.
    settings : LinkSettings
    cancelled : callable
        Asked at least every 100 ms; may be replaced while the link is in use.
    dial : callable, optional
        Opens the connection; VISA when left out.
    """

    def __init__(
        self,
        address: str,
        settings: LinkSettings | None = None,
        *,
        cancelled: Cancelled = never,
        dial: Dial | None = None,
    ) -> None:
        self.address = address
        self.settings = settings or LinkSettings()
        self.cancelled = cancelled
        self.identity = ""
        self._dial = dial or _visa
        self._transport: Transport | None = None

    @property
    def is_open(self) -> bool:
        """Whether the link can be used now."""
        return self._transport is not None

    def __enter__(self) -> Self:
        self.open()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def open(self) -> str:
        """Connect, or connect anew, and check who is there.

        Returns
        -------
        str
            The instrument's identity, empty where it cannot say.

        Raises
        ------
        LinkError
            When nobody answers, somebody else answers, or another instrument than before.
        CancelledError
            When stopped.
        """
        self.close()
        try:
            self._transport = self._dial(self.address, self.settings, self.cancelled)
        except LinkError as cause:
            raise self._told(cause) from cause
        if not self.settings.identify:
            return ""
        found = self.ask(self.settings.identify, timeout=self.settings.open_timeout)
        wanted = self.identity or self.settings.expect
        if wanted not in found:
            raise self._failed(
                self.settings.identify,
                f"the identity must contain {wanted!r}",
                _quoted(found),
                "Check the address, or choose the profile of the instrument that is there.",
            )
        self.identity = found
        return found

    def close(self) -> None:
        """Close the connection, if there is one."""
        transport, self._transport = self._transport, None
        if transport is not None:
            transport.close()

    def tell(self, text: str) -> None:
        """Send a command that has no answer.

        Raises
        ------
        LinkError
            When the link is not open or breaks, or an answer waits that nobody asked for.
        """
        transport = self._ready(text)
        try:
            waiting = transport.waiting()
            if not waiting:
                transport.write((text + self.settings.terminator).encode("ascii"))
        except LinkError as cause:
            raise self._told(cause, text) from cause
        if waiting:
            raise self._failed(
                text,
                "no answer may wait before the question is asked",
                "one that belongs to an earlier question",
                "Start again; if it happens again, a command of the profile asks for an answer "
                "that the profile does not expect.",
            )

    def ask(self, question: str, *, timeout: float | None = None) -> str:
        """Send a question and give its one line of answer, without the line end.

        Raises
        ------
        LinkError
            When the answer is late, broken off, more than one line, or no plain text.
        CancelledError
            When stopped; the link is closed then.
        """
        deadline = self._deadline(timeout)
        self.tell(question)
        end = self.settings.terminator.encode("ascii")
        received = bytearray()
        while not received.endswith(end):
            received += self._piece(question, received, CHUNK, deadline)
        line = bytes(received.removesuffix(end))
        self._nothing_more(question, line)
        if not line.isascii() or not line.decode("ascii").replace("\t", " ").isprintable():
            raise self._failed(
                question,
                "the answer must be one line of plain text",
                _quoted(line),
                "Check the line end and the answer form in the profile; on a serial line, check "
                "its speed.",
            )
        return line.decode("ascii").strip()

    def ask_block(self, question: str, *, timeout: float | None = None) -> bytes:
        """Send a question and give the bytes of its IEEE 488.2 definite-length block.

        Raises
        ------
        LinkError
            When the answer is no such block, is late or broken off, or its length is wrong.
        CancelledError
            When stopped; the link is closed then.

        Notes
        -----
        Source: IEEE 488.2-1992, definite length arbitrary block response data: ``#``, the number
        of digits, the number of bytes, the bytes (from memory).
        """
        deadline = self._deadline(timeout)
        self.tell(question)
        head = self._exactly(question, 2, deadline)
        if head[:1] != b"#" or not head[1:].isdigit() or head == b"#0":
            raise self._no_block(question, head)
        digits = self._exactly(question, int(head[1:]), deadline)
        if not digits.isdigit() or int(digits) > LONGEST_ANSWER:
            raise self._no_block(question, head + digits)
        body = self._exactly(question, int(digits), deadline)
        end = self.settings.terminator.encode("ascii")
        after = self._exactly(question, len(end), deadline)
        if after != end:
            raise self._failed(
                question,
                f"the block must end after the {int(digits)} bytes that it promises",
                _quoted(after),
                "Measure again; if it happens again, check number and terminator in the profile.",
            )
        self._nothing_more(question, head)
        return body

    def _nothing_more(self, question: str, received: bytes) -> None:
        """Refuse an answer that another one follows: it may belong to an earlier question."""
        transport = self._ready(question)
        try:
            more = transport.waiting()
        except LinkError as cause:
            raise self._told(cause, question, received) from cause
        if more:
            raise self._failed(
                question,
                "one answer must come",
                f"more after {_quoted(received)}",
                "Measure again; if it happens again, a command of the profile gives an answer "
                "that the profile does not expect.",
            )

    def _no_block(self, question: str, got: bytes) -> LinkError:
        return self._failed(
            question,
            "the answer must be a block: #, the number of digits, the number of bytes",
            _quoted(got),
            "Check in the profile that the instrument is set to send blocks of a known length.",
        )

    def _exactly(self, question: str, count: int, deadline: float) -> bytes:
        received = bytearray()
        while len(received) < count:
            most = count - len(received)
            received += self._piece(question, received, most, deadline)
        return bytes(received)

    def _piece(self, question: str, received: bytearray, most: int, deadline: float) -> bytes:
        transport = self._ready(question)
        if self.cancelled():
            self.close()
            raise CancelledError("the measurement was stopped.", hint="Start it again.")
        left = deadline - time.monotonic()
        if left <= 0 or len(received) > LONGEST_ANSWER:
            raise self._late(question, bytes(received))
        try:
            return transport.read(most, min(left, SLICE_SECONDS))
        except LinkError as cause:
            raise self._told(cause, question, bytes(received)) from cause

    def _late(self, question: str, received: bytes) -> LinkError:
        hint = (
            "The answer came without the line end that the profile names: correct terminator."
            if received.endswith((b"\r", b"\n"))
            else "Check that the profile suits the instrument, and that nobody works at its "
            "front panel; allow more time if it averages."
        )
        rule = f"the whole answer must come within {self._limit:.3g} s"
        return self._failed(question, rule, _quoted(received), hint)

    def _deadline(self, timeout: float | None) -> float:
        self._limit = self.settings.timeout if timeout is None else timeout
        return time.monotonic() + self._limit

    def _ready(self, text: str) -> Transport:
        if self._transport is None:
            raise LinkError(
                f"{self.address}: the link must be open to send {text!r} (got a closed one).",
                hint="Connect again first.",
                address=self.address,
                sent=text,
            )
        return self._transport

    def _failed(self, sent: str, rule: str, got: str, hint: str) -> LinkError:
        """Close the link and give the error that says why."""
        self.close()
        return LinkError(
            f"{self.address}: after {sent!r} {rule} (got {got}).",
            hint=hint,
            address=self.address,
            sent=sent,
            received=got,
        )

    def _told(self, cause: LinkError, sent: str = "", received: bytes = b"") -> LinkError:
        """Close the link and add to a transport's error where it was and what had come."""
        self.close()
        after = f"after {sent!r} " if sent else ""
        came = f" {_quoted(received)} had come before." if received else ""
        return LinkError(
            f"{self.address}: {after}{cause.message}{came}",
            hint=cause.hint,
            address=self.address,
            sent=sent,
            received=_quoted(received),
        )


def _visa(address: str, settings: LinkSettings, cancelled: Cancelled) -> Transport:
    from benchapp.instruments.visa import dial  # start-up: VISA only when a link is opened

    return dial(address, settings, cancelled)


def _quoted(content: bytes | str) -> str:
    """Quote an answer for a message, shortened; *nothing* where nothing came."""
    if not content:
        return "nothing"
    text = content if isinstance(content, str) else content.decode("latin-1")
    count = f" and {len(text) - SHOWN} more characters" if len(text) > SHOWN else ""
    return ascii(text[:SHOWN]) + count
