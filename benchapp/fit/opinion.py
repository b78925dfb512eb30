"""Second opinions beside a fit: other methods, on the same points, and whether they agree.

No method here uses the fitted curve. What they take from the fit is the size of the noise and
which points were used.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from benchapp.capture import Capture, ComplexArray, FloatArray, Response, Sweep, Transient
from benchapp.errors import FitError
from benchapp.fit.circle import run_of_circle
from benchapp.fit.decrement import decrement
from benchapp.fit.half_power import Found, half_power, of_tank, phase_slope, slope_of_tank
from benchapp.fit.result import Fit, Opinion
from benchapp.units import Estimate

__all__ = ["Agreement", "agreement", "opinions"]

TWO_PI = 2 * math.pi

_COVERAGE = 4.0  # several opinions are asked at once
_FEWEST_WITHIN = 4  # points within the half-power width
_ROUNDING = 1e-12
_LEAST_Q = 1.5
_PASSES = 4
_SETTLED = 0.01  # of the standard uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """Two values of one quantity compared.

    ``difference`` is the first minus the second and ``u`` its standard uncertainty, both in the
    unit of the values; ``ratio`` is |difference| over the expanded uncertainty, so that they
    agree up to 1.
    """

    difference: float
    u: float
    ratio: float
    agrees: bool


def agreement(a: Estimate, b: Estimate, *, coverage: float = 2.0) -> Agreement:
    """Compare two independent values of one quantity, say from a ring-down and from a sweep.

    Parameters
    ----------
    a, b : Estimate
        In one unit, each with its standard uncertainty.
    coverage : float
        Factor by which the standard uncertainty of the difference is expanded.

    Returns
    -------
    Agreement

    Raises
    ------
    FitError
        When the units differ or no uncertainty is known.

    Notes
    -----
    u = sqrt(u_a^2 + u_b^2), ratio = |a - b| / (coverage u).

    Source: the E_n number of interlaboratory comparisons (ISO/IEC 17043, from memory).
    """
    if a.unit != b.unit:
        raise FitError(
            f"agreement of {a.name}: both values must be in one unit (got {a.unit} and {b.unit}).",
            hint="Compare the same quantity of both captures.",
        )
    u = math.hypot(a.u or 0.0, b.u or 0.0)
    if not u > 0:
        raise FitError(
            f"agreement of {a.name}: at least one uncertainty must be known (got none).",
            hint="Fit both captures; a value without uncertainty cannot be compared.",
        )
    difference = a.value - b.value
    ratio = abs(difference) / (coverage * u)
    return Agreement(difference=difference, u=u, ratio=ratio, agrees=ratio <= 1)


def opinions(capture: Capture, fit: Fit) -> tuple[Opinion, ...]:
    """Ask other methods for the resonance and the quality factor.

    Parameters
    ----------
    capture : Sweep, Response or Transient
    fit : Fit
        Of this capture.

    Returns
    -------
    tuple of Opinion
        f0 and Q (QL of a response) by half-power width, by the slope of the phase, by the circle
        in the complex plane, or by zero crossings and extrema of a decay; those that can be
        had. ``agrees`` compares with the fit at four times the combined standard uncertainty.
    """
    if isinstance(capture, Sweep):
        found = _of_sweep(capture, fit)
    elif isinstance(capture, Response):
        found = _of_response(capture, fit)
    else:
        found = _of_transient(capture, fit)
    width = "QL" if isinstance(capture, Response) else "Q"
    return tuple(
        opinion
        for method, value in found
        if value is not None
        for opinion in _pair(method, value, width, fit)
    )


def _pair(method: str, found: Found, width: str, fit: Fit) -> Iterator[Opinion]:
    """Give an opinion on each quantity that the fit has an answer for."""
    for name, value, u, unit in (
        ("f0", found.f0, found.u_f0, "Hz"),
        (width, found.Q, found.u_q, "1"),
    ):
        mine = fit.estimates.get(name)
        if mine is None or not (math.isfinite(value) and 0 < u < math.inf):
            continue
        estimate = Estimate(name=name, value=value, u=u, unit=unit)
        agrees = agreement(estimate, mine, coverage=_COVERAGE).agrees
        yield Opinion(method=method, estimate=estimate, agrees=agrees)


Methods = Iterator[tuple[str, Found | None]]


def _same(found: Found) -> Found | None:
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Way:
    """How a circuit is looked at: as admittance (dip of |Z|) or as impedance (peak)."""

    admittance: bool
    half_power: Callable[[Found], Found | None] = _same
    slope: Callable[[Found], Found | None] = _same
    coil: bool = False


_WAYS = {
    "series-rlc": _Way(admittance=True),
    "capacitor": _Way(admittance=True),
    "parallel-rlc": _Way(admittance=False),
    "tank": _Way(admittance=False, half_power=of_tank, slope=slope_of_tank, coil=True),
}


def _of_sweep(sweep: Sweep, fit: Fit) -> Methods:
    way = _WAYS.get(fit.circuit)
    if way is None or not fit.noise:
        return
    f, z, u = sweep.frequency[fit.used], sweep.impedance[fit.used], _spread(sweep, fit)
    expected = dict(_readings(way, f, fit.fitted[fit.used], u))
    for method, found in _readings(way, f, z, u):
        yield method, _with_method_error(f, found, expected[method], fit)


def _spread(sweep: Sweep, fit: Fit) -> FloatArray:
    """Relative standard uncertainty (N,) of one component of each point used.

    A residual is the deviation over it, whatever the kind of the noise.
    """
    deviation = np.abs(sweep.impedance[fit.used] / fit.fitted[fit.used] - 1.0)
    residual = np.abs(fit.residual[fit.used])
    told = (deviation > _ROUNDING) & (residual > 0)
    u = np.full(deviation.size, (fit.noise or 0.0) / math.sqrt(2))
    u[told] = deviation[told] / residual[told]
    return u


def _readings(way: _Way, f: FloatArray, z: ComplexArray, u: FloatArray) -> Methods:
    large = np.abs(z) ** (2.0 if way.admittance else -2.0)
    wide = half_power(f, large, 2 * u)
    yield "half-power width", None if wide is None else way.half_power(wide)
    with np.errstate(divide="ignore"):
        steep = phase_slope(f, z.imag / z.real, u)
    yield "slope of the phase", None if steep is None else way.slope(steep)
    points = 1 / z if way.admittance else z
    yield (
        "circle of admittance" if way.admittance else "circle of impedance",
        (_coil_circle(f, points, u) if way.coil else run_of_circle(f, points, u * np.abs(points))),
    )


def _with_method_error(
    f: FloatArray, found: Found | None, expected: Found | None, fit: Fit
) -> Found | None:
    """Add to the uncertainty by how much the method misreads the fitted curve on this grid.

    Where points are few within the width of the resonance a method has nothing to say.
    """
    if found is None or expected is None:
        return None
    x = f / expected.f0
    if np.count_nonzero(np.abs(x - 1 / x) * expected.Q < 1) < _FEWEST_WITHIN:
        return None
    own = {name: fit.estimates[name].value for name in ("f0", "Q") if name in fit.estimates}
    return replace(
        found,
        u_f0=math.hypot(found.u_f0, expected.f0 - own.get("f0", expected.f0)),
        u_q=math.hypot(found.u_q, expected.Q - own.get("Q", expected.Q)),
    )


def _coil_circle(f: FloatArray, z: ComplexArray, u: FloatArray) -> Found | None:
    """Run through the circle that a coil with R across C would show without R in its branch.

    Z (1 - j f0/(Q f))^-1 is the impedance of L, C and Q^2 R all across each other.
    """
    found = run_of_circle(f, z, u * np.abs(z))
    for _ in range(_PASSES):
        if found is None or found.Q < _LEAST_Q:
            return None
        before, bare = found, z / (1 - 1j * found.f0 / (found.Q * f))
        found = run_of_circle(f, bare, u * np.abs(bare))
        if found is not None and _is_settled(before, found):
            break
    return found


def _is_settled(before: Found, now: Found) -> bool:
    """Tell whether another pass would change nothing beside the uncertainty."""
    return (
        abs(now.f0 - before.f0) <= _SETTLED * now.u_f0
        and abs(now.Q - before.Q) <= _SETTLED * now.u_q
    )


def _of_response(response: Response, fit: Fit) -> Methods:
    if not fit.noise or not fit.estimates:
        return
    f, seen = response.frequency[fit.used], response.ratio[fit.used]
    u = np.full(f.size, fit.noise * float(np.abs(fit.fitted[fit.used]).max()) / math.sqrt(2))
    size = np.abs(seen)
    top = int(np.argmax(size))
    ends = max(size[0], size[-1])
    if response.kind != "reflection" and 0 < top < f.size - 1 and size[top] > 2 * ends:
        yield (
            "half-power width",
            _with_background(f, size, half_power(f, size**-2.0, 2 * u / size)),
        )
    if response.has_phase:
        yield "circle of the ratio", run_of_circle(f, seen, u)


def _with_background(f: FloatArray, size: FloatArray, found: Found | None) -> Found | None:
    """Add to the uncertainty what a background could do that is as large as the ends show.

    The half-power width takes the sweep for the resonance alone. By how much its ends are above
    or below the tails of that resonance, relative to the peak, is a relative error of Q, and of
    half a width in f0.
    """
    if found is None:
        return None
    few = max(f.size // 20, 1)
    x = f / found.f0
    tail = size.max() / np.hypot(1.0, found.Q * (x - 1 / x))
    off = (size - tail) / size.max()
    share = max(abs(float(off[:few].mean())), abs(float(off[-few:].mean())))
    return Found(
        f0=found.f0,
        u_f0=math.hypot(found.u_f0, share * found.f0 / (2 * found.Q)),
        Q=found.Q,
        u_q=math.hypot(found.u_q, share * found.Q),
    )


def _of_transient(transient: Transient, fit: Fit) -> Methods:
    if not {"f0", "Q"} <= set(fit.estimates):
        return
    period = 1 / fit.estimates["f0"].value
    time, voltage = transient.time[fit.used], transient.voltage[fit.used]
    pauses = np.flatnonzero(np.diff(time) > period)
    if pauses.size:  # the first burst
        time, voltage = time[: int(pauses[0]) + 1], voltage[: int(pauses[0]) + 1]
    whole = (time[-1] - time) < max(int((time[-1] - time[0]) / period / 4), 1) * period
    offset = float(voltage[whole].mean())
    rest = transient.voltage[fit.used] - fit.fitted.real[fit.used]
    noise = max(float(rest.std()), 1e-9 * float(np.abs(voltage).max()))
    yield "log decrement", decrement(time, voltage - offset, noise, period)
