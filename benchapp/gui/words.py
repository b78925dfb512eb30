"""Words and numbers as the window writes them: translation, definitions, the decimal mark."""

from __future__ import annotations

import re

from PySide6.QtCore import QT_TR_NOOP, QCoreApplication, QLocale

from benchapp.nominal import Limit, LimitVerdict, Outcome
from benchapp.units import Estimate, format_estimate, format_quantity, unit_symbol

__all__ = [
    "LEVELS",
    "OUTCOMES",
    "bound",
    "decimal_mark",
    "definition",
    "deviation_words",
    "exact",
    "margin_words",
    "number",
    "outcome_words",
    "percent",
    "plain",
    "plural",
    "quantity",
    "range_words",
    "sentence",
    "span_words",
    "symbol",
    "tr",
    "unit_words",
    "with_expanded",
]

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=%|°|[fpnµmkMG]?(?:Hz|[HFΩsVAW])\b)|(?<=±) ")
_POINT = re.compile(r"(?<=\d)\.(?=\d)")

OUTCOMES = {
    Outcome.PASS: QT_TR_NOOP("pass"),
    Outcome.CONDITIONAL_PASS: QT_TR_NOOP("conditional pass"),
    Outcome.CONDITIONAL_FAIL: QT_TR_NOOP("conditional fail"),
    Outcome.FAIL: QT_TR_NOOP("fail"),
    Outcome.NOT_JUDGED: QT_TR_NOOP("not judged"),
}
LEVELS = {"stop": QT_TR_NOOP("stop"), "warn": QT_TR_NOOP("warning"), "note": QT_TR_NOOP("note")}
_SYMBOLS = {"theta": "θ", "Z_tank": "Z tank", "tau": "τ", "QL": "Q loaded"}
_DEFINITIONS = {
    "L": QT_TR_NOOP("Inductance of the coil itself, without its stray capacitance."),
    "C": QT_TR_NOOP("Capacitance across or in series with the coil, as the circuit is drawn."),
    "R": QT_TR_NOOP("Resistance in the equivalent circuit: all losses as one resistor."),
    "Rdc": QT_TR_NOOP("Part of the winding's resistance that does not change with frequency."),
    "Rac": QT_TR_NOOP("Part of the winding's resistance that grows with √frequency, per √Hz."),
    "Q": QT_TR_NOOP("Quality factor |X| / R: energy stored over energy lost per cycle, times 2π."),
    "D": QT_TR_NOOP("Dissipation factor R / |X|, also called tan δ: one over Q."),
    "ESR": QT_TR_NOOP(
        "Equivalent series resistance: the real part of the impedance at this frequency."
    ),
    "ESL": QT_TR_NOOP("Equivalent series inductance of a capacitor and its leads."),
    "DCR": QT_TR_NOOP("Resistance of the winding for direct current."),
    "f0": QT_TR_NOOP("Resonance 1 / (2π√(LC)): where the reactances of L and C are equal."),
    "SRF": QT_TR_NOOP(
        "Self-resonance: above it the stray capacitance rules and a coil is no coil."
    ),
    "Z_tank": QT_TR_NOOP("Characteristic impedance of the tank √(L / C)."),
    "BW": QT_TR_NOOP("Half-power bandwidth: distance of the two −3 dB points."),
    "tau": QT_TR_NOOP("Time in which a ring-down falls to 1/e, about 37 %."),
    "QL": QT_TR_NOOP("Loaded Q: with the losses of source, probe and coupling."),
    "|Z|": QT_TR_NOOP("Magnitude of the impedance."),
    "theta": QT_TR_NOOP(
        "Phase of the impedance: +90° a pure inductance, −90° a pure capacitance."
    ),
    "U": QT_TR_NOOP(
        "Expanded uncertainty: the true value lies within ± U in about 95 of 100 cases (k = 2)."
    ),
    "u": QT_TR_NOOP("Standard uncertainty (k = 1)."),
    "guard": QT_TR_NOOP(
        "Guard band: a value this close to a limit is not a clear pass or a clear fail."
    ),
}


def tr(text: str) -> str:
    """Give ``text`` in the language of the window."""
    return QCoreApplication.translate("", text)


def plural(count: int, one: str, many: str) -> str:
    """Give the translated phrase for ``count`` things; ``%n`` in it becomes the count."""
    return tr(one if count == 1 else many).replace("%n", str(count))


def decimal_mark() -> str:
    """Give the decimal mark of the desktop's locale."""
    return QLocale().decimalPoint()


def number(text: str) -> str:
    """Give ``text`` with the decimal mark of the desktop's locale in its numbers."""
    return _POINT.sub(decimal_mark(), text)


def sentence(words: str) -> str:
    """Begin with a capital letter, unless the first word is a symbol such as ``f0``."""
    first = words.partition(" ")[0]
    return words[:1].upper() + words[1:] if first.isalpha() or "-" in first else words


def bound(text: str) -> str:
    """Give a sentence in which no number is parted from its unit or sign at the end of a line."""
    return _BEFORE_UNIT.sub("\u00a0", text)


def plain(text: str) -> str:
    """Give what a person typed with a point for the decimal mark of the locale: for files."""
    mark = decimal_mark()
    return text if mark == "." else re.sub(rf"(?<=\d){re.escape(mark)}(?=\d)", ".", text)


def quantity(value: float, unit: str, *, u: float | None = None, digits: int = 4) -> str:
    """Write a value with prefix and unit, rounded to ``u`` where it is known."""
    return format_quantity(value, unit, u=u, digits=digits, mark=decimal_mark())


def with_expanded(estimate: Estimate, coverage: float = 2.0, expanded: float | None = None) -> str:
    """Write value ± U with one prefix; ``expanded`` is U where it is not coverage × u."""
    if expanded is not None:
        estimate = Estimate(
            name=estimate.name, value=estimate.value, u=expanded, unit=estimate.unit
        )
        coverage = 1.0
    return format_estimate(estimate, coverage=coverage, mark=decimal_mark())


def exact(value: float, unit: str) -> str:
    """Write a value that was chosen, not measured: all of its digits, no needless zeros."""
    words = format_quantity(value, unit, digits=9)
    digits = words.rstrip("".join(set(words) - set("0123456789.-")))
    tail = words[len(digits) :]
    trimmed = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return number(f"{trimmed}{tail}").replace("-", "−")


def percent(value: float) -> str:
    """Write a signed percentage with two digits, such as ``+2.8 %``."""
    digits = 0 if abs(value) >= 10 else 1 if abs(value) >= 1 else 2
    return number(f"{value:+.{digits}f} %").replace("-", "−")


def symbol(name: str) -> str:
    """Give the symbol by which a quantity is written on screen."""
    return _SYMBOLS.get(name, name)


def definition(name: str) -> str:
    """Give the meaning of a quantity in one sentence, empty where there is none."""
    text = _DEFINITIONS.get(name, "")
    return tr(text) if text else ""


def outcome_words(outcome: Outcome) -> str:
    """Give the outcome in words."""
    return tr(OUTCOMES[outcome])


def range_words(limit: Limit) -> str:
    """Write what a limit allows: nominal with tolerance, a range, at least, at most."""
    unit, nominal = limit.unit, limit.nominal
    low, high = limit.lower, limit.upper
    if nominal and low is not None and high is not None:
        return f"{exact(nominal, unit)} {_tolerance(nominal, low, high)}"
    if low is not None and high is not None:
        return span_words(low, high, unit)
    if high is not None:
        return tr("at most {high}").format(high=exact(high, unit))
    if low is not None:
        return tr("at least {low}").format(low=exact(low, unit))
    return tr("no limit")


def span_words(low: float, high: float, unit: str) -> str:
    """Write a range; the unit stands once where both ends have the same."""
    first, last = exact(low, unit), exact(high, unit)
    head, _, tail = first.partition(" ")
    if low == 0 or tail == last.partition(" ")[2]:
        first = head
    return tr("{low} to {high}").format(low=first, high=last)


def _tolerance(nominal: float, low: float, high: float) -> str:
    below, above = (100 * (edge - nominal) / abs(nominal) for edge in (low, high))
    if abs(below + above) < 1e-6 * (above - below):
        return number(f"±{above:.3g} %")
    return f"{_trimmed(below)} {_trimmed(above)}"


def _trimmed(value: float) -> str:
    return number(f"{value:+.3g} %").replace("-", "−")


def deviation_words(entry: LimitVerdict) -> str:
    """Write how far the value of a limit lies from its nominal, or else from its nearest edge."""
    if entry.measured is None:
        return tr("not determined")
    if entry.limit.nominal:
        return percent(100 * (entry.measured.value / entry.limit.nominal - 1))
    return margin_words(entry)


def margin_words(entry: LimitVerdict) -> str:
    """Write how far inside or outside its limit a value lies, in percent of the limit."""
    if entry.margin_percent is None:
        return ""
    share = abs(entry.margin_percent)
    away = percent(share).lstrip("+") if share >= _HUNDREDTH or not share else _ppm(share)
    inside, outside = tr("{away} inside"), tr("{away} outside")
    return (inside if entry.margin_percent >= 0 else outside).format(away=away)


def _ppm(share: float) -> str:
    """Write a small percentage in parts per million."""
    return number(f"{1e4 * share:.{1 if share < _HUNDREDTH / 10 else 0}f} ppm")


_HUNDREDTH = 0.01  # of a percent


def unit_words(unit: str) -> str:
    """Give the unit as it is written behind a number, empty for a ratio."""
    return unit_symbol(unit)
