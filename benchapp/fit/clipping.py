"""Samples that the converter cut off: where its ends are, and which samples reach them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import FloatArray, Transient

__all__ = ["Rails", "rails"]

BoolArray = NDArray[np.bool_]

_FEWEST = 3  # equal samples in a row at an extreme before it may be an end of the converter
_MARGIN = 2.0  # noise deviations below the end at which cutting off begins to matter


@dataclass(frozen=True, slots=True, kw_only=True)
class Rails:
    """Lowest and highest voltage that the converter can show, None where it was not reached.

    ``stated`` tells levels of the record's own scale from levels found in the samples.
    """

    low: float | None
    high: float | None
    stated: bool

    def reached(self, voltage: FloatArray) -> BoolArray:
        """Mark the samples (N,) that sit at an end."""
        found = np.zeros(voltage.shape, dtype=np.bool_)
        if self.low is not None:
            found |= voltage <= self.low
        if self.high is not None:
            found |= voltage >= self.high
        return found

    def beyond(self, expected: FloatArray, noise: float) -> BoolArray:
        """Mark the samples (N,) whose expected voltage is so close to an end that it bends them.

        The rule looks at the expected voltage, not at the sample: to leave out samples because
        of their own noise would shift the mean of those that stay.
        """
        found = np.zeros(expected.shape, dtype=np.bool_)
        if self.low is not None:
            found |= expected < self.low + _MARGIN * noise
        if self.high is not None:
            found |= expected > self.high - _MARGIN * noise
        return found

    def confirmed(self, expected: FloatArray, voltage: FloatArray, noise: float) -> Rails:
        """Keep a level found in the samples only where the expected voltage passes it clearly.

        The top of a slow swing also shows equal samples in a row; there the expected voltage
        stays at the level.
        """
        if self.stated:
            return self
        high, low = self.high, self.low
        if high is not None and np.max(expected[voltage >= high]) < high + 2 * _MARGIN * noise:
            high = None
        if low is not None and np.min(expected[voltage <= low]) > low - 2 * _MARGIN * noise:
            low = None
        return Rails(low=low, high=high, stated=False)


def rails(capture: Transient) -> Rails:
    """Give the ends of the converter as far as the samples reach them.

    Parameters
    ----------
    capture : Transient
        Where it does not state its limits, an extreme that stands for three samples in a row is
        taken for one until a fit tells better.

    Returns
    -------
    Rails
    """
    voltage = capture.voltage
    low, high = float(voltage.min()), float(voltage.max())
    if capture.limits_volt is not None:
        slack = 0.25 * (capture.step_volt or 0.0)
        bottom, top = capture.limits_volt
        return Rails(
            low=low if low <= bottom + slack else None,
            high=high if high >= top - slack else None,
            stated=True,
        )
    return Rails(
        low=low if _longest(voltage == low) >= _FEWEST else None,
        high=high if _longest(voltage == high) >= _FEWEST else None,
        stated=False,
    )


def _longest(marks: BoolArray) -> int:
    """Length of the longest run of marks."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], marks.astype(np.int8), [0]))))
    return int(np.max(edges[1::2] - edges[::2], initial=0))
