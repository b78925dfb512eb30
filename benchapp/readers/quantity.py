"""Pairs of quantities to complex impedance, exactly.

Series circuit Z = R + jX; parallel circuit Y = G + jB = 1/Z. For Q and D the loss follows from
Q = |X|/R = |B|/G and D = 1/Q.

Source: common practice; definitions as in IEC 60050-131 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["RECIPES", "Recipe", "find_recipes", "polar"]

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """Two quantities that fix an impedance.

    ``impedance`` takes omega (N,) rad/s and the two columns (N,) in SI units and gives (N,) ohm.
    """

    roles: tuple[str, str]
    impedance: Callable[[Real, Real, Real], Complex]
    circuit: Literal["series", "parallel"] | None = None


def polar(size: Real, angle: Real) -> Complex:
    """Give size (cos angle + j sin angle).

    Parameters
    ----------
    size, angle : (N,) float
        The angle in radian.
    """
    with np.errstate(invalid="ignore", over="ignore"):
        entries = size * np.cos(angle) + 1j * (size * np.sin(angle))
    return np.asarray(entries, dtype=np.complex128)


def _loss(reactive: Real, q: Real) -> Real:
    """Give |x|/Q; a negative Q belongs to a negative x, as some instruments write it."""
    loss: Real = np.where(q > 0, np.abs(reactive), reactive) / q
    return loss


def _series(x: Callable[[Real, Real], Real], kind: str) -> Callable[[Real, Real, Real], Complex]:
    def impedance(omega: Real, main: Real, loss: Real) -> Complex:
        reactance = x(omega, main)
        return np.asarray(_with_loss(reactance, loss, kind) + 1j * reactance, dtype=np.complex128)

    return impedance


def _parallel(b: Callable[[Real, Real], Real], kind: str) -> Callable[[Real, Real, Real], Complex]:
    def impedance(omega: Real, main: Real, loss: Real) -> Complex:
        susceptance = b(omega, main)
        admittance = _with_loss(susceptance, loss, kind) + 1j * susceptance
        return np.asarray(1 / admittance, dtype=np.complex128)

    return impedance


def _with_loss(reactive: Real, loss: Real, kind: str) -> Real:
    if kind == "Q":
        return _loss(reactive, loss)
    if kind == "D":
        return np.abs(reactive) * loss
    return 1 / loss if kind == "inverse" else loss


def _of_coil(omega: Real, inductance: Real) -> Real:
    return omega * inductance


def _of_capacitor(omega: Real, capacitance: Real) -> Real:
    return -1 / (omega * capacitance)


def _coil_admittance(omega: Real, inductance: Real) -> Real:
    return -1 / (omega * inductance)


def _capacitor_admittance(omega: Real, capacitance: Real) -> Real:
    return omega * capacitance


def _rows() -> list[Recipe]:
    plain: list[tuple[tuple[str, str], Callable[[Real, Real, Real], Complex]]] = [
        (("R", "X"), lambda _, r, x: np.asarray(r + 1j * x, dtype=np.complex128)),
        (("|Z|", "theta"), lambda _, z, angle: polar(z, angle)),
        (("G", "B"), lambda _, g, b: np.asarray(1 / (g + 1j * b), dtype=np.complex128)),
        (("|Y|", "theta"), lambda _, y, angle: 1 / polar(y, angle)),
    ]
    series = [("Ls", _of_coil), ("Cs", _of_capacitor)]
    parallel = [("Lp", _coil_admittance), ("Cp", _capacitor_admittance)]
    rows = [Recipe(roles=roles, impedance=formula) for roles, formula in plain]
    for loss, kind in (("Rs", ""), ("Q", "Q"), ("D", "D"), ("DCR", "")):
        rows += [
            Recipe(roles=(main, loss), impedance=_series(x, kind), circuit="series")
            for main, x in (*series, ("X", lambda _, x: x))
        ]
    for loss, kind in (("Rp", "inverse"), ("G", ""), ("Q", "Q"), ("D", "D")):
        rows += [
            Recipe(roles=(main, loss), impedance=_parallel(b, kind), circuit="parallel")
            for main, b in (*parallel, ("B", lambda _, b: b))
        ]
    order = {"DCR": 3, "D": 2, "Q": 1}
    return sorted(rows, key=lambda recipe: order.get(recipe.roles[1], 0))


RECIPES: tuple[Recipe, ...] = tuple(_rows())
"""Best first: two columns of their own before a ratio, and the DC resistance last."""


def find_recipes(columns: Mapping[str, object]) -> list[Recipe]:
    """Give the recipes whose quantities are all there, best first."""
    return [recipe for recipe in RECIPES if all(role in columns for role in recipe.roles)]
