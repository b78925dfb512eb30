"""One plain table below its heading, laid out at once instead of row by row.

Most captures are that. `lay_out` gives the same for them, many times as slowly; everything else
is left to it.
"""

from __future__ import annotations

import numpy as np

from benchapp.readers.beside import Table, without_prefixes
from benchapp.readers.block import Block, blocks_of, is_like, merged
from benchapp.readers.caption import heading_of
from benchapp.readers.cut import columns_of, doubt_short_numbers, may_be_cut, shape_of
from benchapp.readers.dialect import Dialect, plain_run, split
from benchapp.readers.document import Document
from benchapp.readers.facts import facts_of
from benchapp.readers.heading import meaning_of
from benchapp.readers.layout import MOST_FACTS, Layout
from benchapp.readers.notes import Notes

__all__ = ["lay_out_run"]

_FEWEST_ROWS = 3


def lay_out_run(document: Document, dialect: Dialect, notes: Notes) -> Layout | None:
    """Lay out a file that ends in rows of plain numbers, all of one width, and has no other table.

    Parameters
    ----------
    document : Document
    dialect : Dialect
    notes : Notes
        Told of numbers that lack digits.

    Returns
    -------
    Layout
        None where there may be anything else: another table, a gap, text, a mark, a cut row.
    """
    found = plain_run(document.lines, dialect)
    if found is None:
        return None
    first, values = found
    rows, width = values.shape
    head = blocks_of(document.lines[: first + 1], dialect)
    block = head.pop()
    alone = len(block.rows) == 1 and block.divided and width > 1 and rows >= _FEWEST_ROWS
    if (
        not alone
        or not _is_closed(document, first, dialect)
        or _has_rivals(head, block, values.size)
    ):
        return None
    texts = columns_of(document.lines[first:], dialect.delimiter)
    if any(may_be_cut(column, dialect.marks.decimal) for column in texts):
        return None
    heading = heading_of(block.rows[0].line, block.width, document.lines, dialect)
    if any(meaning_of(name).role == "serial" for name in heading.names):
        return None
    table, beside = without_prefixes(
        Table(
            headings=heading.names,
            units=heading.units,
            values=values,
            marks={},
            lines=np.arange(first + 1, first + 1 + rows),
            order=np.arange(rows),
            places=tuple(range(width)),
            title=heading.title,
        )
    )
    lines = range(first + 1, first + 1 + rows)
    for column, written in enumerate(texts):
        doubt_short_numbers(written, values[:, column].tolist(), lines, notes)
    outside = [
        line
        for number, line in enumerate(document.lines[: min(first, MOST_FACTS)], start=1)
        if number not in heading.lines
    ]
    facts = facts_of(outside, dialect.delimiter) | heading.facts | beside
    return Layout(dialect=dialect, tables=(table,), facts=facts)


def _has_rivals(head: list[Block], block: Block, numbers: int) -> bool:
    """Tell whether rows of numbers above may be the table, or another one."""
    above = merged(head)
    return any(is_like(one, block) or one.weight >= (True, numbers) for one in above)


def _is_closed(document: Document, at: int, dialect: Dialect) -> bool:
    """Tell whether a line end closes the last row, with an exponent as long as the first's."""
    first, last = (split(document.lines[row], dialect.delimiter)[-1] for row in (at, -1))
    return document.ends_with_line and shape_of(last)[1] >= shape_of(first)[1]
