"""How a reading is judged against what must be read."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from benchapp.capture import Capture, Sweep, Transient
from benchapp.errors import ReadError
from benchapp.readers import Answers, Reading, understand
from tests.readers.corpus import Case, Truth

DOUBTFUL = 0.7


def read_as_proposed(path: Path) -> tuple[Reading, Answers]:
    """Read a file, answering every question as it proposes.

    Raises
    ------
    ReadError
        When a question has no proposal, or the file cannot be read.
    """
    answers = Answers()
    while True:
        try:
            return understand(path, answers), answers
        except ReadError as refusal:
            asked = refusal.facts.get("questions", ())
            proposals = {question.name: question.proposed for question in asked}
            if (
                not proposals
                or None in proposals.values()
                or proposals.keys() <= answers.given.keys()
            ):
                raise
            answers = Answers.from_mapping({**answers.given, **proposals})


def difference(capture: Capture, truth: Truth) -> str:
    """Say how a capture differs from the truth by more than rounding; empty where it does not."""
    if isinstance(capture, Transient):
        axis, values = capture.time, capture.voltage
        sizes = np.abs(truth.axis).max(), np.abs(truth.values).max()
    else:
        axis = capture.frequency
        values = capture.impedance if isinstance(capture, Sweep) else capture.ratio
        sizes = np.abs(truth.axis), np.abs(truth.values)
    if axis.shape != truth.axis.shape:
        return f"{axis.size} points where {truth.axis.size} are right"
    for name, found, right, size in zip(
        ("axis", "value"), (axis, values), (truth.axis, truth.values), sizes, strict=True
    ):
        wrong = np.flatnonzero(np.abs(found - right) > truth.rtol * size)
        if wrong.size:
            at = wrong[0]
            return f"{name} {at}: {found[at]} where {right[at]} is right"
    return ""


def verdict(case: Case, path: Path) -> tuple[str, str]:
    """Judge a case: right, asked (right after answers), refused, flagged or silent, and why."""
    try:
        reading, answers = read_as_proposed(path)
    except ReadError as refusal:
        return ("right" if not case.truth else "refused"), str(refusal)
    why = [difference(*pair) for pair in zip(reading.captures, case.truth, strict=False)]
    if len(reading.captures) != len(case.truth):
        why.append(f"{len(reading.captures)} captures where {len(case.truth)} are right")
    shown = "; ".join(filter(None, why))
    if not shown:
        return ("asked" if answers.given else "right"), ""
    warned = (
        answers.given
        or reading.questions
        or any(made.confidence < DOUBTFUL for made in reading.assumptions)
    )
    return ("flagged" if warned else "silent"), shown
