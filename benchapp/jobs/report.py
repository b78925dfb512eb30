"""Reports written to files: PDF, or HTML in one file, by the ending of the name."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from benchapp import __version__
from benchapp.errors import UsageError
from benchapp.jobs.part import JudgedPart
from benchapp.jobs.progress import Cancelled, Progress, stop_if

if TYPE_CHECKING:
    from benchapp.report.document import Document
    from benchapp.report.issue import Issue
    from benchapp.report.part import PartFile

__all__ = [
    "ReportChoices",
    "WriteComplaint",
    "WritePartReport",
    "digest_of",
    "part_file",
    "refuse_existing",
]

_ENDINGS = (".pdf", ".html", ".htm")


def refuse_existing(path: str, *, overwrite: bool) -> None:
    """Refuse a file that is there already, unless a person says that it may be written over.

    Raises
    ------
    UsageError
        When it is there.
    """
    if not overwrite and Path(path).exists():
        raise UsageError(
            f"{path}: must be a new file (it is there already).",
            hint="Name another file, or add --force to write over this one.",
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportChoices:
    """Where a report goes and what stands on it.

    ``time`` is ISO 8601, taken by whoever asks for the report; ``number`` is made of it and of
    what is reported where it is empty. ``settings`` names the file with house, logo and texts.
    A file that is there already is written over only where ``overwrite`` says that a person
    agreed to it.
    """

    path: str
    time: str
    number: str = ""
    operator: str = ""
    authoriser: str = ""
    customer: str = ""
    place: str = ""
    settings: str = ""
    paper: str = ""
    overwrite: bool = False

    def checked(self) -> ReportChoices:
        """Give itself when the ending is one that can be written, and no file is in the way.

        Raises
        ------
        UsageError
            When the ending is another, or the file is there already.
        """
        if Path(self.path).suffix.lower() not in _ENDINGS:
            raise UsageError(
                f"report: must end in {', '.join(_ENDINGS)} (got {self.path!r}).",
                hint="Use report.pdf for paper, report.html for mail and browsers.",
            )
        return self.free()

    def free(self) -> ReportChoices:
        """Give itself when no file is in the way.

        Raises
        ------
        UsageError
            When the file is there already and is not to be written over.
        """
        refuse_existing(self.path, overwrite=self.overwrite)
        return self

    def issue(self, content: str) -> Issue:
        """Make what stands on the report; ``content`` is the digest of what is reported."""
        from benchapp.report.issue import Issue  # start-up: reports only when needed
        from benchapp.report.template import (  # start-up: the same
            Template,
            load_template,
            with_paper,
        )

        template = load_template(self.settings) if self.settings else Template()
        day = "".join(sign for sign in self.time if sign.isdigit())[:14]
        return Issue(
            number=self.number or f"{day}-{content[:8]}",
            time=self.time,
            version=__version__,
            operator=self.operator,
            authoriser=self.authoriser,
            customer=self.customer,
            place=self.place,
            template=with_paper(template, self.paper) if self.paper else template,
        )

    def write(self, document: Document) -> str:
        """Write the report; give its path.

        Raises
        ------
        FileAccessError
            When the file cannot be written.
        """
        from benchapp.report.files import write_bytes  # start-up: reports only when needed

        if Path(self.path).suffix.lower() == ".pdf":
            from benchapp.report.paper import pdf_of  # start-up: Qt only for paper

            write_bytes(self.path, pdf_of(document))
        else:
            from benchapp.report.html import html_of  # start-up: the same

            write_bytes(self.path, html_of(document).encode("utf-8"))
        return self.path


def part_file(part: JudgedPart) -> PartFile:
    """Give a judged part as its report needs it."""
    from benchapp.report.part import PartFile  # start-up: reports only when needed

    return PartFile(
        name=part.name,
        path=part.path,
        sha256=part.sha256,
        capture=part.capture,
        fit=part.fit,
        findings=part.findings,
        nominal=part.nominal,
        verdict=part.verdict,
        envelope=part.envelope,
        reading=part.reading,
        accuracy=part.accuracy,
        diagnosis=part.diagnosis,
    )


def digest_of(*parts: str) -> str:
    """Give one digest for several texts."""
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class WritePartReport:
    """Write the report on one part.

    Raises
    ------
    UsageError, FileAccessError
        When the ending is not known, the settings are wrong, or the file cannot be written.
    """

    part: JudgedPart
    choices: ReportChoices

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.part import part_report  # start-up: reports only when needed

        choices = self.choices.checked()
        stop_if(cancelled)
        progress(f"writing {choices.path}", 0.0)
        subject = part_file(self.part)
        issue = choices.issue(digest_of(subject.capture.digest, subject.sha256))
        return choices.write(part_report(subject, issue))


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteComplaint:
    """Write those of the parts that failed up for the supplier, the worst first.

    ``lot`` is what is known of the delivery, in words.

    Raises
    ------
    UsageError, FileAccessError
        When no part failed, or as for `WritePartReport`.
    """

    parts: tuple[JudgedPart, ...]
    choices: ReportChoices
    lot: tuple[tuple[str, str], ...] = ()

    def __call__(self, progress: Progress, cancelled: Cancelled) -> str:
        """Write it; give its path."""
        from benchapp.report.supplier import complaint  # start-up: reports only when needed

        choices = self.choices.checked()
        stop_if(cancelled)
        progress(f"writing {choices.path}", 0.0)
        files = tuple(part_file(part) for part in self.parts)
        issue = choices.issue(digest_of(*(file.capture.digest for file in files)))
        return choices.write(complaint(files, issue, self.lot))
