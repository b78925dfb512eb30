"""The circle of a resonance in the complex plane, and how fast it is run through."""

from __future__ import annotations

import math

import numpy as np

from benchapp.capture import ComplexArray, FloatArray
from benchapp.fit.half_power import Found
from benchapp.fit.least_squares import minimise

__all__ = ["circle_through", "run_of_circle"]

_FEWEST = 6
_NEAR = 3.0  # half widths around the resonance that are used
_ROUNDS = 4
_STRAIGHT = 1e-12  # curvature below which points lie on a line, as far as doubles tell


def circle_through(points: ComplexArray) -> tuple[complex, float]:
    """Give centre and radius of the circle that suits points best.

    Parameters
    ----------
    points : (N,) complex

    Returns
    -------
    centre, radius : complex, float
        The mean of the points and an infinite radius where they lie on a straight line or in one
        place.

    Notes
    -----
    The least sum of (|z - c|^2 - r^2)^2 over the mean of its gradient squared, which has no bias
    towards small circles on short arcs.

    Source: G. Taubin, IEEE Transactions on Pattern Analysis and Machine Intelligence 13 (1991)
    1115-1138.
    """
    middle = complex(points.mean())
    x, y = (points - middle).real, (points - middle).imag
    square = x * x + y * y
    mean = float(square.mean())
    if not mean:
        return middle, math.inf
    columns = np.stack([(square - mean) / (2 * math.sqrt(mean)), x, y], axis=1)
    a, b, c = np.linalg.svd(columns, full_matrices=False)[2][2]
    if abs(a) <= _STRAIGHT * math.hypot(b, c):
        return middle, math.inf
    a = a / (2 * math.sqrt(mean))
    shift = complex(-b, -c) / (2 * a)
    return middle + shift, math.sqrt(max(abs(shift) ** 2 + mean, 0.0))


def run_of_circle(frequency: FloatArray, points: ComplexArray, u: FloatArray) -> Found | None:
    """Give resonance and quality factor from the angle along the circle over frequency.

    Parameters
    ----------
    frequency : (N,) float, Hz
    points : (N,) complex
        A quantity that runs through a circle: a + d / (1 + j Q (f/f0 - f0/f)).
    u : (N,) float
        Standard uncertainty of one component of each point.

    Returns
    -------
    Found or None
        None where fewer than half of a circle is seen.

    Notes
    -----
    Seen from the centre the angle is arg d - 2 arctan(Q t), t = f/f0 - f0/f: three numbers are
    fitted to it, the size of the circle has no say.

    Source: D. Kajfez, E. J. Hwan, IEEE Transactions on Microwave Theory and Techniques 32 (1984)
    666-670 (from memory); common practice.
    """
    part = slice(0, frequency.size)
    found: Found | None = None
    for _ in range(_ROUNDS):
        if part.stop - part.start < _FEWEST:
            return found
        found = _along(frequency[part], points[part], u[part])
        if found is None:
            return None
        x = frequency / found.f0
        inside = np.flatnonzero(np.abs(x - 1 / x) * found.Q <= _NEAR)
        if inside.size < _FEWEST:
            break
        again = slice(int(inside[0]), int(inside[-1]) + 1)
        if again == part:
            break
        part = again
    return found


def _along(frequency: FloatArray, points: ComplexArray, u: FloatArray) -> Found | None:
    centre, radius = circle_through(points)
    if math.isinf(radius):
        return None
    angle = np.unwrap(np.angle(points - centre))
    turned = float(angle[-1] - angle[0])
    if abs(turned) < math.pi / 2 or not radius > 0:
        return None
    slopes = np.abs(np.gradient(_smooth(angle), np.log(frequency)))
    top = int(np.argmax(slopes))
    place, weight = float(frequency[top]), radius / u
    sense = -math.copysign(1.0, turned)

    def seen(p: FloatArray) -> tuple[FloatArray, FloatArray]:
        x = frequency / place * math.exp(-p[1])
        return x - 1 / x, x + 1 / x

    def rest(p: FloatArray) -> FloatArray:
        t, _ = seen(p)
        expected = p[0] - 2 * sense * np.arctan(math.exp(p[2]) * t)
        return np.asarray((expected - angle) * weight)

    def steep(p: FloatArray) -> FloatArray:
        t, s = seen(p)
        Q = math.exp(p[2])
        bell = -2 * sense * Q / (1 + (Q * t) ** 2)
        slopes = np.stack([np.ones_like(t), -bell * s, bell * t], axis=1)
        return np.asarray(slopes * weight[:, None])

    start = [float(angle[top]), 0.0, math.log(max(float(slopes[top]) / 4, 0.3))]
    got = minimise(rest, steep, start, clip=[1.0, 0.3, 1.0])
    sway = np.stack([np.sin(angle), -np.cos(angle)], axis=1) / radius * weight[:, None]
    pull = np.linalg.pinv(steep(got.parameters)) @ sway
    covariance = got.covariance * max(got.variance or 1.0, 1.0)
    covariance = covariance + pull @ _centre_covariance(angle, u) @ pull.T
    spread = np.sqrt(np.diag(covariance))
    if not got.converged or not np.isfinite(spread).all():
        return None
    f0, Q = place * math.exp(got.parameters[1]), math.exp(got.parameters[2])
    return Found(f0=f0, u_f0=f0 * float(spread[1]), Q=Q, u_q=Q * float(spread[2]))


def _centre_covariance(angle: FloatArray, u: FloatArray) -> FloatArray:
    """Give the covariance (2, 2) of the centre of a circle through points of uncertainty ``u``."""
    inverse = np.linalg.pinv(np.stack([np.cos(angle), np.sin(angle), np.ones_like(angle)], axis=1))
    whole = (inverse * u**2) @ inverse.T
    return np.asarray(whole[:2, :2])


def _smooth(angle: FloatArray) -> FloatArray:
    """Average over a few neighbours, so that noise does not decide where the slope is largest."""
    width = max(angle.size // 40, 1)
    padded = np.pad(angle, width, mode="edge")
    window = np.ones(2 * width + 1) / (2 * width + 1)
    return np.asarray(np.convolve(padded, window, mode="valid"), dtype=np.float64)
