"""How the cells of a file are parted and its numbers written, judged over the whole file."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.readers.heading import meaning_of
from benchapp.readers.notes import Notes
from benchapp.readers.number import OVERLOAD, Marks, proves, read_cell, read_plain

__all__ = ["Dialect", "bare", "detect", "is_comment", "plain_rows", "plain_run", "split"]

NAMES = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe", " ": "blanks", "+": "none"}
_BY_NAME = {name: mark for mark, name in NAMES.items()}
_DECIMALS = {"comma": ",", "point": "."}
_COMMENTS = ("!", "#", "%", "//", "*")
_RUN_TOGETHER = re.compile(r"[+-]\d\.\d+E[+-]\d{2}|,?[+-]?\d+(?![\d.])")
_RUN_ROW = re.compile(r"\s*(?:[+-]\d\.\d+E[+-]\d{2}){2}")
_SEPARATOR_LINE = re.compile(r"\s*sep=(.)\s*", re.IGNORECASE)
_QUOTED = re.compile(r'\s*"((?:[^"]|"")*)"\s*')
_GROUP = re.compile(r"[+-]?[1-9]\d{0,2}\.\d{3}")
_COMMA_ROW = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?")
_DIGITS_ONLY = re.compile(r"[\d.,+\-eE ]+")
_GROUPED = re.compile(r"\d [\d.,]")
_GROUPED_BY_BLANKS = 0.6
"""A number like ``1 234`` counts less: it may be two cells."""
_NO_VALUE = re.compile(r"#(?:N/A|VALUE!|DIV/0!|NUM!|REF!)", re.IGNORECASE)
_LONGEST = 20_000
_MOST_SIGNS = 60_000
_SAMPLED = 400
_ROW_SIGNS = "0123456789eE+- "


@dataclass(frozen=True, slots=True)
class Dialect:
    """The delimiter (a blank for runs of blanks, ``+`` for fields run together) and the marks."""

    delimiter: str
    marks: Marks

    @property
    def words(self) -> str:
        """The dialect in words."""
        decimal = "comma" if self.marks.decimal == "," else "point"
        return f"{NAMES[self.delimiter]}, decimal {decimal}"


def is_comment(line: str) -> bool:
    """Tell whether a line starts with a comment sign, and is no spreadsheet's mark of no value."""
    text = line.lstrip()
    return text.startswith(_COMMENTS) and not _NO_VALUE.match(text)


def bare(line: str) -> str:
    """Give a line without a leading comment sign."""
    return line.strip().lstrip("!#%/*;").strip()


def split(line: str, delimiter: str) -> list[str]:
    """Part a line into cells, without blanks and quotes around them."""
    if delimiter == " ":
        return [cell.strip('"') for cell in line.split()]
    if delimiter == "+":
        return [cell.lstrip(",") for cell in _RUN_TOGETHER.findall(line)]
    if delimiter == "|" and line.lstrip().startswith("|") and line.rstrip().endswith("|"):
        line = line.strip().strip("|")
    if '"' in line and line.count('"') % 2 == 0:
        return _split_quoted(line, delimiter)
    return [cell.strip() for cell in line.split(delimiter)]


Plain = tuple[list[str], list[float]]


def plain_rows(lines: Sequence[str], dialect: Dialect) -> list[Plain | None]:
    """Read the rows that hold plain numbers only: cells and values, None for every other line.

    All of them are converted at once where that can be done, which is several times as fast as
    `read_plain` line by line and gives the same.
    """
    places = _plain_places(lines, dialect)
    values = _converted(lines, places, dialect)
    if values is None:
        return [_plain_row(line, dialect) for line in lines]
    joined = dialect.delimiter.join([lines[at] for at in places])
    cells = joined.split(dialect.delimiter)
    if " " in joined:
        cells = [cell.strip() for cell in cells]
    found: list[Plain | None] = [None] * len(lines)
    start = 0
    for at in places:
        end = start + lines[at].count(dialect.delimiter) + 1
        found[at] = cells[start:end], values[start:end]
        start = end
    return found


def plain_run(lines: Sequence[str], dialect: Dialect) -> tuple[int, NDArray[np.float64]] | None:
    """Read rows of plain numbers, all of one width, that reach to the end of a file.

    Returns
    -------
    first, values
        How many lines stand before them, and the numbers (N, K); None where a line among them
        is anything else.
    """
    places = _plain_places(lines, dialect)
    if not isinstance(places, range) or not places:
        return None
    widths = {line.count(dialect.delimiter) for line in lines[places.start :]}
    values = _converted(lines, places, dialect) if len(widths) == 1 else None
    if values is None:
        return None
    return places.start, np.array(values).reshape(len(places), widths.pop() + 1)


def _converted(
    lines: Sequence[str], places: Sequence[int], dialect: Dialect
) -> list[float] | None:
    """Convert the cells of these lines at once; None where they must be looked at one by one."""
    delimiter, decimal = dialect.delimiter, dialect.marks.decimal
    if delimiter not in ",;\t" or delimiter == decimal:
        return None
    joined = delimiter.join([lines[at] for at in places])
    plain = joined if decimal == "." else joined.replace(",", ".")
    try:
        values = list(map(float, plain.split(delimiter))) if places else []
    except ValueError:
        return None
    within = not values or (max(values) < OVERLOAD and min(values) > -OVERLOAD)
    return values if within else None


def _plain_places(lines: Sequence[str], dialect: Dialect) -> Sequence[int]:
    """Give the places of the lines that hold signs of plain numbers only."""
    signs = f"{_ROW_SIGNS}{dialect.delimiter}{dialect.marks.decimal}"
    first = next((at for at, line in enumerate(lines) if _is_plain(line, signs)), len(lines))
    rest = lines[first:]
    if all(rest) and not "".join(rest).strip(signs):  # as a rule: all after the heading
        return range(first, len(lines))
    return [at for at, line in enumerate(lines) if _is_plain(line, signs)]


def _is_plain(line: str, signs: str) -> bool:
    return bool(line) and not line.strip(signs) and not line.isspace()


def _plain_row(line: str, dialect: Dialect) -> Plain | None:
    texts = split(line, dialect.delimiter)
    values = read_plain(texts, dialect.marks)
    return None if values is None else (texts, values)


def _split_quoted(line: str, delimiter: str) -> list[str]:
    cells, place = [], 0
    while True:
        quoted = _QUOTED.match(line, place)
        end = quoted.end() if quoted else place
        if quoted and (end == len(line) or line[end] == delimiter):
            cells.append(quoted[1].replace('""', '"').strip())
        else:
            found = line.find(delimiter, place)
            end = len(line) if found < 0 else found
            cells.append(line[place:end].strip())
        if end >= len(line):
            return cells
        place = end + 1


def detect(lines: Sequence[str], notes: Notes, where: str) -> Dialect:
    """Find the delimiter and the decimal mark that make the most of a whole file.

    A candidate scores with every row that has its usual count of cells and with the share of
    numbers among them, over all lines or, in a long file, over lines spread over all of it.

    Raises
    ------
    ReadError
        When an answer names no delimiter or decimal mark.
    """
    delimiters, decimals = _candidates(lines, notes, where)
    sample = _sample(lines)
    clear = _clear(sample, delimiters, decimals)
    scores = (
        {}
        if clear
        else {
            Dialect(delimiter, Marks(decimal)): _score(sample, delimiter, decimal)
            for delimiter in delimiters
            for decimal in decimals
        }
    )
    best = clear or max(scores, key=lambda d: scores[d] * (0.97 if d.delimiter == " " else 1.0))
    single = Dialect(" ", Marks(","))
    undecided = {" ", ","} <= set(delimiters) and "," in decimals
    if best == Dialect(",", Marks(".")) and undecided and _is_one_column(sample):
        notes.assume("delimiter", "none", "each comma is a decimal mark of one column", 0.8)
        return single
    other = Dialect(best.delimiter, Marks("," if best.marks.decimal == "." else "."))
    if not clear and scores.get(other) == scores[best]:
        best = _settled(sample, best, notes)
    if best.marks.decimal == "." and len(decimals) > 1 and best.delimiter in ";\t":
        _doubt_points(sample, best.delimiter, notes)
    return best


def _candidates(lines: Sequence[str], notes: Notes, where: str) -> tuple[list[str], list[str]]:
    delimiters = [",", ";", "\t", "|", " "]
    if any(map(_RUN_ROW.match, lines[:200])):
        delimiters.append("+")
    stated = _SEPARATOR_LINE.fullmatch(lines[0]) if lines else None
    if stated and stated[1] in NAMES:
        delimiters = [stated[1]]
    if notes.answers.delimiter:
        delimiters = [_answer(notes.answers.delimiter, _BY_NAME, "delimiter", where)]
    decimals = [".", ","]
    if notes.answers.decimal:
        decimals = [_answer(notes.answers.decimal, _DECIMALS, "decimal", where)]
    return delimiters, decimals


def _answer(given: str, names: dict[str, str], subject: str, where: str) -> str:
    found = names.get(given, given if given in names.values() else None)
    if found is None:
        raise ReadError(
            f"{where}: the answer {subject} must be one of {', '.join(names)} (got {given!r}).",
            hint=f"Answer for example {subject}={next(iter(names))}.",
        )
    return found


def _sample(lines: Sequence[str]) -> list[str]:
    useful = [line for line in lines if line.strip()] if len(lines) <= _SAMPLED else list(lines)
    useful = [
        line
        for line in useful
        if len(line) <= _LONGEST and (line[:1].isdigit() or not is_comment(line))
    ]
    signs = sum(map(len, useful))
    step = max(len(useful) // _SAMPLED, signs // _MOST_SIGNS, 1)
    return useful[::step]


def _score(lines: Iterable[str], delimiter: str, decimal: str) -> float:
    marks = Marks(decimal)
    by_width: dict[int, float] = {}
    for line in lines:
        if delimiter in ",;\t|" and delimiter not in line:
            continue
        texts = split(line, delimiter)
        score = float(len(texts))
        if read_plain(texts, marks) is None:
            kinds = [read_cell(text, marks).kind for text in texts]
            numbers = sum(
                _GROUPED_BY_BLANKS if _GROUPED.search(text) else 1.0
                for text, kind in zip(texts, kinds, strict=True)
                if kind in "NU"
            )
            score = numbers * numbers / max(sum(kind in "NUT" for kind in kinds), 1)
        by_width[len(texts)] = by_width.get(len(texts), 0.0) + score
    return max(by_width.values(), default=0.0)


def _clear(sample: list[str], delimiters: list[str], decimals: list[str]) -> Dialect | None:
    """Give the dialect in which nearly all lines are plain numbers; there can be one only."""
    for delimiter in delimiters:
        if delimiter == "+" or "." not in decimals:
            continue
        dialect = Dialect(delimiter, Marks("."))
        if max(_widths(sample, dialect).values(), default=0) > 0.9 * len(sample):
            return dialect
    return None


def _widths(sample: list[str], dialect: Dialect) -> Counter[int]:
    """Count the rows of plain numbers by how many, two or more, they hold."""
    run = plain_run(sample, dialect)
    places = () if run is not None else _plain_places(sample, dialect)
    if run is not None:
        found = Counter({run[1].shape[1]: run[1].shape[0]})
    elif _converted(sample, places, dialect) is not None:
        found = Counter(sample[at].count(dialect.delimiter) + 1 for at in places)
    else:
        rows = (_plain_row(line, dialect) for line in sample)
        found = Counter(len(row[0]) for row in rows if row is not None)
    del found[1]
    return found


def _is_one_column(sample: list[str]) -> bool:
    """Tell whether rows of two whole numbers are one column with decimal commas.

    The second number of each row then never has a sign, and all have the same count of digits
    or some start with a zero; the first numbers repeat, as those of a rising column would not;
    and no heading names two columns.
    """
    single = [line.strip() for line in sample if line.count(",") == 1]
    rows = [line for line in single if _COMMA_ROW.fullmatch(line)]
    if len(rows) < 3:
        return False
    others = [line for line in sample if line.count(",") > 1 and _DIGITS_ONLY.fullmatch(line)]
    if len(others) > len(rows) // 10 + 1:
        return False
    named = [split(line, ",") for line in sample if line.count(",") == 1]
    if any(all(meaning_of(cell).role for cell in cells) for cells in named):
        return False
    pairs = [re.split("[,eE]", row)[:2] for row in rows]
    tails = [tail for _, tail in pairs]
    same = len({len(tail) for tail in tails}) == 1 and len(tails[0]) > 1
    repeats = len({head for head, _ in pairs}) < len(pairs)
    return repeats and (same or any(tail.startswith("0") and len(tail) > 1 for tail in tails))


def _doubt_points(sample: list[str], delimiter: str, notes: Notes) -> None:
    """Ask whether points part thousands where every number that has one could be read so."""
    cells = [cell for line in sample for cell in split(line, delimiter) if "." in cell]
    numbers = [cell for cell in cells if read_cell(cell, Marks(".")).kind == "N"]
    if numbers and all(_GROUP.fullmatch(cell) for cell in numbers):
        notes.ask(
            "decimal",
            "Is the point in numbers like 1.234 the decimal mark, or does it part thousands? "
            "Every number in the file can be read both ways.",
            proposed="point",
            choices=("point", "comma"),
        )


def _settled(sample: list[str], best: Dialect, notes: Notes) -> Dialect:
    """Choose between decimal point and comma where both read the same cells as numbers."""
    cells = [
        cell
        for line in sample
        for cell in split(line, best.delimiter)
        if read_cell(cell, Marks(",")).kind in "NU"
    ]
    comma = any(proves(cell, ",") for cell in cells)
    point = Dialect(best.delimiter, Marks("."))
    if comma or not any(re.search(r"\d,\d{3}(?!\d)", cell) for cell in cells):
        return Dialect(best.delimiter, Marks(",")) if comma else point
    notes.ask(
        "decimal",
        "Is the comma in numbers like 1,234 the decimal mark, or does it part thousands?",
        proposed="comma",
        choices=("comma", "point"),
    )
    return Dialect(best.delimiter, Marks(","))
