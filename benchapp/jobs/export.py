"""Results for other tools: tables, JSON, subcircuits, Touchstone, and bundles."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from benchapp import __version__
from benchapp.capture import Sweep, Transient
from benchapp.errors import FileAccessError, ReadError, UsageError
from benchapp.fit import curve
from benchapp.jobs.part import JudgedPart
from benchapp.jobs.progress import Cancelled, Progress, stop_if
from benchapp.jobs.report import ReportChoices, part_file
from benchapp.readers import saved_text

if TYPE_CHECKING:
    from benchapp.report.part import PartFile

__all__ = ["EXPORTS", "Bundle", "ExportParts", "OpenBundle"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportParts:
    """Write parts in a form that other tools read; ``kind`` is one of `EXPORTS`.

    ``choices`` names the file and what stands on the report in a bundle.

    Raises
    ------
    UsageError, FileAccessError
        When the form does not suit the parts, or the file cannot be written.
    """

    parts: tuple[JudgedPart, ...]
    kind: str
    choices: ReportChoices

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write the file; give its path."""
        from benchapp.report.files import write_bytes  # start-up: reports only when needed

        stop_if(cancelled)
        if self.kind not in EXPORTS:
            raise UsageError(
                f"export: must be one of {', '.join(EXPORTS)} (got {self.kind!r}).",
                hint="csv suits spreadsheets, json programs.",
            )
        if not self.parts:
            raise UsageError("export: must have a part (got none).", hint="Name a capture.")
        if len(self.parts) > 1 and self.kind in _ONE:
            raise UsageError(
                f"export: must be one part for {self.kind} (got {len(self.parts)}).",
                hint="Export them one by one.",
            )
        self.choices.free()
        progress(f"writing {self.choices.path}", 0.0)
        write_bytes(self.choices.path, _WRITERS[self.kind](self))
        return self.choices.path

    @property
    def files(self) -> tuple[PartFile, ...]:
        """The parts as reports need them."""
        return tuple(part_file(part) for part in self.parts)

    @property
    def notes(self) -> tuple[str, ...]:
        """What stands above an exported part."""
        part = self.parts[0]
        return (
            f"benchapp {__version__}: {part.name}",
            f"file SHA-256 {part.sha256}",
            *(f"{one.name} = {one.value!r} {one.unit}" for one in part.fit.results),
        )


def _csv(job: ExportParts) -> bytes:
    from benchapp.report.data import results_csv  # start-up: reports only when needed

    return results_csv(job.files).encode("utf-8")


def _json(job: ExportParts) -> bytes:
    from benchapp.report.data import results_json  # start-up: reports only when needed

    return results_json(job.files).encode("utf-8")


def _sweep(job: ExportParts) -> bytes:
    from benchapp.report.data import sweep_csv  # start-up: reports only when needed

    return sweep_csv(job.parts[0].capture).encode("utf-8")


def _touchstone(job: ExportParts) -> bytes:
    from benchapp.report.touchstone import touchstone_of  # start-up: reports only when needed

    return touchstone_of(job.parts[0].capture, job.notes).encode("ascii")


def _circuit(job: ExportParts) -> bytes:
    """Write the fitted impedance at the frequencies of the capture."""
    from benchapp.report.touchstone import one_port  # start-up: reports only when needed

    part = job.parts[0]
    if not isinstance(part.capture, Sweep):
        raise UsageError(
            f"Touchstone: must be of a fitted impedance (got {part.fit.circuit}).",
            hint="Fit a sweep of impedance.",
        )
    frequency = part.capture.frequency
    values = np.asarray(curve(part.fit, frequency))
    return one_port(frequency, values, "Z", 1.0, job.notes).encode("ascii")


def _spice(job: ExportParts) -> bytes:
    from benchapp.report.spice import subcircuit  # start-up: reports only when needed

    part = job.parts[0]
    band = (1.0, 1.0)
    if not isinstance(part.capture, Transient):
        used = part.capture.frequency[part.fit.used]
        band = (float(used[0]), float(used[-1]))
    return subcircuit(part.fit, band, part.name, job.notes).encode("ascii")


def _bundle(job: ExportParts) -> bytes:
    from benchapp.report.bundle import bundle_of, safe_name  # start-up: reports only when needed
    from benchapp.report.html import html_of  # start-up: the same
    from benchapp.report.part import part_report  # start-up: the same

    files: dict[str, bytes] = {"results.csv": _csv(job), "results.json": _json(job)}
    for place, part in enumerate(job.parts, 1):
        stem = f"{place:05d}-{safe_name(part.name)}"
        if part.reading is not None:
            name = f"raw/{part.sha256[:12]}-{safe_name(part.path)}"
            files[name] = _raw(part.path, part.sha256)
        files[f"captures/{stem}.csv"] = saved_text((part.capture,)).encode("ascii")
        choices = replace(
            job.choices, number=job.choices.number and f"{job.choices.number}-{place}"
        )
        issue = choices.issue(part.capture.digest)
        files[f"reports/{stem}.html"] = html_of(part_report(part_file(part), issue)).encode()
    design = job.parts[0].nominal
    if design is not None and design.source and design.sha256:
        files["design.toml"] = _raw(design.source, design.sha256)
    facts = {"software": f"benchapp {__version__}", "time": job.choices.time}
    return bundle_of(files, facts | {"operator": job.choices.operator, "parts": len(job.parts)})


def _bytes(path: str) -> bytes:
    try:
        return Path(path).read_bytes()
    except OSError as cause:
        raise FileAccessError(
            f"{path}: must be a file that can be read (got {cause.strerror}).",
            hint="Check the name, and that it was not moved.",
            path=path,
        ) from cause


def _raw(path: str, sha256: str) -> bytes:
    """Give the bytes of a file that was read before, if they are still the same."""
    data = _bytes(path)
    if hashlib.sha256(data).hexdigest() != sha256:
        raise UsageError(
            f"{path}: must be as it was when it was read (it was changed since).",
            hint="Open the file again, then export.",
        )
    return data


EXPORTS: Mapping[str, str] = MappingProxyType(
    {
        "csv": "table of the results, a row for each quantity of each part",
        "json": "results with everything that is known about them",
        "sweep": "the points of one capture as a table",
        "touchstone": "the points of one capture as Touchstone",
        "circuit": "the fitted impedance as Touchstone",
        "spice": "the fitted circuit as a subcircuit for simulators",
        "bundle": "zip of raw files, captures, results, design, reports, with digests",
    }
)
"""Every form of export, and what it is."""

_ONE = ("sweep", "touchstone", "circuit", "spice")
_WRITERS: Mapping[str, Callable[[ExportParts], bytes]] = MappingProxyType(
    {
        "csv": _csv,
        "json": _json,
        "sweep": _sweep,
        "touchstone": _touchstone,
        "circuit": _circuit,
        "spice": _spice,
        "bundle": _bundle,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bundle:
    """A bundle that was verified: its manifest, and its files by name."""

    manifest: Mapping[str, Any]
    files: Mapping[str, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenBundle:
    """Open a bundle and verify every byte; write its files below ``into`` where that is given.

    Raises
    ------
    ReadError, FileAccessError, UsageError
        When it is not as it was written, cannot be read, or the folder holds something already.
    """

    path: str
    into: str = ""

    def __call__(self, progress: Progress, cancelled: Cancelled) -> Bundle:
        """Open it."""
        from benchapp.report.bundle import open_bundle  # start-up: reports only when needed

        stop_if(cancelled)
        progress(f"verifying {self.path}", 0.0)
        if Path(self.path).is_file() and Path(self.path).stat().st_size > _MOST:
            raise ReadError(
                f"{self.path}: a bundle must be at most 1 GiB (got more).",
                hint="Ask for it in parts.",
            )
        manifest, files = open_bundle(_bytes(self.path), self.path)
        if self.into:
            self._unpack(files)
        return Bundle(manifest=manifest, files=files)

    def _unpack(self, files: Mapping[str, bytes]) -> None:
        folder = Path(self.into)
        try:
            if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
                raise UsageError(
                    f"{self.into}: must be a new or an empty folder (got one that holds files).",
                    hint="Name another folder: nothing is written over.",
                )
            for name, data in files.items():
                place = folder / name
                place.parent.mkdir(parents=True, exist_ok=True)
                place.write_bytes(data)
        except OSError as cause:
            raise FileAccessError(
                f"{self.into}: must be a folder that can be written (got {cause.strerror}).",
                hint="Name another folder.",
                path=self.into,
            ) from cause


_MOST = 1 << 30
