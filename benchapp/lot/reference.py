"""The reference coil of a station: its daily check, its control chart, and the gate of lot work.

A reference is a coil of known value that stays at the station. Each check measures it as a part is
measured. While the last check is outside, too old or missing, no lot may be worked on.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture
from benchapp.errors import RecordError
from benchapp.fit import Fit
from benchapp.lot.chart import Chart, individuals, signals
from benchapp.nominal import Limit, Nominal, Outcome, judge
from benchapp.uncertainty import Accuracy, expanded
from benchapp.units import Estimate, format_quantity

__all__ = [
    "LOCKING",
    "Check",
    "Control",
    "Gate",
    "Reference",
    "Review",
    "check_of",
    "controls",
    "gate",
    "key_of",
    "normalised_error",
]

FloatArray = NDArray[np.float64]

LOCKING = ("beyond", "two-of-three", "four-of-five", "eight-on-one-side", "trend")
"""Rules of `RULES` that lock the station when the last check completes one; the others only warn.

Source: common practice; each of the first four is met by chance once in 90 to 370 checks.
"""
FEWEST = 5  # readings that control limits can be taken from
HOUR, DAY = 3600.0, 86400.0
_HELD = (Outcome.PASS, Outcome.CONDITIONAL_PASS)
_COVERAGE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reference:
    """A reference coil: what is stated about it, and how it is used.

    ``nominal`` holds the stated values, the outermost limits of a check and the conditions;
    ``U`` the expanded uncertainty (k = 2) of a stated value by `key_of` its limit. ``due`` is the
    last day (ISO) on which its certificate holds, ``every`` (s) how long a check counts,
    ``first_readings`` how many make the control limits; None takes the stated limits instead.
    """

    nominal: Nominal
    serial: str
    U: Mapping[str, float] = field(default_factory=dict)
    certificate: str = ""
    due: str | None = None
    every: float = DAY
    first_readings: int | None = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check of a reference: when (ISO), what was found, and how it compares.

    ``values`` are the judged quantities, named by `key_of` their limits; ``U`` their expanded
    uncertainties as they were judged. ``sha256`` is that of the file of the reference.
    """

    taken: str
    serial: str
    outcome: Outcome
    reason: str = ""
    values: tuple[Estimate, ...] = ()
    instrument: str = ""
    who: str = ""
    temperature_celsius: float | None = None
    digest: str = ""
    sha256: str = ""

    def value(self, key: str) -> Estimate | None:
        """Give one of its values."""
        return next((one for one in self.values if one.name == key), None)

    def as_note(self) -> dict[str, Any]:
        """Give it as plain values for the record."""
        plain = {name: getattr(self, name) for name in _TEXTS}
        values = [[one.name, one.value, one.u, one.unit] for one in self.values]
        return plain | {
            "outcome": self.outcome.value,
            "values": values,
            "temperature_celsius": self.temperature_celsius,
        }

    @classmethod
    def from_note(cls, note: Mapping[str, Any]) -> Check:
        """Make it of what the record holds.

        Raises
        ------
        RecordError
            When that is no check of a reference.
        """
        try:
            values = tuple(
                Estimate(name=name, value=value, u=u, unit=unit)
                for name, value, u, unit in note["values"]
            )
            plain = {name: str(note.get(name, "")) for name in _TEXTS}
            moment(plain["taken"])
            return cls(
                outcome=Outcome(note["outcome"]),
                values=values,
                temperature_celsius=note.get("temperature_celsius"),
                **plain,
            )
        except (KeyError, TypeError, ValueError) as cause:
            raise RecordError(
                f"record: a check of a reference must have time, serial, outcome and values (got "
                f"{type(cause).__name__}: {cause}).",
                hint="The note was not written by this program, or the record is damaged: "
                "verify it.",
            ) from cause


_TEXTS = ("taken", "serial", "reason", "instrument", "who", "digest", "sha256")


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """A person looked into what locked the station; the chart begins anew after it."""

    taken: str
    serial: str
    who: str
    reason: str

    def as_note(self) -> dict[str, Any]:
        """Give it as plain values for the record."""
        return {name: getattr(self, name) for name in ("taken", "serial", "who", "reason")}

    @classmethod
    def from_note(cls, note: Mapping[str, Any]) -> Review:
        """Make it of what the record holds.

        Raises
        ------
        RecordError
            When that is no review.
        """
        try:
            moment(note["taken"])
            return cls(**{name: str(note[name]) for name in ("taken", "serial", "who", "reason")})
        except (KeyError, TypeError, ValueError) as cause:
            raise RecordError(
                f"record: a review must have time, serial, name and reason (got "
                f"{type(cause).__name__}: {cause}).",
                hint="The note was not written by this program, or the record is damaged: "
                "verify it.",
            ) from cause


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Control:
    """The control chart of one quantity of a reference.

    ``points`` (N,) are the readings in the unit of the limit, ``times`` when they were made.
    ``chart`` has the control limits; it is None as long as ``needed`` good readings are missing.
    """

    limit: Limit
    key: str
    points: FloatArray
    times: tuple[str, ...] = ()
    chart: Chart | None = None
    needed: int = 0

    @property
    def completed(self) -> tuple[str, ...]:
        """Texts of the locking rules that the last point completes."""
        return self._last(locking=True)

    @property
    def noticed(self) -> tuple[str, ...]:
        """Texts of the other rules that the last point completes."""
        return self._last(locking=False)

    def _last(self, *, locking: bool) -> tuple[str, ...]:
        if self.chart is None:
            return ()
        last = len(self.times) - 1
        return tuple(
            signal.text
            for signal in self.chart.signals
            if last in signal.points and (signal.rule in LOCKING) is locking
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gate:
    """Whether lot work is open, and why not.

    ``age`` (s) is that of the last check; ``last_good`` the time of the last one that held: what
    was measured after it waits for a review while the gate is locked.
    """

    state: Literal["open", "never", "overdue", "outside", "not judged", "certificate"]
    reason: str
    age: float | None = None
    last: Check | None = None
    last_good: str | None = None
    controls: tuple[Control, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether a lot may be worked on."""
        return self.state == "open"


def key_of(limit: Limit) -> str:
    """Name a limit: ``L``, or ``Q at 134.2 kHz`` where it has a frequency of its own."""
    if limit.at is None:
        return limit.quantity
    at = format_quantity(limit.at, "Hz", digits=6, padded=False)
    return f"{limit.quantity} at {at}"


def check_of(
    reference: Reference,
    fit: Fit,
    capture: Capture,
    taken: str,
    accuracy: Accuracy | None = None,
    *,
    who: str = "",
) -> Check:
    """Judge one measurement of a reference.

    Parameters
    ----------
    reference : Reference
    fit : Fit
        Of ``capture``.
    capture : Sweep, Response or Transient
    taken : str
        ISO 8601 time with its zone.
    accuracy : Accuracy, optional
        Of the instrument.
    who : str
        Who made the check.

    Returns
    -------
    Check
    """
    verdict = judge(reference.nominal, fit, capture, accuracy)
    values = tuple(
        Estimate(
            name=key_of(entry.limit),
            value=entry.measured.value,
            u=entry.measured.u,
            unit=entry.limit.unit,
        )
        for entry in verdict.limits
        if entry.measured is not None
    )
    return Check(
        taken=taken,
        serial=reference.serial,
        outcome=verdict.outcome,
        reason=verdict.reason,
        values=values,
        instrument=capture.origin.source,
        who=who,
        temperature_celsius=capture.conditions.temperature_celsius,
        digest=capture.digest,
        sha256=reference.nominal.sha256,
    )


def normalised_error(reference: Reference, limit: Limit, check: Check) -> float | None:
    """Give E_n = (x - X) / sqrt(U_x^2 + U_X^2); None where a part of it is not known.

    Notes
    -----
    Up to 1 in size the difference is within both uncertainties (k = 2). Source: ISO 13528:2015,
    9.7 (from memory).
    """
    found, stated = check.value(key_of(limit)), reference.U.get(key_of(limit))
    if found is None or found.u is None or stated is None or limit.nominal is None:
        return None
    both = math.hypot(expanded(found, _COVERAGE) or 0.0, stated)
    return (found.value - limit.nominal) / both if both else None


def controls(reference: Reference, checks: Sequence[Check]) -> tuple[Control, ...]:
    """Chart each quantity of a reference over its checks, in the order of time.

    Returns
    -------
    tuple of Control

    Notes
    -----
    Centre and limits come from the first readings that held (mean -+ 3 times the mean moving
    range over 1.128), or from the stated limits (their middle and a sixth of their width). Source:
    ASTM E2587 (from memory).
    """
    ordered = sorted(checks, key=lambda check: moment(check.taken))
    return tuple(_control(reference, limit, ordered) for limit in reference.nominal.limits)


def _control(reference: Reference, limit: Limit, checks: Sequence[Check]) -> Control:
    key = key_of(limit)
    seen = [(check, one.value) for check in checks if (one := check.value(key)) is not None]
    control = Control(
        limit=limit,
        key=key,
        points=np.array([value for _, value in seen]),
        times=tuple(check.taken for check, _ in seen),
    )
    wanted, held = reference.first_readings, [v for check, v in seen if check.outcome in _HELD]
    if wanted is not None and len(held) < wanted:
        return replace(control, needed=wanted - len(held))
    if wanted is not None:
        first = individuals(np.array(held[:wanted]))
        return _charted(control, first.location.centre, first.sigma)
    if limit.lower is None or limit.upper is None or not seen:
        return control
    return _charted(control, (limit.lower + limit.upper) / 2, (limit.upper - limit.lower) / 6)


def _charted(control: Control, centre: float, sigma: float) -> Control:
    chart = Chart(
        title=control.key,
        points=control.points,
        centre=centre,
        lower=centre - 3 * sigma,
        upper=centre + 3 * sigma,
        signals=signals(control.points, centre, sigma),
    )
    return replace(control, chart=chart)


def gate(
    reference: Reference, checks: Sequence[Check], reviews: Sequence[Review], now: str
) -> Gate:
    """Decide whether lot work is open.

    Parameters
    ----------
    reference : Reference
    checks, reviews : sequence
        Of this reference and others; only those with its serial count, and only checks after its
        last review.
    now : str
        ISO 8601 time with its zone.

    Returns
    -------
    Gate
    """
    since = max(
        (moment(one.taken) for one in reviews if one.serial == reference.serial), default=None
    )
    all_own = sorted(
        (one for one in checks if one.serial == reference.serial), key=lambda c: moment(c.taken)
    )
    own = [one for one in all_own if since is None or moment(one.taken) > since]
    charts = controls(reference, own)
    last = own[-1] if own else None
    age = None if last is None else (moment(now) - moment(last.taken)).total_seconds()
    state, reason = _state(reference, charts, last, age, now)
    held = [one for one in all_own if one.outcome in _HELD]
    if state == "outside" and held and held[-1] is last:
        held.pop()  # it lies within its limits, yet the chart condemns it
    return Gate(
        state=state,
        reason=reason,
        age=age,
        last=last,
        last_good=held[-1].taken if held else None,
        controls=charts,
        cautions=_cautions(reference, charts, last),
    )


_State = Literal["open", "never", "overdue", "outside", "not judged", "certificate"]


def _state(
    reference: Reference,
    charts: Sequence[Control],
    last: Check | None,
    age: float | None,
    now: str,
) -> tuple[_State, str]:
    name = f"reference {reference.serial}"
    if reference.due is not None and moment(now).date().isoformat() > reference.due:
        return "certificate", f"the certificate of {name} ended on {reference.due}"
    if last is None or age is None:
        return "never", f"{name} has not been checked here since the record or a review began"
    if last.outcome is Outcome.NOT_JUDGED:
        return "not judged", f"the last check of {name} could not be judged: {last.reason}"
    if last.outcome not in _HELD:
        return "outside", f"{name} is outside its limits: {last.reason}"
    broken = [f"{one.key}: {text}" for one in charts for text in one.completed]
    if broken:
        return "outside", f"the control chart of {name} shows {'; '.join(broken)}"
    if age < 0:
        return "overdue", f"the last check of {name} lies in the future: check the clock"
    if age > reference.every:
        return "overdue", (
            f"the last check of {name} is {_hours(age)} old, more than {_hours(reference.every)}"
        )
    return "open", f"{name} is within its limits"


def _cautions(
    reference: Reference, charts: Sequence[Control], last: Check | None
) -> tuple[str, ...]:
    found = [f"{one.key}: {text}" for one in charts for text in one.noticed]
    missing = max((one.needed for one in charts), default=0)
    if missing and last is not None:
        found.append(
            f"control limits follow after {missing} more good readings; until then the stated "
            "limits decide alone"
        )
    if last is not None and last.sha256 != reference.nominal.sha256:
        found.append("the file of the reference has changed since the last check")
    for limit in reference.nominal.limits:
        error = None if last is None else normalised_error(reference, limit, last)
        if error is not None and abs(error) > 1:
            found.append(
                f"{key_of(limit)} differs from the stated value by more than both uncertainties "
                f"allow (E_n {error:+.1f})"
            )
    return tuple(found)


def _hours(seconds: float) -> str:
    return f"{seconds / HOUR:.3g} h"


def moment(text: str) -> dt.datetime:
    """Read an ISO 8601 time; one without a zone counts as UTC.

    Raises
    ------
    ValueError
        When it is none.
    """
    found = dt.datetime.fromisoformat(text)
    return found if found.tzinfo is not None else found.replace(tzinfo=dt.UTC)
