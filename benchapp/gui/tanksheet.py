"""What is typed about a tank and its capacitor, and what follows from it.

One sheet is shared by the views of the station Nominal: what one of them fills in, the others
work with. `work_out` and `judge_typed` are plain functions from texts to results.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from PySide6.QtCore import QObject, Signal

from benchapp.errors import BenchError, QuantityError
from benchapp.gui.tankblanks import DRIVE, DUTY, LINK, LOSSES, RATINGS, TANK, TOLERANCES
from benchapp.gui.words import number, plain, quantity, tr
from benchapp.nominal import Nominal
from benchapp.nominal.writing import form_from
from benchapp.tank import (
    Band,
    BandPlace,
    CapacitorDuty,
    CapacitorRatings,
    Drive,
    Driven,
    Link,
    Losses,
    StackResult,
    StackUp,
    StressCase,
    TankDesign,
    TankSums,
    Temperature,
    drive_tank,
    judge_stress,
    link,
    place_in_band,
    solve,
    stack,
    stack_of,
    stress_cases,
)
from benchapp.units import Quantity, parse_number, parse_quantity

__all__ = [
    "EXAMPLE",
    "Refusal",
    "TankSheet",
    "Worked",
    "judge_typed",
    "texts_from",
    "work_out",
]

_BLANKS = {
    blank.key: blank for blank in (*TANK, *LOSSES, *DRIVE, *LINK, *TOLERANCES, *DUTY, *RATINGS)
}
# Of each group at most so many can be given: the one typed longest ago gives way.
_RIVALS = (
    (("f0", "L", "C"), 2),
    (("coil_resistance", "coil_q"), 1),
    (("capacitor_resistance", "loss_tangent"), 1),
)
_START = {
    "circuit": "parallel",
    "distribution": "normal",
    "duty": "tank",
}


EXAMPLE: Mapping[str, str] = MappingProxyType(
    {
        "L": "1.62 mH ±3 %",
        "C": "868 pF ±2 %",
        "f0": "",
        "circuit": "series",
        "coil_q": "85",
        "loss_tangent": "3e-4",
        "source": "2 ohm",
        "load": "30 ohm",
        "form": "full-bridge",
        "size": "24 V",
        "frequency": "135 kHz",
        "band_low": "132 kHz",
        "band_high": "136.5 kHz",
        "coupling": "0.05",
        "receiving_q": "60",
        "receiving_L": "2.4 mH",
    }
)
"""A tank to try the sheet with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """What was typed and cannot be taken: the blank ('' where it is more than one), and why."""

    key: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """Everything that follows from the sheet without drawing at random.

    ``stacked`` is None where nothing varies, ``driven`` where nothing drives or a loss that
    decides is not stated, ``place`` without a band, ``link`` without a coupling, the other side's
    Q or the losses of this one.
    """

    design: TankDesign
    sums: TankSums
    stack_up: StackUp
    stacked: StackResult | None = None
    place: BandPlace | None = None
    driven: Driven | None = None
    link: Link | None = None


def _refusal(error: BenchError) -> Refusal:
    return Refusal(key=str(error.facts.get("blank", "")), words=str(error))


def _named(key: str, error: BenchError) -> QuantityError:
    """Give an error about what one blank says, with the name of that blank."""
    label = tr(_BLANKS[key].label)
    return QuantityError(f"{label}: {error.message}", hint=error.hint, blank=key)


def _quantity(texts: Mapping[str, str], key: str, unit: str = "") -> Quantity | None:
    words = texts.get(key, "").strip()
    if not words:
        return None
    blank = _BLANKS[key]
    try:
        return parse_quantity(plain(words), unit or blank.unit)
    except BenchError as error:
        raise _named(key, error) from error


def _value(texts: Mapping[str, str], key: str, unit: str = "") -> float | None:
    found = _quantity(texts, key, unit)
    return None if found is None else found.value


def _numbers(texts: Mapping[str, str], key: str) -> tuple[float, float]:
    """Read one number, or two with .. between them; nothing is zero."""
    words = plain(texts.get(key, "").strip()).lower().removesuffix("ppm/k").strip()
    if not words:
        return 0.0, 0.0
    low, dots, high = words.partition("..")
    try:
        ends = parse_number(low), parse_number(high if dots else low)
    except BenchError as error:
        raise _named(key, error) from error
    return min(ends), max(ends)


def work_out(texts: Mapping[str, str]) -> Worked | Refusal | None:
    """Work out everything that the sheet says; None where it does not say enough yet."""
    try:
        given = {key: _quantity(texts, key) for key in ("L", "C", "f0")}
        if sum(one is not None for one in given.values()) != 2:
            return None
        design = TankDesign(
            inductance=given["L"],
            capacitance=given["C"],
            frequency=given["f0"],
            circuit="series" if texts.get("circuit") == "series" else "parallel",
            losses=Losses(**{blank.key: _value(texts, blank.key) for blank in LOSSES}),
            drive=_drive(texts),
            band=_band(texts),
        )
        return _all_of(design, texts)
    except BenchError as error:
        return _refusal(error)


def _drive(texts: Mapping[str, str]) -> Drive | None:
    form = texts.get("form", "")
    size = _value(texts, "size", "A" if form == "current" else "V") if form else None
    frequency, bias = _value(texts, "frequency"), _value(texts, "bias") or 0.0
    if size is None:
        return None
    return Drive(form=form, size=size, frequency=frequency, bias=bias)  # type: ignore[arg-type]


def _band(texts: Mapping[str, str]) -> Band | None:
    low, high = _value(texts, "band_low"), _value(texts, "band_high")
    return None if low is None and high is None else Band(low=low, high=high)


def _temperature(texts: Mapping[str, str]) -> Temperature | None:
    low, high = _value(texts, "coldest"), _value(texts, "warmest")
    drifts = _numbers(texts, "drift_L"), _numbers(texts, "drift_C")
    if (low is None and high is None) or not any(drifts[0] + drifts[1]):
        return None
    coil, capacitor = ((1e-6 * one, 1e-6 * other) for one, other in drifts)
    return Temperature(
        inductance=coil,
        capacitance=capacitor,
        low_celsius=23.0 if low is None else low,
        high_celsius=23.0 if high is None else high,
    )


def _all_of(design: TankDesign, texts: Mapping[str, str]) -> Worked:
    sums = solve(design)
    both = design.inductance is not None and design.capacitance is not None
    tolerances = both and None not in (sums.inductance.low, sums.capacitance.low)
    correlation = _value(texts, "correlation") or 0.0
    stack_up = stack_of(
        sums,
        temperature=_temperature(texts),
        distribution=texts.get("distribution") or "normal",  # type: ignore[arg-type]
        correlation=correlation if tolerances else 0.0,
        band=design.band,
    )
    varies = bool(stack_up.contributors) or stack_up.temperature is not None
    return Worked(
        design=design,
        sums=sums,
        stack_up=stack_up,
        stacked=stack(stack_up) if varies else None,
        place=None if design.band is None else place_in_band(sums.frequency, design.band),
        driven=drive_tank(design, sums),
        link=_link(texts, sums),
    )


def _link(texts: Mapping[str, str], sums: TankSums) -> Link | None:
    coupling, receiving = _value(texts, "coupling"), _value(texts, "receiving_q")
    inductance = _value(texts, "receiving_L")
    if coupling is None or receiving is None or sums.q is None:
        return None
    return link(
        coupling,
        sums.q,
        receiving,
        receiving_inductance=inductance,
        frequency=sums.frequency.nominal,
    )


def judge_typed(
    texts: Mapping[str, str], worked: Worked | None
) -> tuple[StressCase, ...] | Refusal | None:
    """Judge the capacitor; None where it is not said yet what it bears."""
    try:
        ratings = _ratings(texts)
        if texts.get("duty") == "typed":
            duty = _duty(texts)
            if duty is None:
                return None
            stress = judge_stress(duty, ratings)
            return (StressCase(name=tr("as typed here"), duty=duty, stress=stress),)
        if worked is None or worked.driven is None:
            return None
        return stress_cases(worked.design, worked.sums, worked.driven, ratings)
    except BenchError as error:
        return _refusal(error)


def _ratings(texts: Mapping[str, str]) -> CapacitorRatings:
    slew = _value(texts, "rated_slew")
    return CapacitorRatings(
        dc_volt=_value(texts, "rated_dc"),
        mains_volt=_value(texts, "rated_ac"),
        curve=_curve(texts),
        current=_value(texts, "rated_current"),
        slew=None if slew is None else 1e6 * slew,
        dissipation=_value(texts, "rated_heat"),
        rise=_value(texts, "rise"),
        thermal_resistance=_value(texts, "thermal"),
    )


def _curve(texts: Mapping[str, str]) -> tuple[tuple[float, float], ...]:
    points = []
    for word in plain(texts.get("curve", "")).replace(";", " ").split():
        frequency, _, voltage = word.partition(":")
        try:
            points.append(
                (parse_quantity(frequency, "Hz").value, parse_quantity(voltage, "V").value)
            )
        except BenchError as error:
            raise QuantityError(
                tr("derating curve: must be points FREQUENCY:VOLTAGE (got '{word}').").format(
                    word=word
                ),
                hint=tr("Type for example 10kHz:250V 100kHz:90V."),
                blank="curve",
            ) from error
    return tuple(points)


def _duty(texts: Mapping[str, str]) -> CapacitorDuty | None:
    capacitance, frequency = _value(texts, "duty_C"), _value(texts, "duty_frequency")
    words = texts.get("duty_size", "").strip()
    bias, tangent = _value(texts, "duty_bias") or 0.0, _value(texts, "duty_tangent")
    if capacitance is None or frequency is None or not words:
        return None
    for key, value in (("duty_C", capacitance), ("duty_frequency", frequency)):
        if value <= 0:
            raise QuantityError(
                tr("{label}: must be above zero.").format(label=tr(_BLANKS[key].label)),
                hint=tr("Type what the capacitor bears."),
                blank=key,
            )
    unit = "A" if words.rstrip().upper().endswith("A") else "V"
    voltage = abs(_value(texts, "duty_size", unit) or 0.0)
    if unit == "A":
        voltage /= 2 * math.pi * frequency * capacitance
    return CapacitorDuty(
        voltage=voltage,
        frequency=frequency,
        capacitance=capacitance,
        bias=bias,
        loss_tangent=tangent,
    )


def texts_from(nominal: Nominal) -> dict[str, str]:
    """Fill the sheet from the limits of a design: L or C, f0, and the band from f0's limits."""
    limits = form_from(nominal)["limits"]

    def typed(name: str, *keys: str) -> str:
        entry = limits.get(name, {})
        entry = entry[0] if isinstance(entry, list) else entry
        if "nominal" not in entry:
            return ""
        return number(" ".join(entry[key] for key in keys if key in entry))

    texts = {
        "f0": typed("f0", "nominal"),
        "L": typed("L", "nominal", "tolerance"),
        "C": typed("C", "nominal", "tolerance"),
        "circuit": "series" if nominal.circuit == "series-rlc" else "parallel",
    }
    for limit in nominal.limits:
        if limit.quantity == "f0":
            ends = {"band_low": limit.lower, "band_high": limit.upper}
            texts |= {
                key: quantity(end, "Hz", digits=6) for key, end in ends.items() if end is not None
            }
    return texts


class TankSheet(QObject):
    """The texts of the sheet and what follows from them, with undo.

    Signals
    -------
    changed()
        Something was typed, filled in or taken back; the results are up to date.
    """

    changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._texts: dict[str, str] = dict(_START)
        self._order = ["f0", *(key for key in _BLANKS if key != "f0")]
        self._past: list[dict[str, str]] = []
        self._last = ""
        self._is_touched = False
        self.worked: Worked | None = None
        self.refusal: Refusal | None = None
        self.cases: tuple[StressCase, ...] = ()
        self.stress_refusal: Refusal | None = None

    @property
    def texts(self) -> Mapping[str, str]:
        """What every blank says."""
        return MappingProxyType(self._texts)

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._past)

    def type(self, key: str, words: str) -> None:
        """Take what one blank says now; the keys struck in one blank are one change."""
        if self._texts.get(key, "") == words:
            return
        if key != self._last:
            self._past.append(dict(self._texts))
        self._is_touched = True
        self._last = key
        self._put({key: words})

    def fill(self, texts: Mapping[str, str]) -> None:
        """Fill several blanks as one change."""
        self._past.append(dict(self._texts))
        self._is_touched = True
        self._last = ""
        self._put(texts)

    def offer(self, texts: Mapping[str, str]) -> None:
        """Start from these texts, unless a person has typed something already."""
        if not self._is_touched:
            self._texts = dict(_START)
            self._put(texts)

    def undo(self) -> None:
        """Take the last change back."""
        if self._past:
            self._texts = self._past.pop()
            self._last = ""
            self._work()

    def _put(self, texts: Mapping[str, str]) -> None:
        for key, words in texts.items():
            self._texts[key] = words
            if words.strip():
                self._order.remove(key)
                self._order.append(key)
        for group, most in _RIVALS:
            given = sorted(
                (key for key in group if self._texts.get(key, "").strip()), key=self._order.index
            )
            for key in given[: max(len(given) - most, 0)]:
                self._texts[key] = ""
        self._work()

    def _work(self) -> None:
        found = work_out(self._texts)
        self.worked = found if isinstance(found, Worked) else None
        self.refusal = found if isinstance(found, Refusal) else None
        cases = judge_typed(self._texts, self.worked)
        self.cases = cases if isinstance(cases, tuple) else ()
        self.stress_refusal = cases if isinstance(cases, Refusal) else None
        self.changed.emit()
