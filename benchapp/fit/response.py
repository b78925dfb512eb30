"""Fit a single resonance in a reflection, a transmission or a gain."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.capture import ComplexArray, FloatArray, Response
from benchapp.errors import FitError
from benchapp.fit.coupling import unload
from benchapp.fit.honesty import LIMIT
from benchapp.fit.opinion import opinions
from benchapp.fit.resonance import COMPLEX, MAGNITUDE, Shape, curve, drawn, slopes
from benchapp.fit.resonance_choice import Choice, Points, Solved, choose, roughness
from benchapp.fit.result import Alternative, Fit, Remark
from benchapp.units import Estimate

__all__ = ["fit_response", "response_curve"]

BoolArray = NDArray[np.bool_]

TWO_PI = 2 * math.pi

_KNOWN = {"delay": "s", "through": "1"}
_AMBIGUOUS = 6.0  # difference in BIC
_EVIDENCE = 10.0  # BIC by which a resonance must beat a straight background
_NAMES = ("background", "circle")
_RESULTS = ("f0", "Q", "QL", "coupling")


def fit_response(
    capture: Response,
    *,
    fix: Mapping[str, Estimate] | None = None,
    band: tuple[float, float] | None = None,
    set_aside: Collection[int] = (),
) -> Fit:
    """Fit one resonance, and take the load of the measurement off its quality factor.

    Parameters
    ----------
    capture : Response
    fix : mapping, optional
        'through': level of the same set-up without the resonator (1 where calibrated);
        'delay': delay in s of a line that is still in the data, 0 where there is none.
    band : (float, float), Hz, optional
    set_aside : collection of int, optional
        Points (0-based) that are not to be used.

    Returns
    -------
    Fit
        Circuit 'resonance' with f0 (undamped, loaded), QL (loaded), Q (unloaded) and the
        coupling Q/QL - 1. ``noise`` is the rms of the complex error over the largest ratio.

    Raises
    ------
    FitError
        When there are too few points, or something is to be held that is no part of this.

    Notes
    -----
    Complex: least squares of S - (a + d / (1 + j QL (f/f0 - f0/f))), where BIC asks for it with a
    line in front, a leakage that changes with frequency, or the side of a low-pass or high-pass
    tank. Without phase: |S| against sqrt(A0 + (A1 + A2 u)/(1 + u^2)), u = QL (f/f0 - f0/f), in
    which A0 holds the noise floor. Where neighbouring residuals are alike, the curve holds near
    the resonance at best: the points are weighted by 1/|1 + j u| (equal steps on the circle) and
    the uncertainty is widened by the length over which residuals stay alike.

    Source: A. P. Gregory, NPL Report MAT 58 (2021): six to eight parameters, weighting along the
    circle; BIC: G. Schwarz, Annals of Statistics 6 (1978) 461-464.
    """
    known = _checked(fix or {})
    used = _within(capture.frequency, band)
    used[list(set_aside)] = False
    points = _points(capture, used, known)
    if float(np.ptp(np.abs(points.seen - points.seen.mean()))) <= math.sqrt(points.floor):
        return _flat(capture, used, points)
    choice = choose(points, _shapes(capture, known))
    kept = used.copy()
    kept[used] = choice.best.kept
    fit = _conclude(capture, points, kept, choice, known)
    return replace(fit, opinions=opinions(capture, fit))


def _checked(fix: Mapping[str, Estimate]) -> Mapping[str, Estimate]:
    for name, estimate in fix.items():
        if name not in _KNOWN:
            raise FitError(
                f"known element: must be one of {', '.join(_KNOWN)} for a resonance (got {name}).",
                hint="Fix the level of a through connection or the delay of a line.",
            )
        if name == "through" and not estimate.value > 0:
            raise FitError(
                f"known element through: must be above zero (got {estimate.value:g}).",
                hint="Give the level as a ratio, for example 0.874.",
            )
    return fix


def _within(frequency: FloatArray, band: tuple[float, float] | None) -> BoolArray:
    if band is None:
        return np.ones(frequency.size, dtype=np.bool_)
    low, high = band
    if not 0 <= low < high:
        raise FitError(
            f"band: must rise from its first to its second frequency "
            f"(got {low:g} to {high:g} Hz).",
            hint="Give the lower frequency first.",
        )
    return (frequency >= low) & (frequency <= high)


def _points(capture: Response, used: BoolArray, known: Mapping[str, Estimate]) -> Points:
    fewest = 4 if capture.has_phase else 6
    count = int(np.count_nonzero(used))
    if count < fewest:
        raise FitError(
            f"response: must have at least {fewest} points for a resonance (got {count}).",
            hint="Measure more points, or widen the band.",
        )
    frequency = capture.frequency[used]
    centre = float(np.sqrt(frequency[0] * frequency[-1]))
    seen = capture.ratio[used]
    if "delay" in known:
        seen = seen * np.exp(1j * TWO_PI * known["delay"].value * (frequency - centre))
    return Points(
        y=frequency / centre,
        centre=centre,
        seen=seen,
        weight=np.ones(count),
        magnitude=not capture.has_phase,
        noise=roughness(seen),
    )


def _shapes(capture: Response, known: Mapping[str, Estimate]) -> dict[bool, tuple[Shape, ...]]:
    """Shapes to be tried after the plain one, for a peak (False) and for a dip (True)."""
    if not capture.has_phase:
        return dict.fromkeys((False, True), (MAGNITUDE["skewed"],))
    line = () if "delay" in known else (COMPLEX["line"],)
    if capture.kind == "reflection":
        return {False: line, True: line}
    side = COMPLEX["tilt"] if capture.kind == "gain" else COMPLEX["leak"]
    return {False: (side,), True: line}


def _flat(capture: Response, used: BoolArray, points: Points) -> Fit:
    """Answer for points that are all the same."""
    size = capture.frequency.size
    text = "All values are the same: there is no resonance in this sweep."
    return Fit(
        kind="response",
        circuit="resonance",
        digest=capture.digest,
        elements=(),
        values=np.zeros(0),
        covariance=np.zeros((0, 0)),
        results=(),
        undetermined=_RESULTS,
        describes=False,
        converged=False,
        noise=None,
        dof=0,
        used=used,
        fitted=np.full(size, points.seen.mean()),
        residual=np.zeros(size, dtype=np.complex128),
        remarks=(Remark(name="no resonance", text=text),),
    )


def _conclude(
    capture: Response,
    points: Points,
    used: BoolArray,
    choice: Choice,
    known: Mapping[str, Estimate],
) -> Fit:
    """Put a solved resonance into words."""
    solved, weighted = choice.best, choice.weighted
    shape, p = solved.shape, solved.p
    covariance = _covariance(points, solved, known, weighted=weighted)
    fitted, residual, noise = _everywhere(capture, points, used, solved, known)
    excess = None if capture.noise_level is None else noise / capture.noise_level
    white = replace(solved.white, excess=excess)
    there = _is_there(points, solved)
    results, undetermined, remarks = _results(
        capture, solved, covariance, known, centre=points.centre, there=there
    )
    elements, values, spread = _elements(points, shape, p, covariance, known)
    return Fit(
        kind="response",
        circuit="resonance",
        digest=capture.digest,
        elements=elements,
        values=values,
        covariance=spread,
        fixed=tuple(name for name in elements if name in known or name == "centre"),
        results=results,
        undetermined=undetermined,
        describes=solved.solution.converged and white.describes and not weighted and there,
        converged=solved.solution.converged,
        noise=noise / float(np.abs(fitted[used]).max()),
        dof=solved.solution.dof,
        used=used,
        fitted=fitted,
        residual=residual,
        remarks=(*remarks, *_remarks(choice, excess, there=there)),
        alternatives=_alternatives(choice),
    )


def _covariance(
    points: Points, solved: Solved, known: Mapping[str, Estimate], *, weighted: bool
) -> FloatArray:
    """Covariance of the shape's parameters, widened where residuals stay alike."""
    solution = solved.solution
    covariance = solution.covariance * (solution.variance or 0.0)
    if weighted:
        covariance = covariance * _alike(solution.residual, complex_pairs=not points.magnitude)
    u = known["delay"].u if "delay" in known else None
    if u:
        y = points.y[solved.kept]
        turn = -1j * TWO_PI * points.centre * (y - 1) * curve(solved.shape, y, solved.p)
        matrix = slopes(solved.shape, y, solved.p)
        pull = np.linalg.lstsq(
            np.concatenate([matrix.real, matrix.imag]),
            -np.concatenate([turn.real, turn.imag]) * u,
            rcond=None,
        )[0]
        covariance = covariance + np.outer(pull, pull)
    return covariance


def _alike(residual: FloatArray, *, complex_pairs: bool) -> float:
    """Count the neighbouring residuals that say the same: 1 + 2 sum of their correlation."""
    rows = residual.reshape(2 if complex_pairs else 1, -1)
    power = float(np.sum(rows**2))
    total = 1.0
    for lag in range(1, max(rows.shape[1] // 4, 2)):
        correlation = float(np.sum(rows[:, lag:] * rows[:, :-lag])) / power
        if correlation < 2 / math.sqrt(residual.size):
            break
        total += 2 * correlation
    return total


def _is_there(points: Points, solved: Solved) -> bool:
    """Whether a resonance explains the points clearly better than a straight background."""
    kept = solved.kept
    y, seen, weight = points.y[kept], points.target[kept], points.weight[kept]
    columns = np.stack([np.ones_like(y), y - 1], axis=1) * weight[:, None]
    target = seen * weight
    rest = target - columns @ np.linalg.lstsq(columns, target, rcond=None)[0]
    size = solved.solution.residual.size
    straight = size * math.log(max(float(np.vdot(rest, rest).real) / size, points.floor))
    penalty = math.log(size) * (2 if points.magnitude else 4)
    return straight + penalty > solved.bic + _EVIDENCE


def _everywhere(
    capture: Response,
    points: Points,
    used: BoolArray,
    solved: Solved,
    known: Mapping[str, Estimate],
) -> tuple[ComplexArray, ComplexArray, float]:
    """Fitted curve and normalised residual at every point, and the noise found."""
    y = capture.frequency / points.centre
    model = drawn(solved.shape, y, solved.p).astype(np.complex128)
    if "delay" in known:
        turn = TWO_PI * known["delay"].value * (capture.frequency - points.centre)
        model = model * np.exp(-1j * turn)
    rest = capture.ratio - model
    parts = int(np.count_nonzero(used)) * (1 if points.magnitude else 2)
    power = float(np.vdot(rest[used], rest[used]).real)
    component = math.sqrt(power / max(parts - solved.shape.size, 1))
    residual = rest / component if component > 0 else np.zeros_like(rest)
    return model, residual, math.sqrt(2.0) * component


def _results(
    capture: Response,
    solved: Solved,
    covariance: FloatArray,
    known: Mapping[str, Estimate],
    *,
    centre: float,
    there: bool,
) -> tuple[tuple[Estimate, ...], tuple[str, ...], tuple[Remark, ...]]:
    """Tell what the data determine, what not, and under which assumptions."""
    if not there:
        return (), _RESULTS, ()
    p = solved.p
    spread = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    found: dict[str, Estimate] = {}
    if spread[0] <= LIMIT:
        f0 = centre * math.exp(p[0])
        found["f0"] = Estimate(name="f0", value=f0, u=f0 * float(spread[0]), unit="Hz")
    remarks: tuple[Remark, ...] = ()
    if spread[1] <= LIMIT:
        QL = math.exp(p[1])
        found["QL"] = Estimate(name="QL", value=QL, u=QL * float(spread[1]), unit="1")
        loading = unload(
            capture.kind,
            solved.shape,
            p,
            covariance,
            dip=solved.is_dip,
            through=known.get("through"),
        )
        remarks = loading.remarks
        pairs = (("Q", loading.Q), ("coupling", loading.coupling))
        found.update({name: value for name, value in pairs if value is not None})
    ordered = tuple(found[name] for name in _RESULTS if name in found)
    return ordered, tuple(name for name in _RESULTS if name not in found), remarks


def _remarks(choice: Choice, excess: float | None, *, there: bool) -> tuple[Remark, ...]:
    """Say what is to be known about the curve itself."""
    solved, others = choice.best, choice.others
    remarks = []
    if not there:
        text = "No resonance stands out of the background and the noise."
        remarks.append(Remark(name="no resonance", text=text))
    if choice.weighted:
        text = (
            "The residuals are not noise: the curve does not describe the whole sweep. Points "
            "near the resonance were given more weight and the uncertainty was widened; a "
            "narrower sweep around the resonance would help."
        )
        remarks.append(Remark(name="residuals", text=text))
    elif not solved.white.describes:
        text = "The residuals are not noise: the curve does not describe the whole sweep."
        remarks.append(Remark(name="residuals", text=text))
    if excess is not None and not replace(solved.white, excess=excess).describes:
        text = f"The noise is {excess:.2g} times that of the instrument."
        remarks.append(Remark(name="noise", text=text))
    close = [other for other in others if abs(other.bic - solved.bic) < _AMBIGUOUS]
    for other in close:
        shift = math.exp(other.p[1] - solved.p[1]) - 1
        text = (
            f"A curve with {other.shape.title} suits as well as one with {solved.shape.title}; "
            f"with it QL would be {shift:+.2%} different."
        )
        remarks.append(Remark(name="ambiguous", text=text))
    return tuple(remarks)


def _alternatives(choice: Choice) -> tuple[Alternative, ...]:
    return tuple(
        Alternative(
            circuit=f"resonance, {other.shape.title}",
            bic_difference=max(0.0, other.bic - choice.best.bic),
        )
        for other in choice.others
    )


def _element_names(shape: Shape) -> tuple[str, ...]:
    front = ("f0", "QL", *(("delay",) if shape.line else ()))
    if shape.magnitude:
        return (*front, *("A0", "A1", "A2")[: 2 + shape.skew])
    third = ("leak",) if shape.leak else ("tilt",) if shape.tilt else ()
    parts = [f"{name}_{part}" for name in (*_NAMES, *third) for part in ("real", "imag")]
    return (*front, *parts)


def _elements(
    points: Points,
    shape: Shape,
    p: FloatArray,
    covariance: FloatArray,
    known: Mapping[str, Estimate],
) -> tuple[tuple[str, ...], FloatArray, FloatArray]:
    """Names, values and covariance in SI units, with what was held."""
    values, scale = p.copy(), np.ones(p.size)
    values[0], values[1] = points.centre * math.exp(p[0]), math.exp(p[1])
    scale[:2] = values[:2]
    if shape.line:
        scale[2] = 1 / (TWO_PI * points.centre)
        values[2] = p[2] * scale[2]
    held = [("centre", points.centre, 0.0)]
    held += [(name, known[name].value, known[name].u or 0.0) for name in known]
    size = p.size + len(held)
    spread = np.zeros((size, size))
    spread[: p.size, : p.size] = covariance * np.outer(scale, scale)
    for place, (_, _, u) in enumerate(held, start=p.size):
        spread[place, place] = u * u
    names = (*_element_names(shape), *(name for name, _, _ in held))
    return names, np.concatenate([values, [value for _, value, _ in held]]), spread


def response_curve(fit: Fit, frequency: ArrayLike) -> ComplexArray:
    """Give the fitted curve of a resonance on any grid.

    Parameters
    ----------
    fit : Fit
        Of circuit 'resonance'.
    frequency : (N,) float, Hz

    Returns
    -------
    (N,) complex
        A magnitude where the capture had no phase.

    Raises
    ------
    FitError
        When the fit is of another circuit.
    """
    if fit.circuit != "resonance":
        raise FitError(
            f"curve: the fit must be one of a resonance (got {fit.circuit}).",
            hint="Fit a reflection, a transmission or a gain.",
        )
    value = dict(zip(fit.elements, fit.values.tolist(), strict=True))
    free = tuple(name for name in fit.elements if name not in fit.fixed)
    shape = next(
        shape
        for shape in (*COMPLEX.values(), *MAGNITUDE.values())
        if _element_names(shape) == free
    )
    f = np.asarray(frequency, dtype=np.float64)
    p = fit.values[: shape.size].copy()
    p[0], p[1] = math.log(p[0] / value["centre"]), math.log(p[1])
    if shape.line:
        p[2] *= TWO_PI * value["centre"]
    delay = 0.0 if shape.line else value.get("delay", 0.0)
    turn = np.exp(-1j * TWO_PI * delay * (f - value["centre"]))
    return np.asarray(drawn(shape, f / value["centre"], p) * turn, dtype=np.complex128)
