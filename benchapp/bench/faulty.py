"""Parts with a fault, worked out from their build: turn by turn, strand by strand.

A `Build` is a winding of coaxial turns. A fault changes the build or what hangs on it, and the
impedance follows from the inductances between all turns and from the resistances; no formula
for 'the effect of a fault' is used.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.coil.loop import ring
from benchapp.coil.section import mutual_of_circles

__all__ = [
    "BUILD",
    "FAULTS",
    "Build",
    "FaultyPart",
    "draw_build",
    "inductances",
    "measured",
    "sound",
    "vary",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Build:
    """A winding of ``turns`` turns in ``layers`` layers, its wire, and its capacitor.

    Lengths in m. ``ohm_per_metre`` is that of the whole wire, ``skin`` its resistance at 1 Hz in
    the law Rac sqrt(f), over that at direct current; ``field_share`` is the part of Rac that
    the field of the other turns causes and that broken strands leave as it is. ``plate`` is
    the factor by which ferrite raises the inductance, 1 for air.
    """

    turns: int = 48
    layers: int = 4
    radius: float = 0.15
    pitch: float = 1.1e-3
    wire: float = 0.7e-3
    strands: int = 30
    ohm_per_metre: float = 0.117
    skin: float = 5.5e-3
    field_share: float = 0.4
    plate: float = 1.0
    core_share: float = 0.0
    farad: float = 868e-12


BUILD = Build()
"""A build of the gate antenna coil: 48 turns of litz wire on a frame of 30 cm."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultyPart:
    """What hangs on the clips: a coil with its losses, a shorted turn perhaps, a capacitor.

    ``Rac`` in ohm/sqrt(Hz); ``loss`` is tan delta of the capacitor. ``ring_henry``, ``ring_ohm``
    and ``mutual_henry`` describe a closed turn, 0 without one.
    """

    kind: str
    L: float
    Rdc: float
    Rac: float
    C: float
    loss: float = 0.0
    ring_henry: float = 0.0
    ring_ohm: float = 0.0
    mutual_henry: float = 0.0

    def impedance(self, frequency: ArrayLike) -> ComplexArray:
        """Give the impedance.

        Parameters
        ----------
        frequency : (N,) float, Hz

        Returns
        -------
        (N,) complex, ohm

        Notes
        -----
        The current of the closed turn follows from its own mesh: (R_t + jw L_t) I_t = -jw M I.
        """
        f = np.asarray(frequency, dtype=np.float64)
        jw = 2j * np.pi * f
        branch = self.Rdc + self.Rac * np.sqrt(f) + jw * self.L
        if self.mutual_henry:
            branch = branch - (jw * self.mutual_henry) ** 2 / (
                self.ring_ohm + jw * self.ring_henry
            )
        return np.asarray(1 / (1 / branch + jw * self.C * (1 - 1j * self.loss)))


def inductances(build: Build, turns: int) -> FloatArray:
    """Inductance (turns, turns) in H of every turn with every other, and with itself."""
    per_layer = math.ceil(build.turns / build.layers)
    place = np.arange(turns)
    radius = build.radius + build.pitch * (place // per_layer)
    height = build.pitch * (place % per_layer)
    with np.errstate(all="ignore"):
        matrix = mutual_of_circles(
            radius[:, None], radius[None, :], np.abs(height[:, None] - height[None, :])
        )
    own = [ring(float(each), build.wire) for each in radius]
    np.fill_diagonal(matrix, own)
    return np.asarray(matrix)


def _part(build: Build, turns: int | None = None) -> FaultyPart:
    count = build.turns if turns is None else turns
    length = 2 * math.pi * build.radius * count
    dc = length * build.ohm_per_metre
    # The field at a turn grows with the number of turns, its loss with the square of the field.
    crowd = 1 - build.field_share + build.field_share * (count / build.turns) ** 2
    return FaultyPart(
        kind="sound",
        L=build.plate * float(inductances(build, count).sum()),
        Rdc=dc,
        Rac=dc * build.skin * crowd / (1 - build.core_share),
        C=build.farad,
    )


def sound(build: Build) -> FaultyPart:
    """Make the part as it should be."""
    return _part(build)


def _shorted_turn(build: Build, rng: np.random.Generator) -> FaultyPart:
    place = int(rng.integers(0, build.turns))
    matrix = build.plate * inductances(build, build.turns)
    rest = np.delete(np.arange(build.turns), place)
    part = _part(build, build.turns - 1)
    wire = 2 * math.pi * build.radius * build.ohm_per_metre
    return replace(
        part,
        L=float(matrix[np.ix_(rest, rest)].sum()),
        ring_henry=float(matrix[place, place]),
        ring_ohm=wire + 10 ** rng.uniform(-2.0, 0.5),
        mutual_henry=float(matrix[place, rest].sum()),
    )


def _turn_count(build: Build, rng: np.random.Generator) -> FaultyPart:
    return _part(build, build.turns + (1 if rng.random() < 0.5 else -1))


def _broken_strand(build: Build, rng: np.random.Generator) -> FaultyPart:
    broken = int(rng.integers(1, max(2, int(0.6 * build.strands))))
    part = _part(build)
    crowding = build.strands / (build.strands - broken)
    through = (1 - build.field_share) * crowding + build.field_share
    return replace(part, Rdc=part.Rdc * crowding, Rac=part.Rac * through)


def _ferrite(build: Build, rng: np.random.Generator) -> FaultyPart:
    part = _part(build)
    most = 1 - 1 / build.plate
    left = 0.0 if rng.random() < 0.3 else 1 - rng.uniform(0.08, 0.6)
    return replace(
        part,
        L=part.L * (1 - most * (1 - left)),
        Rac=part.Rac * (1 - build.core_share * (1 - left)),
    )


_STEPS = (0.1, 0.47, 0.68, 0.82, 1.2, 1.5, 2.0, 2.2, 10.0)  # neighbours of E12, pairs, decades


def _wrong_capacitor(build: Build, rng: np.random.Generator) -> FaultyPart:
    part = _part(build)
    loss = 10 ** rng.uniform(-3, -1.7) if rng.random() < 0.3 else 0.0
    return replace(part, C=part.C * float(rng.choice(_STEPS)), loss=loss)


def _cold_joint(build: Build, rng: np.random.Generator) -> FaultyPart:
    part = _part(build)
    return replace(part, Rdc=part.Rdc + 10 ** rng.uniform(-0.3, 1.5))


FAULTS: Mapping[str, Callable[[Build, np.random.Generator], FaultyPart]] = MappingProxyType(
    {
        "shorted-turn": _shorted_turn,
        "turn-count": _turn_count,
        "broken-strand": _broken_strand,
        "ferrite": _ferrite,
        "wrong-capacitor": _wrong_capacitor,
        "cold-joint": _cold_joint,
    }
)
"""Each kind of fault, made from a build with a random size and place."""


def draw_build(rng: np.random.Generator, *, ferrite: bool = False) -> Build:
    """Draw a design: a bundle or a longer winding, few or many turns, with or without ferrite.

    The capacitor is the one that makes a tank of about 134 kHz.
    """
    build = Build(
        turns=int(rng.integers(30, 90)),
        layers=int(rng.integers(1, 6)),
        radius=rng.uniform(0.05, 0.2),
        pitch=rng.uniform(0.9e-3, 3e-3),
        strands=int(rng.integers(12, 60)),
        skin=10 ** rng.uniform(-2.6, -2.1),
        field_share=rng.uniform(0.2, 0.6),
        plate=rng.uniform(1.3, 2.0) if ferrite else 1.0,
        core_share=rng.uniform(0.1, 0.4) if ferrite else 0.0,
    )
    henry = build.plate * float(inductances(build, build.turns).sum())
    return replace(build, farad=1 / (henry * (2 * math.pi * 134.2e3) ** 2))


def measured(
    part: FaultyPart, frequency: ArrayLike, generator: np.random.Generator, noise: float = 1e-3
) -> ComplexArray:
    """Measure a part with a meter without errors but its relative noise.

    Parameters
    ----------
    frequency : (N,) float, Hz
    noise : float
        Rms of the complex relative error.

    Returns
    -------
    (N,) complex, ohm
    """
    z = part.impedance(frequency)
    pair = generator.standard_normal((2, z.size)) * noise / math.sqrt(2)
    return np.asarray(z * (1 + pair[0] + 1j * pair[1]))


def vary(part: FaultyPart, generator: np.random.Generator) -> FaultyPart:
    """Give a part the spread from part to part of its kind of make.

    L 0.8 %, C 0.4 %, Rdc 1.5 %, Rac 3.5 % (standard deviations).
    """
    spread = {"L": 0.008, "C": 0.004, "Rdc": 0.015, "Rac": 0.035}
    changed = {
        name: getattr(part, name) * (1 + size * generator.standard_normal())
        for name, size in spread.items()
    }
    return replace(part, **changed)
