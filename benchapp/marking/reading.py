"""From a marking to everything that it can mean, most likely first."""

from __future__ import annotations

import itertools
import math
import operator
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from benchapp.errors import QuantityError, UsageError
from benchapp.marking.assembly import assembled
from benchapp.marking.colour import COLOURS, band_readings, is_colour
from benchapp.marking.piece import Piece
from benchapp.marking.value import KINDS, Kind, Marking, Reading
from benchapp.marking.word import cuts

__all__ = ["read_marking", "words_of"]

_LONGEST = 80
_MOST_COMBINATIONS = 10_000
_LEAST_SHARE = 1e-3
_LONGEST_MENDED = 10
_CATEGORY = re.compile(r"\d\d/\d{2,3}/\d\d")
_SPELLING = (
    (r"\+\s*/\s*-|\+-", "±"),
    (r"±\s+", "±"),
    (r"([+-][\d.]+)\s*(%?)\s*/?\s*([+-][\d.]+)\s*%", r" \1\2\3%"),
    (r"uu", "µµ"),
    (r"u(?=[FfHh\d]|$|\s)", "µ"),
    (
        r"(?<=[\d.])\s+(?=(?:[pnµm]?[FH]|[kKMG]?(?:Ω|[oO]hms?)|MFD|mfd|[kK]?V(?:AC|DC)?)(?:\W|$))",
        "",
    ),
    (r"(?<=\d)\s+(?=[%~⎓=])", ""),
    (r"(?<=V)\s+(?=(?:AC|DC|~|=|⎓)(?:\s|$))", ""),
    (r"(?<=[\dF%ΩH])\s+(?=[A-Z](?:\s|$))", ""),
)


def words_of(code: str) -> tuple[str, ...]:
    """Give the words of a marking, in one spelling of signs and with units joined to numbers."""
    text = unicodedata.normalize("NFKC", code).translate(
        str.maketrans("\u03bc\u2126\u2212\u2013", "µΩ--")
    )
    for pattern, plain in _SPELLING:
        text = re.sub(pattern, plain, text)
    words: list[str] = []
    for word in text.split():
        words += (
            [word] if _CATEGORY.fullmatch(word) else [part for part in word.split("/") if part]
        )
    return tuple(words)


def read_marking(code: str, kind: Kind | None = None) -> Marking:
    """Read the marking of a capacitor, resistor or inductor.

    Parameters
    ----------
    code : str
        What stands on the part; several words in any order, or the names of colour bands.
    kind : {'capacitor', 'resistor', 'inductor'}, optional
        Keeps the readings of that kind only.

    Returns
    -------
    Marking
        Every reading that the standards or common practice allow, most likely first.

    Raises
    ------
    UsageError
        When ``kind`` is no kind of part.
    QuantityError
        When nothing can be read, or too many words could be anything; the hint names the nearest
        valid form.
    """
    if kind is not None and kind not in KINDS:
        raise UsageError(
            f"kind of part: must be one of {', '.join(KINDS)} (got '{kind}').",
            hint="Leave it out to see the readings of every kind.",
        )
    if not words_of(code) or len(code) > _LONGEST:
        raise QuantityError(
            f"marking: must be a word of 1 to {_LONGEST} characters (got {len(code.strip())}).",
            hint="Type what stands on the part, for example 104K 2J.",
        )
    found, unknown = _readings(code)
    kept = [entry for entry in found if kind in (None, entry.kind)]
    if not kept:
        raise _refusal(code, kind, {entry.kind for entry in found})
    return Marking(code=code, readings=_ranked(kept), not_understood=unknown)


def _readings(code: str) -> tuple[tuple[Reading, ...], tuple[str, ...]]:
    """Give all readings of all spellings of ``code``, and the words that were set aside.

    There are none where a word with figures in it is not understood: it may be the value.
    """
    colours = words_of(code)
    if all(is_colour(word) for word in colours):
        return band_readings(colours), ()
    readings: dict[Reading, Reading] = {}
    unknown: tuple[str, ...] = ()
    for spelling in _comma_spellings(code):
        words = words_of(spelling)
        choices = {word: cuts(word) for word in words}
        unknown = tuple(word for word in words if not choices[word])
        _collect(readings, [choices[word] for word in words if choices[word]])
    figures = any(character.isdigit() for word in unknown for character in word)
    if figures or (unknown and all(entry.value is None for entry in readings)):
        return (), unknown
    return tuple(readings.values()), unknown


def _comma_spellings(code: str) -> Iterator[str]:
    """Give ``code`` with each comma as a decimal mark, and as a thousands mark where it can be."""
    yield re.sub(r"(?<=\d),(?=\d)|,(?=\d)", ".", code)
    if re.search(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d,])", code):
        yield re.sub(r"(?<=\d),(?=\d{3})", "", code)


def _collect(
    readings: dict[Reading, Reading], choices: Sequence[tuple[tuple[Piece, ...], ...]]
) -> None:
    """Add the readings of every combination, each meaning once with its greatest weight."""
    if not choices:
        return
    ways = math.prod(len(choice) for choice in choices)
    if ways > _MOST_COMBINATIONS:
        raise QuantityError(
            f"marking: must be that of one part (got words that go together in {ways} ways).",
            hint="Type fewer words: value, tolerance, voltage.",
        )
    for combination in itertools.product(*choices):
        for reading in assembled([piece for cut in combination for piece in cut]):
            key = replace(reading, likelihood=0.0, why="")
            known = readings.get(key)
            if known is None or known.likelihood < reading.likelihood:
                readings[key] = reading


def _ranked(readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """Order the readings, make shares of their weights, drop those under one in a thousand."""
    ordered = sorted(readings, key=lambda entry: -entry.likelihood)
    least = _LEAST_SHARE * sum(entry.likelihood for entry in ordered)
    ordered = [entry for entry in ordered if entry.likelihood >= least]
    total = sum(entry.likelihood for entry in ordered)
    return tuple(replace(entry, likelihood=entry.likelihood / total) for entry in ordered)


_CONFUSED = {"O": "0", "o": "0", "I": "1", "l": "1", "S": "5", "B": "8", "Z": "2", "Q": "0"}
_ALPHABET = "RKMnpµJ0123456789"


def _refusal(code: str, kind: Kind | None, other_kinds: set[Kind]) -> QuantityError:
    shown = code if len(code) <= 40 else code[:37] + "..."
    if other_kinds:
        names = " or ".join(sorted(other_kinds))
        return QuantityError(
            f"marking: must be one of {_article(kind)} (got '{shown}', which only "
            f"{_article(names)} carries).",
            hint=f"Read it as {_article(min(other_kinds))}, or look at the part again.",
        )
    words = words_of(code)
    if any(is_colour(word) for word in words):
        return _colour_refusal(shown, [word for word in words if not is_colour(word)])
    if len(words) > 1 and all(cuts(word) for word in words):
        return QuantityError(
            "marking: must hold one value, at most one tolerance, and only what one part carries "
            f"(got '{shown}').",
            hint="Type the marking of one part at a time.",
        )
    near = _nearest_forms(code, kind)
    hint = "Usual forms: 104K, 4n7J, 0.1 µF 250 V DC, 2J, X7R, or brown black red gold."
    if near:
        hint = f"Nearest valid form: {' or '.join(near)}."
    elif len(words) > 1:
        hint = "Leave out date and lot codes. " + hint
    return QuantityError(f"marking: must be a known code (got '{shown}').", hint=hint)


def _colour_refusal(shown: str, others: Sequence[str]) -> QuantityError:
    if others:
        return QuantityError(
            f"colour bands: every word must name a colour (got '{others[0]}' in '{shown}').",
            hint=f"Colours are {', '.join(COLOURS)}.",
        )
    return QuantityError(
        "colour bands: must be three to six: two or three digits, multiplier, tolerance, "
        f"temperature coefficient (got '{shown}').",
        hint="Gold, silver and pink are no digits; read from the other end, for example "
        "brown black red gold.",
    )


def _article(kind: str | None) -> str:
    return f"{'an' if (kind or '')[:1] in 'aeiou' else 'a'} {kind}"


def _nearest_forms(code: str, kind: Kind | None) -> tuple[str, ...]:
    """Give up to three markings that can be read and differ by the least, the likeliest first."""
    words = words_of(code)
    place = next((index for index, word in enumerate(words) if not cuts(word)), 0)
    if len(words[place]) > _LONGEST_MENDED:
        return ()
    best: dict[str, float] = {}
    nearest = math.inf
    for word, cost in sorted(_variants(words[place]), key=operator.itemgetter(1)):
        form = " ".join((*words[:place], word, *words[place + 1 :]))
        if cost > nearest:
            break
        if not word or form in best or not cuts(word):
            continue
        found, unknown = _readings(form)
        kept = [entry for entry in found if kind in (None, entry.kind) and entry.series]
        if kept and not unknown:
            nearest = cost
            best[form] = max(entry.likelihood for entry in kept)
    return tuple(sorted(best, key=lambda form: -best[form])[:3])


def _variants(text: str) -> Iterator[tuple[str, float]]:
    """Give texts near ``text`` with a cost: lookalikes 1, one character changed or dropped 2."""
    lookalikes = "".join(_CONFUSED.get(character, character) for character in text)
    yield lookalikes, 1.0
    for place, character in enumerate(text):
        if character in _CONFUSED:
            yield text[:place] + _CONFUSED[character] + text[place + 1 :], 1.0
        yield text[:place] + text[place + 1 :], 2.0
        for other in _ALPHABET:
            yield text[:place] + other + text[place + 1 :], 2.5
