"""Recorded conversations: what must be sent, in order, and what comes back."""

from __future__ import annotations

import contextlib

import pytest

from benchapp.errors import LinkError
from benchapp.instruments import Link, LinkSettings


class Tape:
    """A transport that plays a conversation and refuses any other.

    Lines start with ``>`` (must be sent), ``<`` (comes back with a line end), ``<<`` (comes back
    as it is, escapes allowed), or ``x`` (the connection breaks).
    """

    def __init__(self, conversation, end=b"\n"):
        self.lines = [line.strip() for line in conversation.strip().splitlines() if line.strip()]
        self.end = end
        self.coming = []
        self.dials = 0

    def __call__(self, _address, _settings, _cancelled):
        self.dials += 1
        self.coming.clear()
        return self

    def write(self, content):
        assert content.endswith(self.end)
        text = content.removesuffix(self.end).decode("ascii")
        assert self.lines, f"sent {text!r} after the end of the conversation"
        assert f"> {text}" == self.lines.pop(0)
        while self.lines and self.lines[0].startswith("<"):
            line = self.lines.pop(0)
            self.coming.append(
                line[2:].strip().encode().decode("unicode_escape").encode("latin-1")
                if line.startswith("<<")
                else line[1:].strip().encode("latin-1") + self.end
            )

    def read(self, most, _seconds):
        if not self.coming and self.lines and self.lines[0] == "x":
            self.lines.pop(0)
            raise LinkError("the connection must stay open (got it closed).", hint="Wait.")
        if not self.coming:
            return b""
        piece = self.coming.pop(0)
        if piece[most:]:
            self.coming.insert(0, piece[most:])
        return piece[:most]

    def waiting(self):
        return bool(self.coming)

    def close(self):
        self.coming.clear()


@pytest.fixture
def play():
    """Open a link on a conversation; at the end nothing of it may be left over."""
    tapes = []

    def start(conversation, *, end="\n", **settings):
        tape = Tape(conversation, end.encode())
        tapes.append(tape)
        chosen = LinkSettings(
            **{"timeout": 0.2, "open_timeout": 0.2, "identify": "", "terminator": end} | settings
        )
        return Link("TAPE", chosen, dial=tape)

    yield start
    for tape in tapes:
        assert tape.lines == [], "this part of the conversation never took place"


@pytest.fixture
def late_cancel():
    """Make a stop that comes when it has been asked for a number of times."""

    def make(after):
        asked = iter(range(1_000_000))
        return lambda: next(asked) >= after

    return make


@contextlib.contextmanager
def closing(link):
    """Close a link whatever happens."""
    try:
        yield link
    finally:
        link.close()
