"""How a reading of a foreign file is judged against the arrays that the file was made from."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchapp.capture import Capture, Response, Sweep
from benchapp.errors import ReadError
from benchapp.readers import Answers, Question, Reading, understand
from tests.readers.foreign_parts import reflection, series_through
from tests.readers.foreign_sheet import Foreign, Trace

ROUNDING = 2e-4
AXIS = 1e-5
DOUBTFUL = 0.7

FEW = 4
ABOUT_BOTH = {"column", "columns", "units", "decimal", "delimiter", "encoding"}
ABOUT_BOTH |= {"tables", "order", "sweeps"}
ABOUT_PLACE = {"frequency", "frequency_unit", "time_unit", "interval", "points"}
ABOUT_VALUE = {"model", "phase_unit", "level_unit", "sign", "parameter", "scale", "passive part"}

RIGHT, ASKED, REFUSED, PARTLY = "right", "right, asked", "refused", "partly, said"
WARNED, SILENT = "wrong, warned", "WRONG IN SILENCE"


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The class of one reading and what it rests on."""

    verdict: str
    why: str = ""


def as_proposed(path: Path) -> tuple[Reading, list[Question]]:
    """Read, answering what must be answered as proposed, and give what was answered."""
    given: dict[str, object] = {}
    answered: list[Question] = []
    while True:
        try:
            return understand(path, Answers.from_mapping(given)), answered
        except ReadError as refusal:
            asked = {one.name: one.proposed for one in refusal.facts.get("questions", ())}
            if not asked or None in asked.values() or asked.keys() <= given.keys():
                raise
            given.update(asked)
            answered += refusal.facts["questions"]


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


def _matches(capture: Capture, trace: Trace) -> tuple[np.ndarray, np.ndarray]:
    """Tell for each point whether it stands at a place of the trace, and whether it is right."""
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
    return placed, best


def _said(reading: Reading, answered: list[Question]) -> list[tuple[str, str]]:
    """Give all doubts and questions: what each is about, and its words."""
    asked = [*reading.questions, *answered]
    doubts = [one for one in reading.assumptions if one.confidence < DOUBTFUL]
    return [(one.name, one.text) for one in asked] + [
        (one.subject, f"{one.value}: {one.reason}") for one in doubts
    ]


def _names_line(words: str, case: Foreign) -> bool:
    """Tell whether words name a damaged line, or the first line of the network record it is in."""
    named = [int(line) for line in re.findall(r"\bline (\d+)", words)]
    network = case.name.lower().endswith((".ts", "p"))
    return any(
        line + near in case.hit for line in named for near in range(-1, 4 if network else 2)
    )


def _concerned(said: list[tuple[str, str]], case: Foreign, *, place: bool, many: bool) -> bool:
    """Tell whether a doubt or a question concerns what is wrong.

    Few wrong points need one that names the damaged line; where many are wrong, the doubt may be
    about what all of them share: their place on the axis, or how their values are written.
    """
    about = ABOUT_BOTH | (ABOUT_PLACE if place else ABOUT_VALUE)
    return any(_names_line(words, case) or (many and what in about) for what, words in said)


def judge(case: Foreign, path: Path) -> Judged:
    """Read the file at ``path`` and say how it went."""
    try:
        reading, answered = as_proposed(path)
    except ReadError as refusal:
        return Judged(verdict=ASKED if case.open_end else REFUSED, why=str(refusal))
    said = _said(reading, answered)
    silent, why, used = False, [], np.zeros(len(case.traces), int)
    for number, capture in enumerate(reading.captures, start=1):
        found = [_matches(capture, trace) for trace in case.traces]
        right = [int(good.sum()) for _, good in found]
        # of two equal traces the one that no capture has shown yet
        index = max(range(len(found)), key=lambda k: (right[k], -used[k]))
        used[index] += right[index]
        placed, good = found[index]
        wrong = good.size - right[index]
        if wrong:
            why.append(f"capture {number}: {wrong} of {good.size} points differ")
            many = wrong > FEW * max(len(case.damages), 1)
            place = bool(np.count_nonzero(~placed) * 2 > wrong)
            silent |= not _concerned(said, case, place=place, many=many)
        part = case.traces[index].part
        if right[index] and part and part != capture.origin.part:
            why.append(f"part {capture.origin.part} for {part}")
            silent |= not any(_names_line(words, case) for _, words in said)
    if why:
        return Judged(verdict=SILENT if silent else WARNED, why="; ".join(why))
    pieces = len(reading.captures) - np.count_nonzero(used)
    return _complete(case, reading, said, used=used, pieces=pieces)


def _complete(case, reading, said, *, used, pieces) -> Judged:
    """Judge a reading without a wrong point by the points that it lacks."""
    lost = sum(max(t.x.size - n, 0) for t, n in zip(case.traces, used, strict=True))
    # a row of a table with several ratios or channels is a point of each of them
    shared = len(case.traces)
    told = len(reading.set_aside) * shared
    if lost > told and not _concerned(said, case, place=True, many=lost > FEW * shared):
        why = f"{lost} points lost, {len(reading.set_aside)} rows said to be set aside"
        return Judged(verdict=SILENT, why=why)
    if pieces or lost > 3 * len(case.damages) * shared:
        where = f"{lost} points not given, {pieces} captures too many"
        return Judged(verdict=PARTLY, why=where)
    return Judged(verdict=ASKED if said else RIGHT)
