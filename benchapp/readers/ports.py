"""Network parameters to captures: how the part was connected to the ports decides."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Noise, Origin, Response, Sweep
from benchapp.errors import ReadError
from benchapp.readers.axis import Run, arrange
from benchapp.readers.evidence import check_impedance, check_scattering
from benchapp.readers.leap import doubt_leaps
from benchapp.readers.network import PORTS, Port, impedance_of, open_circuit, scattering
from benchapp.readers.notes import Notes
from benchapp.readers.touchstone import Parameters

__all__ = ["AS_MEASURED", "Trace", "captures_of", "captures_of_traces"]

AS_MEASURED = "as measured"
_CHOSEN = re.compile(r"([SZ])\D?(\d)\D?(\d)", re.IGNORECASE)
_QUESTION = (
    "How was the part connected: alone at port 1 (reflection), in series between the ports "
    "(series-through), or from the line to ground (shunt-through)? Until this is known the "
    "S-parameters stay ratios."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One S-parameter over frequency: ``values`` (N,) complex, or magnitudes only."""

    name: str
    frequency: NDArray[np.float64]
    values: NDArray[np.complex128]
    lines: NDArray[np.int64]
    reference: float
    has_phase: bool = True

    @property
    def is_reflection(self) -> bool:
        """Whether the wave comes back to the port it left."""
        digits = re.findall(r"\d", self.name)
        return len(digits) != 2 or digits[0] == digits[1]


def captures_of(found: Parameters, origin: Origin, notes: Notes) -> tuple[Capture, ...]:
    """Give the captures of network parameters.

    One port gives the impedance across it. More ports give every S-parameter as a ratio, until a
    person says how the part was connected, or names one parameter.

    Raises
    ------
    ReadError
        When the parameter or the port method that a person chose is not in the file.
    """
    scatter = scattering(found.kind, found.matrix, found.references)
    chosen = notes.answers.parameter
    if found.references.size == 1 and chosen is None:
        return _one_port(found, scatter, origin, notes)
    if chosen is not None and chosen.upper().startswith("Z"):
        return _open_circuit(found, scatter, origin, notes)
    if notes.answers.port in PORTS[1:] and np.ptp(found.references) > 0:
        raise ReadError(
            f"{origin.source}: {notes.answers.port} needs equal port impedances (got "
            f"{', '.join(f'{ohm:g}' for ohm in found.references)} ohm).",
            hint="Save the sweep again with one port impedance.",
        )
    traces = _traces(found, scatter)
    if chosen is not None:
        row, column = _indices(chosen, found.references.size)
        traces = [traces[row * found.references.size + column]]
    return captures_of_traces(traces, origin, notes)


def _traces(found: Parameters, scatter: NDArray[np.complex128]) -> list[Trace]:
    size = found.references.size
    names = found.modes or tuple(str(port + 1) for port in range(size))
    comma = "," if found.modes else ""
    return [
        Trace(
            name=f"S{names[row]}{comma}{names[column]}",
            frequency=found.frequency,
            values=scatter[:, row, column],
            lines=found.lines,
            reference=float(found.references[column]),
        )
        for row in range(size)
        for column in range(size)
    ]


def captures_of_traces(traces: list[Trace], origin: Origin, notes: Notes) -> tuple[Capture, ...]:
    """Give the captures of S-parameters: ratios, or impedances by the answered port method.

    Raises
    ------
    ReadError
        When the S-parameter that the port method needs is not there.
    """
    port = notes.answers.port
    if port in PORTS:
        needed = "S11" if port == "reflection" else "S21"
        fitting = [
            trace
            for trace in traces
            if trace.has_phase and trace.is_reflection == (port == "reflection")
        ]
        best = [trace for trace in fitting if trace.name == needed] or fitting
        if not best:
            raise ReadError(
                f"{origin.source}: {port} needs {needed} with its phase (got "
                f"{', '.join(trace.name for trace in traces)}).",
                hint="Choose another port method, or save that parameter.",
            )
        return _impedances(best[0], port, origin, notes)
    if any(trace.has_phase for trace in traces):
        notes.ask("port", _QUESTION, proposed=AS_MEASURED, choices=(AS_MEASURED, *PORTS))
    return tuple(capture for trace in traces for capture in _ratios(trace, origin, notes))


def _one_port(
    found: Parameters, scatter: NDArray[np.complex128], origin: Origin, notes: Notes
) -> tuple[Capture, ...]:
    if found.kind in {"Z", "Y"} and notes.answers.port != AS_MEASURED:
        entry = found.matrix[:, 0, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            impedance = entry if found.kind == "Z" else 1 / entry
        return _sweeps(found.frequency, impedance, found.lines, Noise(), origin, notes)
    trace = _traces(found, scatter)[0]
    if notes.answers.port is not None:
        return captures_of_traces([trace], origin, notes)
    notes.assume("port", "reflection", "the only port of the file ends in the part", 0.9)
    return _impedances(trace, "reflection", origin, notes)


def _impedances(trace: Trace, port: Port, origin: Origin, notes: Notes) -> tuple[Capture, ...]:
    check_scattering(trace.name, trace.values, notes)
    impedance = impedance_of(trace.values, port, trace.reference)
    noise = Noise(kind=port, reference=trace.reference)
    return _sweeps(trace.frequency, impedance, trace.lines, noise, origin, notes)


def _sweeps(
    frequency: NDArray[np.float64],
    impedance: NDArray[np.complex128],
    lines: NDArray[np.int64],
    noise: Noise,
    origin: Origin,
    notes: Notes,
) -> tuple[Capture, ...]:
    run = Run(axis=frequency, values=impedance[:, None], lines=lines, label=origin.label)
    return tuple(
        Sweep(
            frequency=part.axis,
            impedance=check_impedance(part, notes),
            noise=noise,
            origin=replace(origin, label=part.label),
        )
        for part in arrange(run, notes)
    )


def _ratios(trace: Trace, origin: Origin, notes: Notes) -> tuple[Capture, ...]:
    check_scattering(trace.name, trace.values, notes)
    label = " ".join(filter(None, (origin.label, trace.name)))
    run = Run(axis=trace.frequency, values=trace.values[:, None], lines=trace.lines, label=label)
    parts = arrange(run, notes)
    for part in parts:
        doubt_leaps(part, notes, relative=False)
    return tuple(
        Response(
            frequency=part.axis,
            ratio=part.values[:, 0],
            kind="reflection" if trace.is_reflection else "transmission",
            has_phase=trace.has_phase,
            reference=trace.reference,
            origin=replace(origin, label=part.label),
        )
        for part in parts
    )


def _indices(name: str, size: int) -> tuple[int, int]:
    match = _CHOSEN.fullmatch(name.strip())
    if match is None or not (1 <= int(match[2]) <= size and 1 <= int(match[3]) <= size):
        raise ReadError(
            f"parameter: must be S or Z with two ports of 1 to {size} (got {name!r}).",
            hint="Answer for example parameter=S21 or parameter=Z11.",
        )
    return int(match[2]) - 1, int(match[3]) - 1


def _open_circuit(
    found: Parameters, scatter: NDArray[np.complex128], origin: Origin, notes: Notes
) -> tuple[Capture, ...]:
    chosen = notes.answers.parameter or "Z11"
    row, column = _indices(chosen, found.references.size)
    matrix = found.matrix if found.kind == "Z" else open_circuit(scatter, found.references)
    reason = f"{chosen} is seen with the other ports open"
    notes.assume("impedance", chosen, reason, 1.0)
    label = replace(origin, label=" ".join(filter(None, (origin.label, chosen))))
    return _sweeps(found.frequency, matrix[:, row, column], found.lines, Noise(), label, notes)
