"""Families of faults: what each does to inductance, capacitance and losses, for every size."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchapp.diagnosis.expectation import Expectation
from benchapp.nominal import Construction
from benchapp.units import format_quantity

__all__ = ["FAMILIES", "Family", "Members"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Members:
    """The members of a family, one per size.

    ``shifts`` (K, 4) in the order of `NAMES`; ``loose`` (K,) is the standard deviation of how a
    change of loss divides into direct and alternating current, over the loss of a good part;
    ``sizes`` (K,) the number that the words are about.
    """

    shifts: FloatArray
    sizes: FloatArray
    loose: FloatArray


Make = Callable[[Expectation, Construction], Members | None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """One kind of fault: its members for a design, its words, and the test that tells it."""

    id: str
    title: str
    make: Make
    words: Callable[[float, Expectation], str]
    next_test: str


def _members(
    sizes: FloatArray, *columns: FloatArray | float, loose: FloatArray | float = 0.0
) -> Members:
    shifts = np.stack([np.broadcast_to(column, sizes.shape) for column in columns], axis=-1)
    return Members(
        shifts=shifts.reshape(-1, 4),
        sizes=np.ravel(sizes),
        loose=np.ravel(np.broadcast_to(loose, sizes.shape)),
    )


def _shorted_turn(expected: Expectation, _: Construction) -> Members | None:
    """Make a closed turn, coupled with k, of time constant xi / w.

    L (1 - k^2 xi^2 / (1 + xi^2)) and R + w L k^2 xi / (1 + xi^2): the impedance (w M)^2 / Z_t
    that a short-circuited secondary reflects. Source: two coupled circuits, network theory.
    """
    if expected.q is None:
        return None
    k2, xi = np.meshgrid(np.geomspace(0.02, 0.85, 24), np.geomspace(0.1, 30, 24), indexing="ij")
    drop = k2 * xi**2 / (1 + xi**2)
    loss = expected.q * k2 * xi / (1 + xi**2)
    told = (loss > 0.3) & (drop > 2e-3)
    return _members(k2[told], np.log1p(-drop[told]), 0.0, 0.0, loss[told], loose=loss[told])


def _turn(sign: float) -> Make:
    """Make one turn more or fewer.

    L goes with the square of the turns, less where the turn lies at the edge.
    Resistance goes with the turns, the part by the field of the others up to their square more.
    """

    def make(expected: Expectation, construction: Construction) -> Members:
        stated = construction.turns
        turns = np.geomspace(8, 200, 24) if stated is None else np.array([stated])
        count, power, crowd = np.meshgrid(
            turns, np.linspace(1.4, 2.2, 5), (1.0, 2.0, 3.0), indexing="ij"
        )
        change = np.log1p(sign / count)
        dc = expected.dc_share
        return _members(
            count,
            power * change,
            0.0,
            dc * np.expm1(change),
            (1 - dc) * np.expm1(crowd * change),
        )

    return make


def _broken_strand(expected: Expectation, construction: Construction) -> Members | None:
    if construction.strands == 1 or expected.loss is None:
        return None
    least = 0.03 if construction.strands is None else 1.0 / construction.strands
    broken, through = np.meshgrid(
        np.linspace(least, 0.65, 28), (0.4, 0.55, 0.7, 0.85, 1.0), indexing="ij"
    )
    more = broken / (1 - broken)
    dc = expected.dc_share
    return _members(broken, 0.0, 0.0, dc * more, (1 - dc) * through * more)


def _ferrite(expected: Expectation, construction: Construction) -> Members | None:
    if construction.core == "air":
        return None
    drop, core = np.meshgrid(np.linspace(0.02, 0.55, 28), (0.0, 0.25, 0.5, 1.0), indexing="ij")
    return _members(drop, np.log1p(-drop), 0.0, 0.0, -(1 - expected.dc_share) * core * drop)


def _capacitor(expected: Expectation, _: Construction) -> Members | None:
    if expected.C is None:
        return None
    size = np.concatenate((-np.geomspace(2.5, 0.02, 40), np.geomspace(0.02, 2.5, 40)))
    ratio, tangent = np.meshgrid(size, (0.0, 2e-3, 6e-3, 2e-2), indexing="ij")
    loss = 0.0 if expected.q is None else expected.q * tangent
    return _members(np.exp(ratio), 0.0, ratio, 0.0, loss, loose=loss)


def _cold_joint(expected: Expectation, _: Construction) -> Members | None:
    if expected.loss is None:
        return None
    ohm = np.geomspace(0.02, 10.0, 60)
    return _members(ohm * expected.loss, 0.0, 0.0, ohm, 0.0)


def _percent(part: float) -> str:
    return f"{100 * part:.2g} %"


def _turns_words(count: float, _: Expectation) -> str:
    return f"one of about {count:.0f} turns"


FAMILIES = (
    Family(
        id="shorted-turn",
        title="shorted turn",
        make=_shorted_turn,
        words=lambda k2, _: f"a closed turn coupled with k = {math.sqrt(k2):.2f}",
        next_test="Measure R at direct current: a shorted turn leaves it as it is. Then compare L "
        "at 1 kHz, where its current hardly flows, with L at the working frequency.",
    ),
    Family(
        id="turn-missing",
        title="one turn too few",
        make=_turn(-1.0),
        words=_turns_words,
        next_test="Measure the resistance at direct current: it falls by 1/N, half as far as L. "
        "Count the turns, or compare with a counted coil.",
    ),
    Family(
        id="turn-extra",
        title="one turn too many",
        make=_turn(1.0),
        words=_turns_words,
        next_test="Measure the resistance at direct current: it rises by 1/N, half as far as L. "
        "Count the turns, or compare with a counted coil.",
    ),
    Family(
        id="broken-strand",
        title="broken strands",
        make=_broken_strand,
        words=lambda part, _: f"{_percent(part)} of the strands broken",
        next_test="Measure the resistance at direct current with four wires, and again while the "
        "lead ends are moved: broken strands stay, a bad joint changes. Look at both tinned ends.",
    ),
    Family(
        id="ferrite",
        title="ferrite cracked or missing",
        make=_ferrite,
        words=lambda drop, _: f"{_percent(drop)} of the inductance lost",
        next_test="Look for the crack, press the halves together or lay a good plate on: L comes "
        "back. The resistance at direct current is unchanged.",
    ),
    Family(
        id="wrong-capacitor",
        title="wrong capacitor",
        make=_capacitor,
        words=lambda ratio, expected: (
            f"{format_quantity(ratio * (expected.C or 0.0), 'F', digits=3)} fitted"
        ),
        next_test="Read the marking, lift one end and measure C and its loss alone.",
    ),
    Family(
        id="cold-joint",
        title="cold joint",
        make=_cold_joint,
        words=lambda ohm, _: f"{format_quantity(ohm, 'ohm', digits=2)} in series",
        next_test="Measure the resistance at direct current with four wires, directly on the "
        "winding and then across the joints; move the joints while measuring; solder again.",
    ),
)
"""Every kind of fault that is considered."""
