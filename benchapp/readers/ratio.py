"""Columns over frequency to ratios: S-parameters, gain and phase, VSWR and return loss."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Response
from benchapp.errors import ReadError
from benchapp.readers.axis import Run, arrange
from benchapp.readers.evidence import is_level, phase_factor
from benchapp.readers.frame import Frame
from benchapp.readers.leap import doubt_leaps
from benchapp.readers.ports import Trace, captures_of_traces
from benchapp.readers.quantity import polar

__all__ = ["ratio_captures"]

_SCATTER = re.compile(r"S[1-4][1-4]")
_IN_TEXT = re.compile(r"(?<![A-Za-z0-9])S(1|2)(1|2)(?!\d)", re.IGNORECASE)
_ROLES = ("re", "mag", "db", "gain", "VSWR", "return loss")
_SCALAR = ("VSWR", "return loss")


@dataclass(slots=True, kw_only=True)
class _Parts:
    """The columns of one ratio: positions of its real part, magnitude, phase and so on."""

    name: str
    places: dict[str, int] = field(default_factory=dict)

    @property
    def used(self) -> list[int]:
        return list(self.places.values())


def ratio_captures(frame: Frame) -> list[Capture] | None:
    """Give the ratios of a frame; None where no column is one."""
    found = _ratios(frame)
    if not found:
        return None
    axis = [] if frame.axis is None else [frame.axis]
    if not frame.columns.settle_units(axis):
        return []
    gains = [parts for parts in found if parts.name == "gain"]
    waves = [parts for parts in found if parts.name != "gain"]
    captures = [capture for parts in gains for capture in _gain(frame, parts)]
    if waves:
        traces = [_trace(frame, parts) for parts in waves]
        captures += captures_of_traces(traces, frame.origin, frame.notes)
    return captures


def _ratios(frame: Frame) -> list[_Parts]:
    """Gather columns: S-parameters by name, a phase to the magnitude that stands before it."""
    found: list[_Parts] = []
    for at in frame.members:
        meaning = frame.columns.meanings[at]
        role, part = meaning.role, meaning.part
        if _SCATTER.fullmatch(role):
            mine = next((parts for parts in found if parts.name == role), None)
            if mine is None:
                mine = _Parts(name=role)
                found.append(mine)
            mine.places.setdefault(part or "mag?", at)
        elif role in _ROLES:
            kind = "mag?" if role == "gain" and not part and not meaning.stated else part
            kind = role if role in _SCALAR else kind or ("mag" if role == "gain" else role)
            found.append(_Parts(name="gain" if role == "gain" else "", places={kind: at}))
        elif found and role in {"im", "theta", "phi"}:
            found[-1].places.setdefault("im" if role == "im" else "phase", at)
    bare = [parts for parts in found if not parts.name]
    if bare and not all(set(parts.places) & set(_SCALAR) for parts in bare):
        _name_bare(frame, bare)
    if any(parts.name.startswith("S") for parts in found):
        found = [parts for parts in found if parts.name]
    return found


def _name_bare(frame: Frame, bare: list[_Parts]) -> None:
    """Name ratios that their headings do not: from the text around the table, or by asking."""
    stated = [*frame.facts.texts.values(), frame.origin.label, frame.origin.source]
    named = next((match for text in stated if (match := _IN_TEXT.search(text))), None)
    answer = frame.notes.answers.parameter
    if answer is not None:
        name = answer if answer == "gain" else answer.upper()
    elif named is not None:
        name = f"S{named[1]}{named[2]}"
        frame.notes.assume("parameter", name, f"it is named beside the table ({named[0]})", 0.8)
    else:
        name = "S11"
        frame.notes.ask(
            "parameter",
            "Which ratio do the columns hold: a reflection (S11), a transmission (S21) or the "
            "gain of one voltage over another?",
            proposed="S11",
            choices=("S11", "S21", "gain"),
            required=True,
        )
    for parts in bare:
        if not set(parts.places) & set(_SCALAR):
            parts.name = name


def _values(frame: Frame, parts: _Parts) -> tuple[NDArray[np.complex128], bool]:
    """Give the complex ratio, or its magnitude, and whether the phase is known."""
    places, columns, notes = parts.places, frame.columns, frame.notes
    columns.drop_marked([*([] if frame.axis is None else [frame.axis]), *parts.used])
    if "re" in places and "im" in places:
        second = columns.plain(places["im"])
        return columns.plain(places["re"]) + 1j * second, True
    size = _magnitude(frame, places)
    phase_at = places.get("phase", places.get("im"))
    if phase_at is None:
        return size.astype(np.complex128), False
    raw = columns.table.values[:, phase_at]
    if raw.size > 2 and not np.any(raw[np.isfinite(raw)]):
        seen = "its column holds zeros only, as a display of one value writes it"
        notes.assume(f"phase of {parts.name or 'the ratio'}", "not recorded", seen, 0.8)
        return size.astype(np.complex128), False
    meaning = columns.meanings[phase_at]
    stated = abs(meaning.factor) if meaning.unit == "rad" else None
    angle = np.sign(meaning.factor) * raw * phase_factor(raw, stated, None, notes)
    return polar(size, angle), True


def _magnitude(frame: Frame, places: dict[str, int]) -> NDArray[np.float64]:
    columns, notes = frame.columns, frame.notes
    if "VSWR" in places:
        ratio = columns.plain(places["VSWR"])
        for row in np.flatnonzero(ratio < 1):
            notes.drop(int(columns.table.lines[row]), f"a VSWR below one ({ratio[row]:g})")
        ratio = np.where(ratio < 1, np.nan, ratio)
        notes.assume("magnitude", "|S11|", "(VSWR - 1)/(VSWR + 1); VSWR has no phase", 0.9)
        return (ratio - 1) / (ratio + 1)
    if "return loss" in places:
        loss = np.abs(columns.table.values[:, places["return loss"]])
        notes.assume("magnitude", "|S11|", "10^(-return loss/20); it has no phase", 0.9)
        return 10 ** (-loss / 20)
    kind = next((kind for kind in ("db", "mag", "mag?", "re") if kind in places), None)
    if kind is None:
        raise ReadError(
            f"{columns.where}: must have a magnitude or a real part beside the phase "
            f"(got {', '.join(places)}).",
            hint="Save magnitude and phase, or real and imaginary part.",
        )
    raw = columns.table.values[:, places[kind]]
    stated = {"db": True, "mag": False, "re": False}.get(kind)
    with np.errstate(over="ignore"):
        return 10 ** (raw / 20) if is_level(raw, stated, notes) else columns.plain(places[kind])


def _trace(frame: Frame, parts: _Parts) -> Trace:
    values, has_phase = _values(frame, parts)
    name = parts.name or "S11"
    return Trace(
        name=name,
        frequency=frame.frequency,
        values=values,
        lines=frame.columns.table.lines,
        reference=_reference(frame),
        has_phase=has_phase,
    )


def _reference(frame: Frame) -> float:
    answered = frame.notes.answers.reference
    stated = frame.facts.number("reference", "ohm")
    if answered is not None:
        frame.notes.overrule(answered, [] if stated is None else [stated])
        return answered
    if stated is not None and stated > 0:
        return stated
    frame.notes.assume("port impedance", "50 ohm", "it is not stated and nearly always so", 0.8)
    return 50.0


def _gain(frame: Frame, parts: _Parts) -> list[Capture]:
    values, has_phase = _values(frame, parts)
    run = Run(
        axis=frame.frequency,
        values=values[:, None],
        lines=frame.columns.table.lines,
        label=frame.origin.label,
    )
    parts_in_order = arrange(run, frame.notes)
    for part in parts_in_order:
        doubt_leaps(part, frame.notes, relative=True)
    return [
        Response(
            frequency=part.axis,
            ratio=part.values[:, 0],
            kind="gain",
            has_phase=has_phase,
            conditions=frame.conditions,
            origin=replace(frame.origin, label=part.label),
        )
        for part in parts_in_order
    ]
