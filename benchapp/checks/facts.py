"""What a person or the station knows beside the capture; None is *not known*."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from pathlib import Path
from typing import Any

from benchapp.errors import UsageError
from benchapp.readers.settings import Settings, Subject, load_settings
from benchapp.tank import CapacitorDuty, CapacitorRatings

__all__ = ["Facts", "LevelPoint", "load_facts"]

_SUBJECT = Subject(title="a file of facts", short="the facts", example='dwell = "5 ms"')


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelPoint:
    """Resonance and Q of one part at one test level, in whatever unit the level is given."""

    level: float
    f0: float
    q: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Facts that no single capture holds.

    *How it was swept*: ``dwell`` at each point in s; ``f0_up`` and ``f0_down`` from a rising and a
    falling sweep, Hz; ``monitor_variation`` of the source level as a fraction; ``levels`` of one
    part; ``probe_capacitance``, ``probe_resistance`` across the part and ``source_resistance`` in
    series with it; ``looser_f0`` and ``looser_q`` with half the coupling; ``skew_degrees`` left
    between the channels on a resistor; ``excitation_ends``, s on the time axis of a record.

    *The station*: ``compensated`` by open and short; its age in hours, the change of temperature
    since in kelvin; ``open_ratio``, least |Z open| / |Z|, and ``short_ratio``, greatest
    |Z short| / |Z|; ``fixture_resonance``, Hz, of the empty fixture; ``repeats_resistance`` and
    ``repeats_f0`` of repeated insertions; ``dcr`` with ``dcr_expanded``, ohm;
    ``capacitor_loss``, tan delta; ``calibration_due`` and ``today`` as ISO dates (due empty:
    nobody knows); ``reference_within`` its limits; ``reference_open`` says why the reference coil
    does not speak for the station: overdue, never checked.

    *The lot*: ``in_lot``; ``attempt`` of this part; ``unexplained_retests``; ``serial_seen`` says
    where the serial was met before; ``gauge_percent`` of the tolerance; ``capability_parts``;
    ``random_sample``; ``sample_patterns``, what the values of a lot look like, in words.

    *The design*: ``duty``, ``ratings``, ``dielectric`` of the capacitor; ``duty_q_loaded`` where
    the duty was worked out with the loaded Q; ``band`` that f0 must lie in, Hz; ``f0_tolerance``
    over parts as a fraction; ``drive_frequency``.

    Raises
    ------
    UsageError
        When a date is none.
    """

    dwell: float | None = None
    f0_up: float | None = None
    f0_down: float | None = None
    monitor_variation: float | None = None
    levels: tuple[LevelPoint, ...] = ()
    probe_capacitance: float | None = None
    probe_resistance: float | None = None
    source_resistance: float | None = None
    looser_f0: float | None = None
    looser_q: float | None = None
    skew_degrees: float | None = None
    excitation_ends: float | None = None
    compensated: bool | None = None
    compensation_age_hours: float | None = None
    compensation_change_kelvin: float | None = None
    open_ratio: float | None = None
    short_ratio: float | None = None
    fixture_resonance: float | None = None
    repeats_resistance: tuple[float, ...] = ()
    repeats_f0: tuple[float, ...] = ()
    dcr: float | None = None
    dcr_expanded: float | None = None
    capacitor_loss: float | None = None
    calibration_due: str | None = None
    today: str | None = None
    reference_within: bool | None = None
    reference_open: str | None = None
    in_lot: bool | None = None
    attempt: int | None = None
    unexplained_retests: int | None = None
    serial_seen: str | None = None
    gauge_percent: float | None = None
    capability_parts: int | None = None
    random_sample: bool | None = None
    sample_patterns: tuple[str, ...] = ()
    duty: CapacitorDuty | None = None
    ratings: CapacitorRatings | None = None
    dielectric: str | None = None
    duty_q_loaded: bool | None = None
    band: tuple[float, float] | None = None
    f0_tolerance: float | None = None
    drive_frequency: float | None = None

    def __post_init__(self) -> None:
        for name in ("calibration_due", "today"):
            words = getattr(self, name)
            try:
                date.fromisoformat(words or "2000-01-01")
            except ValueError as cause:
                raise UsageError(
                    f"{name}: must be a date (got {words!r}).",
                    hint="Write year-month-day, for example 2026-03-31.",
                ) from cause

    def completed(self, other: Facts) -> Facts:
        """Give these facts, and those of ``other`` where these do not know."""
        changes = {
            each.name: getattr(other, each.name)
            for each in fields(self)
            if getattr(self, each.name) in (None, ())
        }
        return replace(self, **changes)


_UNITS = {
    "dwell": "s",
    "f0_up": "Hz",
    "f0_down": "Hz",
    "probe_capacitance": "F",
    "probe_resistance": "ohm",
    "source_resistance": "ohm",
    "looser_f0": "Hz",
    "fixture_resonance": "Hz",
    "excitation_ends": "s",
    "dcr": "ohm",
    "dcr_expanded": "ohm",
    "drive_frequency": "Hz",
}
_LISTS = {"repeats_resistance": "ohm", "repeats_f0": "Hz", "band": "Hz"}
_TRUTHS = ("compensated", "reference_within", "in_lot", "random_sample", "duty_q_loaded")
_COUNTS = ("attempt", "unexplained_retests", "capability_parts")
_TEXTS = ("calibration_due", "today", "reference_open", "serial_seen", "dielectric")
_DUTY = {"voltage": "V", "frequency": "Hz", "capacitance": "F", "bias": "V", "loss_tangent": ""}
_RATINGS = {
    "dc_volt": "V",
    "mains_volt": "V",
    "current": "A",
    "slew": "",
    "dissipation": "W",
    "rise": "K",
    "thermal_resistance": "",
}


def load_facts(path: str | Path) -> Facts:
    """Read facts from a TOML file: the names of `Facts`, values with their unit.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Facts

    Raises
    ------
    FileAccessError
        When the file cannot be opened.
    UsageError
        When a name is not known or a value is of another kind; the message names the line.
    """
    settings = load_settings(path, _SUBJECT)
    known = tuple(each.name for each in fields(Facts))
    settings.only(settings.data, known, ())
    return Facts(**{name: _value(settings, name) for name in settings.data})


def _value(settings: Settings, name: str) -> Any:
    value = settings.data[name]
    if name in _TEXTS:
        return settings.text(settings.data, (name,), "")
    if name in _TRUTHS:
        if not isinstance(value, bool):
            raise settings.refusal(
                (name,), "be true or false", repr(value), f"Write {name} = true."
            )
        return value
    if name in _COUNTS:
        return int(settings.number(settings.data, (name,), 0))
    if name in _UNITS:
        return settings.quantity(value, (name,), (_UNITS[name],))[0]
    if name in _LISTS:
        return tuple(
            settings.quantity(each, (name,), (_LISTS[name],))[0]
            for each in _listed(settings, name, 2 if name == "band" else None)
        )
    if name == "sample_patterns":
        return tuple(str(each) for each in _listed(settings, name))
    if name == "levels":
        return tuple(_level(settings, each) for each in _listed(settings, name))
    if name == "duty":
        return CapacitorDuty(**_numbers(settings, name, _DUTY))
    if name == "ratings":
        return _ratings(settings, value)
    return settings.number(settings.data, (name,), 0.0)


def _listed(settings: Settings, name: str, length: int | None = None) -> list[Any]:
    value = settings.data[name]
    if not isinstance(value, list) or (length is not None and len(value) != length):
        size = "" if length is None else f" of {length}"
        raise settings.refusal((name,), f"be a list{size}", repr(value), "Write [..., ...].")
    return value


def _level(settings: Settings, each: object) -> LevelPoint:
    table = settings.table(each, ("levels",))
    keys = ("level", "f0", "q")
    settings.only(table, keys, ("levels",))
    missing = [key for key in keys if key not in table]
    if missing:
        hint = 'Write {level = 1.0, f0 = "134.2 kHz", q = 78}.'
        raise settings.refusal(("levels",), f"have {missing[0]}", repr(each), hint)
    return LevelPoint(
        level=settings.number(table, ("levels", "level"), 0.0),
        f0=settings.quantity(table["f0"], ("levels", "f0"), ("Hz",))[0],
        q=settings.number(table, ("levels", "q"), 0.0),
    )


def _numbers(settings: Settings, name: str, units: Mapping[str, str]) -> dict[str, float]:
    table = settings.table(settings.data[name], (name,))
    settings.only(table, (*units, "curve") if name == "ratings" else tuple(units), (name,))
    needed = ("voltage", "frequency", "capacitance") if name == "duty" else ()
    missing = [key for key in needed if key not in table]
    if missing:
        raise settings.refusal((name,), f"have {missing[0]}", "nothing", "State all three.")
    return {
        key: settings.quantity(table[key], (name, key), (unit,))[0]
        if unit
        else settings.number(table, (name, key), 0.0)
        for key, unit in units.items()
        if key in table
    }


def _ratings(settings: Settings, value: object) -> CapacitorRatings:
    where = ("ratings", "curve")
    numbers = _numbers(settings, "ratings", _RATINGS)
    curve = settings.table(value, ("ratings",)).get("curve", [])
    if not isinstance(curve, list) or any(
        not isinstance(pair, list) or len(pair) != 2 for pair in curve
    ):
        raise settings.refusal(
            where, "be pairs of frequency and voltage", repr(curve), 'Write [["1 kHz", "250 V"]].'
        )
    points = tuple(
        (settings.quantity(f, where, ("Hz",))[0], settings.quantity(v, where, ("V",))[0])
        for f, v in curve
    )
    return CapacitorRatings(curve=points, **numbers)
