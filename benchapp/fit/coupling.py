"""From the loaded to the unloaded quality factor: how much of the loss is the measurement's."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchapp.capture import FloatArray, ResponseKind
from benchapp.fit.honesty import LIMIT
from benchapp.fit.resonance import Shape
from benchapp.fit.result import Remark
from benchapp.units import Estimate

__all__ = ["Loading", "unload"]

_TURNED = 3.0  # standard uncertainties by which a notch's circle may point aside, unmentioned


@dataclass(frozen=True, slots=True, kw_only=True)
class Loading:
    """The unloaded quality factor and the coupling, each None where the data do not tell.

    ``coupling`` is the loss in everything outside over the loss in the resonator: Q/QL - 1.
    """

    Q: Estimate | None
    coupling: Estimate | None
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Share:
    """Share r of the loaded loss that is outside: 1/Q = (1 - r)/QL, and its gradient (P,)."""

    value: float
    gradient: FloatArray


def unload(
    kind: ResponseKind,
    shape: Shape,
    p: FloatArray,
    covariance: FloatArray,
    *,
    dip: bool,
    through: Estimate | None,
) -> Loading:
    """Take the load of the measurement off the quality factor.

    Parameters
    ----------
    kind : {'reflection', 'transmission', 'gain'}
    shape : Shape
        With its parameters ``p`` (P,) and their ``covariance`` (P, P).
    dip : bool
        Whether the level at the resonance is below that beside it (a notch).
    through : Estimate, optional
        Level that the same set-up shows without the resonator in between.

    Returns
    -------
    Loading

    Notes
    -----
    1/Q = (1 - r)/QL. Reflection: r = D/2, transmission peak: r = D, notch: r = D, with D the
    diameter of the circle over the level without the resonance: |d|/|a| for a reflection or a
    notch, |d|/through for a peak. It holds for equal couplings, matched ports, and loss in the
    lines counted outside. The uncertainty follows by the delta method.

    Source: A. P. Gregory, "Q-factor measurement by using a vector network analyser", NPL Report
    MAT 58 (2021), definitions from memory, checked against its published results.
    """
    if kind != "reflection" and not dip and through is None:
        if kind == "gain":
            return _unknown(
                "Only the loaded Q follows from this gain: its level without the resonator is "
                "not known. Give it as the known element 'through'."
            )
        through = Estimate(name="through", value=1.0, u=None, unit="1")
    if kind == "reflection" and shape.magnitude:
        return _two_answers(p)
    share = _share(kind, shape, p, dip=dip, through=through)
    remarks = _assumptions(kind, shape, p, covariance, dip=dip, through=through)
    u_through = 0.0
    if through is not None and kind != "reflection" and not dip:
        u_through = (through.u or 0.0) / through.value
    return _loading(share, p, covariance, u_through, remarks)


def _loading(
    share: _Share,
    p: FloatArray,
    covariance: FloatArray,
    u_through: float,
    remarks: tuple[Remark, ...],
) -> Loading:
    left = 1 - share.value
    if not left > 0:
        return _unknown(
            f"The circle is too large for a passive resonator ({share.value:.3g} of the level "
            "allowed). Calibrate, or give the level of a through connection."
        )
    gradient = share.gradient / left
    gradient[1] += 1.0
    extra = (share.value / left * u_through) ** 2
    relative = math.sqrt(max(float(gradient @ covariance @ gradient), 0.0) + extra)
    if not relative <= LIMIT:
        return _unknown("The unloaded Q is not determined: the coupling hides it in the noise.")
    Q = math.exp(p[1]) / left
    factor = share.value / left
    spread = share.gradient @ covariance @ share.gradient / left**4
    u_factor = math.sqrt(max(float(spread), 0.0) + (factor / left * u_through) ** 2)
    return Loading(
        Q=Estimate(name="Q", value=Q, u=Q * relative, unit="1"),
        coupling=Estimate(name="coupling", value=factor, u=u_factor, unit="1"),
        remarks=remarks,
    )


def _unknown(text: str) -> Loading:
    return Loading(Q=None, coupling=None, remarks=(Remark(name="unloaded Q", text=text),))


def _levels(shape: Shape, p: FloatArray) -> tuple[complex, complex, FloatArray, FloatArray]:
    """Background a and circle d of a complex shape, and the gradients of ln|a| and ln|d|."""
    place = shape.nonlinear
    a, d = complex(p[place], p[place + 1]), complex(p[place + 2], p[place + 3])
    by_a, by_d = np.zeros(p.size), np.zeros(p.size)
    if shape.tilt:
        d += complex(p[place + 4], p[place + 5])
    by_a[place : place + 2] = [a.real, a.imag]
    by_d[place + 2 : place + 4] = [d.real, d.imag]
    if shape.tilt:
        by_d[place + 4 : place + 6] = [d.real, d.imag]
    return a, d, by_a / max(abs(a) ** 2, 1e-300), by_d / max(abs(d) ** 2, 1e-300)


def _share(
    kind: ResponseKind, shape: Shape, p: FloatArray, *, dip: bool, through: Estimate | None
) -> _Share:
    if shape.magnitude:
        return _share_of_magnitude(p, dip=dip, through=through)
    a, d, by_a, by_d = _levels(shape, p)
    if kind == "reflection" or dip:
        value = abs(d) / abs(a) / (2 if kind == "reflection" else 1)
        return _Share(value=value, gradient=value * (by_d - by_a))
    value = abs(d) / (through.value if through else 1.0)
    return _Share(value=value, gradient=value * by_d)


def _share_of_magnitude(p: FloatArray, *, dip: bool, through: Estimate | None) -> _Share:
    gradient = np.zeros(p.size)
    if not dip:
        value = math.sqrt(max(p[3], 0.0)) / (through.value if through else 1.0)
        gradient[3] = value / (2 * p[3])
        return _Share(value=value, gradient=gradient)
    depth = math.sqrt(max((p[2] + p[3]) / p[2], 0.0))
    gradient[2] = p[3] / p[2] ** 2 / (2 * max(depth, 1e-12))
    gradient[3] = -1 / p[2] / (2 * max(depth, 1e-12))
    return _Share(value=1 - depth, gradient=gradient)


def _two_answers(p: FloatArray) -> Loading:
    depth = math.sqrt(max((p[2] + p[3]) / p[2], 0.0)) if p[2] > 0 else 1.0
    QL = math.exp(p[1])
    low, high = 2 * QL / (1 + depth), 2 * QL / max(1 - depth, 1e-12)
    return _unknown(
        f"Without the phase of the reflection the unloaded Q has two answers: {low:.4g} if the "
        f"coupling is weak, {high:.4g} if it is strong. Record the phase."
    )


def _assumptions(
    kind: ResponseKind,
    shape: Shape,
    p: FloatArray,
    covariance: FloatArray,
    *,
    dip: bool,
    through: Estimate | None,
) -> tuple[Remark, ...]:
    if kind == "reflection":
        return ()
    if not dip:
        level = through.value if through else 1.0
        text = (
            f"Q takes the level of a through connection as {level:g} and both couplings as equal."
        )
        return (Remark(name="through level", text=text),)
    return () if shape.magnitude else _turned(shape, p, covariance)


def _turned(shape: Shape, p: FloatArray, covariance: FloatArray) -> tuple[Remark, ...]:
    """Say when the circle of a notch does not point at the origin."""
    a, d, _, _ = _levels(shape, p)
    place = shape.nonlinear
    angle = np.zeros(p.size)
    angle[place : place + 2] = np.array([a.imag, -a.real]) / abs(a) ** 2
    angle[place + 2 : place + 4] = np.array([-d.imag, d.real]) / abs(d) ** 2
    aside = math.remainder(np.angle(d / a) - math.pi, 2 * math.pi)
    u = math.sqrt(max(float(angle @ covariance @ angle), 0.0))
    if abs(aside) <= _TURNED * u:
        return ()
    other = math.exp(p[1]) / max(1 + (d / a).real, 1e-12)
    text = (
        f"The circle of the notch is turned by {math.degrees(aside):.1f} degrees: the feed is "
        f"not matched. Counted along the background, the unloaded Q would be {other:.4g}."
    )
    return (Remark(name="mismatch", text=text),)
