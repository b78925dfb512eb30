"""Touchstone files, version 1 and 2: text to records, records to a matrix over frequency."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import ReadError
from benchapp.readers.block import Row
from benchapp.readers.cut import doubt_short_numbers, mark_cut_cells
from benchapp.readers.document import Document
from benchapp.readers.notes import Notes
from benchapp.readers.number import Marks, proves, read_plain
from benchapp.readers.quantity import polar

__all__ = ["Options", "Parameters", "blocks_of", "looks_like_touchstone", "parse"]

_UNITS = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_KINDS = ("s", "y", "z", "h", "g")
_FORMATS = ("ma", "db", "ri")
_MOST_PORTS = 8
_NOISE = 5
_HIGHEST_GIGAHERTZ = 1000.0
_ENDING = re.compile(r"\.s(\d+)p$", re.IGNORECASE)
_KEYWORD = re.compile(r"^\s*\[([^\]]+)\]\s*(.*)$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """The option line; the defaults are those of the format (GHz, S, MA, 50 ohm)."""

    factor: float = 1e9
    kind: str = "S"
    form: str = "MA"
    resistance: float = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """Network parameters: frequency (N,) Hz, matrix (N, P, P) in ohm, siemens or as a ratio."""

    kind: str
    frequency: NDArray[np.float64]
    matrix: NDArray[np.complex128]
    lines: NDArray[np.int64]
    references: NDArray[np.float64]
    modes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Content:
    """What stands in the file, in order, before it has a meaning."""

    option: str | None = None
    option_line: int = 0
    keywords: dict[str, str] = field(default_factory=dict)
    rows: list[tuple[int, list[str]]] = field(default_factory=list)
    noise_rows: int = 0


def looks_like_touchstone(document: Document) -> float:
    """Give the confidence that a file is Touchstone: its ending, option line and keywords."""
    if _ENDING.search(document.source.name):
        return 1.0
    for line in document.lines[:200]:
        words = line.split("!")[0].lower().split()
        if words and words[0] == "[version]":
            return 1.0
        if words and words[0].startswith("#"):
            options = {words[0][1:], *words[1:]}
            known = options & {*_UNITS, *_KINDS, *_FORMATS, "r"}
            return 0.9 if len(known) >= 2 or document.suffix == ".ts" else 0.0
    return 0.3 if document.suffix == ".ts" else 0.0


def blocks_of(document: Document) -> list[tuple[str, Document]]:
    """Part a file of several sets, each between BEGIN and END, and name them by their variables.

    Returns
    -------
    list of (str, Document)
        The documents keep the line numbers of the file; one without a name where there is no
        BEGIN.
    """
    found: list[tuple[str, Document]] = []
    names: list[str] = []
    start: int | None = None
    for number, line in enumerate(document.lines):
        words = line.split("!")[0].split()
        word = words[0].upper() if words else ""
        if word == "VAR":
            names.append(" ".join(words[1:]))
        elif word == "BEGIN":
            start = number + 1
        elif word == "END" and start is not None:
            inside = [
                text if start <= at < number and not text.lstrip().startswith("%") else ""
                for at, text in enumerate(document.lines)
            ]
            found.append((", ".join(names), replace(document, lines=inside)))
            names, start = [], None
    return found or [("", document)]


def parse(document: Document, notes: Notes) -> Parameters:
    """Read the network parameters of a Touchstone file.

    Raises
    ------
    ReadError
        When the option line cannot be followed, or no complete record is there.

    Source: Touchstone File Format Specification, Version 2.0, IBIS Open Forum, 2009.
    """
    content = _content(document)
    where = document.source.path
    _settle_commas(content, notes)
    options = _options(content, where, notes)
    ports = _ports(content, document, where)
    records = _whole(list(_records(content, ports, notes)), content, notes)
    if not records:
        raise ReadError(
            f"{where}: must hold network data (got no whole row of {1 + 2 * ports**2} numbers).",
            hint="Save the sweep again; the file has a heading but no data.",
        )
    table = np.array([row.values for row in records])
    matrix = _matrix(table[:, 1:], ports, options.form, content, notes)
    references = _references(content, options, ports, where)
    if notes.answers.reference is not None and content.keywords.get("reference"):
        notes.overrule(notes.answers.reference, references.tolist())
        references = np.full(ports, notes.answers.reference)
    if "version" not in content.keywords:
        matrix = _denormalised(matrix, options)
    return Parameters(
        kind=options.kind,
        frequency=table[:, 0] * options.factor,
        matrix=matrix,
        lines=np.array([row.line for row in records], dtype=np.int64),
        references=references,
        modes=tuple(content.keywords.get("mixed-mode order", "").split()),
    )


def _content(document: Document) -> _Content:
    found = _Content()
    section = "head"
    pending = ""
    for number, line in enumerate(document.lines, start=1):
        text = line.split("!", 1)[0].strip()
        keyword = _KEYWORD.match(text)
        if keyword:
            pending = keyword[1].strip().lower()
            section = {"begin information": "skip", "noise data": "noise", "end": "end"}.get(
                pending, "head" if section != "noise" else section
            )
            found.keywords[pending] = keyword[2].strip()
        elif not text or section in {"skip", "end"}:
            continue
        elif text.startswith("#"):
            if found.option is None:
                found.option, found.option_line = text[1:], number
        elif pending in {"reference", "mixed-mode order"}:
            found.keywords[pending] = f"{found.keywords[pending]} {text}".strip()
        elif section == "noise":
            found.noise_rows += 1
        else:
            found.rows.append((number, text.split()))
    return found


def _settle_commas(content: _Content, notes: Notes) -> None:
    """Read decimal commas, which the format does not allow, where no decimal point is found."""
    cells = [cell for _, row in content.rows for cell in row]
    if any("." in cell for cell in cells) or not any(proves(cell, ",") for cell in cells):
        return
    notes.assume("decimal mark", "comma", "no number has a point; the format asks for one", 0.8)
    content.rows = [(line, [cell.replace(",", ".") for cell in row]) for line, row in content.rows]


def _options(content: _Content, where: str, notes: Notes) -> Options:
    if content.option is None:
        reason = "there is no option line, so the defaults of the format hold"
        notes.assume("option line", "# GHz S MA R 50", reason, 0.6)
        _doubt_default_unit(content, notes)
        return _answered(Options(), notes)
    words = content.option.lower().split()
    options = Options()
    while words:
        word = words.pop(0)
        if word in _UNITS:
            options = replace(options, factor=_UNITS[word])
        elif word in _KINDS:
            options = replace(options, kind=word.upper())
        elif word in _FORMATS:
            options = replace(options, form=word.upper())
        elif word == "r" and words and _positive(words[0]):
            options = replace(options, resistance=float(words.pop(0)))
        else:
            raise ReadError(
                f"{where}, line {content.option_line}: the option line must hold a frequency "
                f"unit, one of S Y Z H G, one of MA DB RI, and R with a resistance "
                f"(got {word!r}).",
                hint="Correct the line, for example: # MHz S RI R 50",
            )
    return _answered(options, notes, stated=True)


def _doubt_default_unit(content: _Content, notes: Notes) -> None:
    """Ask for the frequency unit where GHz would reach beyond radio frequencies."""
    first = [row for _, cells in content.rows if len(cells) % 2 and (row := _floats(cells[:1]))]
    highest = max((row[0] for row in first), default=0.0)
    if highest > _HIGHEST_GIGAHERTZ and notes.answers.frequency_unit is None:
        notes.ask(
            "frequency_unit",
            f"In which unit is the frequency? Without an option line it would be GHz, which "
            f"makes {highest:g} GHz.",
            proposed="Hz",
            choices=("Hz", "kHz", "MHz", "GHz"),
            required=True,
        )


def _answered(options: Options, notes: Notes, *, stated: bool = False) -> Options:
    answered = notes.answers.reference
    if answered is not None:
        if stated:
            notes.overrule(answered, [options.resistance])
        options = replace(options, resistance=answered)
    unit = (notes.answers.frequency_unit or "").lower()
    return replace(options, factor=_UNITS.get(unit, options.factor))


def _positive(word: str) -> bool:
    try:
        return 0 < float(word) < np.inf
    except ValueError:
        return False


def _ports(content: _Content, document: Document, where: str) -> int:
    stated = content.keywords.get("number of ports")
    ending = _ENDING.search(document.source.name)
    if stated is not None and stated.isdigit():
        ports = int(stated)
    elif ending:
        ports = int(ending[1])
    else:
        ports = _ports_by_rows(content)
    if not 1 <= ports <= _MOST_PORTS:
        raise ReadError(
            f"{where}: must have 1 to {_MOST_PORTS} ports (got {stated or ports}).",
            hint="Save only the ports that the part is connected to.",
        )
    return ports


def _ports_by_rows(content: _Content) -> int:
    first = next((len(cells) for _, cells in content.rows if len(cells) % 2), 3)
    wrapped = any(len(cells) % 2 == 0 for _, cells in content.rows[:8])
    if first == 9:
        return 4 if wrapped else 2
    return 3 if first == 7 else max((first - 1) // 2, 1)


def _records(content: _Content, ports: int, notes: Notes) -> Iterator[Row]:
    """Join rows to whole records: a row with an odd count of numbers starts one."""
    size = 1 + (2 * ports**2 if _is_full(content) else ports * (ports + 1))
    start, last = 0, -np.inf
    numbers: list[float] = []
    texts: list[str] = []
    for line, cells in [*content.rows, (0, ["0"])]:
        if numbers and len(cells) % 2:
            if len(numbers) == _NOISE and ports == 2 and numbers[0] <= last:
                content.noise_rows += 1
            else:
                notes.drop(start, f"{len(numbers)} numbers where a record has {size}")
            numbers = []
        values = _floats(cells)
        if values is None:
            notes.drop(line, "it holds something that is no number")
            numbers = []
            continue
        if not numbers and len(cells) % 2 == 0:
            notes.drop(line, "it does not start with a frequency")
            continue
        start = start if numbers else line
        texts = texts + cells if numbers else cells
        numbers = numbers + values
        if len(numbers) == size:
            last = numbers[0]
            yield Row(start, texts, "N" * size, numbers, [])
            numbers = []
    if content.noise_rows:
        seen = f"{content.noise_rows} rows of noise parameters"
        notes.assume("noise parameters", "left out", seen, 1.0)


def _whole(records: list[Row], content: _Content, notes: Notes) -> list[Row]:
    """Set aside the records with a number cut short; say where their count is not the stated."""
    stated = content.keywords.get("number of frequencies", "")
    if stated.isdigit() and int(stated) != len(records):
        reason = f"the file states {stated} frequencies and holds {len(records)} whole records"
        notes.assume("points", f"{len(records)} read", reason, 0.5)
    mark_cut_cells(records, ".", notes)
    lines = [row.line for row in records]
    for column in range(len(records[0].texts) if records else 0):
        texts = [row.texts[column] for row in records]
        values = [row.values[column] for row in records]
        doubt_short_numbers(texts, values, lines, notes)
    for row in records:
        if "T" in row.kinds:
            notes.drop(row.line, f"a number of it is {row.texts[row.kinds.index('T')]}")
    return [row for row in records if "T" not in row.kinds]


def _floats(cells: list[str]) -> list[float] | None:
    return read_plain(cells, Marks())


def _is_full(content: _Content) -> bool:
    return content.keywords.get("matrix format", "full").strip().lower() == "full"


def _matrix(
    pairs: NDArray[np.float64], ports: int, form: str, content: _Content, notes: Notes
) -> NDArray[np.complex128]:
    first, second = pairs[:, 0::2], pairs[:, 1::2]
    if form == "RI":
        entries = first + 1j * second
    else:
        with np.errstate(over="ignore"):
            size = 10 ** (first / 20) if form == "DB" else first
        entries = polar(size, np.deg2rad(second))
    if not _is_full(content):
        return _unfolded(entries, ports, content.keywords["matrix format"].strip().lower())
    matrix = entries.reshape(-1, ports, ports)
    if ports == 2 and _columns_first(content, notes):
        matrix = matrix.transpose(0, 2, 1)
    return matrix


def _unfolded(entries: NDArray[np.complex128], ports: int, half: str) -> NDArray[np.complex128]:
    """Fill a symmetrical matrix from its lower or upper half."""
    matrix = np.empty((entries.shape[0], ports, ports), dtype=np.complex128)
    rows, columns = np.tril_indices(ports) if half == "lower" else np.triu_indices(ports)
    matrix[:, rows, columns] = entries
    matrix[:, columns, rows] = entries
    return matrix


def _columns_first(content: _Content, notes: Notes) -> bool:
    """Tell whether a two-port row reads 11 21 12 22, as it always does in version 1."""
    if "version" not in content.keywords:
        return True
    order = content.keywords.get("two-port data order")
    if order is None:
        reason = "the order of the two-port data is not stated"
        notes.assume("two-port order", "11 21 12 22", reason, 0.5)
        return True
    return order.strip() != "12_21"


def _references(
    content: _Content, options: Options, ports: int, where: str
) -> NDArray[np.float64]:
    stated = content.keywords.get("reference", "").split()
    if not stated:
        return np.full(ports, options.resistance)
    if len(stated) != ports or not all(map(_positive, stated)):
        raise ReadError(
            f"{where}: [Reference] must give {ports} resistances above zero (got {stated}).",
            hint="Correct the line under [Reference].",
        )
    return np.array([float(word) for word in stated])


def _denormalised(matrix: NDArray[np.complex128], options: Options) -> NDArray[np.complex128]:
    """Undo the division by R that version 1 asks for; S needs none."""
    scaled = matrix.copy()
    if options.kind == "Z":
        scaled *= options.resistance
    elif options.kind == "Y":
        scaled /= options.resistance
    elif options.kind in {"H", "G"} and matrix.shape[1] == 2:
        up, down = (0, 1) if options.kind == "H" else (1, 0)
        scaled[:, up, up] *= options.resistance
        scaled[:, down, down] /= options.resistance
    return scaled
