"""Checks of how parts are handled in a lot: retests, serials, samples, the gauge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from benchapp.checks.facts import Facts
from benchapp.checks.value import Check, Evidence, Look, Sighting, counted

__all__ = ["CHECKS", "OF_LOT"]

OfFacts = Callable[[Facts, Mapping[str, float]], Iterator[Sighting]]


def _retested(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    again = evidence.facts.unexplained_retests
    if again is not None and again > limit["retests"]:
        yield Sighting(seen=f"The part was tested again {again} times without a cause stated.")


def _met_before(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    facts = evidence.facts
    if facts.serial_seen and (facts.attempt or 1) <= 1:
        yield Sighting(seen=f"This serial was met before: {facts.serial_seen}.")


def _gauge(facts: Facts, limit: Mapping[str, float]) -> Iterator[Sighting]:
    share = facts.gauge_percent
    if share is not None and share > limit["percent"]:
        yield Sighting(
            seen=f"The gauge study finds {share:.3g} % of the tolerance in the measurement itself."
        )


def _few(facts: Facts, limit: Mapping[str, float]) -> Iterator[Sighting]:
    count = facts.capability_parts
    if count is not None and count < limit["parts"]:
        yield Sighting(seen=f"Capability is stated from {counted(count, 'part')}.")


def _picked(facts: Facts, _: Mapping[str, float]) -> Iterator[Sighting]:
    if facts.random_sample is False:
        yield Sighting(seen="The sample was not picked at random.")


def _pattern(facts: Facts, _: Mapping[str, float]) -> Iterator[Sighting]:
    for words in facts.sample_patterns:
        yield Sighting(seen=words)


OF_LOT: Mapping[str, OfFacts] = MappingProxyType(
    {
        "gauge-too-wide": _gauge,
        "capability-from-few": _few,
        "sample-not-random": _picked,
        "lot-not-even": _pattern,
    }
)
"""The checks that speak of a lot as a whole and ask for no capture, by their id."""


def _of_facts(name: str) -> Look:
    def look(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
        return OF_LOT[name](evidence.facts, limit)

    return look


CHECKS = (
    Check(
        id="tested-into-compliance",
        level="warn",
        condition="a part was tested again more than once without a cause stated",
        text="Tested often enough, every part near a limit passes once.",
        advice="Keep every result, state the cause, or set the part apart.",
        thresholds={"retests": 1},
        look=_retested,
    ),
    Check(
        id="serial-met-before",
        level="warn",
        condition="the serial was measured before and this is not stated to be a retest",
        text="Either the label or the count of the lot is wrong.",
        advice="Read the label again; declare a retest if it is one.",
        look=_met_before,
    ),
    Check(
        id="gauge-too-wide",
        level="warn",
        condition="repeatability and reproducibility take more than 30 % of the tolerance",
        text="The measurement cannot tell good parts from bad ones near a limit.",
        advice="Improve fixture or procedure, then study the gauge again.",
        thresholds={"percent": 30},
        look=_of_facts("gauge-too-wide"),
    ),
    Check(
        id="capability-from-few",
        level="note",
        condition="a capability is stated from fewer than 30 parts",
        text="Its lower bound is far below the figure.",
        advice="Quote the lower bound, or measure more parts.",
        thresholds={"parts": 30},
        look=_of_facts("capability-from-few"),
    ),
    Check(
        id="sample-not-random",
        level="note",
        condition="the sample is stated not to be picked at random",
        text="Acceptance plans and capability speak of random samples only.",
        advice="Pick by the drawn positions, from every tray and reel.",
        source="ISO 2859-1:1999, 8.1 (drawing of samples); from memory",
        look=_of_facts("sample-not-random"),
    ),
    Check(
        id="lot-not-even",
        level="note",
        condition="the values of a lot look sorted, mixed, drifting or cut off",
        text="Capability and plans by variables do not hold for such a lot.",
        advice="Look at the histogram and the run chart, and ask how the lot was made and picked.",
        look=_of_facts("lot-not-even"),
    ),
)
