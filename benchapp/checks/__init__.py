"""The automatic checks: what an experienced colleague would point out, in one table.

Each finding says the number seen, why it matters and what to do. A stop withholds the verdict.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from benchapp.checks import design, duty, file, fitted, handling, manner, record, station, sweep
from benchapp.checks.facts import Facts, LevelPoint, load_facts
from benchapp.checks.value import (
    Acknowledgement,
    Check,
    Evidence,
    Finding,
    Level,
    Sighting,
)
from benchapp.errors import UsageError
from benchapp.nominal import LimitVerdict, Outcome, Verdict
from benchapp.readers.settings import Subject, load_settings

__all__ = [
    "CHECKS",
    "Acknowledgement",
    "Check",
    "Evidence",
    "Facts",
    "Finding",
    "Level",
    "LevelPoint",
    "acknowledge",
    "examine",
    "examine_lot",
    "load_facts",
    "load_thresholds",
    "thresholds",
    "withhold",
]

CHECKS: tuple[Check, ...] = (
    *design.CHECKS,
    *fitted.CHECKS,
    *sweep.CHECKS,
    *record.CHECKS,
    *file.CHECKS,
    *manner.CHECKS,
    *station.CHECKS,
    *handling.CHECKS,
    *duty.CHECKS,
)
"""Every check, in the order in which findings of one level are told."""

_ORDER = ("stop", "warn", "note")
_SUBJECT = Subject(title="a file of thresholds", short="the thresholds", example="least = 1.5")
Thresholds = Mapping[str, Mapping[str, float]]


def thresholds(changes: Thresholds | None = None) -> dict[str, dict[str, float]]:
    """Give the thresholds of every check, with some of them changed.

    Parameters
    ----------
    changes : mapping of check id to mapping of name to number, optional

    Returns
    -------
    dict

    Raises
    ------
    UsageError
        When a check or a threshold does not exist, or a value is no number.
    """
    known = {check.id: dict(check.thresholds) for check in CHECKS}
    for name, values in (changes or {}).items():
        if not known.get(name):
            having = [check.id for check in CHECKS if check.thresholds]
            raise UsageError(
                f"thresholds: must belong to a check that has some (got {name!r}).",
                hint=f"Choose one of {', '.join(having)}.",
            )
        for key, value in values.items():
            if key not in known[name]:
                raise UsageError(
                    f"threshold of {name}: must be one of {', '.join(known[name])} (got {key!r}).",
                    hint="See docs/checks.md for the defaults.",
                )
            if isinstance(value, bool) or not isinstance(value, int | float) or value != value:
                raise UsageError(
                    f"threshold {key} of {name}: must be a number (got {value!r}).",
                    hint=f"The default is {known[name][key]:g}.",
                )
            known[name][key] = float(value)
    return known


def load_thresholds(path: str | Path) -> dict[str, dict[str, float]]:
    """Read changed thresholds from a TOML file: a table for each check, a number for each key.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    dict
        What the file changes, to be given to `examine`.

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    UsageError
        When a check or a threshold does not exist or is no number; the message names the line.
    """
    settings = load_settings(path, _SUBJECT)
    known = {check.id: tuple(check.thresholds) for check in CHECKS if check.thresholds}
    settings.only(settings.data, tuple(known), ())
    changes: dict[str, dict[str, float]] = {}
    for name, values in settings.data.items():
        table = settings.table(values, (name,))
        settings.only(table, known[name], (name,))
        changes[name] = {key: settings.number(table, (name, key), 0.0) for key in table}
    return changes


def acknowledge(
    findings: tuple[Finding, ...], acknowledgements: Sequence[Acknowledgement]
) -> tuple[Finding, ...]:
    """Write the name and the reason of a person beside the findings that they accept.

    Parameters
    ----------
    findings : tuple of Finding
    acknowledgements : sequence of Acknowledgement
        One whose check has found nothing is without effect.

    Returns
    -------
    tuple of Finding
        All of them, in the same order.

    Raises
    ------
    UsageError
        When the check does not exist, or has found a stop.
    """
    by_check = {entry.check: entry for entry in acknowledgements}
    unknown = sorted(set(by_check) - {check.id for check in CHECKS})
    if unknown:
        raise UsageError(
            f"acknowledgement: must name a check (got {unknown[0]!r}).",
            hint="The findings name theirs; all are listed in docs/checks.md.",
        )
    stops = sorted({entry.id for entry in findings if entry.level == "stop"} & set(by_check))
    if stops:
        raise UsageError(
            f"acknowledgement: must be of a warning or a note (got {stops[0]}, a stop).",
            hint="A stop means that the numbers cannot be used: remove its cause.",
        )
    return tuple(replace(entry, acknowledged=by_check.get(entry.id)) for entry in findings)


def examine(evidence: Evidence, changes: Thresholds | None = None) -> tuple[Finding, ...]:
    """Run every check.

    Parameters
    ----------
    evidence : Evidence
    changes : mapping, optional
        Thresholds that differ from the defaults, by check and name.

    Returns
    -------
    tuple of Finding
        The gravest first.

    Raises
    ------
    UsageError
        When ``changes`` name a threshold that does not exist.
    """
    limits = thresholds(changes)
    found = [
        _finding(check, sighting)
        for check in CHECKS
        for sighting in check.look(evidence, limits[check.id])
    ]
    return tuple(sorted(found, key=lambda finding: _ORDER.index(finding.level)))


def examine_lot(facts: Facts, changes: Thresholds | None = None) -> tuple[Finding, ...]:
    """Run the checks that speak of a lot as a whole.

    Parameters
    ----------
    facts : Facts
        Of the lot.
    changes : mapping, optional
        Thresholds that differ from the defaults, by check and name.

    Returns
    -------
    tuple of Finding
        The gravest first.

    Raises
    ------
    UsageError
        When ``changes`` name a threshold that does not exist.
    """
    limits = thresholds(changes)
    found = [
        _finding(check, sighting)
        for check in handling.CHECKS
        if check.id in handling.OF_LOT
        for sighting in handling.OF_LOT[check.id](facts, limits[check.id])
    ]
    return tuple(sorted(found, key=lambda finding: _ORDER.index(finding.level)))


def _finding(check: Check, sighting: Sighting) -> Finding:
    return Finding(
        id=check.id,
        level=sighting.level or check.level,
        text=f"{sighting.seen} {check.text}".strip(),
        advice=check.advice if sighting.advice is None else sighting.advice,
        points=sighting.points,
        source=check.source,
    )


def withhold(verdict: Verdict, findings: tuple[Finding, ...]) -> Verdict:
    """Withhold a verdict where a finding is a stop.

    Parameters
    ----------
    verdict : Verdict
    findings : tuple of Finding

    Returns
    -------
    Verdict
        The same without a stop; else not judged, with the measured values kept.
    """
    stops = list(_stops(findings))
    if not stops:
        return verdict
    reason = " ".join(stops)
    if verdict.outcome is Outcome.NOT_JUDGED and verdict.reason:
        reason = verdict.reason
    return replace(
        verdict,
        outcome=Outcome.NOT_JUDGED,
        limits=tuple(_withheld(entry, stops[0]) for entry in verdict.limits),
        reason=reason,
    )


def _stops(findings: tuple[Finding, ...]) -> Iterator[str]:
    return (finding.text for finding in findings if finding.level == "stop")


def _withheld(entry: LimitVerdict, reason: str) -> LimitVerdict:
    if entry.outcome is Outcome.NOT_JUDGED:
        return entry
    return replace(
        entry,
        outcome=Outcome.NOT_JUDGED,
        margin_percent=None,
        probability_outside=None,
        reason=reason,
    )
