"""Long plain tables, such as scope records, read in pieces: fast, and without loading the file."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.readers.beside import with_columns
from benchapp.readers.block import Row, row_of
from benchapp.readers.caption import divides
from benchapp.readers.cut import looks_cut, mark_cut_cells
from benchapp.readers.dialect import Dialect, is_comment, split
from benchapp.readers.document import Document
from benchapp.readers.encoding import decode, lines_of
from benchapp.readers.heading import meaning_of
from benchapp.readers.layout import Layout, lay_out, misfit
from benchapp.readers.notes import Notes
from benchapp.readers.source import Source, Watch, pieces_of

__all__ = ["lay_out_head", "lay_out_long"]

_PIECE = 1 << 17
_AT_ONCE = 1 << 26
_SAMPLE = 1 << 14
_FEWEST_ROWS = 100
_OVERLOAD = 9.0e36
_MOST_BAD = 10_000
_RECENT = 200
_MOST_LACKING = 40


class _NotPlainError(Exception):
    """The file is more than one plain table; it must be taken apart line by line."""


@dataclass(slots=True, kw_only=True)
class _Body:
    """The rows read so far, and how to read more of them."""

    dialect: Dialect
    width: int
    kept: tuple[int, ...]
    notes: Notes
    line: int
    values: list[NDArray[np.float64]] = field(default_factory=list)
    lines: list[NDArray[np.int64]] = field(default_factory=list)
    marks: dict[tuple[int, int], str] = field(default_factory=dict)
    lost: list[int] = field(default_factory=list)
    recent: list[str] = field(default_factory=list)
    rows: int = 0


def lay_out_head(source: Source, notes: Notes) -> tuple[Document, Layout] | None:
    """Lay out the head of a long file; None where no plain table runs through it.

    Returns
    -------
    document, layout
        Both of the head only; the last table is the one that runs through it.
    """
    data = source.head[:_SAMPLE]
    if data.count(b"\n") < 2 * _FEWEST_ROWS:
        data = source.head
    end = data.rfind(b"\n") + 1
    if not end:
        return None
    head = replace(source, data=data[:end])
    text = decode(head, notes.answers)
    lines = lines_of(text.content)
    document = Document(source=head, text=text, lines=lines, answers=notes.answers)
    notes.assumptions += text.assumptions
    try:
        layout = lay_out(document, notes)
    except ReadError:
        return None
    table = layout.tables[-1]
    runs_through = table.lines.size >= _FEWEST_ROWS and table.lines[-1] == len(lines)
    numeric = np.flatnonzero(~np.isnan(table.values).all(axis=0)).tolist()
    row = row_of(1, lines[-1], layout.dialect)
    if not runs_through or text.encoding.startswith("utf-16") or row is None or "U" in row.kinds:
        return None
    roles = [meaning_of(heading).role for heading in table.headings]
    if "serial" in roles or any(
        roles[at] == "segment" for at in set(range(table.width)) - {*numeric}
    ):
        return None
    notes.set_aside.clear()
    tables = (*layout.tables[:-1], with_columns(table, numeric))
    return document, replace(layout, tables=tables)


def lay_out_long(
    source: Source, head: tuple[Document, Layout], notes: Notes, watch: Watch
) -> tuple[Document, Layout] | None:
    """Read the whole of a file whose head is known.

    Parameters
    ----------
    source : Source
    head : (Document, Layout)
        As `lay_out_head` gives it.
    notes : Notes
    watch : Watch

    Returns
    -------
    document, layout
        The document has the digest of the whole. None where more than one plain table is there.

    Raises
    ------
    FileAccessError, CancelledError
        While reading.
    """
    document, layout = head
    table = layout.tables[-1]
    first = int(table.lines[0])
    body = _Body(
        dialect=layout.dialect,
        width=len(split(document.lines[first - 1], layout.dialect.delimiter)),
        kept=table.places,
        notes=Notes(answers=notes.answers),
        line=first,
    )
    digest = _read_at_once(source, first - 1, body, watch)
    if digest is None:
        try:
            digest = _read(source, first - 1, body, watch)
        except _NotPlainError:
            return None
    notes.set_aside.update(body.notes.set_aside)
    notes.assumptions += body.notes.assumptions
    whole = replace(
        table,
        values=_joined(body),
        lines=np.concatenate(body.lines),
        marks=body.marks,
        order=_order(body),
    )
    known = replace(document, source=replace(source, sha256=digest))
    return known, replace(layout, tables=(*layout.tables[:-1], whole))


def _read_at_once(source: Source, skipped: int, body: _Body, watch: Watch) -> str | None:
    """Read a file whose rows are all plain in one go; None where it must be read in pieces.

    The bytes are read twice, for the digest and for the numbers, so a file that somebody writes
    to meanwhile is left to the other way.
    """
    path = Path(source.path).absolute()
    if source.size > _AT_ONCE or body.dialect.marks.decimal != ".":
        return None
    try:
        before = path.stat()
        digest, ends, last, signs = hashlib.sha256(), 0, b"", 0
        for piece in pieces_of(source, watch, size=_PIECE):
            digest.update(piece)
            ends += _count(piece, b"\n")
            signs += _unsigned(piece)
            last = piece[-1:]
        values = _numbers(str(path), body, skipped)
        after = path.stat()
    except OSError:
        return None
    unchanged = (before.st_mtime_ns, before.st_size) == (after.st_mtime_ns, after.st_size)
    if values is None or not unchanged or last != b"\n" or len(values) != ends - skipped:
        return None
    above = source.head[: _end_of_line(source.head, skipped)]
    if _lacks_signs(signs - _unsigned(above), len(values)):
        return None
    body.values.append(values)
    body.lines.append(np.arange(body.line, body.line + len(values)))
    body.rows = len(values)
    return digest.hexdigest()


def _unsigned(piece: bytes) -> int:
    """Count the signs of a piece without plus and minus, which numbers may have or not."""
    return len(piece) - _count(piece, b"-") - _count(piece, b"+")


def _count(piece: bytes, sign: bytes) -> int:
    """Count one sign, ten times as fast as `bytes.count` where it is frequent."""
    return int(np.count_nonzero(np.frombuffer(piece, dtype=np.uint8) == ord(sign)))


def _end_of_line(data: bytes, lines: int) -> int:
    end = 0
    for _ in range(lines):
        end = data.find(b"\n", end) + 1
    return end


def _lacks_signs(signs: int, rows: int) -> bool:
    """Tell whether rows of equal length would hold a few signs more: one of them may be cut."""
    return 0 < -signs % max(rows, 1) <= _MOST_LACKING


def _read(source: Source, skipped: int, body: _Body, watch: Watch) -> str:
    digest = hashlib.sha256()
    rest, skip = b"", skipped
    for piece in pieces_of(source, watch, size=_PIECE):
        digest.update(piece)
        whole = rest + piece
        end = whole.rfind(b"\n") + 1
        whole, rest = whole[:end], whole[end:]
        while skip and whole:
            whole = whole[whole.find(b"\n") + 1 :]
            skip -= 1
        if len(rest) > 4 * _PIECE:
            raise _NotPlainError
        if whole:
            _take(whole, body)
    if rest:
        _take_last(rest, body)
    return digest.hexdigest()


def _take(whole: bytes, body: _Body) -> None:
    """Read whole lines, quickly where all are plain rows, else one by one."""
    text = whole.decode("latin-1")
    if body.dialect.marks.decimal == ",":
        text = text.replace(",", ".")
    lines = text.split("\n")
    lines.pop()
    body.recent = lines
    values = _quickly(lines, body)
    if values is None or _lacks_signs(_unsigned(whole), len(lines)):
        _slowly(whole, body)
        return
    body.values.append(values)
    body.lines.append(np.arange(body.line, body.line + len(lines)))
    body.line += len(lines)
    body.rows += len(lines)


def _quickly(lines: list[str], body: _Body) -> NDArray[np.float64] | None:
    values = _numbers(lines, body, 0)
    return values if values is not None and len(values) == len(lines) else None


def _numbers(source: list[str] | str, body: _Body, skipped: int) -> NDArray[np.float64] | None:
    """Read plain rows from lines or from a file; None where one of them is not plain."""
    try:
        values = np.loadtxt(
            source,
            delimiter=None if body.dialect.delimiter == " " else body.dialect.delimiter,
            ndmin=2,
            comments=None,
            usecols=None if len(body.kept) == body.width else body.kept,
            skiprows=skipped,
            encoding="latin-1",
        )
    except ValueError:
        return None
    is_plain = values.size and values.shape[1] == len(body.kept)
    return values if is_plain and -_OVERLOAD < values.min() <= values.max() < _OVERLOAD else None


def _slowly(whole: bytes, body: _Body) -> None:
    """Read lines one by one: marks stay, rows of another width and text are set aside."""
    lines = lines_of(whole.decode("utf-8", errors="replace").replace("\ufeff", ""))
    rows: list[Row] = []
    for line in lines:
        row = None if is_comment(line) else row_of(body.line, line, body.dialect)
        if row is not None and len(row.texts) == body.width and "U" not in row.kinds:
            rows.append(row)
        elif line.strip() and not is_comment(line):
            _set_aside(line, body, is_row=row is not None)
        body.line += 1
    mark_cut_cells(rows, body.dialect.marks.decimal, body.notes)
    for number, row in enumerate(rows):
        for at, column in enumerate(body.kept):
            if row.kinds[column] not in "NB":
                body.marks[body.rows + number, at] = row.texts[column]
    if len(body.marks) + len(body.lost) > _MOST_BAD:
        raise _NotPlainError
    if rows:
        values = [[row.values[column] for column in body.kept] for row in rows]
        body.values.append(np.array(values, dtype=np.float64))
        body.lines.append(np.array([row.line for row in rows], dtype=np.int64))
        body.rows += len(rows)


def _set_aside(line: str, body: _Body, *, is_row: bool) -> None:
    if not is_row and divides([line], body.width, body.dialect):
        raise _NotPlainError
    if is_row:
        cells = len(split(line, body.dialect.delimiter))
        body.notes.drop(body.line, misfit(cells, body.width, last=False))
        body.lost.append(body.line)
    else:
        body.notes.drop(body.line, f"text among the rows ({line.strip()[:30]})")


def _take_last(rest: bytes, body: _Body) -> None:
    """Read the last line, which no line end closes, unless it looks cut off."""
    line = rest.decode("latin-1").rstrip("\r")
    row = row_of(body.line, line, body.dialect)
    if row is None or len(row.texts) != body.width:
        cells = len(split(line, body.dialect.delimiter))
        body.notes.drop(body.line, misfit(cells, body.width, last=True))
    elif looks_cut(
        row.texts[-1],
        [split(text, body.dialect.delimiter)[-1] for text in body.recent[-_RECENT:]],
    ):
        body.notes.drop(body.line, f"the last row is cut short: it ends in {row.texts[-1]!r}")
    else:
        _slowly(rest, body)


def _joined(body: _Body) -> NDArray[np.float64]:
    """Give all rows in one array whose columns lie one after another."""
    if len(body.values) == 1:
        return body.values[0]
    whole = np.empty((body.rows, len(body.kept)), order="F")
    start = 0
    for part in body.values:
        whole[start : start + len(part)] = part
        start += len(part)
    body.values.clear()
    return whole


def _order(body: _Body) -> NDArray[np.int64]:
    rows = np.concatenate(body.lines)
    if not body.lost:
        return np.arange(rows.size)
    taken = np.sort(np.concatenate([rows, np.array(body.lost, dtype=np.int64)]))
    order = np.searchsorted(taken, rows)
    return np.asarray(order - order[0], dtype=np.int64)
