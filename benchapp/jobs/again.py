"""A stored measurement worked out again from what the record holds, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from benchapp import __version__
from benchapp.capture import Capture
from benchapp.errors import FileAccessError, RecordError
from benchapp.fit import Fit
from benchapp.fixture import Corrected, correct
from benchapp.jobs.part import ComparePart, Examination, FitChoices, JudgedPart
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.logbook import Basis, PartEntry, StoredEntry, open_logbook
from benchapp.logbook.codec import canonical, encode
from benchapp.readers import Reading, understand
from benchapp.units import format_estimate

__all__ = ["RepeatEntry", "Repeated", "job_of", "reading_of"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Repeated:
    """What came of a stored measurement this time, and what of it ``differs`` from then, in words.

    ``start`` says where the work began; ``differs`` is empty where every number is the same to
    the last bit.
    """

    stored: StoredEntry
    part: JudgedPart
    start: str
    differs: tuple[str, ...]
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatEntry:
    """Read, correct, fit, judge and examine a stored measurement again, as it was done then.

    The bytes of its file, the answers, corrections, design, accuracy and choices come from the
    record alone. Nothing is written.

    Raises
    ------
    RecordError
        When it is not there, or was never fitted.
    ReadError, CaptureError, FitError
        When this version cannot do what was done then.
    """

    record: str
    number: int

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Repeated:
        """Work it out, and compare."""
        stop_if(cancelled)
        progress(f"opening entry {self.number}", 0.0)
        with open_logbook(self.record, create=False) as book:
            stored = book.entry(self.number)
        entry = stored.entry
        if entry.capture is None or entry.fit is None:
            raise RecordError(
                f"entry {self.number}: must have been fitted to be repeated (it was not).",
                hint="Its file could not be read or fitted then: export its bytes and look.",
            )
        reading = reading_of(entry)
        capture, start = _came(entry, reading)
        corrected = None if entry.corrections is None else correct(capture, entry.corrections)
        part = job_of(entry, reading, corrected or Corrected(capture=capture, raw=capture))(
            progress, cancelled
        )
        return Repeated(
            stored=stored,
            part=part,
            start=start,
            differs=tuple(_differences(entry, part)),
            remarks=tuple(_remarks(entry)),
        )


def reading_of(entry: PartEntry) -> Reading | None:
    """Read the bytes that were kept, with the answers that were kept; None where there are none.

    Raises
    ------
    FileAccessError
        When there is no room to lay them down for the reader.
    ReadError
        When this version cannot read them.
    """
    if not entry.raw:
        return None
    source = "" if entry.capture is None else entry.capture.origin.source
    name = Path(source).name or Path(entry.path).name or "capture"
    try:
        with TemporaryDirectory(prefix="benchapp-") as folder:
            path = Path(folder) / name
            path.write_bytes(entry.raw)
            found = understand(path, entry.answers)
    except OSError as cause:
        raise FileAccessError(
            f"{name}: must be laid down to be read again (got {cause.strerror}).",
            hint="Free some space in the folder for temporary files.",
        ) from cause
    return replace(found, source=entry.path, assumptions=entry.assumptions)


def job_of(entry: PartEntry, reading: Reading | None, whole: Corrected) -> ComparePart:
    """Give the job that judges a stored measurement as it was judged then."""
    basis = entry.basis or _usual(entry.fit)
    return ComparePart(
        capture=whole.capture,
        path=entry.path,
        nominal=entry.nominal,
        reading=reading,
        choices=basis.choices,
        examination=Examination(
            accuracy=basis.accuracy,
            thresholds=basis.thresholds,
            acknowledged=tuple(
                finding.acknowledged
                for finding in entry.findings
                if finding.acknowledged is not None
            ),
            facts=basis.facts,
        ),
        thorough=basis.thorough,
        corrected=None if whole.by is None else whole,
    )


def _usual(found: Fit | None) -> Basis:
    """Give what an older version most likely did, from what it found."""
    if found is None:
        return Basis()
    return Basis(choices=FitChoices(circuit=found.circuit), thorough=bool(found.opinions))


def _came(entry: PartEntry, reading: Reading | None) -> tuple[Capture, str]:
    """Give the capture as it came, and say from where."""
    if reading is not None and entry.sweep is not None and entry.sweep <= len(reading.captures):
        return reading.captures[entry.sweep - 1], f"the {len(entry.raw)} bytes of its file"
    kept = entry.measured or entry.capture
    assert kept is not None  # noqa: S101 - an entry that was fitted has a capture
    return kept, "the points that were measured"


def _differences(entry: PartEntry, part: JudgedPart) -> Iterator[str]:
    if not _same(entry.capture, part.capture):
        yield "the points of the capture"
    if not _same(entry.fit, part.fit):
        assert entry.fit is not None  # noqa: S101 - only what was fitted is repeated
        changed = list(_changed(entry.fit, part.fit))
        yield "the fit: " + ("; ".join(changed) or "not its results, but what stands behind them")
    if not _same(entry.verdict, part.verdict):
        yield "the verdict"
    if not _same(entry.findings, part.findings):
        ids = {finding.id for finding in entry.findings} ^ {each.id for each in part.findings}
        yield "the findings: " + (", ".join(sorted(ids)) or "their words")


def _changed(then: Fit, now: Fit) -> Iterator[str]:
    for name in dict.fromkeys((*then.estimates, *now.estimates)):
        before, after = then.estimates.get(name), now.estimates.get(name)
        if before != after:
            words = [
                "not determined" if one is None else format_estimate(one)
                for one in (before, after)
            ]
            yield f"{name} was {words[0]}, is {words[1]}"


def _same(then: Any, now: Any) -> bool:
    return canonical(encode(then, {})) == canonical(encode(now, {}))


def _remarks(entry: PartEntry) -> Iterator[str]:
    if entry.software != __version__:
        yield f"Kept by software {entry.software or 'unknown'}, repeated by {__version__}."
    if entry.basis is None:
        yield "Its version did not keep how it was fitted and examined: the usual way was taken."
