"""What can be plotted of a capture: pairs of quantities over frequency (or time)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QT_TR_NOOP

from benchapp.capture import Capture, Response, Sweep, Transient

__all__ = [
    "VIEWS",
    "Plane",
    "Trace",
    "View",
    "abscissa",
    "ordinate",
    "points_outside",
    "reflection_of",
    "spans_decades",
    "views_for",
]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One plotted quantity: name, unit, and how it follows from abscissa and complex ordinate.

    ``envelope`` names the pair of columns of the nominal envelope that bounds it, if any.
    """

    name: str
    meaning: str
    unit: str
    of: Callable[[FloatArray, ComplexArray], FloatArray]
    logarithmic: bool = False
    envelope: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """A complex plane: names and unit of its axes, and where points of a capture lie in it.

    ``is_unit`` says whether a capture lies within the circle of radius 1, if it is passive.
    """

    across: str
    upward: str
    unit: str
    of: Callable[[Capture, ComplexArray], ComplexArray]
    is_unit: Callable[[Capture], bool] = lambda _capture: False


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """What the two plots show; the lower one is None where one says it all.

    ``plane`` is what stands beside them, if anything; ``suits`` says of which captures of its
    kind there is anything to show.
    """

    key: str
    title: str
    upper: Trace
    lower: Trace | None
    kind: type
    plane: Plane | None = None
    suits: Callable[[Capture], bool] = lambda _capture: True


def _angular(frequency: FloatArray) -> FloatArray:
    return 2.0 * np.pi * frequency


def _degrees(_x: FloatArray, z: ComplexArray) -> FloatArray:
    return np.degrees(np.angle(z))


def _series_inductance(f: FloatArray, z: ComplexArray) -> FloatArray:
    return z.imag / _angular(f)


def _parallel_capacitance(f: FloatArray, z: ComplexArray) -> FloatArray:
    return (1.0 / z).imag / _angular(f)


def _quality(_f: FloatArray, z: ComplexArray) -> FloatArray:
    return _ratio(np.abs(z.imag), z.real)


def _dissipation(_f: FloatArray, z: ComplexArray) -> FloatArray:
    return _ratio(z.real, np.abs(z.imag))


def _ratio(top: FloatArray, bottom: FloatArray) -> FloatArray:
    """Divide; where the divisor is not positive there is no value."""
    return np.divide(top, bottom, out=np.full(top.shape, np.nan), where=bottom > 0)


def reflection_of(capture: Capture, z: ComplexArray) -> ComplexArray:
    """Give the reflection that an impedance makes at the port it was measured at.

    Gamma = (Z - R) / (Z + R), with the port impedance R of the capture.

    Parameters
    ----------
    z : (N,) complex, ohm

    Source: common practice (definition of the reflection coefficient).
    """
    port = capture.noise.reference
    return np.divide(z - port, z + port, out=np.full(z.shape, np.nan + 0j), where=z != -port)


def _is_from_reflection(capture: Capture) -> bool:
    return isinstance(capture, Sweep) and capture.noise.kind == "reflection"


def _is_reflection(capture: Capture) -> bool:
    return isinstance(capture, Response) and capture.kind == "reflection"


def _has_phase(capture: Capture) -> bool:
    return isinstance(capture, Response) and capture.has_phase


_MAGNITUDE = Trace(
    name="|Z|",
    meaning="|Z|",
    unit="ohm",
    of=lambda _f, z: np.abs(z),
    logarithmic=True,
    envelope=("magnitude_low", "magnitude_high"),
)
_PHASE = Trace(
    name="θ",
    meaning="theta",
    unit="deg",
    of=_degrees,
    envelope=("theta_low_degrees", "theta_high_degrees"),
)
_RATIO = Trace(
    name="|ratio|", meaning="ratio", unit="1", of=lambda _f, z: np.abs(z), logarithmic=True
)
_RATIO_PHASE = Trace(name="phase", meaning="phase", unit="deg", of=_degrees)
_RESISTANCE = Trace(name="R", meaning="ESR", unit="ohm", of=lambda _f, z: z.real, logarithmic=True)
_REACTANCE = Trace(name="X", meaning="X", unit="ohm", of=lambda _f, z: z.imag)
_VIEWS = (
    View(
        key="magnitude-phase",
        title=QT_TR_NOOP("|Z| and θ"),
        upper=_MAGNITUDE,
        lower=_PHASE,
        kind=Sweep,
    ),
    View(
        key="resistance-reactance",
        title=QT_TR_NOOP("R and X"),
        upper=_RESISTANCE,
        lower=_REACTANCE,
        kind=Sweep,
    ),
    View(
        key="inductance-quality",
        title=QT_TR_NOOP("Ls and Q"),
        upper=Trace(name="Ls", meaning="Ls", unit="H", of=_series_inductance),
        lower=Trace(name="Q", meaning="Q", unit="1", of=_quality, logarithmic=True),
        kind=Sweep,
    ),
    View(
        key="capacitance-dissipation",
        title=QT_TR_NOOP("Cp and D"),
        upper=Trace(name="Cp", meaning="C_p", unit="F", of=_parallel_capacitance),
        lower=Trace(name="D", meaning="D", unit="1", of=_dissipation, logarithmic=True),
        kind=Sweep,
    ),
    View(
        key="impedance-plane",
        title=QT_TR_NOOP("plane of Z"),
        upper=_RESISTANCE,
        lower=_REACTANCE,
        kind=Sweep,
        plane=Plane(across="Re Z = R", upward="Im Z = X", unit="ohm", of=lambda _c, z: z),
    ),
    View(
        key="reflection-plane",
        title=QT_TR_NOOP("plane of Γ"),
        upper=_MAGNITUDE,
        lower=_PHASE,
        kind=Sweep,
        plane=Plane(
            across="Re Γ", upward="Im Γ", unit="1", of=reflection_of, is_unit=_is_from_reflection
        ),
        suits=_is_from_reflection,
    ),
    View(
        key="ratio",
        title=QT_TR_NOOP("magnitude and phase"),
        upper=_RATIO,
        lower=_RATIO_PHASE,
        kind=Response,
    ),
    View(
        key="ratio-plane",
        title=QT_TR_NOOP("plane of the ratio"),
        upper=_RATIO,
        lower=_RATIO_PHASE,
        kind=Response,
        plane=Plane(
            across="Re", upward="Im", unit="1", of=lambda _c, ratio: ratio, is_unit=_is_reflection
        ),
        suits=_has_phase,
    ),
    View(
        key="voltage",
        title=QT_TR_NOOP("voltage"),
        upper=Trace(name="voltage", meaning="voltage", unit="V", of=lambda _t, v: v.real),
        lower=None,
        kind=Transient,
    ),
)
VIEWS: Mapping[str, View] = {view.key: view for view in _VIEWS}


def views_for(capture: Capture) -> tuple[View, ...]:
    """Give the views that make sense for a capture, the usual one first."""
    return tuple(view for view in _VIEWS if isinstance(capture, view.kind) and view.suits(capture))


def abscissa(capture: Capture) -> FloatArray:
    """Give frequency, or time where the capture is one over time."""
    return capture.time if isinstance(capture, Transient) else capture.frequency


def points_outside(capture: Capture, band: tuple[float, float] | None) -> set[int]:
    """Give the points (0-based) that lie outside a band in Hz; none over time."""
    if band is None or isinstance(capture, Transient):
        return set()
    f = capture.frequency
    return {int(point) for point in np.flatnonzero((f < band[0]) | (f > band[1]))}


def spans_decades(capture: Capture) -> bool:
    """Tell whether a logarithmic frequency axis shows a capture best: over a decade or more."""
    return not isinstance(capture, Transient) and bool(
        capture.frequency[-1] >= 10 * capture.frequency[0]
    )


def ordinate(capture: Capture) -> ComplexArray:
    """Give what was measured as complex numbers."""
    if isinstance(capture, Sweep):
        return capture.impedance
    return capture.ratio if isinstance(capture, Response) else capture.voltage.astype(complex)
