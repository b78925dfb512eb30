"""Bytes to text: which encoding, and on what evidence."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass, replace

from benchapp.errors import ReadError
from benchapp.readers.reading import Answers, Assumption
from benchapp.readers.source import HEAD, Source, looks_wide

__all__ = ["Text", "decode", "lines_of"]

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# In code page 437 E6 is a micro sign, EA an ohm sign, F8 a degree sign, E9 a theta.
_OLD_UNITS = re.compile(
    rb"[\s(\[,;/_]\xe6[HFsVAS]|[\s(\[,;/_][kMm]?\xea[\s)\],;]|[\s(\[]\xf8[\s)\],;C]"
)
_NEW_UNITS = re.compile(rb"\xb5[HFsVAS]|\xb0[\s)\],;C]")
_CHINESE = "频率阻抗电感容时间相位损耗"
_LINE_END = re.compile(r"\r\n|\n|\r")


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A file as text, with the encoding and what speaks for it."""

    content: str
    encoding: str
    assumptions: tuple[Assumption, ...] = ()


def decode(source: Source, answers: Answers) -> Text:
    """Decode the bytes of a file.

    Raises
    ------
    ReadError
        When an encoding was asked for that is unknown or cannot hold these bytes.
    """
    if answers.encoding is not None:
        return _as_answered(source, answers.encoding)
    return _without_strays(_decoded(source.data))


def _without_strays(text: Text) -> Text:
    """Leave out byte-order marks inside the text: they stay where files were joined."""
    content = text.content
    if text.encoding in {"cp1252", "latin-1"}:
        content = content.replace("\u00ef\u00bb\u00bf", "\ufeff")
    if "\ufeff" not in content:
        return text
    reason = "they mark the start of a file and mean nothing inside of it"
    left_out = Assumption(
        subject="byte-order marks",
        value=f"{content.count(chr(0xFEFF))} left out",
        reason=reason,
        confidence=0.9,
    )
    return replace(
        text,
        content=content.replace("\ufeff", ""),
        assumptions=(*text.assumptions, left_out),
    )


def _decoded(data: bytes) -> Text:
    for mark, name in _MARKS:
        if data.startswith(mark):
            return _with_mark(data, name)
    if looks_wide(data[:HEAD]):
        name = "utf-16-le" if data[1:HEAD:2].count(0) > data[0:HEAD:2].count(0) else "utf-16-be"
        content = data.decode(name, errors="replace")
        reason = "every second byte is zero and there is no byte-order mark"
        return Text(content=content, encoding=name, assumptions=(_assumed(name, reason, 0.95),))
    try:
        return Text(content=data.decode("utf-8"), encoding="utf-8")
    except UnicodeDecodeError as error:
        if error.start >= len(data) - 3 and error.reason == "unexpected end of data":
            content = data[: error.start].decode("utf-8")
            return Text(content=content, encoding="utf-8")
    return _single_byte(data)


def _assumed(value: str, reason: str, confidence: float) -> Assumption:
    return Assumption(subject="encoding", value=value, reason=reason, confidence=confidence)


def _as_answered(source: Source, name: str) -> Text:
    try:
        return Text(content=source.data.decode(name), encoding=name)
    except (LookupError, UnicodeError) as cause:
        raise ReadError(
            f"{source.path}: must be text in the encoding {name!r} (got other bytes).",
            hint="Leave the encoding out, or answer utf-8, utf-16, cp1252 or cp437.",
        ) from cause


def _with_mark(data: bytes, name: str) -> Text:
    content = data.decode(name, errors="replace")
    if name == "utf-16" and len(data) % 2:
        content = content.rstrip("\ufffd")
    return Text(content=content, encoding=name)


def _single_byte(data: bytes) -> Text:
    old, new = len(_OLD_UNITS.findall(data)), len(_NEW_UNITS.findall(data))
    if old > new:
        reason = f"{old} unit signs make sense in it and {new} in the later encoding"
        return Text(
            content=data.decode("cp437"),
            encoding="cp437",
            assumptions=(_assumed("cp437", reason, 0.8),),
        )
    chinese = data.decode("gb18030", errors="replace")
    found = sum(chinese.count(sign) for sign in _CHINESE)
    if found >= 2:
        reason = f"it gives {found} known signs of Chinese headings"
        return Text(
            content=chinese,
            encoding="gb18030",
            assumptions=(_assumed("gb18030", reason, 0.9),),
        )
    try:
        content, name = data.decode("cp1252"), "cp1252"
    except UnicodeDecodeError:
        content, name = data.decode("latin-1"), "latin-1"
    reason = "it is not UTF-8 and has no byte-order mark"
    return Text(content=content, encoding=name, assumptions=(_assumed(name, reason, 0.8),))


def lines_of(content: str) -> list[str]:
    """Split at CR, LF or both, and nowhere else; without the empty piece after the last end."""
    lines = _LINE_END.split(content)
    if lines and not lines[-1]:
        lines.pop()
    return lines
