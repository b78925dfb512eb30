"""What the station itself knows beside a capture, as facts for the checks."""

from __future__ import annotations

import numpy as np

from benchapp.capture import Capture, Sweep
from benchapp.checks import Facts
from benchapp.errors import FitError
from benchapp.fit import fit
from benchapp.fixture import Compensation, Validity, age
from benchapp.instruments import Taken
from benchapp.lot import Gate

__all__ = ["facts_of_fixture", "facts_of_reference", "facts_of_sweep"]

_HOUR = 3600.0


def facts_of_sweep(taken: Taken) -> Facts:
    """Give the wait at each point, when calibration is due, and f0 in both directions.

    Parameters
    ----------
    taken : Taken
        A sweep from an instrument.

    Returns
    -------
    Facts
    """
    return Facts(
        dwell=taken.dwell,
        calibration_due=taken.calibration_due,
        f0_up=_resonance(taken, "up"),
        f0_down=_resonance(taken, "down"),
    )


def _resonance(taken: Taken, direction: str) -> float | None:
    """Fit the pass in one direction; None where there is none, or no resonance in it."""
    for capture in taken.captures:
        if (capture.origin.label or "").split()[-1:] != [direction] or taken.partial:
            continue
        try:
            found = fit(capture).estimates.get("f0")
        except FitError:
            return None
        return None if found is None else found.value
    return None


def facts_of_fixture(
    raw: Capture, compensation: Compensation | None, rule: Validity | None
) -> Facts:
    """Give how old the readings of the fixture are, how far from the part, and what they show.

    Parameters
    ----------
    raw : Capture
        As the instrument gave it.
    compensation : Compensation or None
        What it was corrected with. None tells nothing: many instruments compensate inside.
    rule : Validity or None
        The rule of 100 over this capture.

    Returns
    -------
    Facts
    """
    if compensation is None or not isinstance(raw, Sweep):
        return Facts()
    readings = compensation.readings.values()
    ages = [seconds for one in readings if (seconds := age(raw, one)) is not None]
    warm = raw.conditions.temperature_celsius
    changes = [
        warm - one.conditions.temperature_celsius
        for one in readings
        if warm is not None and one.conditions.temperature_celsius is not None
    ]
    return Facts(
        compensated=True,
        compensation_age_hours=max(ages) / _HOUR if ages else None,
        compensation_change_kelvin=max(changes, key=abs) if changes else None,
        open_ratio=_least(None if rule is None else rule.open_ratio),
        short_ratio=_inverse(_least(None if rule is None else rule.short_ratio)),
        fixture_resonance=_own_resonance(compensation.opened),
    )


def _least(ratio: object) -> float | None:
    return None if ratio is None else float(np.min(np.asarray(ratio)))


def _inverse(ratio: float | None) -> float | None:
    return 1 / ratio if ratio else None


def _own_resonance(opened: Sweep | None) -> float | None:
    """Give where the empty fixture stops being a capacitor; None where it is one throughout.

    Single points that noise has thrown above zero do not count: three must follow each other.
    """
    if opened is None or opened.frequency.size < _IN_A_ROW:
        return None
    above = (opened.impedance.imag > np.abs(opened.impedance.real)).astype(np.int64)
    runs = np.flatnonzero(np.convolve(above, np.ones(_IN_A_ROW, np.int64), "valid") == _IN_A_ROW)
    return float(opened.frequency[runs[0]]) if runs.size else None


_IN_A_ROW = 3


def facts_of_reference(gate: Gate | None) -> Facts:
    """Give what the reference coil says of the station.

    Parameters
    ----------
    gate : Gate or None
        None where the station has no reference coil: nothing is said then.

    Returns
    -------
    Facts
    """
    if gate is None:
        return Facts()
    if gate.is_open:
        return Facts(reference_within=True)
    if gate.state == "outside":
        return Facts(reference_within=False)
    return Facts(reference_open=gate.reason)
