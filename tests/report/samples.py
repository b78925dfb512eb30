"""The parts and the document that tests of reports use."""

from __future__ import annotations

import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

from benchapp.jobs import ComparePart, JudgedPart, OpenNominal, not_cancelled, silent
from benchapp.jobs.report import part_file
from benchapp.readers import understand
from benchapp.report.document import (
    Caution,
    Document,
    Facts,
    Figure,
    Heading,
    Paragraph,
    Signature,
    Table,
)
from benchapp.report.issue import Issue
from benchapp.report.part import PartFile
from benchapp.report.scene import Label, Scene

SAMPLES = Path(__file__).resolve().parents[2] / "sample_captures"
TIME = "2026-03-01T10:00:00Z"


@cache
def judged(name: str = "ga12_tank.csv") -> JudgedPart:
    """Judge a sample by the design of the gate antenna."""
    nominal = OpenNominal(path=str(SAMPLES / "ga12.toml"))(silent, not_cancelled)
    reading = understand(str(SAMPLES / name))
    return ComparePart(capture=reading.captures[0], path=name, nominal=nominal, reading=reading)(
        silent, not_cancelled
    )


def subject(name: str = "ga12_tank.csv") -> PartFile:
    """Give a judged sample as reports need it."""
    return part_file(judged(name))


def issue(**changes: object) -> Issue:
    """Give an issue of a report with all of its inputs fixed."""
    known = {"number": "R-17", "time": TIME, "version": "1", "operator": "A. Brandt"}
    return Issue(**(known | changes))  # type: ignore[arg-type]


def document(text: str = "text", rows: int = 3, **changes: object) -> Document:
    """Give a document that has every kind of block, with a text at every place."""
    scene = Scene(width=200, height=80, marks=(Label(x=5, y=20, text=text),), words=text)
    blocks = (
        Heading(text=text),
        Paragraph(text=text, tone="good"),
        Facts(rows=((text, text),)),
        Table(
            header=("Serial", text),
            rows=tuple((f"N{row:04d}", text) for row in range(rows)),
            right=(1,),
        ),
        Figure(scene=scene, caption=text),
        Caution(text=text),
        Signature(fields=(("Authorised by", text), ("Date", ""))),
    )
    known = {"title": "Part report", "number": "R-17", "blocks": blocks}
    return Document(**(known | changes))  # type: ignore[arg-type]


def pages(pdf: bytes, folder: Path) -> list[str]:
    """Extract the text of each page of a PDF."""
    return _tool("pdftotext", pdf, folder, "-layout", last="-").split("\f")[:-1]


def facts(pdf: bytes, folder: Path, tool: str = "pdfinfo") -> str:
    """Give what a tool says about a PDF."""
    return _tool(tool, pdf, folder)


def _tool(tool: str, pdf: bytes, folder: Path, *options: str, last: str | None = None) -> str:
    if shutil.which(tool) is None:
        pytest.skip(f"{tool} (package poppler-utils) is not installed")
    path = folder / "report.pdf"
    path.write_bytes(pdf)
    ends = [] if last is None else [last]
    done = subprocess.run(
        [tool, *options, str(path), *ends], check=True, capture_output=True, text=True
    )
    assert done.stderr == ""
    return done.stdout
