"""How a reading of a foreign file is judged against the arrays that the file was made from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchapp.capture import Capture, Response, Sweep
from benchapp.errors import ReadError
from benchapp.readers import Answers, Reading, understand
from tests.readers.foreign_parts import reflection, series_through
from tests.readers.foreign_sheet import Foreign, Trace

ROUNDING = 2e-4
AXIS = 1e-5
DOUBTFUL = 0.7

RIGHT, ASKED, REFUSED, PARTLY = "right", "right, asked", "refused", "partly, said"
WARNED, SILENT = "wrong, warned", "WRONG IN SILENCE"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The class of one reading and what it rests on."""

    verdict: str
    why: str = ""


def as_proposed(path: Path) -> tuple[Reading, set[str]]:
    """Read, answering what must be answered as proposed, and name what was answered."""
    given: dict[str, object] = {}
    while True:
        try:
            return understand(path, Answers.from_mapping(given)), set(given)
        except ReadError as refusal:
            asked = {one.name: one.proposed for one in refusal.facts.get("questions", ())}
            if not asked or None in asked.values() or asked.keys() <= given.keys():
                raise
            given.update(asked)


def _views(capture: Capture, kind: str) -> tuple[np.ndarray, list[np.ndarray]]:
    """Give the axis, and the values in every way that can stand for a trace of ``kind``."""
    if isinstance(capture, Sweep):
        z = capture.impedance
        ways = {"impedance": [z], "size": [abs(z)]}
        ways["ratio"] = [reflection(z), series_through(z), z / (z + 25)]
        return capture.frequency, ways.get(kind, [])
    if isinstance(capture, Response):
        fits = kind == ("ratio" if capture.has_phase else "level")
        return capture.frequency, [capture.ratio] if fits else []
    return capture.time, [capture.voltage] if kind == "voltage" else []


def _matches(capture: Capture, trace: Trace) -> np.ndarray:
    """Tell for each point of the capture whether it is a point of the trace."""
    x, views = _views(capture, trace.kind)
    order = np.argsort(trace.x, kind="stable")
    axis, values = trace.x[order], trace.y[order]
    near = np.clip(np.searchsorted(axis, x), 1, max(axis.size - 1, 1)) if axis.size > 1 else 0 * x
    near = near.astype(int)
    if axis.size > 1:
        near -= np.abs(axis[near - 1] - x) < np.abs(axis[near] - x)
    step = np.abs(np.diff(axis)).min() if axis.size > 1 else axis[0]
    slack = 0.01 * step if trace.kind == "voltage" else AXIS * np.abs(x)
    placed = np.abs(axis[near] - x) <= slack
    size = np.abs(values[near])
    if trace.kind != "impedance":
        size = np.maximum(size, np.abs(values).max() * 0.2)
    best = np.zeros(x.size, bool)
    for view in views:
        good = placed & (np.abs(view - values[near]) <= ROUNDING * size)
        best = good if good.sum() > best.sum() else best
    return best


def _warned(reading: Reading, answered: set[str]) -> bool:
    doubts = any(one.confidence < DOUBTFUL for one in reading.assumptions)
    return bool(answered or reading.questions or doubts)


def judge(case: Foreign, path: Path) -> Judged:
    """Read the file at ``path`` and say how it went."""
    try:
        reading, answered = as_proposed(path)
    except ReadError as refusal:
        return Judged(verdict=ASKED if case.open_end else REFUSED, why=str(refusal))
    wrong, why, used = 0, [], np.zeros(len(case.traces), int)
    for number, capture in enumerate(reading.captures):
        found = [int(_matches(capture, trace).sum()) for trace in case.traces]
        # of two equal traces the one that no capture has shown yet
        index = max(range(len(found)), key=lambda k: (found[k], -used[k]))
        x = capture.time if hasattr(capture, "time") else capture.frequency
        used[index] += found[index]
        if found[index] < x.size:
            wrong += x.size - found[index]
            why.append(f"capture {number + 1}: {x.size - found[index]} of {x.size} points differ")
        part = case.traces[index].part
        if found[index] and part and part != capture.origin.part:
            wrong += 1
            why.append(f"part {capture.origin.part} for {part}")
    pieces = len(reading.captures) - np.count_nonzero(used)
    return _classified(case, reading, answered, wrong=wrong, used=used, pieces=pieces, why=why)


def _classified(case, reading, answered, *, wrong, used, pieces, why) -> Judged:
    warned = _warned(reading, answered)
    if wrong:
        return Judged(verdict=WARNED if warned else SILENT, why="; ".join(why))
    lost = sum(max(t.x.size - n, 0) for t, n in zip(case.traces, used, strict=True))
    if lost and not (warned or reading.set_aside):
        return Judged(verdict=SILENT, why=f"{lost} points lost without a word")
    # a row of a table with several ratios or channels is a point of each of them
    shared = len(case.traces)
    if pieces or lost > 3 * len(case.damages) * shared:
        where = f"{lost} points not given, {pieces} captures too many"
        return Judged(verdict=PARTLY, why=where)
    return Judged(verdict=ASKED if answered or reading.questions else RIGHT)
