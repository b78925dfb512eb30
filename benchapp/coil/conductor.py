"""Wire: gauges, direct-current resistance, skin effect, layers and litz."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.coil.section import MU_0
from benchapp.errors import QuantityError
from benchapp.units import Quantity, parse_quantity

__all__ = [
    "MATERIALS",
    "METRIC_DIAMETERS",
    "WIRE_SERIES",
    "Conductor",
    "Material",
    "WireSize",
    "awg_diameter",
    "dowell",
    "foil_height",
    "internal_inductance",
    "litz_factor",
    "parse_wire",
    "resistivity",
    "round_wire_ratio",
    "skin_depth",
    "wire_table",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_FRACTION_DEPTH = 100
_ASYMPTOTIC = 45.0
_GAUGE = re.compile(r"(?:awg[ #-]*(\d{1,2}|0{2,4})|(\d{1,2}|0{2,4})[ -]*awg)", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """Resistivity at 20 degC in ohm m, and its temperature coefficient at 20 degC per kelvin."""

    title: str
    resistivity: float
    coefficient: float
    source: str


MATERIALS: Mapping[str, Material] = MappingProxyType(
    {
        "copper": Material(
            title="annealed copper",
            resistivity=1e-6 / 58,
            coefficient=0.00393,
            source="IEC 60028:1925, quoted in NBS Handbook 100 (1966)",
        ),
        "aluminium": Material(
            title="hard-drawn aluminium",
            resistivity=2.8264e-8,
            coefficient=0.00403,
            source="IEC 60889:1987 (from memory)",
        ),
    }
)

_R20 = (
    *(1.0, 1.12, 1.25, 1.4, 1.6, 1.8, 2.0, 2.24, 2.5, 2.8),
    *(3.15, 3.55, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0),
)
METRIC_DIAMETERS: tuple[float, ...] = tuple(
    round(step * scale * 1e-6, 9)
    for scale in (10, 100, 1000)
    for step in _R20
    if 20 <= step * scale <= 5000
)
"""Preferred bare diameters of round winding wire, m: the series R 20 of ISO 3:1973 from 0.02 to
5 mm, as IEC 60317-0-1 uses it (from memory; each lies within 1.3 % of a power of 10^(1/20)).
"""


def awg_diameter(gauge: int) -> float:
    """Bare diameter of an American wire gauge, m.

    Parameters
    ----------
    gauge : int
        0 and more; -1, -2, -3 for 00, 000, 0000.

    Notes
    -----
    d = 0.127 mm * 92^((36 - n)/39). Source: ASTM B258 (from memory): 36 is 5 mil and 0000
    is 460 mil, with equal ratios between them.
    """
    if not -3 <= gauge <= 56:
        raise QuantityError(
            f"gauge: must lie between 0000 and 56 (got {gauge}).",
            hint="Give the bare diameter instead, for example 0.5mm.",
        )
    return 0.127e-3 * math.pow(92.0, (36 - gauge) / 39)


def parse_wire(text: str) -> Quantity:
    """Read a bare wire diameter: a length, or a gauge such as ``AWG 24`` or ``24AWG``.

    Raises
    ------
    QuantityError
        When it is neither.
    """
    found = _GAUGE.fullmatch(text.strip())
    if found is None:
        return parse_quantity(text, "m")
    digits = found[1] or found[2]
    gauge = 1 - len(digits) if digits.strip("0") == "" else int(digits)
    return Quantity(value=awg_diameter(gauge), unit="m")


@dataclass(frozen=True, slots=True, kw_only=True)
class Conductor:
    """What the winding is made of.

    ``leads`` is the length of both leads together, in m. For litz, ``strands`` of the bare
    diameter ``strand`` (m) make up the wire of the design.
    """

    material: str = "copper"
    temperature_celsius: float = 20.0
    leads: float = 0.0
    strands: int = 1
    strand: float | None = None

    def __post_init__(self) -> None:
        if self.material not in MATERIALS:
            raise QuantityError(
                f"material: must be one of {', '.join(MATERIALS)} (got {self.material!r}).",
                hint="Other metals are not in the table.",
            )
        if not -100 <= self.temperature_celsius <= 250:
            raise QuantityError(
                "temperature: must lie between -100 and 250 degC, where the resistance follows "
                f"a straight line (got {self.temperature_celsius:g} degC).",
                hint="Give the temperature of the winding in degC.",
            )
        if not 0 <= self.leads < math.inf:
            raise QuantityError(
                f"leads: must be zero or more (got {self.leads:g} m).",
                hint="Give the length of both leads together.",
            )
        litz = self.strands > 1
        if self.strands < 1 or litz != (self.strand is not None):
            raise QuantityError(
                f"strands: must be two or more together with their diameter (got {self.strands} "
                f"strands of {self.strand!r} m).",
                hint="For litz give both; for solid wire give neither.",
            )
        if self.strand is not None and not 0 < self.strand < math.inf:
            raise QuantityError(
                f"strand: must be above zero and finite (got {self.strand:g} m).",
                hint="Give the bare diameter of one strand, for example 0.05mm.",
            )

    def area(self, wire: float) -> float:
        """Copper area of a wire of this diameter, m^2; of all strands for litz."""
        if self.strand is None:
            return math.pi * wire * wire / 4
        if self.strands * self.strand**2 > wire * wire:
            raise QuantityError(
                f"strands: must fit into the wire of {1e3 * wire:g} mm (got {self.strands} "
                f"strands of {1e3 * self.strand:g} mm).",
                hint="Give the diameter of the whole litz bundle as the wire.",
            )
        return self.strands * math.pi * self.strand**2 / 4


def resistivity(material: str = "copper", temperature_celsius: float = 20.0) -> float:
    """Resistivity at a temperature, ohm m.

    Notes
    -----
    rho = rho20 [1 + alpha (T - 20)]. Source: see `MATERIALS`.
    """
    entry = MATERIALS[material]
    return entry.resistivity * (1 + entry.coefficient * (temperature_celsius - 20))


WIRE_SERIES: Mapping[str, str] = MappingProxyType(
    {
        "awg": "American wire gauge, bare diameter by the formula of ASTM B258",
        "metric": "preferred bare diameters, series R 20 of ISO 3",
    }
)
"""Tables of wire sizes: name and title."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WireSize:
    """One row of a wire table, in SI units."""

    name: str
    diameter: float
    area: float
    resistance_per_metre: float


def wire_table(series: str, conductor: Conductor) -> tuple[WireSize, ...]:
    """Give a table of wire sizes with the resistance of solid wire.

    Parameters
    ----------
    series : {'awg', 'metric'}
    conductor : Conductor
        Metal and temperature.

    Raises
    ------
    QuantityError
        When the series is unknown.
    """
    if series not in WIRE_SERIES:
        raise QuantityError(
            f"series: must be one of {', '.join(WIRE_SERIES)} (got {series!r}).",
            hint="Choose one of these words.",
        )
    if series == "awg":
        sizes = [
            (str(gauge) if gauge > 0 else "0" * (1 - gauge), awg_diameter(gauge))
            for gauge in range(-3, 51)
        ]
    else:
        sizes = [(f"{1e3 * size:g} mm", size) for size in METRIC_DIAMETERS]
    rho = resistivity(conductor.material, conductor.temperature_celsius)
    return tuple(
        WireSize(name=name, diameter=size, area=area, resistance_per_metre=rho / area)
        for name, size in sizes
        for area in (math.pi * size * size / 4,)
    )


def skin_depth(frequency: ArrayLike, rho: float) -> FloatArray:
    """Depth at which the current density has fallen to 1/e, m.

    Parameters
    ----------
    frequency : (N,) float, Hz
    rho : float, ohm m

    Notes
    -----
    delta = sqrt(rho/(pi f mu0)). Source: common practice.
    """
    return np.sqrt(rho / (math.pi * MU_0 * np.asarray(frequency, float)))


def _asymptotic_coefficients(order: int) -> FloatArray:
    """Coefficients of I0(q)/I1(q) in powers of 1/q, from y' = 1 - y^2 + y/q."""
    found = [1.0]
    for m in range(1, order):
        squares = sum(found[i] * found[m - i] for i in range(1, m))
        found.append((m * found[m - 1] - squares) / 2)
    return np.array(found)


_SERIES = _asymptotic_coefficients(14)


def bessel_ratio(q: ArrayLike) -> ComplexArray:
    """Ratio q I0(q)/(2 I1(q)) for complex q with a positive real part, 1 at q = 0.

    Parameters
    ----------
    q : (N,) complex

    Returns
    -------
    (N,) complex

    Notes
    -----
    The continued fraction 1 + (q^2/8)/(1 + (q^2/24)/(1 + (q^2/48)/(1 + ...))), term k being
    q^2/(4 k (k + 1)), from below; beyond |q| = 45 the asymptotic series. Neither overflows.
    Source: NIST Digital Library of Mathematical Functions, 10.33 and 10.40; tests hold it
    against scipy.special.
    """
    z = np.atleast_1d(np.asarray(q, np.complex128))
    square = np.where(np.abs(z) < _ASYMPTOTIC, z, 0.0) ** 2 / 4
    fraction = np.ones(z.shape, np.complex128)
    for k in range(_FRACTION_DEPTH, 0, -1):
        fraction = 1 + square / (k * (k + 1)) / fraction
    large = np.where(np.abs(z) < _ASYMPTOTIC, _ASYMPTOTIC, z)
    series = large / 2 * np.polynomial.polynomial.polyval(1 / large, _SERIES)
    return np.where(np.abs(z) < _ASYMPTOTIC, fraction, series)


def wire_argument(diameter: float, depth: ArrayLike) -> ComplexArray:
    """(1 + j) a/delta for a wire of this diameter, a its radius.

    Parameters
    ----------
    diameter : float, m
    depth : (N,) float, m
        Skin depth.
    """
    return (1 + 1j) * diameter / 2 / np.asarray(depth, float)


def round_wire_ratio(diameter: float, depth: ArrayLike) -> FloatArray:
    """Alternating over direct-current resistance of a lone round wire, exact.

    Parameters
    ----------
    diameter : float, m
    depth : (N,) float, m
        Skin depth.

    Returns
    -------
    (N,) float

    Notes
    -----
    Re[q I0(q)/(2 I1(q))], q = (1 + j) a/delta. Source: Lord Kelvin; table in E. B. Rosa and
    F. W. Grover and in NBS Circular 74 (1918) (from memory).
    """
    return bessel_ratio(wire_argument(diameter, depth)).real


def internal_inductance(diameter: float, depth: ArrayLike) -> FloatArray:
    """Share of the internal inductance of direct current, mu0/8pi per m, that a lone wire keeps.

    Parameters
    ----------
    diameter : float, m
    depth : (N,) float, m
        Skin depth.

    Returns
    -------
    (N,) float

    Notes
    -----
    (4/x^2) 2 Im[q I0(q)/(2 I1(q))], x = a sqrt(2)/delta. Source: as for `round_wire_ratio`.
    """
    q = wire_argument(diameter, depth)
    square = np.abs(q) ** 2
    small = square < 1e-6
    exact = 8 * bessel_ratio(q).imag / np.where(small, 1.0, square)
    return np.where(small, 1.0, exact)


def dowell(layers: int, height_over_depth: ArrayLike) -> FloatArray:
    """Alternating over direct-current resistance of a winding of foil layers.

    Parameters
    ----------
    layers : int
    height_over_depth : (N,) float
        Height of one layer over the skin depth.

    Returns
    -------
    (N,) float

    Notes
    -----
    F = D [(sinh 2D + sin 2D)/(cosh 2D - cos 2D)
    + (2/3)(m^2 - 1)(sinh D - sin D)/(cosh D + cos D)].
    Source: P. L. Dowell, Proc. IEE 113 (1966) 1387 (from memory). For windings whose field runs
    along the layers: long coils, transformer windows.
    """
    depth = np.asarray(height_over_depth, float)
    large = np.minimum(depth, 300.0)
    safe = np.where(depth < 1e-2, 1.0, large)
    skin = (np.sinh(2 * safe) + np.sin(2 * safe)) / (np.cosh(2 * safe) - np.cos(2 * safe))
    near = (np.sinh(safe) - np.sin(safe)) / (np.cosh(safe) + np.cos(safe))
    exact = depth * (skin + 2 / 3 * (layers * layers - 1) * near)
    return np.where(depth < 1e-2, 1 + (5 * layers * layers - 1) / 45 * depth**4, exact)


def foil_height(wire: float, pitch: float, depth: ArrayLike) -> FloatArray:
    """Height over skin depth of the foil that stands for a layer of round wire.

    Parameters
    ----------
    wire, pitch : float, m
    depth : (N,) float, m
        Skin depth.

    Notes
    -----
    D = (sqrt(pi)/2)(d/delta) sqrt(eta), eta = (sqrt(pi)/2) d/p: a square wire of the same area,
    stretched to fill the layer. Source: as for `dowell`.
    """
    side = math.sqrt(math.pi) / 2 * wire
    return side * math.sqrt(side / pitch) / np.asarray(depth, float)


def litz_factor(
    strands: int, strand: float, turns: float, breadth: float, depth: ArrayLike
) -> FloatArray:
    """Alternating over direct-current resistance of a litz winding in a window.

    Parameters
    ----------
    strands : int
    strand, breadth : float, m
        Bare diameter of one strand; breadth of the winding along the layers.
    turns : float
    depth : (N,) float, m
        Skin depth, well above the strand.

    Returns
    -------
    (N,) float

    Notes
    -----
    F = 1 + (pi omega mu0 N n)^2 d^6/(768 rho^2 b^2) = 1 + (pi N n)^2 d^6/(192 delta^4 b^2).
    Source: C. R. Sullivan, *Optimal choice for number of strands in a litz-wire transformer
    winding*, IEEE Trans. Power Electronics 14 (1999) 283 (from memory); tests hold it against
    Dowell's formula, from which it differs by the factor pi/3 of round and square wire.
    """
    fourth = np.asarray(depth, float) ** 4
    return 1 + (math.pi * turns * strands) ** 2 * strand**6 / (192 * fourth * breadth**2)
