"""Checks of how a capture was taken: speed, level, probe, coupling, channels."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from benchapp.capture import Response, Transient
from benchapp.checks.value import Check, Evidence, Sighting, resonance
from benchapp.units import format_quantity

__all__ = ["CHECKS"]

_LEAST, _MOST = 1e-3, 1e15  # Hz: beyond, a fitted resonance means nothing


def _dwell(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    found, dwell = resonance(evidence), evidence.facts.dwell
    if found is None or dwell is None:
        return
    needed = limit["periods"] / found[1]
    if dwell < needed:
        yield Sighting(
            seen=f"Each point was waited for {format_quantity(dwell, 's', digits=3)}; this "
            f"resonance needs {format_quantity(needed, 's', digits=3)} to settle to 0.1 %."
        )


def _up_and_down(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    found, facts = resonance(evidence), evidence.facts
    if found is None or facts.f0_up is None or facts.f0_down is None:
        return
    apart = abs(facts.f0_up - facts.f0_down) / found[1]
    if apart > limit["bandwidths"]:
        yield Sighting(
            seen="Resonance of the rising and of the falling sweep lie "
            f"{format_quantity(abs(facts.f0_up - facts.f0_down), 'Hz', digits=3)} apart, "
            f"{apart:.2g} bandwidths."
        )


def _level_family(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    levels = [each for each in evidence.facts.levels if each.f0 > 0 and each.q > 0]
    if len(levels) < 2:
        return
    first = min(levels, key=lambda each: each.level)
    last = max(levels, key=lambda each: each.level)
    shift, loss = last.f0 / first.f0 - 1, last.q / first.q - 1
    if abs(shift) > limit["f0"] or abs(loss) > limit["q"]:
        yield Sighting(
            seen=f"From level {first.level:g} to {last.level:g} f0 moves by {100 * shift:+.2g} % "
            f"and Q by {100 * loss:+.2g} %."
        )


def _monitor(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    varies = evidence.facts.monitor_variation
    if varies is not None and varies > limit["share"]:
        yield Sighting(seen=f"The level of the source varied by {100 * varies:.2g} %.")


def _elements(evidence: Evidence) -> tuple[float | None, float | None]:
    """Give L and C as fitted, else as designed, else from the one and f0."""
    known: dict[str, float] = {}
    for limit in () if evidence.nominal is None else evidence.nominal.limits:
        if limit.nominal is not None:
            known[limit.quantity] = limit.nominal
    known |= {name: each.value for name, each in evidence.fit.estimates.items()}
    inductance, capacitance, f0 = (known.get(name) for name in ("L", "C", "f0"))
    w = 2 * math.pi * f0 if f0 and _LEAST < f0 < _MOST else None
    if w and not capacitance and inductance:
        capacitance = 1 / inductance / w**2
    if w and not inductance and capacitance:
        inductance = 1 / capacitance / w**2
    return inductance, capacitance


def _probe(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    probe, (_, capacitance) = evidence.facts.probe_capacitance, _elements(evidence)
    if probe is None or not capacitance or capacitance < 0:
        return
    share = probe / capacitance
    if share > limit["note"]:
        yield Sighting(
            seen=f"{format_quantity(probe, 'F', digits=3)} of the probe are {100 * share:.2g} % "
            f"of C and lower f0 by {50 * share:.2g} %.",
            level="warn" if share > limit["warn"] else None,
        )


def _probe_loss(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    facts, estimates = evidence.facts, evidence.fit.estimates
    inductance, capacitance = _elements(evidence)
    q = estimates.get("Q", estimates.get("QL"))
    if q is None or q.value <= 0 or not inductance or not capacitance:
        return
    ratio = inductance / capacitance
    if not 0 < ratio < math.inf:
        return
    z = math.sqrt(ratio)
    for value, share, place in (
        (facts.probe_resistance, q.value * z / (facts.probe_resistance or math.inf), "across"),
        (
            facts.source_resistance,
            (facts.source_resistance or 0.0) * q.value / z,
            "in series with",
        ),
    ):
        if value is not None and share > limit["share"]:
            yield Sighting(
                seen=f"{format_quantity(value, 'ohm', digits=3)} {place} the part take about "
                f"{100 * share / (1 + share):.2g} % off Q."
            )


def _looser(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    facts, estimates = evidence.facts, evidence.fit.estimates
    for name, loose in (("f0", facts.looser_f0), ("Q", facts.looser_q)):
        found = estimates.get("QL", estimates.get("Q")) if name == "Q" else estimates.get(name)
        if loose is None or found is None or found.value <= 0:
            continue
        change = loose / found.value - 1
        if abs(change) > limit["share"]:
            yield Sighting(seen=f"With half the coupling {name} changes by {100 * change:+.2g} %.")


def _skew(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    skew = evidence.facts.skew_degrees
    if skew is not None and abs(skew) > limit["degrees"]:
        q = 0.1 / math.radians(abs(skew))
        yield Sighting(
            seen=f"The channels are {abs(skew):.2g}° apart on a resistor: from "
            f"Q = {q:.2g} on that is 10 % of Q."
        )


def _reflection_width(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    if isinstance(capture, Response) and capture.kind == "reflection" and not capture.has_phase:
        yield Sighting(seen="The capture is the size of a reflection alone.")


def _window(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    capture, ends, used = evidence.capture, evidence.facts.excitation_ends, evidence.fit.used
    if not isinstance(capture, Transient) or ends is None or not used.any():
        return
    early = [int(point) for point in (used & (capture.time < ends)).nonzero()[0]]
    if early:
        yield Sighting(
            seen=f"{len(early)} samples of the fit lie before the excitation ends at "
            f"{format_quantity(ends, 's', digits=3)}.",
            points=tuple(early),
        )


CHECKS = (
    Check(
        id="dwell-too-short",
        level="warn",
        condition="the wait at each point is shorter than 2.2 Q / f0",
        text="The resonance has not settled: its peak is low, late and wide.",
        advice="Wait longer at each point, or sweep fewer points.",
        source="settling of a resonance to 0.1 % within 7 tau, tau = Q / (pi f0)",
        thresholds={"periods": 2.2},
        look=_dwell,
    ),
    Check(
        id="sweeps-differ-by-direction",
        level="warn",
        condition="f0 of a rising and of a falling sweep differ by more than 0.1 bandwidths",
        text="Either the sweep is too fast, or the core folds the resonance over.",
        advice="Sweep more slowly; if they still differ, reduce the level.",
        thresholds={"bandwidths": 0.1},
        look=_up_and_down,
    ),
    Check(
        id="depends-on-level",
        level="warn",
        condition="between the lowest and the highest stated level f0 moves by more than 0.2 % or "
        "Q by more than 5 %",
        text="Core or capacitor depend on the drive: a value holds at its own level only.",
        advice="State the level beside the value, and judge at the level of the design.",
        thresholds={"f0": 0.002, "q": 0.05},
        look=_level_family,
    ),
    Check(
        id="source-level-varies",
        level="warn",
        condition="the monitored level of the source varies by more than 1 % over the band",
        text="Half-power points read from the level alone are shifted.",
        advice="Divide by the monitored level, or use a ratio of two channels.",
        thresholds={"share": 0.01},
        look=_monitor,
    ),
    Check(
        id="probe-capacitance",
        level="note",
        condition="the stated capacitance of the probe exceeds 0.2 % of C (a warning above 2 %)",
        text="It is part of the tank as measured.",
        advice="Correct for the probe, or measure with a second one of the same kind.",
        thresholds={"note": 0.002, "warn": 0.02},
        look=_probe,
    ),
    Check(
        id="probe-takes-q",
        level="warn",
        condition="stated resistances of probe, source or sense are more than 5 % of the loss",
        text="The Q measured is a loaded one.",
        advice="Correct for it, or probe through a smaller coupling.",
        thresholds={"share": 0.05},
        look=_probe_loss,
    ),
    Check(
        id="coupling-matters",
        level="warn",
        condition="f0 or Q changes by more than 1 % when the coupling is halved",
        text="The measurement pulls on the part.",
        advice="Move the loops away until f0 and Q stand still, or correct for the coupling.",
        thresholds={"share": 0.01},
        look=_looser,
    ),
    Check(
        id="channels-skewed",
        level="warn",
        condition="the stated phase between the channels on a resistor exceeds 0.5°",
        text="It goes straight into Q and ESR.",
        advice="Line the channels up with both probes on one point.",
        thresholds={"degrees": 0.5},
        look=_skew,
    ),
    Check(
        id="width-of-reflection",
        level="warn",
        condition="Q is wanted from the size of a reflection without its phase",
        text="The width of a dip of |S11| shows the match to the port, not the loss of the part.",
        advice="Save the phase too: the circle of the reflection gives Q.",
        look=_reflection_width,
    ),
    Check(
        id="window-holds-excitation",
        level="warn",
        condition="samples used of a ring-down lie before the stated end of the excitation",
        text="There the source still drives, and the decay is not the tank's own.",
        advice="Fit from the end of the excitation on.",
        look=_window,
    ),
)
