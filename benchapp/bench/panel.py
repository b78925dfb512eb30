"""The bench's instruments as a client meets them: their settings and their commands.

Each panel holds what the knobs are set to and answers through its interpreter. The commands are
of our own making from SCPI-1999 alone; none is that of a known instrument.
"""

from __future__ import annotations

import math
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from benchapp.bench import analyser, meter, scope
from benchapp.bench.analyser import Analyser, Method
from benchapp.bench.converter import Converter
from benchapp.bench.device import Setup, seen, settling_time
from benchapp.bench.meter import Meter
from benchapp.bench.scope import Record, Scope
from benchapp.bench.scpi import Handler, Interpreter, Refusal, block, number, switch

__all__ = ["PANELS", "AnalyserPanel", "Desk", "MeterPanel", "Panel", "ScopePanel"]

MAKER = "SIMULATED BENCH"
VERSION = "1.0"
MOST_POINTS = 2001
WAITING = ("*OPC?", "*WAI", "FETC", "DATA?", "TRAC")  # questions that wait for a measurement
Knob = tuple[str, float, float, float]  # header, lowest, highest, value after reset
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """What stands on the bench: the part, the instruments as built, the seed, the clock.

    ``reading_time`` is the time in s that one unaveraged point takes. ``through`` says how the
    part is wired for a transmission measurement, ``series_ohm`` which resistor feeds it from the
    generator. ``now`` is the clock in s; a test may put its own in.
    """

    setup: Setup
    seed: int = 1
    reading_time: float = 1e-3
    meter: Meter = field(default_factory=Meter)
    analyser: Analyser = field(default_factory=Analyser)
    scope: Scope = field(default_factory=Scope)
    through: Method = "series-through"
    series_ohm: float = 10e3
    now: Callable[[], float] = time.monotonic


class Panel(Protocol):
    """An instrument that answers lines of text."""

    def busy(self, line: str) -> float:
        """Give how many seconds the instrument cannot do this line yet."""

    def execute(self, line: str) -> bytes | None:
        """Do one line; give the reply without end mark, or None."""

    def clip(self, setup: Setup) -> None:
        """Put another part in the clip."""


class _Instrument(ABC):
    """What all panels share: knobs, output, busy time, and their interpreter."""

    kind = ""
    knobs: Mapping[str, Knob] = MappingProxyType({})

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.generator = np.random.default_rng(desk.seed)
        self.set: dict[str, float] = {}
        self.output = False
        self.binary = False
        self._busy_until = -math.inf
        self._reset()
        identity = f"{MAKER},{self.kind},{desk.seed},{VERSION}"
        self._interpreter = Interpreter(identity, self._commands(), self._reset)

    def busy(self, line: str) -> float:
        """Give how long a question for results, or whether all is done, has to wait."""
        waits = any(word in line.upper() for word in WAITING)
        return max(0.0, self._busy_until - self.desk.now()) if waits else 0.0

    def execute(self, line: str) -> bytes | None:
        """Do one program message."""
        return self._interpreter.execute(line)

    def clip(self, setup: Setup) -> None:
        """Put another part in the clip."""
        self.desk = replace(self.desk, setup=setup)

    def _commands(self) -> dict[str, Handler]:
        made: dict[str, Handler] = {}
        for name, (header, low, high, _) in self.knobs.items():
            made[header] = self._setter(name, low, high)
            made[f"{header}?"] = self._getter(name)
        return made | {
            "OUTPut[:STATe]": self._switch_output,
            "OUTPut[:STATe]?": lambda _: str(int(self.output)),
            "FORMat[:DATA]": self._format,
            "INITiate[:IMMediate]": lambda _: self._initiate(),
            "ABORt": lambda _: self._takes(0.0),
        }

    def _reset(self) -> None:
        self.set = {name: start for name, (_, _, _, start) in self.knobs.items()}
        self.output = False
        self.binary = False

    def _setter(self, name: str, low: float, high: float) -> Handler:
        def handle(text: str) -> None:
            self.set[name] = number(text, low, high)
            if name in self._hooks():
                self._hooks()[name]()

        return handle

    def _getter(self, name: str) -> Handler:
        return lambda _: f"{self.set[name]:.9E}"

    def _hooks(self) -> Mapping[str, Callable[[], None]]:
        """Give what happens beside when a knob is turned, by its name."""
        return {}

    def _switch_output(self, text: str) -> None:
        self.output = switch(text)

    def _format(self, text: str) -> None:
        words = text.upper().replace(" ", "")
        if words not in {"ASC", "ASCII", "REAL", "REAL,64"}:
            raise Refusal(-224, "Illegal parameter value")
        self.binary = words.startswith("REAL")

    @abstractmethod
    def _initiate(self) -> None:
        """Start a measurement with the present settings."""

    def _takes(self, seconds: float) -> None:
        self._busy_until = self.desk.now() + seconds

    def _numbers(self, values: FloatArray) -> str | bytes:
        if self.binary:
            return block(values.astype(">f8").tobytes())
        return ",".join(f"{value:.9E}" for value in values)


class MeterPanel(_Instrument):
    """An LCR meter: one frequency, or a list; each point is frequency, R, X and a status.

    Status: 0 good, 1 overload, 2 output off.
    """

    kind = "LCR METER"
    knobs = MappingProxyType(
        {
            "frequency": ("SOURce:FREQuency[:CW]", 20.0, 20e6, 1e3),
            "level": ("SOURce:VOLTage[:LEVel]", 5e-3, 2.0, 1.0),
            "bias": ("SOURce:VOLTage:OFFSet", 0.0, 10.0, 0.0),
            "averages": ("[SENSe:]AVERage:COUNt", 1, 256, 1),
            "range": ("[SENSe:]IMPedance:RANGe[:UPPer]", 1.0, 1e9, 1e9),
        }
    )

    def _reset(self) -> None:
        super()._reset()
        self.held = False
        self.listed = False
        self.frequencies = np.array([self.set["frequency"]])
        self._result: FloatArray | None = None
        self._before = self.set["frequency"]
        self._changed_at = -math.inf

    def _commands(self) -> dict[str, Handler]:
        return super()._commands() | {
            "[SENSe:]IMPedance:RANGe:AUTO": self._auto_range,
            "SOURce:LIST:FREQuency": self._list,
            "SOURce:FREQuency:MODE": self._mode,
            "FETCh?": lambda _: self._fetch(),
        }

    def _hooks(self) -> Mapping[str, Callable[[], None]]:
        return {"frequency": self._retune, "range": self._hold}

    def _retune(self) -> None:
        self._before = float(self.frequencies[-1])
        self._changed_at = self.desk.now()
        self.frequencies = np.array([self.set["frequency"]])

    def _hold(self) -> None:
        self.held = True

    def _auto_range(self, text: str) -> None:
        self.held = not switch(text)

    def _list(self, text: str) -> None:
        cells = text.split(",")
        if len(cells) > MOST_POINTS:
            raise Refusal(-223, "Too much data")
        self.frequencies = np.array([number(cell.strip(), 20.0, 20e6) for cell in cells])

    def _mode(self, text: str) -> None:
        modes = {"CW": False, "FIX": False, "FIXED": False, "LIST": True}
        if text.upper() not in modes:
            raise Refusal(-224, "Illegal parameter value")
        self.listed = modes[text.upper()]

    def _initiate(self) -> None:
        averages = int(self.set["averages"])
        f = self.frequencies
        built = replace(self.desk.meter, level_volt=self.set["level"], averages=averages)
        readings = meter.measure(
            replace(built, held=self._held_range(built)), self.desk.setup, f, self.generator
        )
        z = readings.impedance + (readings.status == 0) * self._unsettled()
        status = np.where(self.output, readings.status, 2)
        table = np.stack([f, z.real, z.imag, status], axis=1)
        self._result = table.ravel()
        self._takes(self.desk.reading_time * averages * f.size)

    def _held_range(self, built: Meter) -> int | None:
        if not self.held:
            return None
        uppers = [entry.upper_ohm for entry in built.ranges]
        return min(int(np.searchsorted(uppers, self.set["range"])), len(uppers) - 1)

    def _unsettled(self) -> complex:
        """Give what is left of the last frequency's impedance; a list sweep waits by itself."""
        tau = settling_time(self.desk.setup.device)
        passed = self.desk.now() - self._changed_at
        if self.listed or tau <= 0 or passed > 50 * tau:
            return 0.0
        ends = np.array([self._before, self.frequencies[-1]])
        old, new = seen(self.desk.setup, ends)
        return complex((old - new) * math.exp(-passed / tau))

    def _fetch(self) -> str | bytes:
        if self._result is None:
            raise Refusal(-230, "Data corrupt or stale")
        return self._numbers(self._result)


class AnalyserPanel(_Instrument):
    """A network analyser: one linear sweep of S11, or of S21 as the part is wired."""

    kind = "NETWORK ANALYSER"
    knobs = MappingProxyType(
        {
            "start": ("[SENSe:]FREQuency:STARt", 100.0, 1e9, 100e3),
            "stop": ("[SENSe:]FREQuency:STOP", 100.0, 1e9, 1e6),
            "points": ("[SENSe:]SWEep:POINts", 2, MOST_POINTS, 201),
            "power": ("SOURce:POWer[:LEVel]", -60.0, 10.0, -10.0),
            "bandwidth": ("[SENSe:]BANDwidth[:RESolution]", 1.0, 100e3, 1e3),
            "averages": ("[SENSe:]AVERage:COUNt", 1, 256, 1),
        }
    )
    bandwidth_of_noise = 1e3  # Hz, at which the analyser's noise is stated

    def _reset(self) -> None:
        super()._reset()
        self.transmission = False
        self._result: FloatArray | None = None
        self._grid = np.array([1e3])

    def _commands(self) -> dict[str, Handler]:
        return super()._commands() | {
            "[SENSe:]FUNCtion[:ON]": self._function,
            "[SENSe:]FREQuency:DATA?": lambda _: self._numbers(self._grid),
            "CALCulate:DATA?": lambda _: self._fetch(),
        }

    def _function(self, text: str) -> None:
        names = {"XFREQUENCY:POWER:S11": False, "XFREQUENCY:POWER:S21": True}
        name = text.strip("\"'").upper()
        if name not in names:
            raise Refusal(-224, "Illegal parameter value")
        self.transmission = names[name]

    def _initiate(self) -> None:
        start, stop = self.set["start"], self.set["stop"]
        if start >= stop:
            raise Refusal(-221, "Settings conflict")
        self._grid = np.linspace(start, stop, int(self.set["points"]))
        share = self.set["bandwidth"] / self.bandwidth_of_noise / self.set["averages"]
        volt = math.sqrt(self.desk.analyser.reference * 1e-3 * 10 ** (self.set["power"] / 10))
        built = replace(
            self.desk.analyser, noise=self.desk.analyser.noise * math.sqrt(share), level_volt=volt
        )
        method: Method = self.desk.through if self.transmission else "reflection"
        ratio = analyser.measure(built, self.desk.setup, method, self._grid, self.generator)
        ratio = ratio if self.output else ratio * 0
        self._result = np.stack([ratio.real, ratio.imag], axis=1).ravel()
        time_per_point = self.desk.reading_time * self.bandwidth_of_noise / self.set["bandwidth"]
        self._takes(time_per_point * self.set["averages"] * self._grid.size)

    def _fetch(self) -> str | bytes:
        if self._result is None:
            raise Refusal(-230, "Data corrupt or stale")
        return self._numbers(self._result)


class ScopePanel(_Instrument):
    """A two-channel scope with a sine and step generator behind a known resistor."""

    kind = "SCOPE AND GENERATOR"
    knobs = MappingProxyType(
        {
            "frequency": ("SOURce:FREQuency[:CW]", 1.0, 20e6, 1e3),
            "level": ("SOURce:VOLTage[:LEVel]", 1e-3, 10.0, 1.0),
            "interval": ("[SENSe:]SWEep:TINTerval", 1e-10, 1.0, 2e-7),
            "points": ("[SENSe:]SWEep:POINts", 10, 100_000, 2000),
            "range": ("[SENSe:]VOLTage:RANGe[:UPPer]", 1e-3, 100.0, 1.25),
        }
    )

    def _reset(self) -> None:
        super()._reset()
        self.step = False
        self._record: Record | None = None

    def _commands(self) -> dict[str, Handler]:
        return super()._commands() | {
            "SOURce:FUNCtion[:SHAPe]": self._shape,
            "TRACe[:DATA]?": self._trace,
        }

    def _shape(self, text: str) -> None:
        shapes = {"SIN": False, "SINUSOID": False, "PULS": True, "PULSE": True}
        if text.upper() not in shapes:
            raise Refusal(-224, "Illegal parameter value")
        self.step = shapes[text.upper()]

    def _initiate(self) -> None:
        converter = Converter(bits=self.desk.scope.converter.bits, full_scale=self.set["range"])
        built = replace(
            self.desk.scope,
            converter=converter,
            rate=1 / self.set["interval"],
            samples=int(self.set["points"]),
        )
        volt = self.set["level"] if self.output else 0.0
        self._record = (
            scope.record_decay(built, self.desk.setup, self.generator, volt=volt)
            if self.step
            else scope.record_sine(
                built,
                self.desk.setup,
                self.set["frequency"],
                self.generator,
                series_ohm=self.desk.series_ohm,
                volt=volt,
            )
        )
        self._takes(self.desk.reading_time + self.set["interval"] * self.set["points"])

    def _trace(self, text: str) -> str | bytes:
        if self._record is None:
            raise Refusal(-230, "Data corrupt or stale")
        channel = {"CH1": 0, "CH2": 1}.get(text.upper())
        if channel is None or channel >= self._record.voltage.shape[0]:
            raise Refusal(-224, "Illegal parameter value")
        return self._numbers(self._record.voltage[channel])


class TersePanel:
    """A meter that speaks no SCPI: one letter and a number, |Z| and degrees back.

    ``F1000`` frequency, ``V0.5`` level, ``N4`` averages, ``E1``/``E0`` output, ``G`` go, ``D``
    data as ``Z <ohm> P <degrees> <N|O>``, ``I`` identity, ``Q`` last error.
    """

    LETTERS = MappingProxyType(
        {
            "F": ("SOUR:FREQ", "frequency"),
            "V": ("SOUR:VOLT", "level"),
            "N": ("SENS:AVER:COUN", "averages"),
            "E": ("OUTP", "output"),
        }
    )

    def __init__(self, desk: Desk) -> None:
        self._inner = MeterPanel(desk)

    def busy(self, line: str) -> float:
        """Give how long a question for data has to wait."""
        return self._inner.busy("FETC?" if line[:1].upper() == "D" else line)

    def execute(self, line: str) -> bytes | None:
        """Do one letter."""
        letter, rest = line[:1].upper(), line[1:].strip()
        if letter in self.LETTERS:
            self._inner.execute(f"{self.LETTERS[letter][0]} {rest}")
            return None
        if letter == "G":
            self._inner.execute("INIT")
            return None
        return self._answer(letter)

    def clip(self, setup: Setup) -> None:
        """Put another part in the clip."""
        self._inner.clip(setup)

    def _answer(self, letter: str) -> bytes:
        if letter == "I":
            return b"TERSE METER OF THE SIMULATED BENCH"
        if letter == "D":
            return self._data()
        code = (self._inner.execute("SYST:ERR?") or b"0").split(b",")[0]
        return b"E" + code.lstrip(b"-").zfill(3)

    def _data(self) -> bytes:
        reply = self._inner.execute("FETC?")
        if reply is None:
            return b"Z 0 P 0 O"
        _, r, x, status = (float(cell) for cell in reply.split(b","))
        z = complex(r, x)
        word = "N" if status == 0 else "O"
        text = f"Z {abs(z):.7E} P {math.degrees(math.atan2(x, r)):.5f} {word}"
        return text.encode("ascii")


PANELS: Mapping[str, Callable[[Desk], Panel]] = MappingProxyType(
    {
        "lcr": MeterPanel,
        "analyser": AnalyserPanel,
        "scope": ScopePanel,
        "terse": TersePanel,
    }
)
"""Every instrument of the bench, by the name that starts it."""
