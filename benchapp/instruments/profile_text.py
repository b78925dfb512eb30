"""Profiles from TOML files: every refusal names the line and says what was expected."""

from __future__ import annotations

import datetime as dt
import difflib
import hashlib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from benchapp.errors import FileAccessError, ProfileError, QuantityError
from benchapp.instruments.link import LinkSettings
from benchapp.instruments.profile import (
    ASKS,
    METHODS,
    SENDS,
    AnswerForm,
    Column,
    Limits,
    Profile,
    Span,
)
from benchapp.readers.quantity import RECIPES
from benchapp.readers.settings import Settings, Subject, lines_of
from benchapp.uncertainty import Accuracy, accuracy_from
from benchapp.units import canonical_unit, parse_quantity

__all__ = ["is_profile", "load_profile", "parse_profile", "shipped_profiles"]

LARGEST_FILE = 100_000
TERMINATORS = MappingProxyType({"LF": "\n", "CR": "\r", "CRLF": "\r\n"})
NUMBERS = ("float64", "float32", "int32", "int16", "int8")
SEPARATORS = MappingProxyType({"comma": ",", "semicolon": ";", "blank": " ", "tab": "\t"})
PLAIN_ROLES = ("frequency", "status", "skip", "re", "im", "voltage")
ROLE_UNITS = MappingProxyType(
    {
        "frequency": "Hz",
        "voltage": "V",
        "theta": "deg",
        **dict.fromkeys(("R", "X", "|Z|", "Rs", "Rp", "DCR"), "ohm"),
        **dict.fromkeys(("G", "B", "|Y|"), "S"),
        **dict.fromkeys(("Ls", "Lp"), "H"),
        **dict.fromkeys(("Cs", "Cp"), "F"),
    }
)
"""Unit of each role; the others are numbers without one."""

TOP = (
    *("title", "about", "method", "link", "limits", "caution", "send", "ask", "answer"),
    *("accuracy", "calibration_due"),
)
LINK = (
    "terminator",
    "timeout",
    "identify",
    "expect",
    "baud_rate",
    "numbers",
    "settle",
    "reference",
)
LIMITS = MappingProxyType(
    {"frequency": "Hz", "level": "V", "bias": "V", "averages": "1", "points": "1"}
)
CAUTION = ("level", "bias")
ANSWER = (
    *("form", "separator", "columns", "number", "byte_order", "good", "overload"),
    *("done", "off", "no_error"),
)
BRACES = re.compile(r"\{([^{}]*)\}")
_MISSING = object()


def load_profile(path: str | Path) -> Profile:
    """Read a profile.

    Parameters
    ----------
    path : str or Path
        A TOML file; the name of a profile that comes with the program is found too.

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    ProfileError
        When it breaks a rule; the message names the line and what was expected.
    """
    shipped = shipped_profiles()
    if str(path) in shipped:
        return shipped[str(path)]
    try:
        with Path(path).open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as cause:
        raise FileAccessError(
            f"{path}: the profile must be a file that can be opened (got {cause.strerror}).",
            hint=f"Choose a file, or one of {', '.join(sorted(shipped))}.",
        ) from cause
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        raise ProfileError(
            f"{path}: must be UTF-8 text (got byte {content[cause.start]:#04x} at "
            f"{cause.start + 1}).",
            hint="Save it again as UTF-8.",
        ) from cause
    if len(content) > LARGEST_FILE:
        raise ProfileError(
            f"{path}: must be under {LARGEST_FILE // 1000} kB (got more).",
            hint="This does not look like a profile: choose another file.",
        )
    return parse_profile(text, Path(path).name)


def is_profile(path: str | Path) -> bool:
    """Tell whether this is a profile: one that comes with the program, or a file with a method."""
    if str(path) in shipped_profiles():
        return True
    try:
        with Path(path).open("rb") as file:
            return "method" in tomllib.loads(file.read(LARGEST_FILE).decode("utf-8-sig"))
    except (OSError, ValueError):
        return False


@cache
def shipped_profiles() -> Mapping[str, Profile]:
    """Give the profiles that come with the program, by name."""
    folder = resources.files("benchapp.instruments.profiles")
    found = {
        entry.name.removesuffix(".toml"): parse_profile(
            entry.read_text(encoding="utf-8"), entry.name
        )
        for entry in folder.iterdir()
        if entry.name.endswith(".toml")
    }
    return MappingProxyType(dict(sorted(found.items())))


def parse_profile(text: str, name: str) -> Profile:
    """Make a profile of TOML text; ``name`` is what a refusal calls it.

    Raises
    ------
    ProfileError
        When it breaks a rule of the format.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as cause:
        place = re.search(r"at line (\d+)", str(cause))
        line = place[1] if place else str(len(text.splitlines()))
        raise ProfileError(
            f"{name}, line {line}: must be TOML (got: {str(cause).partition(' (at')[0]}).",
            hint='Write key = value lines, texts in quotes: read = "FETC?".',
        ) from cause
    return _profile(_Sheet(name=name, lines=tuple(text.splitlines()), data=data))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Sheet:
    """The file: its values, and where each of them stands."""

    name: str
    lines: tuple[str, ...]
    data: Mapping[str, Any]

    def where(self, table: str, key: str) -> str:
        """Say file, line and key; the line of the table where the key is not there."""
        inside, best = "", 0
        for number, line in enumerate(self.lines, start=1):
            header = re.match(r"\s*\[\s*([\w.-]+)\s*\]", line)
            if header:
                inside = header[1]
                best = number if inside == table and not best else best
            elif inside == table and re.match(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=", line):
                best = number
                break
        place = f"{self.name}, line {best}" if best else self.name
        return f"{place}: {f'{table}.{key}' if table else key}"

    def refusal(self, table: str, key: str, rule: str, got: object, hint: str) -> ProfileError:
        return ProfileError(f"{self.where(table, key)} must {rule} (got {got}).", hint=hint)

    def table(self, table: str, known: Sequence[str]) -> Mapping[str, Any]:
        """Give a table with known keys only; empty where it is not there."""
        values = self.data.get(table, {}) if table else self.data
        if not isinstance(values, Mapping):
            raise self.refusal("", table, "be a table", repr(values), f"Write [{table}].")
        for key in values:
            if key not in known:
                near = difflib.get_close_matches(key, known, n=1)
                hint = f"Did you mean {near[0]}?" if near else f"Known are {', '.join(known)}."
                raise self.refusal(table, key, "be a known key", repr(key), hint)
        return values

    def text(self, table: str, key: str, default: str | None = None) -> str:
        values = self.data.get(table, {}) if table else self.data
        value = values.get(key, default)
        if not isinstance(value, str):
            got = "nothing" if value is None else repr(value)
            raise self.refusal(table, key, "be a text in quotes", got, f'Write {key} = "...".')
        if not value.isprintable():
            raise self.refusal(
                table, key, "hold printable characters only", repr(value), "Remove the others."
            )
        return value

    def ascii(self, table: str, key: str, default: str | None = None) -> str:
        """Give a text that can be sent or compared with an answer."""
        value = self.text(table, key, default)
        if not value.isascii():
            raise self.refusal(
                table, key, "be plain ASCII", repr(value), "Instruments do not know other letters."
            )
        return value

    def choice(self, table: str, key: str, choices: Sequence[str], default: str | None) -> str:
        value = self.text(table, key, default)
        if value not in choices:
            raise self.refusal(
                table, key, f"be one of {', '.join(choices)}", repr(value), "Choose one of them."
            )
        return value

    def quantity(self, table: str, key: str, unit: str, default: float) -> float:
        value = self.data.get(table, {}).get(key, _MISSING)
        return default if value is _MISSING else self._si(table, key, value, unit)

    def span(self, table: str, key: str, unit: str) -> Span | None:
        """Read two bounds with two dots between; None where the key is not there."""
        if key not in self.data.get(table, {}):
            return None
        text = self.text(table, key)
        low, dots, high = text.partition("..")
        if not dots:
            hint = f'Write for example {key} = "{_EXAMPLES[unit]}".'
            raise self.refusal(table, key, "be two bounds with .. between", repr(text), hint)
        bounds = self._si(table, key, low, unit), self._si(table, key, high, unit)
        if bounds[0] >= bounds[1]:
            raise self.refusal(
                table, key, "rise from the first to the second bound", repr(text), "Swap them."
            )
        return bounds

    def _si(self, table: str, key: str, value: object, unit: str) -> float:
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        if plain and unit in {"1", "ohm"}:
            return float(str(value))
        if not isinstance(value, str) or (unit != "1" and not re.search(r"[^\W\d_]", value)):
            hint = f'Write for example {key} = "{_EXAMPLES[unit].partition(" ..")[0]}".'
            raise self.refusal(
                table, key, "be a text with a value and its unit", repr(value), hint
            )
        try:
            return parse_quantity(value.strip(), unit).value
        except QuantityError as cause:
            raise self.refusal(
                table, key, f"be a quantity in {unit}", repr(value), cause.hint
            ) from cause


_EXAMPLES = {
    "Hz": "20 Hz .. 2 MHz",
    "V": "5 mV .. 2 V",
    "1": "1 .. 256",
    "s": "5 s",
    "ohm": "50 ohm",
}


def _profile(sheet: _Sheet) -> Profile:
    sheet.table("", TOP)
    link = sheet.table("link", LINK)
    method = sheet.choice("", "method", tuple(METHODS), None)
    ask = _asks(sheet)
    profile = Profile(
        title=sheet.text("", "title"),
        method=method,  # type: ignore[arg-type]
        about=sheet.data.get("about", "") and sheet.text("", "about"),
        link=_link(sheet, link),
        limits=_limits(sheet),
        send=_sends(sheet),
        ask=ask,
        answer=_answer(sheet, method),
        settle=sheet.quantity("link", "settle", "s", 0.0),
        reference=sheet.quantity("link", "reference", "ohm", 50.0),
        numbers=sheet.choice("link", "numbers", ("plain", "exponent"), "exponent"),  # type: ignore[arg-type]
        done_answer=sheet.ascii("answer", "done", "1"),
        off_answer=sheet.ascii("answer", "off", "0"),
        no_error=sheet.ascii("answer", "no_error", "0"),
        accuracy=_accuracy(sheet),
        calibration_due=_due(sheet),
        source=sheet.name,
    )
    _complete(sheet, profile)
    return profile


def _complete(sheet: _Sheet, profile: Profile) -> None:
    needs = METHODS[profile.method]
    for table, wanted, given in (
        ("send", needs.send, profile.send),
        ("ask", needs.ask, profile.ask),
    ):
        for key in wanted:
            if key not in given:
                raise sheet.refusal(
                    table,
                    key,
                    f"be there for method {profile.method}",
                    "nothing",
                    f"Add it to [{table}].",
                )
    for key, setting in (("level", "level"), ("bias", "bias"), ("averages", "averages")):
        if key in profile.send and getattr(profile.limits, setting) is None:
            raise sheet.refusal(
                "limits",
                key,
                f"say what {key} can be set, as [send] sets it",
                "nothing",
                f'Write for example {key} = "{_EXAMPLES[LIMITS[key]]}".',
            )


def _link(sheet: _Sheet, values: Mapping[str, Any]) -> LinkSettings:
    terminator = sheet.choice("link", "terminator", tuple(TERMINATORS), "LF")
    timeout = sheet.quantity("link", "timeout", "s", 5.0)
    if not 0 < timeout <= 600:
        raise sheet.refusal(
            "link", "timeout", "be above 0 and at most 600 s", f"{timeout:g} s", "Correct it."
        )
    baud_rate = values.get("baud_rate", 9600)
    if not isinstance(baud_rate, int) or isinstance(baud_rate, bool) or baud_rate <= 0:
        raise sheet.refusal(
            "link", "baud_rate", "be a whole number", repr(baud_rate), "Write baud_rate = 9600."
        )
    return LinkSettings(
        terminator=TERMINATORS[terminator],
        timeout=timeout,
        identify=sheet.ascii("link", "identify", "*IDN?"),
        expect=sheet.ascii("link", "expect", ""),
        baud_rate=baud_rate,
    )


def _limits(sheet: _Sheet) -> Limits:
    sheet.table("limits", tuple(LIMITS))
    caution = sheet.table("caution", CAUTION)
    spans = {key: sheet.span("limits", key, unit) for key, unit in LIMITS.items()}
    return Limits(
        **spans,
        caution_level=sheet.quantity("caution", "level", "V", 0.0) if "level" in caution else None,
        caution_bias=sheet.quantity("caution", "bias", "V", 0.0),
    )


def _sends(sheet: _Sheet) -> Mapping[str, tuple[str, ...]]:
    values = sheet.table("send", tuple(SENDS))
    found = {}
    for key, value in values.items():
        texts = [value] if isinstance(value, str) else value
        if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
            raise sheet.refusal(
                "send", key, "be a text or a list of texts", repr(value), f'Write {key} = ["..."].'
            )
        for text in texts:
            _check_sent(sheet, "send", key, text, SENDS[key])
        if SENDS[key] and key != "record" and not any("{" in text for text in texts):
            raise sheet.refusal(
                "send",
                key,
                "say where the value goes",
                repr(value),
                f"Write {' or '.join('{' + name + '}' for name in SENDS[key])} in its place.",
            )
        found[key] = tuple(texts)
    return MappingProxyType(found)


def _asks(sheet: _Sheet) -> Mapping[str, str]:
    found = {}
    for key in sheet.table("ask", ASKS):
        found[key] = sheet.text("ask", key)
        _check_sent(sheet, "ask", key, found[key], ())
    return MappingProxyType(found)


def _check_sent(sheet: _Sheet, table: str, key: str, text: str, names: tuple[str, ...]) -> None:
    if not text or not text.isascii() or not text.isprintable():
        raise sheet.refusal(
            table, key, "be plain ASCII text", repr(text), "Instruments know no other letters."
        )
    for name in BRACES.findall(text):
        if name not in names:
            allowed = ", ".join("{" + known + "}" for known in names) or "none"
            raise sheet.refusal(
                table,
                key,
                f"use known names in braces: {allowed}",
                "{" + name + "}",
                "Correct it.",
            )
    if re.search(r"[{}]", BRACES.sub("", text)):
        raise sheet.refusal(table, key, "close every brace", repr(text), "Write {name}.")


def _answer(sheet: _Sheet, method: str) -> AnswerForm:
    values = sheet.table("answer", ANSWER)
    good = values.get("good", [])
    if not isinstance(good, list) or not all(isinstance(word, str) for word in good):
        raise sheet.refusal(
            "answer", "good", "be a list of texts", repr(good), 'Write good = ["0"].'
        )
    separator = sheet.choice("answer", "separator", tuple(SEPARATORS), "comma")
    overload = values.get("overload", 9.0e37)
    if isinstance(overload, bool) or not isinstance(overload, int | float) or not overload > 0:
        raise sheet.refusal(
            "answer", "overload", "be a number above 0", repr(overload), "Write 9.9e37."
        )
    columns = _columns(sheet, values, method)
    has_status = any(column.role == "status" for column in columns)
    if has_status != bool(good):
        raise sheet.refusal(
            "answer",
            "good" if has_status else "columns",
            "go together: a status column, and the statuses that are good",
            "only one of them",
            'Write good = ["0"] and a column "status", or leave both out.',
        )
    return AnswerForm(
        columns=columns,
        form=sheet.choice("answer", "form", ("text", "block"), "text"),  # type: ignore[arg-type]
        separator=SEPARATORS[separator],
        number=sheet.choice("answer", "number", NUMBERS, "float64"),
        byte_order=sheet.choice("answer", "byte_order", ("big", "little"), "big"),  # type: ignore[arg-type]
        good=tuple(good),
        overload=float(overload),
    )


_ACCURACY = Subject(
    title="the accuracy of a profile",
    short="the accuracy",
    error=ProfileError,
    example='reading = "±0.1 %"',
)


def _accuracy(sheet: _Sheet) -> Accuracy | None:
    """Read what the user states about the instrument: the tables of an accuracy file."""
    if "accuracy" not in sheet.data:
        return None
    text = "\n".join(sheet.lines)
    lines = {path[1:]: n for path, n in lines_of(text).items() if path[:1] == ("accuracy",)}
    data = sheet.data["accuracy"]
    settings = Settings(name=sheet.name, subject=_ACCURACY, lines=lines)
    stated = accuracy_from(replace(settings, data=settings.table(data, ("accuracy",))))
    return replace(
        stated,
        title=stated.title or f"as stated in the profile {sheet.data.get('title', sheet.name)}",
        source=sheet.name,
        sha256=hashlib.sha256(text.encode()).hexdigest(),
    )


def _due(sheet: _Sheet) -> str | None:
    """Read until when the calibration of the instrument holds."""
    found = sheet.data.get("calibration_due")
    if found is not None and type(found) is not dt.date:
        hint = "Write calibration_due = 2027-03-01, no quotes."
        raise sheet.refusal("", "calibration_due", "be a date", repr(found), hint)
    return None if found is None else found.isoformat()


def _columns(sheet: _Sheet, values: Mapping[str, Any], method: str) -> tuple[Column, ...]:
    texts = values.get("columns")
    if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
        got = "nothing" if texts is None else repr(texts)
        raise sheet.refusal(
            "answer", "columns", "be a list of texts", got, 'Write columns = ["R", "X"].'
        )
    columns = tuple(_column(sheet, text) for text in texts)
    roles = [column.role for column in columns]
    repeated = {role for role in roles if role != "skip" and roles.count(role) > 1}
    if repeated:
        raise sheet.refusal(
            "answer",
            "columns",
            "name each quantity once",
            ", ".join(sorted(repeated)),
            "Use skip.",
        )
    if not _sufficient(set(roles), method):
        raise sheet.refusal(
            "answer", "columns", _SUFFICIENT[_family(method)], " ".join(roles), "Correct them."
        )
    return columns


def _column(sheet: _Sheet, text: str) -> Column:
    match = re.fullmatch(r"\s*([^()\s]+)\s*(?:\(\s*([^()]+?)\s*\))?\s*", text)
    roles = sorted({*PLAIN_ROLES, *(role for recipe in RECIPES for role in recipe.roles)})
    if match is None or match[1] not in roles:
        raise sheet.refusal(
            "answer",
            "columns",
            f"name known quantities: {', '.join(roles)}",
            repr(text),
            "Write the unit in round brackets where there is one: theta (deg).",
        )
    role, unit = match[1], match[2]
    wanted = ROLE_UNITS.get(role)
    if unit is None and role == "theta":
        raise sheet.refusal(
            "answer",
            "columns",
            "give the unit of theta",
            repr(text),
            "Write theta (deg) or (rad).",
        )
    if unit is None:
        return Column(role=role)
    try:
        factor, found = canonical_unit(unit)
    except QuantityError as cause:
        raise sheet.refusal(
            "answer", "columns", "have known units", repr(text), cause.hint
        ) from cause
    if found != wanted:
        raise sheet.refusal(
            "answer", "columns", f"have {role} in {wanted or 'no unit'}", repr(text), "Correct it."
        )
    return Column(role=role, factor=float(np.radians(factor)) if role == "theta" else factor)


_SUFFICIENT = {
    "impedance": "hold two quantities that fix an impedance, such as R and X",
    "network": "hold re and im",
    "voltage": "hold voltage",
}


def _family(method: str) -> str:
    if method.startswith("impedance"):
        return "impedance"
    return "voltage" if method in {"gain-phase", "ring-down"} else "network"


def _sufficient(roles: set[str], method: str) -> bool:
    family = _family(method)
    if family == "impedance":
        return any(set(recipe.roles) <= roles for recipe in RECIPES)
    return {"re", "im"} <= roles if family == "network" else "voltage" in roles
