"""What was measured: frozen values with read-only arrays, identified by their content.

A capture never changes. A correction makes a new capture whose ``history`` has one more
`Step`; the `Origin` (source and digest of the bytes as read) stays the same for ever.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, fields, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import CaptureError

__all__ = [
    "Capture",
    "Conditions",
    "Noise",
    "NoiseKind",
    "Origin",
    "Response",
    "ResponseKind",
    "Step",
    "Sweep",
    "Transient",
]

NoiseKind = Literal[
    "unknown", "relative", "absolute", "reflection", "series-through", "shunt-through"
]
ResponseKind = Literal["reflection", "transmission", "gain"]
FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Noise:
    """How the random part of an impedance scales.

    ``relative``: proportional to |Z|; ``absolute``: the same in ohm at every point;
    ``reflection``, ``series-through``, ``shunt-through``: constant in the S-parameter that the
    impedance was computed from, with the port impedance ``reference`` in ohm; ``unknown``: to be
    found from the data. ``level`` is the rms of the complex error in that domain (fraction, ohm
    or S-parameter units), None where it is not known.
    """

    kind: NoiseKind = "unknown"
    level: float | None = None
    reference: float = 50.0

    def __post_init__(self) -> None:
        if self.level is not None and not 0 < self.level < np.inf:
            raise CaptureError(
                f"noise level: must be positive and finite (got {self.level!r}).",
                hint="Leave it out when it is not known.",
            )
        if not 0 < self.reference < np.inf:
            raise CaptureError(
                f"reference impedance: must be positive and finite (got {self.reference!r}).",
                hint="Give the port impedance in ohm, usually 50.",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """Under what a capture was taken. None means *not stated*, never zero.

    Levels are rms at the part; ``equivalent_circuit`` is the pair quoted by the instrument.
    """

    level_volt: float | None = None
    level_ampere: float | None = None
    bias_volt: float | None = None
    bias_ampere: float | None = None
    temperature_celsius: float | None = None
    equivalent_circuit: Literal["series", "parallel"] | None = None
    fixture: str | None = None
    surroundings: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Where a capture came from. Never edited.

    ``sha256`` is the digest of the bytes as read (empty for a capture made in memory); ``taken``
    an ISO 8601 time; ``label`` tells apart several captures of one source (``sweep 2``).
    """

    source: str = "memory"
    reader: str = ""
    sha256: str = ""
    taken: str | None = None
    label: str = ""
    part: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One correction that was applied: its name and, in words, what it did."""

    name: str
    detail: str = ""


def _real(name: str, values: ArrayLike) -> FloatArray:
    array = np.array(values, dtype=np.float64, copy=True)
    return _checked(name, array)  # type: ignore[no-any-return]


def _checked(name: str, array: Any) -> Any:
    if array.ndim != 1:
        raise CaptureError(
            f"{name}: must be one row of numbers (got shape {array.shape}).",
            hint="Give one capture at a time.",
        )
    bad = np.flatnonzero(~np.isfinite(array))
    if bad.size:
        raise CaptureError(
            f"{name}: every value must be finite (got {array[bad[0]]!r} at point {bad[0] + 1}).",
            hint="Set unreadable points aside before making a capture.",
            points=bad.tolist(),
        )
    array.flags.writeable = False
    return array


def _complex(name: str, values: ArrayLike) -> ComplexArray:
    return _checked(name, np.array(values, dtype=np.complex128, copy=True))  # type: ignore[no-any-return]


def _rising(name: str, array: FloatArray, *, positive: bool) -> None:
    if array.size == 0:
        raise CaptureError(f"{name}: needs at least one point (got none).", hint="Measure again.")
    if positive and array[0] <= 0:
        raise CaptureError(
            f"{name}: must be above zero (got {array.min():g} at point 1).",
            hint="Leave out the DC point; an alternating-current result needs a frequency.",
        )
    falls = np.flatnonzero(np.diff(array) <= 0)
    if falls.size:
        point = int(falls[0]) + 1
        raise CaptureError(
            f"{name}: must rise strictly (got {array[point - 1]:g} then {array[point]:g} "
            f"at point {point + 1}).",
            hint="Split a file with several sweeps, and average or drop repeated points.",
            points=[point],
        )


def _same_length(first: str, a: NDArray[Any], second: str, b: NDArray[Any]) -> None:
    if a.shape != b.shape:
        raise CaptureError(
            f"{second}: must have as many points as {first} (got {b.size} for {a.size}).",
            hint="Check that no row of the file is incomplete.",
        )


class _Content:
    """Identity by content, safe pickling, and the growing history, for all captures."""

    __slots__ = ()

    @property
    def digest(self) -> str:
        """SHA-256 of the arrays and of every stated fact: equal content, equal digest."""
        sha = hashlib.sha256(type(self).__name__.encode())
        for entry in fields(self):  # type: ignore[arg-type]
            value = getattr(self, entry.name)
            sha.update(b"\0" + entry.name.encode() + b"=")
            if isinstance(value, np.ndarray):
                sha.update(value.tobytes())
            else:
                sha.update(repr(value).encode())
        return sha.hexdigest()

    def __reduce__(self) -> tuple[Any, ...]:
        values = {entry.name: getattr(self, entry.name) for entry in fields(self)}  # type: ignore[arg-type]
        return _rebuild, (type(self), values)

    def __copy__(self) -> Any:
        return self

    def __deepcopy__(self, memo: dict[int, Any]) -> Any:
        return self

    def with_step(self, step: Step, **changes: Any) -> Any:
        """Give a copy with ``changes`` applied and ``step`` added to its history."""
        history = (*self.history, step)  # type: ignore[attr-defined]
        return replace(self, history=history, **changes)  # type: ignore[type-var]


def _rebuild(kind: type[Any], values: dict[str, Any]) -> Any:
    return kind(**values)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sweep(_Content):
    """Complex impedance over frequency.

    Parameters
    ----------
    frequency : (N,) float, Hz
        Strictly rising, above zero.
    impedance : (N,) complex, ohm
        Finite.

    Raises
    ------
    CaptureError
        When the arrays break one of these rules.
    """

    frequency: FloatArray
    impedance: ComplexArray
    noise: Noise = field(default_factory=Noise)
    conditions: Conditions = field(default_factory=Conditions)
    origin: Origin = field(default_factory=Origin)
    history: tuple[Step, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "frequency", _real("frequency", self.frequency))
        object.__setattr__(self, "impedance", _complex("impedance", self.impedance))
        _rising("frequency", self.frequency, positive=True)
        _same_length("frequency", self.frequency, "impedance", self.impedance)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Response(_Content):
    """A ratio over frequency: reflection, transmission or voltage gain.

    Parameters
    ----------
    frequency : (N,) float, Hz
        Strictly rising, above zero.
    ratio : (N,) complex
        Linear (never decibel). Where ``has_phase`` is False it holds magnitudes, phase zero.
    kind : {'reflection', 'transmission', 'gain'}
    reference : float, ohm
        Port impedance (without meaning for a gain).

    Raises
    ------
    CaptureError
        When the arrays break one of these rules.
    """

    frequency: FloatArray
    ratio: ComplexArray
    kind: ResponseKind
    has_phase: bool = True
    reference: float = 50.0
    noise_level: float | None = None
    conditions: Conditions = field(default_factory=Conditions)
    origin: Origin = field(default_factory=Origin)
    history: tuple[Step, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "frequency", _real("frequency", self.frequency))
        object.__setattr__(self, "ratio", _complex("ratio", self.ratio))
        _rising("frequency", self.frequency, positive=True)
        _same_length("frequency", self.frequency, "ratio", self.ratio)
        if not self.has_phase and np.any((self.ratio.imag != 0) | (self.ratio.real < 0)):
            raise CaptureError(
                "ratio: without a phase it must hold magnitudes only (got a complex value).",
                hint="State that the phase is known, or give the magnitude.",
            )
        if not 0 < self.reference < np.inf:
            raise CaptureError(
                f"reference impedance: must be positive and finite (got {self.reference!r}).",
                hint="Give the port impedance in ohm, usually 50.",
            )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Transient(_Content):
    """A voltage over time, as a scope records it.

    Parameters
    ----------
    time : (N,) float, s
        Strictly rising; zero is where the instrument put it.
    voltage : (N,) float, V
    step_volt : float, V, optional
        Size of one converter step, where the record tells it.
    limits_volt : (float, float), V, optional
        Lowest and highest voltage that the converter could show: samples there are clipped.

    Raises
    ------
    CaptureError
        When the arrays break one of these rules.
    """

    time: FloatArray
    voltage: FloatArray
    step_volt: float | None = None
    limits_volt: tuple[float, float] | None = None
    conditions: Conditions = field(default_factory=Conditions)
    origin: Origin = field(default_factory=Origin)
    history: tuple[Step, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "time", _real("time", self.time))
        object.__setattr__(self, "voltage", _real("voltage", self.voltage))
        _rising("time", self.time, positive=False)
        _same_length("time", self.time, "voltage", self.voltage)


Capture = Sweep | Response | Transient
