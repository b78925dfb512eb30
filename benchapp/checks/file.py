"""Checks of how a file was read: rows left out, assumptions, open questions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from benchapp.capture import Response, Transient
from benchapp.checks.value import Check, Evidence, Sighting, counted

__all__ = ["CHECKS"]

_SHOWN = 3
_CHANGES_NUMBERS = (
    "columns",
    "decimal",
    "frequency",
    "frequency_unit",
    "level_unit",
    "phase_unit",
    "sign",
)
_TOLD_ELSEWHERE = ("model",)


def _rows(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    rows = () if evidence.reading is None else evidence.reading.set_aside
    if not rows:
        return
    capture = evidence.capture
    kept = capture.time.size if isinstance(capture, Transient) else capture.frequency.size
    first = "; ".join(f"line {row.line}: {row.why}" for row in rows[:_SHOWN])
    more = f" and {len(rows) - _SHOWN} more" if len(rows) > _SHOWN else ""
    share = len(rows) / (len(rows) + kept)
    yield Sighting(
        seen=f"Left out of the file: {counted(len(rows), 'row')} ({first}{more}).",
        level="warn" if share > limit["share"] else None,
    )


def _unsure(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for made in () if evidence.reading is None else evidence.reading.assumptions:
        if made.confidence < limit["confidence"]:
            yield Sighting(seen=f"{made.subject}: taken as {made.value}, because {made.reason}.")


def _averaged(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for made in () if evidence.reading is None else evidence.reading.assumptions:
        if made.subject == "repeated rows":
            yield Sighting(seen=f"Repeated rows were {made.value}: {made.reason}.")


def _several(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for made in () if evidence.reading is None else evidence.reading.assumptions:
        if made.subject == "sweeps":
            yield Sighting(seen=f"The file holds {made.value} sweeps: {made.reason}.")


def _questions(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for question in () if evidence.reading is None else evidence.reading.questions:
        if question.name not in _TOLD_ELSEWHERE:
            yield Sighting(
                seen=f"{question.text} Taken: {question.proposed}.",
                level="stop" if question.name in _CHANGES_NUMBERS else None,
            )


def _more_than_passive(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    if not isinstance(capture, Response) or capture.kind == "gain":
        return
    size = abs(capture.ratio)
    points = [int(point) for point in (size > limit["most"]).nonzero()[0]]
    if points:
        yield Sighting(
            seen=f"|S| is up to {float(size.max()):.3g} at {counted(len(points), 'point')}.",
            points=tuple(points),
        )


CHECKS = (
    Check(
        id="rows-left-out",
        level="note",
        condition="rows of the file could not be used: overload marks, missing or repeated "
        "values, a line cut short (a warning above 10 %)",
        text="The file itself is unchanged.",
        advice="Look at those lines; measure again where overload or damage hides the resonance.",
        thresholds={"share": 0.10},
        look=_rows,
    ),
    Check(
        id="unsure-assumption",
        level="warn",
        condition="something the file does not state was taken with a confidence below 0.7",
        text="If it is wrong, so are the numbers.",
        advice="Confirm it, or give the right answer when reading the file.",
        thresholds={"confidence": 0.7},
        look=_unsure,
    ),
    Check(
        id="rows-averaged",
        level="note",
        condition="several rows of one frequency were averaged",
        text="Their scatter is no longer seen.",
        advice="If they belong to different conditions, split the file.",
        look=_averaged,
    ),
    Check(
        id="several-sweeps",
        level="note",
        condition="a file was split into several sweeps where the frequency starts again",
        text="Each is fitted and judged by itself.",
        advice="Check that they are what you think: up and down, two levels, or two parts.",
        look=_several,
    ),
    Check(
        id="question-open",
        level="warn",
        condition="the file cannot tell something, and nobody has answered (a stop where the "
        "answer changes the numbers: columns, units, decimal mark, sign)",
        text="",
        advice="Answer it; the answer is kept with the result.",
        look=_questions,
    ),
    Check(
        id="more-than-passive",
        level="stop",
        condition="a reflection or transmission exceeds 1.05",
        text="A passive part gives back no more than it gets.",
        advice="Check the format (dB or linear, RI or MA) and the calibration.",
        source="|S| <= 1 for a passive network; network theory",
        thresholds={"most": 1.05},
        look=_more_than_passive,
    ),
)
