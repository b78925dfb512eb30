"""What a profile is: how to talk to one kind of instrument, as plain values.

A profile holds texts to send and names of what comes back. Nothing in it is ever executed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

import numpy as np

from benchapp.errors import ProfileError
from benchapp.instruments.link import LinkSettings
from benchapp.uncertainty import Accuracy

__all__ = [
    "ASKS",
    "METHODS",
    "SENDS",
    "AnswerForm",
    "Column",
    "Limits",
    "Method",
    "Needs",
    "Profile",
    "Span",
    "fill",
    "written",
]

Method = Literal[
    "impedance-points",
    "impedance-list",
    "reflection",
    "series-through",
    "shunt-through",
    "gain-phase",
    "ring-down",
]
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a profile of one method must have."""

    title: str
    send: tuple[str, ...]
    ask: tuple[str, ...]


_NETWORK = {"send": ("output_off", "output_on", "sweep", "trigger"), "ask": ("read",)}
METHODS: Mapping[str, Needs] = MappingProxyType(
    {
        "impedance-points": Needs(
            title="impedance, one frequency after the other",
            send=("output_off", "output_on", "frequency"),
            ask=("read",),
        ),
        "impedance-list": Needs(
            title="impedance at a list of frequencies in one go",
            send=("output_off", "output_on", "list"),
            ask=("read",),
        ),
        "reflection": Needs(title="reflection at one port (S11)", **_NETWORK),
        "series-through": Needs(title="part in series between two ports (S21)", **_NETWORK),
        "shunt-through": Needs(title="part from the line to ground (S21)", **_NETWORK),
        "gain-phase": Needs(
            title="two voltages around a known resistor, one frequency after the other",
            send=("output_off", "output_on", "frequency", "record", "trigger"),
            ask=("channel_1", "channel_2"),
        ),
        "ring-down": Needs(
            title="one record of a tank that is let go",
            send=("output_off", "output_on", "record", "trigger"),
            ask=("channel_1",),
        ),
    }
)
"""Every way to measure, by the name that a profile gives it."""

SENDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "abort": (),
        "start": (),
        "output_on": (),
        "output_off": (),
        "frequency": ("frequency",),
        "level": ("level",),
        "bias": ("bias",),
        "averages": ("averages",),
        "range_auto": (),
        "range_hold": ("range",),
        "list": ("list",),
        "sweep": ("start", "stop", "points"),
        "record": ("interval", "samples"),
        "trigger": (),
    }
)
"""Every act that a profile can describe, with the names that may stand in braces."""

ASKS = ("done", "read", "channel_1", "channel_2", "interval", "output", "bias", "error")
"""Every question that a profile can describe."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One number of an answer: its role, and the factor to SI units (angles to radians).

    Roles are those of a table of impedances (``R``, ``X``, ``theta``, ``Ls`` ...), ``re`` and
    ``im`` of an S-parameter, ``voltage``, ``frequency``, ``status``, or ``skip``.
    """

    role: str
    factor: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerForm:
    """How measured values come: lines of text or blocks, and what each number is.

    ``good`` are the statuses of a good reading, empty where there is no status. Numbers of
    ``overload`` and above mean that there is none.
    """

    columns: tuple[Column, ...]
    form: Literal["text", "block"] = "text"
    separator: str = ","
    number: str = "float64"
    byte_order: Literal["big", "little"] = "big"
    good: tuple[str, ...] = ()
    overload: float = 9.0e37

    @property
    def dtype(self) -> np.dtype[np.generic]:
        """The kind of number in a block."""
        return np.dtype(self.number).newbyteorder(">" if self.byte_order == "big" else "<")


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What the instrument can do; None where the profile does not say.

    Above ``caution_level`` (V) and ``caution_bias`` (V) a person must consent.
    """

    frequency: Span | None = None
    level: Span | None = None
    bias: Span | None = None
    averages: Span | None = None
    points: Span | None = None
    caution_level: float | None = None
    caution_bias: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """How to talk to one kind of instrument.

    ``settle`` is the instrument's own time in s after a change of frequency; ``reference`` the
    port impedance in ohm of a network analyser. ``done_answer``, ``off_answer`` and ``no_error``
    are the answers to ``done`` and ``output``, and what that to ``error`` begins with, when all
    is well. ``accuracy`` is what its user states about the instrument, ``calibration_due`` the
    ISO date until which its calibration holds; None where nothing is stated.
    """

    title: str
    method: Method
    answer: AnswerForm
    send: Mapping[str, tuple[str, ...]]
    ask: Mapping[str, str]
    link: LinkSettings = field(default_factory=LinkSettings)
    limits: Limits = field(default_factory=Limits)
    about: str = ""
    settle: float = 0.0
    reference: float = 50.0
    numbers: Literal["plain", "exponent"] = "exponent"
    done_answer: str = "1"
    off_answer: str = "0"
    no_error: str = "0"
    accuracy: Accuracy | None = None
    calibration_due: str | None = None
    source: str = ""

    def commands(self, act: str, **values: float | str) -> tuple[str, ...]:
        """Give the texts of an act with its values filled in; none where it is not described."""
        shown = {
            name: value if isinstance(value, str) else written(value, self.numbers)
            for name, value in values.items()
        }
        return tuple(fill(text, shown) for text in self.send.get(act, ()))


def fill(text: str, values: Mapping[str, str]) -> str:
    """Put values in the place of their names in braces. Nothing else is interpreted."""
    for name, value in values.items():
        text = text.replace("{" + name + "}", value)
    return text


def written(value: float, numbers: str) -> str:
    """Write a number for an instrument: with an exponent, or digits and a point alone."""
    if not np.isfinite(value):
        raise ProfileError(
            f"a number to send: must be finite (got {value!r}).", hint="Check the settings."
        )
    if float(value).is_integer() and abs(value) < 1e15:
        return str(int(value))
    if numbers == "plain":
        return np.format_float_positional(value, precision=12, fractional=False, trim="-")
    return f"{value:.10E}"
