"""Why two captures of one part disagree: one part, one cause that acted on one of them.

Every capture is reduced to ln f0, ln Q and, where it is known, ln L. A cause of a certain size
shifts them in a way that physics fixes; the cause that makes the differences likely, for some
size, explains them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Conditions, Sweep
from benchapp.diagnosis.likelihood import Judged, judge_family, within_reach
from benchapp.diagnosis.value import Cause, Disagreement
from benchapp.fit import Fit, quantity
from benchapp.units import format_quantity

__all__ = ["CAUSES", "Subject", "explain"]

FloatArray = NDArray[np.float64]

_REPEAT = (1e-4, 3e-3, 2e-4)  # of ln f0, ln Q, ln L when a part is clipped in again
_ELSE = (0.05, 0.3, 0.1)
_SHARE = 0.5
_TOLD = 0.02
_COPPER = 0.00393
_UNSTATED = 0.3  # weight of a cause whose condition one of the captures does not state
_SAME_LEVEL = 0.05
_SAME_KELVIN = 1.0
_TWO_PI = 2 * math.pi


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A capture with its fit, and what to call it."""

    name: str
    capture: Capture
    fit: Fit


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pair:
    """Two captures side by side: f0 in Hz, Q, what is seen (D,) of `_NAMES`, and its covariance.

    ``by_branch`` where Q is that of the coil's branch, which a capacitance does not touch.
    """

    first: Subject
    second: Subject
    f0: float
    Q: float
    farad: float | None
    known: tuple[int, ...]
    seen: FloatArray
    covariance: FloatArray
    by_branch: bool


_NAMES = ("f0", "Q", "L")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sizes:
    """The members of a cause: shifts (K, 3) of ln f0, ln Q, ln L, sizes (K,), and a weight."""

    shifts: FloatArray
    sizes: FloatArray
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kind:
    """A cause: its name, its members for a pair (None where it is ruled out), its words."""

    id: str
    title: str
    make: Callable[[_Pair], _Sizes | None]
    words: Callable[[float, _Pair], str]
    next_test: str


def _stack(*columns: FloatArray) -> FloatArray:
    whole = np.stack(np.broadcast_arrays(*columns), axis=-1)
    return np.asarray(whole.reshape(-1, 3))


def _both_ways(size: FloatArray) -> FloatArray:
    return np.concatenate((-size[::-1], size))


def _capacitance(pair: _Pair) -> _Sizes:
    """C (1 + c): f0 / sqrt(1 + c), and with it the Q at f0 of a coil with constant resistance."""
    c = _both_ways(np.geomspace(2e-4, 0.6, 160))
    f0 = np.where(c > 0, -0.5 * np.log1p(np.abs(c)), 0.5 * np.log1p(np.abs(c)))
    q = np.zeros_like(f0) if pair.by_branch else f0
    return _Sizes(shifts=_stack(f0, q, np.zeros_like(f0)), sizes=c)


def _loading(pair: _Pair) -> _Sizes:
    """(1 + g)/Q: more loss in one of the two captures, in series or across.

    A loss across the tank moves f0 and the L of a fit with the loss in series by some g / Q^2:
    both ends of that are among the members.
    """
    g, across = np.meshgrid(
        _both_ways(np.geomspace(5e-3, 5.0, 160)), np.array([0.0, 0.5, 1.0]), indexing="ij"
    )
    q = -np.copysign(np.log1p(np.abs(g)), g)
    second = across * g / pair.Q**2
    return _Sizes(shifts=_stack(second, q, -5 * second), sizes=g.ravel())


def _level(pair: _Pair) -> _Sizes | None:
    """L (1 + g) and R + 4/(3 pi) w L g: a core at a higher level (Rayleigh's law).

    The current falls with frequency over a sweep, and g with it: the L that is fitted rises by up
    to one and a half times as much as f0 tells.
    """
    weight, sign = _by_condition(pair, _level_of, relative=True, same=_SAME_LEVEL)
    if weight == 0:
        return None
    g, more, loss = np.meshgrid(
        np.geomspace(3e-4, 0.3, 120), np.linspace(0.9, 1.6, 8), (0.85, 1.0, 1.15), indexing="ij"
    )
    f0 = -0.5 * np.log1p(g)
    q = np.log1p(g) - np.log1p(pair.Q * loss * 4 / (3 * math.pi) * g)
    q = q if pair.by_branch else q + f0
    shifts, sizes = _signed(_stack(f0, q, more * np.log1p(g)), g.ravel(), sign)
    return _Sizes(shifts=shifts, sizes=sizes, weight=weight)


def _temperature(pair: _Pair) -> _Sizes | None:
    """Copper +0.393 %/K; the capacitance by -400 to +100 ppm/K."""
    weight, sign = _by_condition(
        pair, lambda found: found.temperature_celsius, relative=False, same=_SAME_KELVIN
    )
    if weight == 0:
        return None
    stated = _kelvin(pair)
    warmth = np.linspace(0.5, 60, 60) if stated is None else abs(stated) + np.linspace(-2, 2, 9)
    kelvin, slope, copper = np.meshgrid(
        warmth, np.linspace(-400e-6, 100e-6, 11), (0.5, 0.75, 1.0), indexing="ij"
    )
    f0 = -0.5 * np.log1p(slope * kelvin)
    q = -np.log1p(_COPPER * copper * kelvin) + (0.0 if pair.by_branch else f0)
    rows = _stack(f0, q, np.zeros_like(f0))
    shifts, sizes = _signed(rows, kelvin.ravel(), sign)
    return _Sizes(shifts=shifts, sizes=sizes, weight=weight)


def _definition(pair: _Pair) -> _Sizes | None:
    """Zero phase, greatest |Z| and the damped frequency of a coil with its loss, across a C.

    A fit as R, L and C across each other gives the frequency of zero phase and the larger L of
    the parallel equivalent; how much larger depends on the band, ln L moves by -2 to -4 ln f0.
    """
    if (pair.first.fit.kind, pair.first.fit.circuit) == (
        pair.second.fit.kind,
        pair.second.fit.circuit,
    ) or pair.Q <= 1:
        return None
    q2 = pair.Q**-2
    ratios = np.array([1 - q2, math.sqrt(1 + 2 * q2) - q2, 1 - q2 / 4, 1 - q2 / 2, 1 - 1.5 * q2])
    f0 = 0.5 * np.log(ratios)
    f0 = np.concatenate((f0, -f0))
    loose = np.array([-1.0, -0.5, 0.0, 0.5, 1.0]) * min(4 * q2, 0.3)
    shift, q, more = np.meshgrid(f0, loose, np.linspace(2.0, 4.0, 5), indexing="ij")
    rows = _stack(shift, q, -more * shift)
    return _Sizes(shifts=rows, sizes=np.expm1(shift.ravel()))


def _scale(pair: _Pair) -> _Sizes | None:
    """All impedances by one factor, 1 + g at the larger: L and R, not f0 and Q."""
    if 2 not in pair.known:
        return None
    g = _both_ways(np.geomspace(5e-4, 0.25, 100))
    zero = np.zeros_like(g)
    return _Sizes(shifts=_stack(zero, zero, np.copysign(np.log1p(np.abs(g)), g)), sizes=g)


def _level_of(found: Conditions) -> float | None:
    return found.level_volt if found.level_volt is not None else found.level_ampere


def _by_condition(
    pair: _Pair,
    of: Callable[[Conditions], float | None],
    *,
    relative: bool,
    same: float,
) -> tuple[float, int]:
    """Give the weight of a cause, 0 where both state the same, and the sign that is stated."""
    first, second = (of(each.capture.conditions) for each in (pair.first, pair.second))
    if first is None or second is None:
        return _UNSTATED, 0
    off = (second - first) / (max(abs(first), abs(second)) or 1.0) if relative else second - first
    return (0.0, 0) if abs(off) <= same else (1.0, 1 if off > 0 else -1)


def _kelvin(pair: _Pair) -> float | None:
    first, second = (
        each.capture.conditions.temperature_celsius for each in (pair.first, pair.second)
    )
    return None if first is None or second is None else second - first


def _signed(rows: FloatArray, sizes: FloatArray, sign: int) -> tuple[FloatArray, FloatArray]:
    """Let a cause act on the second capture, on the first, or on either where nothing says."""
    if sign:
        return sign * rows, sign * sizes
    return np.concatenate((rows, -rows)), np.concatenate((sizes, -sizes))


def _which(size: float, pair: _Pair) -> str:
    return pair.second.name if size > 0 else pair.first.name


def _farad_words(c: float, pair: _Pair) -> str:
    if pair.farad is None:
        return f"{100 * abs(c):.2g} % more capacitance at {_which(c, pair)}"
    return f"{format_quantity(abs(c) * pair.farad, 'F', digits=2)} more at {_which(c, pair)}"


CAUSES = (
    _Kind(
        id="fixture-capacitance",
        title="capacitance of fixture or probe",
        make=_capacitance,
        words=_farad_words,
        next_test="Repeat the open compensation, or measure with a second probe of the same kind: "
        "the shift doubles.",
    ),
    _Kind(
        id="loading",
        title="loading, or a resistance in the contacts",
        make=_loading,
        words=lambda g, pair: f"{100 * abs(g):.2g} % more loss at {_which(g, pair)}",
        next_test="Couple more loosely or clean the contacts, and see whether Q still rises.",
    ),
    _Kind(
        id="level",
        title="test level",
        make=_level,
        words=lambda g, pair: f"L {100 * abs(g):.2g} % higher at {_which(g, pair)}",
        next_test="Measure at both levels with one instrument.",
    ),
    _Kind(
        id="temperature",
        title="temperature",
        make=_temperature,
        words=lambda kelvin, pair: f"{abs(kelvin):.2g} K warmer at {_which(kelvin, pair)}",
        next_test="Let the part settle and measure again at one temperature.",
    ),
    _Kind(
        id="definition-of-f0",
        title="definition of the resonance",
        make=_definition,
        words=lambda part, pair: f"f0 {100 * abs(part):.2g} % apart at Q = {pair.Q:.2g}",
        next_test="Compare 1 / (2 pi sqrt(L C)) of both, or zero phase of both.",
    ),
    _Kind(
        id="scale",
        title="scale of the readings",
        make=_scale,
        words=lambda part, pair: f"{100 * abs(part):.2g} % more at {_which(part, pair)}",
        next_test="Measure one reference coil or resistor with both instruments.",
    ),
)
"""Every cause that is considered."""


def explain(subjects: Sequence[Subject]) -> tuple[Disagreement, ...]:
    """Compare captures of one part, each with the first.

    Parameters
    ----------
    subjects : sequence of Subject
        Two or more. A fit that was combined with the accuracy of its instrument brings the
        instrument's uncertainty along.

    Returns
    -------
    tuple of Disagreement
        One for each capture after the first. The differences agree where they are within the
        uncertainties and within what clipping a part in again changes (common practice: 0.01 %
        of f0, 0.3 % of Q, 0.02 % of L).
    """
    first, *others = subjects
    return tuple(_explain(first, each) for each in others)


def _explain(first: Subject, second: Subject) -> Disagreement:
    pair = _pair(first, second)
    if pair is None:
        return Disagreement(
            first=first.name,
            second=second.name,
            agree=False,
            reason="the two have no resonance in common that both fits determine",
        )
    agree = judge_family(pair.seen, np.zeros((1, pair.seen.size)), pair.covariance)
    said = Disagreement(
        first=first.name,
        second=second.name,
        agree=within_reach(agree.chi_square, pair.seen.size),
        differences=_differences(pair),
        reason="they agree within their uncertainties",
    )
    if said.agree:
        return said
    causes = _causes(pair)
    reason = f"explained by {causes[0].title}" if causes else "not explained by a single cause"
    return replace(said, causes=causes, reason=reason)


def _causes(pair: _Pair) -> tuple[Cause, ...]:
    judged: list[tuple[_Kind | None, _Sizes | None, Judged, float]] = []
    wide = pair.covariance + np.diag([_ELSE[place] ** 2 for place in pair.known])
    other = judge_family(pair.seen, np.zeros((1, pair.seen.size)), wide)
    judged.append((None, None, other, other.log_likelihood))
    for kind in CAUSES:
        sizes = kind.make(pair)
        if sizes is not None:
            found = judge_family(pair.seen, sizes.shifts[:, pair.known], _form(pair, sizes))
            weight = found.log_likelihood + math.log(sizes.weight)
            judged.append((kind, sizes, found, weight))
    top = max(weight for *_, weight in judged)
    whole = math.fsum(math.exp(weight - top) for *_, weight in judged)
    causes = [
        Cause(
            id=kind.id,
            title=kind.title,
            share=math.exp(weight - top) / whole,
            size=kind.words(float(sizes.sizes[found.best]), pair),
            next_test=kind.next_test,
        )
        for kind, sizes, found, weight in judged
        if kind is not None
        and sizes is not None
        and within_reach(found.chi_square, pair.seen.size)
        and math.exp(weight - top) / whole >= _TOLD
    ]
    causes.sort(key=lambda cause: -cause.share)
    likelier = math.exp(other.log_likelihood - top) / whole
    return tuple(causes) if causes and causes[0].share > likelier else ()


def _form(pair: _Pair, sizes: _Sizes) -> FloatArray:
    """Covariance (K, D, D): of the pair, and 3 % of each shift for the form of the cause."""
    off = (0.03 * sizes.shifts[:, pair.known]) ** 2
    return np.asarray(pair.covariance + off[:, :, None] * np.eye(len(pair.known)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Values:
    """ln f0, ln Q and ln L of one fit as far as they are known, and their covariance (3, 3)."""

    logs: FloatArray
    covariance: FloatArray


def _pair(first: Subject, second: Subject) -> _Pair | None:
    by_branch = isinstance(first.capture, Sweep) and isinstance(second.capture, Sweep)
    at = _common_frequency(first, second) if by_branch else None
    values = [_values(each.fit, at) for each in (first, second)]
    known = tuple(
        place for place in range(3) if all(np.isfinite(each.logs[place]) for each in values)
    )
    if 0 not in known or 1 not in known:
        return None
    chosen = np.ix_(known, known)
    repeat = np.diag([_REPEAT[place] ** 2 for place in known])
    farads = [each.fit.estimates.get("C") for each in (first, second)]
    return _Pair(
        first=first,
        second=second,
        f0=math.exp(values[0].logs[0]),
        Q=math.exp(values[0].logs[1]),
        farad=next((each.value for each in farads if each is not None), None),
        known=known,
        seen=(values[1].logs - values[0].logs)[list(known)],
        covariance=sum((each.covariance[chosen] for each in values), repeat),
        by_branch=by_branch,
    )


def _common_frequency(first: Subject, second: Subject) -> float | None:
    """Give the frequency at which Q of both coils is compared: the geometric mean of their f0."""
    both = [quantity(each.fit, "f0") for each in (first, second)]
    logs = [math.log(each.value) for each in both if each is not None]
    return math.exp(sum(logs) / 2) if len(logs) == 2 else None


def _values(found: Fit, at: float | None) -> _Values:
    """Reduce a fit to the logarithms of f0, Q and L."""
    wanted = [("f0", None), ("Q", at), ("L", None)]
    logs, slopes = np.full(3, np.nan), np.zeros((3, found.values.size))
    own = np.zeros(3)
    for place, (name, where) in enumerate(wanted):
        seen = quantity(found, name, where)
        if seen is None and name == "Q":
            seen = found.estimates.get("QL")
        if seen is None or seen.u is None or seen.value <= 0:
            continue
        logs[place] = math.log(seen.value)
        own[place] = (seen.u / seen.value) ** 2
        slopes[place] = _slopes(found, name, where)
    covariance = slopes @ found.covariance @ slopes.T if slopes.any() else np.diag(own)
    return _Values(logs=logs, covariance=covariance)


def _slopes(found: Fit, name: str, at: float | None) -> FloatArray:
    """D ln quantity / d element (P,), by central differences; zero without a circuit."""
    slopes = np.zeros(found.values.size)
    exact = replace(found, covariance=np.zeros_like(found.covariance))
    for place, value in enumerate(found.values.tolist()):
        step = 1e-6 * abs(value)
        if not step:
            continue
        ends = []
        for sign in (1.0, -1.0):
            values = found.values.copy()
            values[place] += sign * step
            seen = quantity(replace(exact, values=values), name, at)
            ends.append(math.nan if seen is None else math.log(seen.value))
        slopes[place] = (ends[0] - ends[1]) / (2 * step)
    return slopes


def _differences(pair: _Pair) -> tuple[str, ...]:
    sizes = np.sqrt(pair.covariance.diagonal()).tolist()
    return tuple(
        f"{_NAMES[place]} {_difference(value, size)}"
        for place, value, size in zip(pair.known, pair.seen.tolist(), sizes, strict=True)
    )


def _difference(value: float, size: float) -> str:
    """Tell a relative difference, given as a logarithm with its standard uncertainty."""
    part, expanded = math.expm1(value), _COVERAGE * size
    share = _relative(part, expanded)
    if abs(value) <= expanded:
        return f"the same within U ({share}, U = {_relative(expanded, expanded)[1:]})"
    times = abs(value) / size if size else math.inf
    return f"{share} ({times:.{0 if times >= _TENS else 1}f} times its uncertainty)"


def _relative(part: float, expanded: float) -> str:
    """Write a signed fraction in percent or ppm, to two digits of its U and without exponents."""
    small = max(abs(part), expanded) < _PPM_BELOW
    scale, unit = (1e6, "ppm") if small else (1e2, "%")
    least = max(expanded, _LEAST * abs(part)) * scale
    decimals = min(_MOST_DECIMALS, max(0, 1 - math.floor(math.log10(least)))) if least else 0
    return f"{part * scale:+.{decimals}f} {unit}"


_COVERAGE = 2.0
_TENS = 10
_PPM_BELOW = 1e-4  # a hundredth of a percent
_LEAST = 1e-3  # of a difference: no more than four digits of it are told
_MOST_DECIMALS = 4
