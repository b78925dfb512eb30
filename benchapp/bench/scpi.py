"""The language of the bench's instruments: headers, parameters, error queue, status bytes.

Source: IEEE 488.2-1992 (common commands, event status register, block formats) and SCPI-1999
volumes 1 and 2 (headers in short and long form, error numbers), as common practice quotes them.
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Callable, Mapping
from types import MappingProxyType

__all__ = ["Handler", "Interpreter", "Refusal", "block", "number", "switch"]

Handler = Callable[[str], str | bytes | None]
"""Takes the parameter text; gives the reply of a query, None for a command."""

QUEUE_LENGTH = 16
OVERFLOW = (-350, "Queue overflow")
SCPI_VERSION = "1999.0"
EVENT_BITS = MappingProxyType({1: 0x20, 2: 0x10, 3: 0x08, 4: 0x04})  # by hundreds of the number
OPERATION_COMPLETE, POWER_ON = 0x01, 0x80
SUFFIXES = MappingProxyType(
    {"": 1.0, "HZ": 1.0, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9, "V": 1.0, "MV": 1e-3, "OHM": 1.0}
    | {"KOHM": 1e3, "MOHM": 1e6, "S": 1.0, "MS": 1e-3, "US": 1e-6, "DBM": 1.0}
)
NUMBER = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:E[+-]?\d+)?)\s*([A-Z]*)")
NODE = re.compile(r"(\[?):?([A-Za-z]+)(?::?\])?")


class Refusal(Exception):  # noqa: N818  (the bench says no to its client; nothing went wrong here)
    """What goes into the error queue: a number and a text of the standard."""

    def __init__(self, code: int, text: str) -> None:
        super().__init__(code, text)
        self.code = code
        self.text = text


def number(text: str, low: float, high: float) -> float:
    """Read a numeric parameter with an optional suffix.

    Raises
    ------
    Refusal
        -109 without a number, -104 where it is none, -131 for a suffix that does not exist,
        -222 outside the range.
    """
    if not text:
        raise Refusal(-109, "Missing parameter")
    match = NUMBER.fullmatch(text.upper())
    if match is None:
        raise Refusal(-104, "Data type error")
    if match[2] not in SUFFIXES:
        raise Refusal(-131, "Invalid suffix")
    value = float(match[1]) * SUFFIXES[match[2]]
    if not low <= value <= high:
        raise Refusal(-222, "Data out of range")
    return value


def switch(text: str) -> bool:
    """Read a Boolean parameter: ON, OFF, or a number that is rounded.

    Raises
    ------
    Refusal
        As for `number`.
    """
    words = {"ON": True, "OFF": False}
    upper = text.upper()
    return words[upper] if upper in words else round(number(text, -1e9, 1e9)) != 0


def block(content: bytes) -> bytes:
    """Wrap bytes as an IEEE 488.2 definite-length block: #, digits of the length, length."""
    length = str(len(content)).encode()
    return b"#" + str(len(length)).encode() + length + content


def _node(match: re.Match[str]) -> str:
    word = match[2]
    short = "".join(letter for letter in word if letter.isupper())
    rest = word[len(short) :].upper()
    text = f":{short}(?:{rest})?1?" if rest else f":{short}1?"
    return f"(?:{text})?" if match[1] else text


def _pattern(header: str) -> re.Pattern[str]:
    """Compile a header as manuals print it: capitals are the short form, brackets optional."""
    query = r"\?" if header.endswith("?") else ""
    return re.compile(NODE.sub(_node, header.removesuffix("?")) + query)


class Interpreter:
    """Understands message units and answers them from a table of headers.

    Parameters
    ----------
    identity : str
        The four fields of ``*IDN?``.
    commands : mapping of str to Handler
        Headers as ``[SENSe:]AVERage:COUNt``; a query ends in ``?``.
    reset : callable
        What ``*RST`` does.
    """

    def __init__(
        self, identity: str, commands: Mapping[str, Handler], reset: Callable[[], None]
    ) -> None:
        self._reset = reset
        self._errors: deque[tuple[int, str]] = deque()
        self._events = POWER_ON
        self._enable = {"*ESE": 0, "*SRE": 0}
        self._path = ""
        self._common = self._common_commands(identity)
        table: dict[str, Handler] = {
            **commands,
            "SYSTem:ERRor[:NEXT]?": lambda _: self._next_error(),
            "SYSTem:VERSion?": lambda _: SCPI_VERSION,
        }
        self._table = [(_pattern(header), handler) for header, handler in table.items()]

    def execute(self, line: str) -> bytes | None:
        """Do one program message; give its response message without end mark, or None."""
        self._path = ""
        replies: list[bytes] = []
        for unit in _units(line):
            try:
                reply = self._unit(unit)
            except Refusal as refusal:
                self.report(refusal)
                break
            if reply is not None:
                replies.append(reply if isinstance(reply, bytes) else reply.encode("ascii"))
        return b";".join(replies) if replies else None

    def report(self, refusal: Refusal) -> None:
        """Put an error into the queue and into the event status register."""
        self._events |= EVENT_BITS.get(-refusal.code // 100, 0)
        if len(self._errors) >= QUEUE_LENGTH:
            self._errors[-1] = OVERFLOW
        else:
            self._errors.append((refusal.code, refusal.text))

    def _unit(self, unit: str) -> str | bytes | None:
        header, _, parameters = unit.partition(" ")
        upper = header.upper()
        if upper.startswith("*"):
            if upper not in self._common:
                raise Refusal(-113, "Undefined header")
            return self._common[upper](parameters.strip())
        absolute = upper.startswith(":")
        for path in dict.fromkeys(("" if absolute else self._path, "")):
            full = path + (upper if absolute else f":{upper}")
            for pattern, handler in self._table:
                if pattern.fullmatch(full):
                    self._path = full.rpartition(":")[0]
                    return handler(parameters.strip())
        raise Refusal(-113, "Undefined header")

    def _common_commands(self, identity: str) -> dict[str, Handler]:
        return {
            "*IDN?": lambda _: identity,
            "*RST": self._do_reset,
            "*CLS": lambda _: self._clear(),
            "*OPC": lambda _: self._complete(),
            "*OPC?": lambda _: "1",
            "*WAI": lambda _: None,
            "*TST?": lambda _: "0",
            "*ESR?": lambda _: self._read_events(),
            "*ESE": lambda text: self._set_enable("*ESE", text),
            "*ESE?": lambda _: str(self._enable["*ESE"]),
            "*SRE": lambda text: self._set_enable("*SRE", text),
            "*SRE?": lambda _: str(self._enable["*SRE"]),
            "*STB?": lambda _: str(self._status_byte()),
        }

    def _do_reset(self, _: str) -> None:
        self._reset()

    def _clear(self) -> None:
        self._errors.clear()
        self._events = 0

    def _complete(self) -> None:
        self._events |= OPERATION_COMPLETE

    def _read_events(self) -> str:
        events, self._events = self._events, 0
        return str(events)

    def _set_enable(self, register: str, text: str) -> None:
        self._enable[register] = int(number(text, 0, 255))

    def _status_byte(self) -> int:
        summary = 0x04 * bool(self._errors) | 0x20 * bool(self._events & self._enable["*ESE"])
        return summary | 0x40 * bool(summary & self._enable["*SRE"])

    def _next_error(self) -> str:
        code, text = self._errors.popleft() if self._errors else (0, "No error")
        return f'{code},"{text}"'


def _units(line: str) -> list[str]:
    """Split a message at its semicolons, except inside quotes."""
    parts = re.findall(r"(?:[^;\"']|\"[^\"]*\"|'[^']*')+", line)
    return [part.strip() for part in parts if part.strip()]
