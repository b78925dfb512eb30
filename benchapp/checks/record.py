"""Checks of scope records and of transmissions: window, clipping, loading."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from benchapp.capture import Response, Transient
from benchapp.checks.value import Check, Evidence, Sighting

__all__ = ["CHECKS"]


def _short_decay(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture, tau = evidence.capture, evidence.fit.estimates.get("tau")
    if not isinstance(capture, Transient) or tau is None or not evidence.fit.used.any():
        return
    time = capture.time[evidence.fit.used]
    followed = float(time[-1] - time[0]) / tau.value
    if followed < limit["least"]:
        yield Sighting(
            seen=f"The decay is followed for {followed:.2g} time constants.",
            level="warn" if followed < limit["least"] / 3 else None,
        )


def _few_samples(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    capture, f0 = evidence.capture, evidence.fit.estimates.get("f0")
    if not isinstance(capture, Transient) or f0 is None:
        return
    samples = 1 / (float(np.median(np.diff(capture.time))) * f0.value)
    if samples < limit["least"]:
        yield Sighting(seen=f"There are {samples:.2g} samples in a period.")


def _clipped(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    for remark in evidence.fit.remarks:
        if remark.name == "clipped" and len(remark.points) >= limit["samples"]:
            yield Sighting(seen=remark.text, points=remark.points)


def _uneven(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    for remark in evidence.fit.remarks:
        if remark.name == "uneven decay":
            yield Sighting(seen=remark.text)


def _loading_unknown(evidence: Evidence, _: Mapping[str, float]) -> Iterator[Sighting]:
    capture = evidence.capture
    by_probe = isinstance(capture, Transient) or (
        isinstance(capture, Response) and capture.kind == "gain"
    )
    if by_probe and capture.conditions.fixture is None:
        yield Sighting(seen="The capture does not say how the part was probed.")


def _loaded(evidence: Evidence, limit: Mapping[str, float]) -> Iterator[Sighting]:
    q, loaded = (evidence.fit.estimates.get(name) for name in ("Q", "QL"))
    if q is None or loaded is None or q.value <= 0:
        return
    share = 1 - loaded.value / q.value
    if share > limit["share"]:
        yield Sighting(
            seen=f"The measurement takes {100 * share:.2g} % off Q: {loaded.value:.4g} loaded, "
            f"{q.value:.4g} unloaded."
        )


CHECKS = (
    Check(
        id="decay-too-short",
        level="note",
        condition="a ring-down is followed for less than 3 time constants (a warning below one)",
        text="The rate then hangs on the offset and on the first periods.",
        advice="Record five to six time constants after the excitation has ended.",
        thresholds={"least": 3},
        look=_short_decay,
    ),
    Check(
        id="few-samples-per-period",
        level="note",
        condition="fewer than 10 samples lie in a period of the ring-down",
        text="The shape of the swing is hardly seen, and disturbances are not told from it.",
        advice="Record with a shorter time base.",
        thresholds={"least": 10},
        look=_few_samples,
    ),
    Check(
        id="samples-clipped",
        level="note",
        condition="3 or more samples within the decay lie at the end of the converter's range",
        text="Taken as they stand they would make Q too large.",
        advice="Choose a larger vertical range.",
        thresholds={"samples": 3},
        look=_clipped,
    ),
    Check(
        id="decay-not-even",
        level="warn",
        condition="the rate of a ring-down changes along the decay",
        text="One Q does not describe it.",
        advice="Excite less, or look for a second resonance or a diode that conducts.",
        look=_uneven,
    ),
    Check(
        id="loading-not-stated",
        level="note",
        condition="a scope record or a gain does not say how the part was probed",
        text="10 pF of a probe lower f0 by 0.5 % on 1 nF and by 6.6 % on 68 pF, and its "
        "resistance lowers Q.",
        advice="State the probe, or measure once with a second probe of the same kind: "
        "1/f0^2 = 2/f1^2 - 1/f2^2.",
        look=_loading_unknown,
    ),
    Check(
        id="strong-coupling",
        level="note",
        condition="loaded and unloaded Q differ by more than 3 %",
        text="The unloaded value rests on the correction for the coupling.",
        advice="Couple more loosely until f0 and Q no longer change.",
        thresholds={"share": 0.03},
        look=_loaded,
    ),
)
