"""Checks of the station: compensation, contact, surroundings, calibration, reference coil."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from benchapp.capture import Sweep
from benchapp.checks.value import (
    Check,
    Evidence,
    Level,
    Sighting,
    counted,
    frequency_used,
)
from benchapp.fit import quantity
from benchapp.units import Estimate, format_quantity

__all__ = ["CHECKS"]

_OF_COIL = ("tank", "series-rlc")
_BY_FREQUENCY = ("coil", "inductor")


def _stale(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    facts = evidence.facts
    if facts.compensated is False:
        yield Sighting(seen="Open and short were not taken.")
        return
    age, change = facts.compensation_age_hours, facts.compensation_change_kelvin
    if age is not None and age > limit["hours"]:
        yield Sighting(seen=f"Open and short are {age:.3g} hours old.")
    if change is not None and abs(change) > limit["kelvin"]:
        yield Sighting(seen=f"Since open and short the temperature moved by {change:+.2g} K.")


def _residuals(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    opened, shorted = evidence.facts.open_ratio, evidence.facts.short_ratio
    if opened is not None and opened < limit["ratio"]:
        yield Sighting(seen=f"The open is only {opened:.3g} times the impedance of the part.")
    if shorted is not None and shorted > 1 / limit["ratio"]:
        yield Sighting(seen=f"The short is {100 * shorted:.2g} % of the impedance of the part.")


def _fixture(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    at, frequency = evidence.facts.fixture_resonance, frequency_used(evidence)
    if at is None or frequency is None:
        return
    highest = float(frequency.max())
    if at < limit["times"] * highest:
        yield Sighting(
            seen=f"The empty fixture with its leads resonates at {format_quantity(at, 'Hz')}; "
            f"the points used go up to {format_quantity(highest, 'Hz')}."
        )


def _contact(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    values = evidence.facts.repeats_resistance
    if len(values) < 2:
        return
    spread, middle = max(values) - min(values), abs(sum(values) / len(values))
    if spread > max(limit["ohm"], limit["share"] * middle):
        yield Sighting(
            seen=f"Over {len(values)} insertions the resistance scatters by "
            f"{format_quantity(spread, 'ohm', digits=2)}, from "
            f"{format_quantity(min(values), 'ohm')} to {format_quantity(max(values), 'ohm')}."
        )


def _moved(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    values = evidence.facts.repeats_f0
    if len(values) < 2 or min(values) <= 0:
        return
    apart = max(values) / min(values) - 1
    if apart > limit["share"]:
        yield Sighting(
            seen=f"Over {len(values)} repeats the resonance moves by {100 * apart:.2g} %."
        )


def _esr(evidence: Evidence) -> tuple[Estimate, str] | None:
    """Give the resistance of the coil at the lowest frequency where it is known."""
    fit, frequency = evidence.fit, frequency_used(evidence)
    if not isinstance(evidence.capture, Sweep) or frequency is None or not fit.converged:
        return None
    if fit.circuit in _OF_COIL:
        found = fit.estimates.get("R")
        return None if found is None else (found, "the resistance fitted")
    if fit.circuit in _BY_FREQUENCY:
        at = float(frequency[0])
        found = quantity(fit, "ESR", at)
        return None if found is None else (found, f"ESR at {format_quantity(at, 'Hz')}")
    return None


def _direct(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    dcr, found = evidence.facts.dcr, _esr(evidence)
    if dcr is None or found is None:
        return
    least = dcr - (evidence.facts.dcr_expanded or 0.0)
    if least > found[0].value + 2 * (found[0].u or 0.0):
        yield Sighting(
            seen=f"The DC resistance, {format_quantity(dcr, 'ohm')}, is above {found[1]}, "
            f"{format_quantity(found[0].value, 'ohm')}."
        )


def _capacitor(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    loss, q = evidence.facts.capacitor_loss, evidence.fit.estimates.get("Q")
    if loss is None or loss <= 0 or q is None or q.value <= 0:
        return
    share = loss * q.value
    if share * limit["times"] > 1 - share:
        coil = "no loss at all" if share >= 1 else f"Q = {q.value / (1 - share):.4g}"
        yield Sighting(
            seen=f"The capacitor alone has Q = {1 / loss:.3g}; of the losses of the tank "
            f"{100 * min(share, 1):.2g} % are its own, which leaves the coil {coil}."
        )


def _calibration(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    facts = evidence.facts
    if facts.calibration_due is None:
        return
    level: Level | None = "stop" if facts.in_lot else None
    if not facts.calibration_due:
        yield Sighting(
            seen="When the instrument is due for calibration is not known.", level=level
        )
    elif facts.today:
        late = (date.fromisoformat(facts.today) - date.fromisoformat(facts.calibration_due)).days
        if late > 0:
            yield Sighting(
                seen=f"Calibration was due on {facts.calibration_due}, "
                f"{counted(late, 'day')} ago.",
                level=level,
            )


def _reference(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    if evidence.facts.reference_within is False:
        yield Sighting(seen="The reference coil was outside its limits at its last check.")


def _reference_open(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    why = evidence.facts.reference_open
    if why:
        level: Level | None = "stop" if evidence.facts.in_lot else None
        yield Sighting(
            seen=f"The reference coil does not speak for the station: {why}.", level=level
        )


CHECKS = (
    Check(
        id="compensation-stale",
        level="warn",
        condition="open and short were not taken, are older than 8 hours, or the temperature has "
        "moved by more than 3 K since",
        text="A few pF, tens of nH and tens of milliohm of the fixture are then in the result.",
        advice="Take open and short again in the same geometry.",
        thresholds={"hours": 8, "kelvin": 3},
        look=_stale,
    ),
    Check(
        id="compensation-doubtful",
        level="warn",
        condition="at some frequency the open is below 100 times, or the short above a hundredth "
        "of the impedance of the part",
        text="The correction may then add as much as it takes away.",
        advice="Use a four-terminal fixture, or another one that suits the impedance.",
        thresholds={"ratio": 100},
        look=_residuals,
    ),
    Check(
        id="fixture-resonates",
        level="warn",
        condition="the empty fixture resonates below 3 times the highest frequency used",
        text="Leads and fixture then shape every part alike, and correction by open and short "
        "leaves an error of a tenth and more.",
        advice="Shorten the leads, or stay below a third of that frequency.",
        source="a lead off by (f / f_r)^2 of its own value: 1/9 at a third; common practice",
        thresholds={"times": 3},
        look=_fixture,
    ),
    Check(
        id="contact-scatters",
        level="warn",
        condition="the resistance scatters over insertions by more than 5 % and 5 milliohm",
        text="The contact is in ESR and Q.",
        advice="Clean contacts and leads, clip at the same place, use four terminals.",
        thresholds={"share": 0.05, "ohm": 0.005},
        look=_contact,
    ),
    Check(
        id="surroundings-moved",
        level="warn",
        condition="the resonance moves between repeats by more than 0.5 %",
        text="Metal, ferrite or a hand nearby lowers or raises L and adds loss.",
        advice="Clear two diameters around the coil, and place it the same way each time.",
        thresholds={"share": 0.005},
        look=_moved,
    ),
    Check(
        id="dc-above-ac",
        level="warn",
        condition="the stated DC resistance exceeds the resistance of the coil at the lowest "
        "frequency, beyond both uncertainties",
        text="Losses only add to it: contact, temperature or compensation differ.",
        advice="Measure both again with four terminals at one temperature.",
        look=_direct,
    ),
    Check(
        id="capacitor-loss",
        level="note",
        condition="the stated loss of the capacitor gives it less than 10 times the Q of the coil",
        text="1/Q of the tank is the sum of both: its Q is not that of the coil.",
        advice="Give both apart, or measure with a capacitor of less loss.",
        source="1/Q = 1/Q_L + 1/Q_C; network theory",
        thresholds={"times": 10},
        look=_capacitor,
    ),
    Check(
        id="calibration-overdue",
        level="warn",
        condition="the stated date of calibration has passed or is not known (a stop in a lot)",
        text="Nothing ties the readings to a standard.",
        advice="Use an instrument in calibration, or have a responsible person release it.",
        source="ISO/IEC 17025:2017, 6.4.8 (calibration status); from memory",
        look=_calibration,
    ),
    Check(
        id="reference-coil-out",
        level="stop",
        condition="the last check of the reference coil was outside its limits",
        text="What was measured since the last good check is in doubt.",
        advice="Find the cause and check the reference coil again; review the parts since.",
        look=_reference,
    ),
    Check(
        id="reference-coil-unchecked",
        level="warn",
        condition="the reference coil of the station was never checked, its check is overdue or "
        "could not be judged, or its certificate has ended (a stop in a lot)",
        text="Whether the station still measures as it did is not known.",
        advice="Check the reference coil before the next part.",
        look=_reference_open,
    ),
)
