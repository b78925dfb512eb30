"""A fitted circuit as a subcircuit for circuit simulators, in plain Berkeley syntax."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from benchapp.circuit import CIRCUITS
from benchapp.errors import UsageError
from benchapp.fit import Fit

__all__ = ["Ladder", "ladder", "subcircuit"]

FloatArray = NDArray[np.float64]

_TWO_PI = 2 * math.pi
_CLOSE = 1e-9
_MOST_RUNGS = 24
_SPANS = (2.0, 5.0, 10.0, 20.0)
_POINTS = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """A resistance that grows with the square root of frequency, as rungs of plain elements.

    sqrt(f) is nearly ``constant`` + sum of r f^2/(f^2 + p^2) over (r, p) in ``rungs``, p in Hz, r
    and ``constant`` in sqrt(Hz); ``error`` is the greatest relative deviation over the band.
    """

    constant: float
    rungs: tuple[tuple[float, float], ...]
    error: float


def ladder(low: float, high: float) -> Ladder:
    """Find the rungs for a band.

    Parameters
    ----------
    low, high : float, Hz

    Notes
    -----
    f^(1/2) as a function of f^2 is a sum of such terms with corners in all decades (Stieltjes);
    on a band a few suffice, found by linear least squares. Source: network synthesis, common
    practice; worked out for this module.
    """
    centre = math.sqrt(low * high)
    found = Ladder(constant=0.0, rungs=(), error=math.inf)
    for count in range(4, _MOST_RUNGS + 1, 2):
        tried = (_rungs(low / centre, high / centre, count, span) for span in _SPANS)
        found = min((found, *tried), key=lambda each: each.error)
        if found.error < _CLOSE:
            break
    scale = math.sqrt(centre)
    return Ladder(
        constant=scale * found.constant,
        rungs=tuple((scale * r, centre * p) for r, p in found.rungs),
        error=found.error,
    )


def _rungs(low: float, high: float, count: int, span: float) -> Ladder:
    f = np.geomspace(low, high * (1 + 1e-12), _POINTS)
    corners = np.geomspace(low / span, high * span, count)
    square = f[:, None] ** 2
    columns = np.hstack([np.ones((_POINTS, 1)), square / (square + corners**2)])
    relative = columns / np.sqrt(f)[:, None]
    size = np.linalg.norm(relative, axis=0)
    weights = np.linalg.lstsq(relative / size, np.ones(_POINTS), rcond=1e-15)[0] / size
    error = float(np.max(np.abs(relative @ weights - 1)))
    rungs = tuple(zip(weights[1:].tolist(), corners.tolist(), strict=True))
    return Ladder(constant=float(weights[0]), rungs=rungs, error=error)


_Values = Mapping[str, float]
_Band = tuple[float, float]
_Cards = Iterator[str]


def _card(name: str, first: str, second: str, value: float) -> str:
    return f"{name} {first} {second} {value!r}"


def _series(order: str) -> Callable[[_Values, _Band], _Cards]:
    def cards(values: _Values, band: _Band) -> _Cards:
        del band
        nodes = ["a", *(f"n{place}" for place in range(1, len(order))), "b"]
        for element, first, second in zip(order, nodes[:-1], nodes[1:], strict=True):
            yield _card(f"{element}1", first, second, values[element])

    return cards


def _parallel(values: _Values, band: _Band) -> _Cards:
    del band
    for element in "RLC":
        yield _card(f"{element}1", "a", "b", values[element])


def _tank(values: _Values, band: _Band) -> _Cards:
    del band
    yield _card("L1", "a", "n1", values["L"])
    yield _card("R1", "n1", "b", values["R"])
    yield _card("C1", "a", "b", values["C"])


def _coil(values: _Values, band: _Band) -> _Cards:
    """Put the ladder in the line of the coil.

    A rung is R across L and, in series, R across -L: what each adds as reactance the other
    takes away, so that a pure resistance is left.
    """
    steep = values["Rac"]
    found = ladder(*band) if steep else Ladder(constant=0.0, rungs=(), error=0.0)
    if steep:
        yield f"* the ladder follows sqrt(f) within {found.error:.1e} of its value over the band;"
        yield "* its negative elements are for .AC analysis only: for .TRAN use the other one"
    yield _card("L1", "a", "n0", values["L"])
    yield _card("R0", "n0", "n1", values["Rdc"] + steep * found.constant)
    for place, (r, p) in enumerate(found.rungs, 1):
        resistance = steep * r / 2
        inductance = resistance / (_TWO_PI * p)
        before, middle, behind = f"n{place}", f"m{place}", f"n{place + 1}"
        yield _card(f"RA{place}", before, middle, resistance)
        yield _card(f"LA{place}", before, middle, inductance)
        yield _card(f"RB{place}", middle, behind, resistance)
        yield _card(f"LB{place}", middle, behind, -inductance)
    yield _card("VEND", f"n{len(found.rungs) + 1}", "b", 0.0)
    yield from _across(values)


def _across(values: _Values) -> _Cards:
    if "Rcore" in values:
        yield _card("RCORE", "a", "b", values["Rcore"])
    yield _card("C1", "a", "b", values["C"])


def _coil_at_once(values: _Values, band: _Band) -> _Cards:
    middle = math.sqrt(band[0] * band[1])
    yield f"* the resistance is that at {middle:.6g} Hz"
    yield _card("L1", "a", "n1", values["L"])
    yield _card("R1", "n1", "b", values["Rdc"] + values["Rac"] * math.sqrt(middle))
    yield from _across(values)


def _coupled(values: _Values, band: _Band) -> _Cards:
    """Give the second resonance an inductance equal to the first: only k, f2 and Q2 are seen."""
    k = values["k"]
    if not 0 < k <= 1:
        raise UsageError(
            f"subcircuit: coupling must lie between 0 and 1 (got {k:.4g}).",
            hint="No pair of coils has such a coupling: choose another circuit.",
        )
    yield from _tank(values, band)
    omega = _TWO_PI * values["f2"]
    yield _card("L2", "s1", "s2", values["L"])
    yield _card("C2", "s1", "b", 1 / (omega**2 * values["L"]))
    yield _card("R2", "s2", "b", omega * values["L"] / values["Q2"])
    yield f"K1 L1 L2 {k!r}"


_WRITERS: Mapping[str, Callable[[_Values, _Band], _Cards]] = MappingProxyType(
    {
        "series-rlc": _series("LRC"),
        "parallel-rlc": _parallel,
        "tank": _tank,
        "coil": _coil,
        "inductor": _series("LR"),
        "capacitor": _series("RLC"),
        "coupled-pair": _coupled,
    }
)


def subcircuit(fit: Fit, band: tuple[float, float], name: str, notes: tuple[str, ...] = ()) -> str:
    """Write a fitted circuit as ``.SUBCKT``, terminals a and b.

    Parameters
    ----------
    fit : Fit
        Of a circuit of impedances.
    band : (float, float), Hz
        Over which the fit holds.
    name : str
        Of the subcircuit; what no simulator takes is replaced.
    notes : tuple of str
        Remarks that stand above it.

    Raises
    ------
    UsageError
        When the fit is of something else, or names elements that no network has.
    """
    if fit.circuit not in _WRITERS:
        raise UsageError(
            f"subcircuit: must be of one of {', '.join(CIRCUITS)} (got {fit.circuit}).",
            hint="Fit a sweep of impedance.",
        )
    values = dict(zip(fit.elements, fit.values.tolist(), strict=True))
    if any(value == 0 for key, value in values.items() if key in ("L", "C")):
        raise UsageError(
            f"subcircuit: elements must not be zero (got {values}).", hint="Fit another circuit."
        )
    word = _name(name)
    remarks = (
        *notes,
        f"{fit.circuit}, holds from {band[0]:.9g} Hz to {band[1]:.9g} Hz",
        *(
            ()
            if fit.describes
            else ("THE CIRCUIT DOES NOT DESCRIBE THE DATA: do not use these values",)
        ),
        *(
            (f"not determined by the data: {', '.join(fit.undetermined)}",)
            if fit.undetermined
            else ()
        ),
    )
    lines = [f"* {_plain(remark)}" for remark in remarks]
    lines += _subcircuit(word, _WRITERS[fit.circuit](values, band))
    if fit.circuit == "coil" and values["Rac"]:
        lines += _subcircuit(f"{word}_TRAN", _coil_at_once(values, band))
    return "\n".join([*lines, ""])


def _subcircuit(word: str, cards: _Cards) -> list[str]:
    return [f".SUBCKT {word} a b", *cards, f".ENDS {word}"]


def _name(text: str) -> str:
    word = re.sub(r"[^A-Za-z0-9]+", "_", text).strip("_").upper()[:40]
    return word if word[:1].isalpha() else f"PART_{word}".rstrip("_")


def _plain(text: str) -> str:
    """Keep a remark on its line and in ASCII, whatever a file has put into it."""
    return " ".join(text.encode("ascii", "replace").decode("ascii").split()).translate(
        dict.fromkeys((*range(32), 127), "?")
    )
