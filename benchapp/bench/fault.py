"""What can go wrong on the way back from an instrument, put in on purpose."""

from __future__ import annotations

import socket
import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

import numpy as np

__all__ = ["FAULTS", "Fault", "Wire", "draw_faults"]

DRIP_SECONDS = 0.02  # between two bytes
REFUSED_SECONDS = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault: its kind (a name of `FAULTS`) and the reply (0-based) that it spoils."""

    kind: str
    reply: int


class Wire(Protocol):
    """What a fault may do to the connection that it spoils."""

    connection: socket.socket
    last: bytes
    held: bytes

    def send(self, content: bytes) -> None:
        """Send bytes as they are."""

    def wait(self, seconds: float | None) -> bool:
        """Wait; True when the server is being stopped. None waits for that or for the client."""

    def refuse(self, seconds: float) -> None:
        """Accept no connection for a while."""


Spoil = Callable[[Wire, bytes, np.random.Generator], bool]
"""Deliver a spoilt reply (with its end mark); True keeps the connection open."""


def _stall(wire: Wire, _reply: bytes, _rng: np.random.Generator) -> bool:
    wire.wait(None)
    return False


def _late(wire: Wire, reply: bytes, _rng: np.random.Generator) -> bool:
    wire.held = reply  # the next reply pushes it out in front of itself
    return True


def _stale(wire: Wire, reply: bytes, _rng: np.random.Generator) -> bool:
    wire.send(wire.last or reply)
    return True


def _drop(wire: Wire, reply: bytes, rng: np.random.Generator) -> bool:
    wire.send(reply[: int(rng.integers(0, len(reply)))])
    return False


def _reset(wire: Wire, reply: bytes, rng: np.random.Generator) -> bool:
    wire.send(reply[: int(rng.integers(0, len(reply)))])
    linger = struct.pack("ii", 1, 0)  # close with a reset instead of a goodbye
    wire.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, linger)
    return False


def _garbage(wire: Wire, reply: bytes, rng: np.random.Generator) -> bool:
    noise = rng.integers(1, 256, size=max(4, len(reply) - 1), dtype=np.uint8).tobytes()
    wire.send(noise.replace(b"\n", b"?").replace(b"\r", b"?") + reply[-1:])
    return True


def _length(wire: Wire, reply: bytes, rng: np.random.Generator) -> bool:
    """Promise more or less in a block than it holds; of a text, lose the end."""
    if not reply.startswith(b"#"):
        wire.send(reply[: len(reply) // 2] + reply[-1:])
        return True
    digits = int(reply[1:2])
    length = int(reply[2 : 2 + digits])
    wrong = max(0, length + int(rng.choice([-8, -3, 5, 16])))
    head = f"#{digits}{wrong:0{digits}d}".encode()
    wire.send(head + reply[2 + digits :])
    return True


def _drip(wire: Wire, reply: bytes, _rng: np.random.Generator) -> bool:
    for place in range(len(reply)):
        if wire.wait(DRIP_SECONDS):
            return False
        wire.send(reply[place : place + 1])
    return True


def _refused(wire: Wire, _reply: bytes, _rng: np.random.Generator) -> bool:
    wire.refuse(REFUSED_SECONDS)
    return False


FAULTS: Mapping[str, Spoil] = MappingProxyType(
    {
        "stall": _stall,
        "late": _late,
        "stale": _stale,
        "drop": _drop,
        "reset": _reset,
        "garbage": _garbage,
        "length": _length,
        "drip": _drip,
        "refused": _refused,
    }
)
"""Every fault by name."""


def draw_faults(
    generator: np.random.Generator, replies: int, *, kinds: tuple[str, ...] = tuple(FAULTS)
) -> tuple[Fault, ...]:
    """Choose one fault and the reply it spoils, among the first ``replies``."""
    kind = str(generator.choice(kinds))
    return (Fault(kind=kind, reply=int(generator.integers(0, replies))),)
