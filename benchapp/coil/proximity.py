"""What the turns do to each other's resistance: the field at each turn, and the row it lies in.

The currents of all other turns put every wire into an alternating field, in which it loses power
beside its own skin effect; wires side by side also shield each other. The field is summed over
the real coil as rings. The shielding is that of a straight row of wires of the same pitch, solved
with all its multipoles for every way in which the field can vary along the row.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.coil.conductor import bessel_ratio, round_wire_ratio, wire_argument
from benchapp.coil.elliptic import complete_integrals
from benchapp.coil.section import MU_0

__all__ = [
    "FieldModes",
    "Layout",
    "field_modes",
    "litz_ratio",
    "ring_field",
    "row_losses",
    "solid_ratio",
    "straight_modes",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_ORDER = 10
_UPWARDS = 30.0
_NODES = 10
_MOST_PAIRS = 16_000
_STRIP = 0.2231  # exp(-3/2): mean distance of the points of a strip, over its width


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Where the turns lie: ``layers`` radii, and on each the same number of turns.

    Parameters
    ----------
    inner, outer : float, m
        Radii between which the layers are spread evenly.
    length : float, m
        Over which the turns of a layer are spread evenly.
    layers : int
    along : int
        Turns of one layer.
    turns : float
        Turns of the whole coil, layers * along but for rounding.
    flat : bool
        Whether the row of neighbours runs outwards (a spiral) instead of along the axis.
    """

    inner: float
    outer: float
    length: float
    layers: int
    along: int
    turns: float
    flat: bool = False

    @property
    def row(self) -> int:
        """Turns side by side in one row."""
        return self.layers if self.flat else self.along

    @property
    def pitch(self) -> float:
        """Distance between neighbours in the row, m."""
        return (self.outer - self.inner) / self.layers if self.flat else self.length / self.along


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FieldModes:
    """Mean square flux density at the turns per ampere, T^2/A^2, by how it varies in the row.

    ``along`` and ``across`` are (K,) float: the field in the direction of the row and square to
    it, shared out over phase steps from turn to turn between 0 and pi. Their sums are the mean
    squares. ``pitch`` (m) lies between the neighbours in the row; ``row`` is their number, 0 where
    the row is one of many, whose gradients cancel.
    """

    along: FloatArray
    across: FloatArray
    pitch: float
    row: int


def ring_field(
    ring: ArrayLike, radius: ArrayLike, height: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Flux density of a circular filament carrying one ampere, exact.

    Parameters
    ----------
    ring : (...) float, m
        Radius of the filament; the three broadcast.
    radius, height : (...) float, m
        Where the field is wanted; not on the filament itself, not on the axis.

    Returns
    -------
    radial, axial : (...) float, T

    Notes
    -----
    Source: W. R. Smythe, *Static and Dynamic Electricity*, section 7.10 (from memory); tests hold
    it against the slope of Maxwell's mutual inductance.
    """
    a, r, z = (np.asarray(value, float) for value in (ring, radius, height))
    far, near = (a + r) ** 2 + z * z, (a - r) ** 2 + z * z
    first, second = complete_integrals(np.sqrt(near / far))
    scale = MU_0 / (2 * math.pi * np.sqrt(far))
    axial = scale * (first + (a * a - r * r - z * z) / near * second)
    radial = scale * z / r * (-first + (a * a + r * r + z * z) / near * second)
    return radial, axial


def field_modes(layout: Layout, wire: float) -> FieldModes:
    """Field at the turns, each in that of all the others and of its own curvature.

    Parameters
    ----------
    layout : Layout
    wire : float, m

    Notes
    -----
    Turns count by their circumference. Of large windings squares of turns are gathered into rings
    of larger current. The field along a row is taken apart into sine waves, which are close to
    the ways in which a row of dipoles can answer.
    """
    layers, along = _grid(layout)
    gathered = layout.turns / (layers * along)
    step = (layout.outer - layout.inner) / layers
    radii = layout.inner + step * (np.arange(layers, dtype=np.float64) + 0.5)
    places = layout.length / along * np.arange(along, dtype=np.float64)
    radial, axial = _turn_fields(radii, places)
    strip = _STRIP * (step if layout.flat else layout.length / along)
    own = wire / 2 if gathered < 1.5 else strip
    axial += MU_0 / (4 * math.pi * radii[:, None]) * (np.log(8 * radii[:, None] / own) - 0.5)
    weights = np.sqrt(radii / radii.sum() / along)[:, None] * gathered
    radial, axial = radial * weights, axial * weights
    parallel, square = (radial.T, axial.T) if layout.flat else (axial, radial)
    return FieldModes(
        along=_phase_shares(parallel),
        across=_phase_shares(square),
        pitch=layout.pitch,
        row=layout.row if layout.flat or layout.layers == 1 else 0,
    )


def straight_modes(row: int, pitch: float) -> FieldModes:
    """Field at straight wires side by side with equal currents, each in that of the others.

    Parameters
    ----------
    row : int
        Number of wires.
    pitch : float, m

    Notes
    -----
    mu0/(2 pi p) times the sum of 1/(i - j) over the others. The far sides of a frame are left
    out.
    """
    apart = np.arange(row)[:, None] - np.arange(row)[None, :]
    inverse = np.divide(1.0, apart, out=np.zeros(apart.shape), where=apart != 0)
    field = MU_0 / (2 * math.pi * pitch) * inverse.sum(axis=1)
    across = _phase_shares(field[None, :]) / row
    return FieldModes(along=np.zeros(across.size), across=across, pitch=pitch, row=row)


def _turn_fields(radii: FloatArray, offsets: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Radial and axial field at every turn (layer, place) by all other turns, one ampere each."""
    ring, radius = radii[:, None, None], radii[None, :, None]
    height = np.broadcast_to(offsets, (radii.size, radii.size, offsets.size))
    itself = (ring == radius) & (height == 0)
    radial, axial = ring_field(ring, radius, np.where(itself, 1.0, height))
    even = np.cumsum(np.where(itself, 0.0, axial), axis=2)
    odd = np.cumsum(np.where(itself, 0.0, radial), axis=2)
    at_r = (odd - odd[:, :, ::-1]).sum(axis=0)
    at_z = (even + even[:, :, ::-1] - even[:, :, :1]).sum(axis=0)
    return at_r, at_z


def _grid(layout: Layout) -> tuple[int, int]:
    """Layers, and turns along them, after gathering turns so that their pairs are not too many.

    Both directions are gathered alike: a ring stands for a square of turns.
    """
    if layout.flat:
        return min(layout.layers, math.isqrt(_MOST_PAIRS)), 1
    most = math.cbrt(_MOST_PAIRS * layout.layers / layout.along)
    layers = min(layout.layers, max(2, math.floor(most)))
    along = max(1, round(layout.along * layers / layout.layers))
    return layers, min(along, _MOST_PAIRS)


def _phase_shares(field: FloatArray) -> FloatArray:
    """Square of fields (row, place in the row), shared out over the nodes of the phase step.

    Each row is taken apart into sine waves, zero beyond its ends (discrete sine transform I).
    """
    size = field.shape[1]
    zero = np.zeros((field.shape[0], 1))
    odd = np.concatenate([zero, field, zero, -field[:, ::-1]], axis=1)
    waves = np.fft.rfft(odd, axis=1)[:, 1 : size + 1].imag
    power = np.sum(waves**2, axis=0) / (2 * (size + 1))
    shares: FloatArray = _node_share(math.pi * np.arange(1, size + 1) / (size + 1)) @ power
    return shares


_CHEBYSHEV = np.cos(math.pi * (np.arange(_NODES) + 0.5) / _NODES)
_PHASES = math.pi * (0.5 * (_CHEBYSHEV + 1)) ** 2


def _node_share(phase: FloatArray) -> FloatArray:
    """Weights (node, mode) by which a function of the phase is interpolated from its nodes."""
    place = 2 * np.sqrt(phase / math.pi) - 1
    degrees = np.arange(_NODES)[:, None]
    at_modes = np.cos(degrees * np.arccos(np.clip(place, -1, 1)))
    at_nodes = np.cos(degrees * np.arccos(_CHEBYSHEV))
    scale = np.where(degrees == 0, 1.0, 2.0) / _NODES
    share: FloatArray = at_nodes.T @ (scale * at_modes)
    return share


def _lattice_sums(phase: FloatArray) -> ComplexArray:
    """Sum over all other places m of exp(i m phase)/m^k, (K, 2 order + 1), k from 2."""
    places = np.arange(1, 400)
    found = np.zeros((phase.size, 2 * _ORDER + 1), np.complex128)
    for k in range(4, 2 * _ORDER + 1):
        wave = np.cos if k % 2 == 0 else np.sin
        terms = wave(phase[:, None] * places) / places.astype(float) ** k
        found[:, k] = (2 if k % 2 == 0 else 2j) * terms.sum(axis=1)
    found[:, 2] = math.pi**2 / 3 - math.pi * phase + phase**2 / 2
    found[:, 3] = 2j * (math.pi**2 / 6 * phase - math.pi / 4 * phase**2 + phase**3 / 12)
    return found


_ORDERS = np.arange(1, _ORDER + 1)
_SUM_ORDERS = _ORDERS[:, None] + _ORDERS[None, :]
_BINOMIAL = np.array(
    [[math.comb(n + m - 1, m) for n in range(1, _ORDER + 1)] for m in range(1, _ORDER + 1)], float
)
_SIGNED = _BINOMIAL * (-1.0) ** _ORDERS[None, :]
_SUMS = _lattice_sums(_PHASES)


def _multipole_response(q: ComplexArray) -> ComplexArray:
    """How strongly a wire answers each multipole of a field, (N, order), 0 for no eddies.

    The answer is 2 n I_n(q)/(q I_{n-1}(q)) - 1. With y_n = q I_{n-1}/(2 n I_n) it is 1/y_n - 1,
    and the recurrence of the Bessel functions reads y_n = 1 + q^2/(4 n (n + 1))/y_{n+1}: run
    downwards, and for q well above the order upwards, where that is the stable way.
    """
    large = np.abs(q) > _UPWARDS
    square = np.where(large, 0.0, q) ** 2 / 4
    ratio = np.ones(q.shape, np.complex128)
    found = np.empty((q.size, _ORDER), np.complex128)
    for n in range(_ORDER + 60, 0, -1):
        ratio = 1 + square / (n * (n + 1)) / ratio
        if n <= _ORDER:
            found[:, n - 1] = 1 / ratio - 1
    if np.any(large):
        ratio = bessel_ratio(q[large])
        for n in range(1, _ORDER + 1):
            found[large, n - 1] = 1 / ratio - 1
            ratio = q[large] ** 2 / (4 * n * (n + 1)) / (ratio - 1)
    return found


def row_losses(modes: FieldModes, wire: float, depth: ArrayLike) -> FloatArray:
    """Resistance that the neighbours add to a wire, over its direct-current resistance.

    Parameters
    ----------
    modes : FieldModes
    wire : float, m
    depth : (N,) float, m
        Skin depth.

    Returns
    -------
    (N,) float

    Notes
    -----
    Each wire sees an outer field, the gradients of its neighbours' currents, and the multipoles
    that the neighbours answer with: a linear system of order 10 for each phase step. Own
    derivation from Bessel functions, on the way of S. Butterworth, Phil. Trans. A 222 (1921) 57.
    An endless touching row at high frequency has 3.41 times the resistance of a lone wire
    (Butterworth's value, from memory).
    """
    q = wire_argument(wire, np.atleast_1d(depth))
    answer = _multipole_response(q)
    scale = 2 * (math.pi / MU_0) ** 2 * np.abs(q) ** 2
    closeness = wire / 2 / modes.pitch
    share = closeness**_SUM_ORDERS
    dipole = wire / 2 * np.eye(_ORDER)[0]
    added = np.zeros(q.size)
    for along, across, sums in zip(modes.along, modes.across, _SUMS, strict=True):
        couple = _SIGNED * share * sums[_SUM_ORDERS]
        added += along * _loss(answer, -couple, dipole)
        added += across * _loss(answer, couple, dipole)
    if modes.row > 1:
        means = _neighbour_means(modes.row)
        gradient = MU_0 / (2 * math.pi) * means[_ORDERS] / _ORDERS * closeness**_ORDERS
        added += _loss(answer, _SIGNED * share * means[_SUM_ORDERS], gradient)
    ratio: FloatArray = scale * added
    return ratio


def _neighbour_means(row: int) -> FloatArray:
    """Mean over the row of the sum over its other wires of distance^-k, in pitches, k even."""
    apart = np.arange(1, min(row, 400))
    sums = np.zeros(2 * _ORDER + 1)
    for k in range(2, 2 * _ORDER + 1, 2):
        sums[k] = 2 / row * float(np.sum((row - apart) / apart.astype(float) ** k))
    return sums


def _loss(answer: ComplexArray, couple: NDArray[np.number], outer: FloatArray) -> FloatArray:
    """Solve for the multipoles of the field at each wire, and give what they lose."""
    system = np.eye(_ORDER) - couple[None, :, :] * answer[:, None, :]
    right = np.broadcast_to(outer, answer.shape)[:, :, None]
    field = np.linalg.solve(system, right)[:, :, 0]
    lost: FloatArray = -(np.abs(field) ** 2 * answer.imag) @ _ORDERS
    return lost


def solid_ratio(modes: FieldModes, wire: float, depth: ArrayLike) -> FloatArray:
    """Alternating over direct-current resistance of a winding of solid round wire.

    Parameters
    ----------
    modes : FieldModes
    wire : float, m
    depth : (N,) float, m
        Skin depth.

    Returns
    -------
    (N,) float
    """
    return round_wire_ratio(wire, depth) + row_losses(modes, wire, depth)


def litz_ratio(
    modes: FieldModes | None, wire: float, strands: int, strand: float, depth: ArrayLike
) -> FloatArray:
    """Alternating over direct-current resistance of a winding of litz.

    Parameters
    ----------
    modes : FieldModes or None
        None where only the bundle's own field matters.
    wire, strand : float, m
        Diameters of the bundle and of one strand.
    strands : int
    depth : (N,) float, m
        Skin depth.

    Returns
    -------
    (N,) float

    Notes
    -----
    Skin effect of a strand, and its eddy currents in the field of the coil and of its own bundle,
    whose mean square is mu0^2/(8 pi^2 R^2) per ampere^2. Strands share the current evenly, as in
    a well twisted bundle. Source: J. A. Ferreira, IEEE Trans. Power Electronics 9 (1994) 127
    (from memory).
    """
    q = wire_argument(strand, np.atleast_1d(depth))
    square = (MU_0 / (math.pi * wire)) ** 2 / 2
    if modes is not None:
        square += float(modes.along.sum() + modes.across.sum())
    lag = -(1 / bessel_ratio(q)).imag
    ratio = 2 * (math.pi * strand / 2 * strands / MU_0) ** 2 * np.abs(q) ** 2 * lag * square
    return round_wire_ratio(strand, depth) + ratio
