"""A report as PDF, through Qt's own writer: pages, repeated table headers, fonts embedded."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QLineF, QMarginsF, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QImage,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QPen,
    QTextOption,
)

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
from benchapp.report.drawing import draw, font, ready
from benchapp.report.scene import FAINT, GRID, INK, WARNING

__all__ = ["pdf_of"]

_PAPERS = {"A4": QPageSize.PageSizeId.A4, "Letter": QPageSize.PageSizeId.Letter}
_DPI, _MARGIN_MM = 96, 15.0
_MOST_CHUNK, _MOST_CELL, _MOST_LINES = 3000, 600, 20
_HEAD, _FOOT, _LOGO = 46.0, 40.0, 44.0
_TONES = {"plain": INK, "small": FAINT, "good": "#1F7A4D", "bad": "#9A3324", "doubt": WARNING}
_UNICODE_LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*")


@dataclass(frozen=True, slots=True)
class _Strip:
    """A piece that stays whole: its height, how it is painted at a height, what follows it.

    ``head`` is painted again where the strip begins a page; ``keep`` wants room for so much
    more below, so that no title ends a page.
    """

    height: float
    paint: Callable[[float], None]
    head: _Strip | None = None
    keep: float = 0.0


def pdf_of(document: Document) -> bytes:
    """Write a report as PDF.

    The title and the language are those of the document, the text can be searched. The file is
    not tagged: Qt's writer cannot mark paragraphs and tables for reading aloud (HTML can).
    """
    application = ready()
    target = QByteArray()
    buffer = QBuffer(target)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    pages = _Pages(document, _writer(document, buffer), 0)
    strips = list(pages.strips())
    count = pages.count(strips)
    pages.pages = count
    pages.paint(strips)
    buffer.close()
    del application
    return _with_language(bytes(target.data()), document.language)


def _writer(document: Document, buffer: QBuffer) -> QPdfWriter:
    writer = QPdfWriter(buffer)
    writer.setResolution(_DPI)
    writer.setTitle(f"{document.title} {document.number}".strip())
    writer.setCreator("benchapp")
    size = QPageSize(_PAPERS[document.paper])
    margins = QMarginsF(_MARGIN_MM, 12.0, _MARGIN_MM, 12.0)
    portrait = QPageLayout.Orientation.Portrait
    writer.setPageLayout(QPageLayout(size, portrait, margins, QPageLayout.Unit.Millimeter))
    return writer


class _Pages:
    """The pages of one report on their way to paper."""

    def __init__(self, document: Document, writer: QPdfWriter, pages: int) -> None:
        self.document, self.writer, self.pages = document, writer, pages
        self.painter = QPainter(writer)
        self.width, self.height = float(writer.width()), float(writer.height())
        self.bottom = self.height - _FOOT

    def strips(self) -> Iterator[_Strip]:
        """Cut the report into pieces that stay whole."""
        yield from self.text(self.document.title, 22, bold=True, below=6)
        for block in self.document.blocks:
            yield from _CUTTERS[type(block)](self, block)

    def starts(self, strips: list[_Strip]) -> Iterator[tuple[bool, float, _Strip]]:
        """Give for each piece whether it begins a page, and its height on it."""
        y, first = _HEAD, True
        for strip in strips:
            full = y + strip.height + strip.keep > self.bottom and y > _HEAD
            if full:
                y = _HEAD
            if strip.head is not None and (full or first):
                y += strip.head.height
            yield full, y, strip
            y, first = y + strip.height, False

    def count(self, strips: list[_Strip]) -> int:
        """Count the pages."""
        return 1 + sum(full for full, _, _ in self.starts(strips))

    def paint(self, strips: list[_Strip]) -> None:
        """Paint all pages."""
        page = 1
        self.frame(page)
        for full, y, strip in self.starts(strips):
            if full:
                page += 1
                self.writer.newPage()
                self.frame(page)
                if strip.head is not None:
                    strip.head.paint(y - strip.head.height)
            strip.paint(y)
        self.painter.end()

    def frame(self, page: int) -> None:
        """Paint what stands on every page: the house, the number, the title, page n of N."""
        document, house = self.document, self.document.house
        right = Qt.AlignmentFlag.AlignRight
        wide = self.width
        if page == 1 and house.logo is not None:
            self.logo(house.logo)
        lines = " · ".join(line for line in (house.name, *house.lines) if line)
        self.one_line(QRectF(0, 0, 0.78 * wide, 16), lines or "benchapp")
        if page > 1 or house.logo is None:
            self.one_line(QRectF(0.5 * wide, 0, 0.5 * wide, 16), document.number, right)
        self.rule(self.height - _FOOT + 8)
        y = self.height - _FOOT + 12
        count = document.page.format(page=page, pages=self.pages)
        self.one_line(QRectF(0, y, 0.75 * wide, 16), f"{document.number}   {document.title}")
        self.one_line(QRectF(0.75 * wide, y, 0.25 * wide, 16), count, right)
        self.one_line(QRectF(0, y + 14, wide, 14), house.foot)

    def logo(self, data: bytes) -> None:
        """Paint the logo at the top right, in its own shape; unreadable bytes leave it out."""
        image = QImage.fromData(data)
        if image.isNull():
            return
        scale = min(0.3 * self.width / image.width(), _LOGO / image.height())
        wide, high = scale * image.width(), scale * image.height()
        self.painter.drawImage(QRectF(self.width - wide, -4, wide, high), image)

    def rule(self, y: float, colour: str = GRID, left: float = 0.0, right: float = 0.0) -> None:
        """Paint a thin line across."""
        self.painter.setPen(QPen(QColor(colour), 0.8))
        self.painter.drawLine(QLineF(left, y, right or self.width, y))

    def one_line(
        self, box: QRectF, text: str, side: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft
    ) -> None:
        """Paint a line that is cut with an ellipsis where it is too long."""
        self.painter.setFont(font(11))
        self.painter.setPen(QColor(FAINT))
        shown = self.painter.fontMetrics().elidedText(
            text, Qt.TextElideMode.ElideMiddle, int(box.width())
        )
        self.painter.drawText(box, side | Qt.AlignmentFlag.AlignTop, shown)

    def measure(self, text: str, size: float, width: float, *, bold: bool = False) -> float:
        """Give the height of a wrapped text."""
        self.painter.setFont(font(size, bold=bold))
        box = self.painter.boundingRect(QRectF(0, 0, width, 1e6), text, _wrapped())
        return float(box.height())

    def put(self, text: str, box: QRectF, look: tuple[float, bool, str], *, right: bool) -> None:
        """Paint a wrapped text."""
        size, bold, colour = look
        self.painter.setFont(font(size, bold=bold))
        self.painter.setPen(QColor(colour))
        self.painter.drawText(box, text, _wrapped(right=right))

    def text(
        self,
        text: str,
        size: float,
        *,
        bold: bool = False,
        colour: str = INK,
        below: float = 4.0,
        keep: float = 0.0,
    ) -> Iterator[_Strip]:
        """Cut running text: paragraph by paragraph, each of them whole."""
        for piece in _chunks(text):
            high = self.measure(piece, size, self.width, bold=bold)

            def paint(y: float, piece: str = piece, high: float = high) -> None:
                box = QRectF(0, y, self.width, high + 2)
                self.put(piece, box, (size, bold, colour), right=False)

            yield _Strip(high + below, paint, keep=keep)

    def row(
        self,
        cells: tuple[str, ...],
        widths: tuple[float, ...],
        right: tuple[int, ...] = (),
        *,
        bold: bool = False,
        first: str = INK,
    ) -> _Strip:
        """Make a row of a table, as high as its highest cell."""
        gap = 8.0
        cells = tuple(_shortened(cell) for cell in cells)
        spans = [max(10.0, width * self.width - gap) for width in widths]
        high = max(
            self.measure(cell, 11.5, span, bold=bold)
            for cell, span in zip(cells, spans, strict=True)
        )

        def paint(y: float) -> None:
            left = 0.0
            for place, (cell, span, width) in enumerate(zip(cells, spans, widths, strict=True)):
                look = (11.5, bold, first if place == 0 else INK)
                box = QRectF(left, y + 2, span, high + 2)
                self.put(cell, box, look, right=place in right)
                left += width * self.width
            self.rule(y + high + 5, INK if bold else GRID)

        return _Strip(high + 7, paint)


def _wrapped(*, right: bool = False) -> QTextOption:
    side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
    option = QTextOption(side)
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    option.setUseDesignMetrics(True)
    return option


def _chunks(text: str) -> Iterator[str]:
    """Cut a text into lines, and those that would not fit on a page into pieces."""
    for line in text.split("\n"):
        yield from (line[at : at + _MOST_CHUNK] for at in range(0, len(line) or 1, _MOST_CHUNK))


def _shortened(cell: str) -> str:
    """Keep a cell lower than a page: what is longer says that it was cut."""
    kept = "\n".join(cell.split("\n")[:_MOST_LINES])[:_MOST_CELL]
    return kept if kept == cell else f"{kept} …"


def _space(height: float) -> _Strip:
    return _Strip(height, lambda _: None)


def _heading(pages: _Pages, block: Heading) -> Iterator[_Strip]:
    yield _space(10)
    yield from pages.text(block.text, 15, bold=True, below=5, keep=70)


def _paragraph(pages: _Pages, block: Paragraph) -> Iterator[_Strip]:
    loud = block.tone in ("good", "bad", "doubt")
    size = 16 if loud else 11 if block.tone == "small" else 12
    yield from pages.text(block.text, size, bold=loud, colour=_TONES[block.tone], below=6)


def _caution(pages: _Pages, block: Caution) -> Iterator[_Strip]:
    inner = pages.width - 24
    text = f"\u26a0 {block.text}"
    high = pages.measure(text, 12, inner)

    def paint(y: float) -> None:
        pages.painter.setPen(QPen(QColor(WARNING), 1.4))
        pages.painter.setBrush(Qt.BrushStyle.NoBrush)
        pages.painter.drawRect(QRectF(0.7, y + 2, pages.width - 1.4, high + 14))
        pages.put(text, QRectF(12, y + 8, inner, high + 2), (12, False, INK), right=False)

    yield _Strip(high + 24, paint)


def _facts(pages: _Pages, block: Facts) -> Iterator[_Strip]:
    for name, value in block.rows:
        yield pages.row((name, value), (0.3, 0.7), first=FAINT)
    yield _space(6)


def _table(pages: _Pages, block: Table) -> Iterator[_Strip]:
    shares = block.widths or tuple(1.0 for _ in block.header)
    widths = tuple(share / sum(shares) for share in shares)
    head = pages.row(block.header, widths, block.right, bold=True)
    yield _Strip(head.height, head.paint, keep=40)
    for cells in block.rows:
        row = pages.row(cells, widths, block.right)
        yield _Strip(row.height, row.paint, head=head)
    yield _space(8)


def _figure(pages: _Pages, block: Figure) -> Iterator[_Strip]:
    scale = pages.width / block.scene.width
    room = pages.bottom - _HEAD - 60
    scale = min(scale, room / block.scene.height)
    high = scale * block.scene.height
    caption = pages.measure(block.caption, 11, pages.width)

    def paint(y: float) -> None:
        painter = pages.painter
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(QPointF(0, y))
        painter.scale(scale, scale)
        draw(painter, block.scene)
        painter.restore()
        box = QRectF(0, y + high + 2, pages.width, caption + 2)
        pages.put(block.caption, box, (11, False, FAINT), right=False)

    yield _Strip(high + caption + 12, paint)


def _signature(pages: _Pages, block: Signature) -> Iterator[_Strip]:
    wide = pages.width / len(block.fields)
    texts = [f"{what}: {name}" if name else what for what, name in block.fields]
    high = max(pages.measure(text, 11, wide - 24) for text in texts)

    def paint(y: float) -> None:
        for place, text in enumerate(texts):
            left = place * wide
            pages.rule(y + 54, INK, left, left + wide - 24)
            box = QRectF(left, y + 58, wide - 24, high + 2)
            pages.put(text, box, (11, False, FAINT), right=False)

    yield _Strip(high + 66, paint)


_CUTTERS: Mapping[type, Callable[[_Pages, Any], Iterator[_Strip]]] = MappingProxyType(
    {
        Heading: _heading,
        Paragraph: _paragraph,
        Caution: _caution,
        Facts: _facts,
        Table: _table,
        Figure: _figure,
        Signature: _signature,
    }
)


def _with_language(pdf: bytes, language: str) -> bytes:
    """State the language of a PDF in its catalog, and that viewers show its title.

    The writer has no way to say it, so the catalog is written again behind the file, as an
    incremental update. Source: ISO 32000-1:2008, 7.5.6 (updates), 12.2 (DisplayDocTitle),
    14.9.2 (Lang).
    """
    root = re.search(rb"/Root (\d+) 0 R", pdf)
    start = pdf.rfind(b"startxref")
    size = re.search(rb"/Size (\d+)", pdf)
    catalog = root and re.search(
        rb"(?:^|\n)%s 0 obj\s*<<(.*?)>>\s*endobj" % root[1], pdf, re.DOTALL
    )
    if not (root and catalog and size) or not _UNICODE_LANGUAGE.fullmatch(language):
        return pdf
    words = b"/Lang (%s) /ViewerPreferences << /DisplayDocTitle true >>" % language.encode()
    tail = b"" if pdf.endswith(b"\n") else b"\n"
    place = len(pdf) + len(tail)
    entry = b"%s 0 obj\n<<%s%s\n>>\nendobj\n" % (root[1], catalog[1], words)
    info = re.search(rb"/Info \d+ 0 R", pdf)
    trailer = b"<< /Size %s /Root %s 0 R %s /Prev %s >>" % (
        size[1],
        root[1],
        info[0] if info else b"",
        pdf[start + 9 :].split()[0],
    )
    table = b"xref\n%s 1\n%010d 00000 n \ntrailer\n%s\n" % (root[1], place, trailer)
    return b"".join((pdf, tail, entry, table, b"startxref\n%d\n%%%%EOF\n" % (place + len(entry))))
