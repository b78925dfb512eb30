"""Gauge study: how much of what is measured comes from measuring.

A crossed study measures every part by every person several times, each time placed anew, in random
and blind order. The analysis of variance is the first method; average and range stands beside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from benchapp.errors import CaptureError
from benchapp.lot.sample import values_of

__all__ = [
    "Act",
    "Bias",
    "GaugeStudy",
    "Interaction",
    "Linearity",
    "Share",
    "Source",
    "analysis_of_variance",
    "average_and_range",
    "bias",
    "linearity",
    "plan",
]

FloatArray = NDArray[np.float64]
Interaction = Literal["auto", "keep", "pool"]

_POOL_ABOVE = 0.25
_STUDY_WIDTH = 6.0
_NDC = 1.41

_K1: Mapping[int, float] = MappingProxyType({2: 0.8862, 3: 0.5908})
_K2: Mapping[int, float] = MappingProxyType({2: 0.7071, 3: 0.5231})
_K3: Mapping[int, float] = MappingProxyType(
    dict(
        zip(
            range(2, 11),
            (0.7071, 0.5231, 0.4467, 0.4030, 0.3742, 0.3534, 0.3375, 0.3249, 0.3146),
            strict=True,
        )
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One measurement of a study plan: its place in the order, and who measures which part.

    ``blind`` is the label that the person sees: it changes from trial to trial.
    """

    order: int
    part: int
    person: int
    trial: int
    blind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One row of the analysis of variance. ``f`` and ``p`` are None where nothing is tested."""

    name: str
    dof: int
    sum_of_squares: float
    mean_square: float
    f: float | None = None
    p: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A standard deviation and its percentages.

    Of the total variation of the study, of its variance, and (six standard deviations) of the
    tolerance, None without one.
    """

    sigma: float
    percent_study: float
    percent_contribution: float
    percent_tolerance: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeStudy:
    """Result of a gauge study.

    ``repeatability`` is EV, ``reproducibility`` AV (None for one person), ``interaction`` the part
    of persons and parts together (None where pooled or not studied), ``gauge`` GRR, ``parts`` PV,
    ``total`` TV. ``ndc`` is the number of distinct categories, cut off to a whole number.
    ``table`` is the analysis of variance with the interaction, ``pooled`` the one without, empty
    where it was not pooled.
    """

    method: str
    repeatability: Share
    reproducibility: Share | None
    interaction: Share | None
    gauge: Share
    parts: Share
    total: Share
    ndc: int | None
    distinct: float | None
    table: tuple[Source, ...] = ()
    pooled: tuple[Source, ...] = ()

    @property
    def judgement(self) -> str:
        """The usual words on the gauge: common practice, by percent of study or of tolerance."""
        worst = self.gauge.percent_tolerance
        percent = self.gauge.percent_study if worst is None else worst
        if percent < 10:
            return "suitable"
        return "conditionally suitable" if percent <= 30 else "not suitable"


def plan(parts: int, persons: int, trials: int, generator: np.random.Generator) -> tuple[Act, ...]:
    """Draw the order of a crossed study.

    Parameters
    ----------
    parts, persons, trials : int
    generator : numpy.random.Generator
        The only source of chance.

    Returns
    -------
    tuple of Act
        Trial by trial, in each the persons in random order, each with the parts in random order
        under new blind labels.

    Raises
    ------
    CaptureError
        When there are fewer than two parts or trials, or no person.
    """
    if parts < 2 or trials < 2 or persons < 1:
        raise CaptureError(
            f"gauge study: must have two parts, two trials and one person at least (got {parts}, "
            f"{trials} and {persons}).",
            hint="Usual are 10 parts, 3 persons and 3 trials.",
        )
    acts: list[Act] = []
    for trial in range(trials):
        for person in generator.permutation(persons).tolist():
            labels = generator.permutation(parts).tolist()
            for part in generator.permutation(parts).tolist():
                blind = f"{trial + 1}-{labels[part] + 1:02d}"
                acts.append(
                    Act(order=len(acts), part=part, person=person, trial=trial, blind=blind)
                )
    return tuple(acts)


def _study_values(values: ArrayLike) -> FloatArray:
    x = np.array(values, dtype=np.float64)
    if x.ndim != 3 or x.shape[0] < 2 or x.shape[1] < 1 or x.shape[2] < 2:
        raise CaptureError(
            "gauge study: the values must be a table of parts by persons by trials, two parts and "
            f"two trials at least (got shape {x.shape}).",
            hint="Every person must have measured every part equally often.",
        )
    values_of(x.ravel())
    return x


def analysis_of_variance(
    values: ArrayLike, *, tolerance: float | None = None, interaction: Interaction = "auto"
) -> GaugeStudy:
    """Analyse a crossed gauge study by the analysis of variance.

    Parameters
    ----------
    values : (P, O, R) float
        Parts, persons, trials; one person is allowed.
    tolerance : float, optional
        Upper less lower limit.
    interaction : {'auto', 'keep', 'pool'}
        Whether the interaction of persons and parts counts for itself; 'auto' pools it with the
        repeatability when its p-value is above 0.25.

    Returns
    -------
    GaugeStudy

    Raises
    ------
    CaptureError
        When the values are no complete table of that kind, or do not vary at all.

    Notes
    -----
    Source: AIAG, *Measurement Systems Analysis*, 4th ed. 2010, ch. III (from memory; its example
    is in the tests). Negative variance components are taken as zero.
    """
    x = _study_values(values)
    squares, dof = _sums_of_squares(x)
    parts, persons, trials = x.shape
    means = {name: squares[name] / dof[name] for name in squares if dof[name]}
    crossed = persons > 1
    pooled = not crossed or _pools(interaction, means, dof)
    error, error_dof = means["trials"], dof["trials"]
    if crossed and pooled:
        error_dof = dof["trials"] + dof["interaction"]
        error = (squares["trials"] + squares["interaction"]) / error_dof
    base = error if pooled else means["interaction"]
    variance = {
        "EV": error,
        "INT": 0.0 if pooled else max(0.0, (base - error) / trials),
        "AV": max(0.0, (means["persons"] - base) / (parts * trials)) if crossed else 0.0,
        "PV": max(0.0, (means["parts"] - base) / (persons * trials)),
    }
    study = _study(variance, tolerance, crossed=crossed, pooled=pooled)
    return replace(
        study,
        table=_full_rows(squares, dof, crossed=crossed),
        pooled=_pooled_rows(squares, dof, error, error_dof) if crossed and pooled else (),
    )


def _pools(interaction: Interaction, means: Mapping[str, float], dof: Mapping[str, int]) -> bool:
    """Tell whether the interaction counts as repeatability."""
    if interaction != "auto":
        return interaction == "pool"
    p = _f_tail(means["interaction"], dof["interaction"], means["trials"], dof["trials"])
    return p is not None and p > _POOL_ABOVE


def _sums_of_squares(x: FloatArray) -> tuple[dict[str, float], dict[str, int]]:
    """Give the sums of squares from means of means: nothing large is subtracted."""
    parts, persons, trials = x.shape
    x = x - x.mean()
    x = x - x.mean()
    of_part, of_person = x.mean(axis=(1, 2)), x.mean(axis=(0, 2))
    cell = x.mean(axis=2)
    left = cell - of_part[:, None] - of_person[None, :]
    squares = {
        "parts": persons * trials * float(np.sum(of_part**2)),
        "persons": parts * trials * float(np.sum(of_person**2)),
        "interaction": trials * float(np.sum(left**2)),
        "trials": float(np.sum((x - cell[:, :, None]) ** 2)),
    }
    if squares["trials"] + squares["parts"] == 0:
        raise CaptureError(
            "gauge study: the values must vary (got all alike).",
            hint="The resolution of the instrument is too coarse for a study.",
        )
    dof = {
        "parts": parts - 1,
        "persons": persons - 1,
        "interaction": (parts - 1) * (persons - 1),
        "trials": parts * persons * (trials - 1),
    }
    return squares, dof


def _f_tail(above: float, dof_above: int, below: float, dof_below: int) -> float | None:
    """Chance of a ratio of mean squares as large as this one."""
    from scipy.special import fdtrc  # start-up: scipy only when needed

    if below == 0:
        return None
    return float(fdtrc(dof_above, dof_below, above / below))


def _full_rows(
    squares: Mapping[str, float], dof: Mapping[str, int], *, crossed: bool
) -> tuple[Source, ...]:
    """Analysis of variance with the interaction, which parts and persons are tested against."""
    trials = _row("trials", squares, dof, None)
    if not crossed:
        return _row("parts", squares, dof, trials), trials
    both = _row("interaction", squares, dof, trials)
    parts, persons = (_row(name, squares, dof, both) for name in ("parts", "persons"))
    return parts, persons, both, trials


def _pooled_rows(
    squares: Mapping[str, float], dof: Mapping[str, int], error: float, error_dof: int
) -> tuple[Source, ...]:
    """Analysis of variance with the interaction counted as repeatability."""
    last = Source(
        name="repeatability", dof=error_dof, sum_of_squares=error * error_dof, mean_square=error
    )
    return *(_row(name, squares, dof, last) for name in ("parts", "persons")), last


def _row(
    name: str, squares: Mapping[str, float], dof: Mapping[str, int], below: Source | None
) -> Source:
    mean = squares[name] / dof[name]
    row = Source(name=name, dof=dof[name], sum_of_squares=squares[name], mean_square=mean)
    if below is None or below.mean_square == 0:
        return row
    p = _f_tail(mean, dof[name], below.mean_square, below.dof)
    return replace(row, f=mean / below.mean_square, p=p)


def _study(
    variance: Mapping[str, float],
    tolerance: float | None,
    *,
    crossed: bool,
    pooled: bool,
    method: str = "analysis of variance",
) -> GaugeStudy:
    gauge = variance["EV"] + variance["INT"] + variance["AV"]
    total = gauge + variance["PV"]

    def share(part: float) -> Share:
        sigma = math.sqrt(part)
        return Share(
            sigma=sigma,
            percent_study=100 * math.sqrt(part / total),
            percent_contribution=100 * part / total,
            percent_tolerance=None
            if tolerance is None
            else 100 * _STUDY_WIDTH * sigma / tolerance,
        )

    distinct = _NDC * math.sqrt(variance["PV"] / gauge) if gauge > 0 else None
    return GaugeStudy(
        method=method,
        repeatability=share(variance["EV"]),
        reproducibility=share(variance["AV"]) if crossed else None,
        interaction=share(variance["INT"]) if crossed and not pooled else None,
        gauge=share(gauge),
        parts=share(variance["PV"]),
        total=share(total),
        ndc=None if distinct is None else math.floor(distinct),
        distinct=distinct,
    )


def average_and_range(values: ArrayLike, *, tolerance: float | None = None) -> GaugeStudy:
    """Analyse a crossed gauge study by averages and ranges.

    Parameters
    ----------
    values : (P, O, R) float
        2 to 10 parts, 2 or 3 persons, 2 or 3 trials.
    tolerance : float, optional
        Upper less lower limit.

    Returns
    -------
    GaugeStudy

    Raises
    ------
    CaptureError
        When the values are no complete table of that size, or do not vary at all.

    Notes
    -----
    EV = K1 * mean range; AV^2 = (K2 * range of the persons' means)^2 - EV^2/(parts * trials);
    PV = K3 * range of the parts' means. Source: AIAG, *Measurement Systems Analysis*, 4th ed.
    2010 (constants as printed on public pages, further sizes from memory; tests integrate them).
    """
    x = _study_values(values)
    parts, persons, trials = x.shape
    if parts not in _K3 or persons not in _K2 or trials not in _K1:
        raise CaptureError(
            "average and range: must have 2 to 10 parts, 2 or 3 persons and 2 or 3 trials (got "
            f"{parts}, {persons} and {trials}).",
            hint="Take the analysis of variance: it has no such bounds.",
        )
    mean_range = float(np.ptp(x, axis=2).mean())
    apart = float(np.ptp(x.mean(axis=(0, 2))))
    spread = float(np.ptp(x.mean(axis=(1, 2))))
    repeat = _K1[trials] * mean_range
    if not (repeat or spread):
        raise CaptureError(
            "gauge study: the values must vary (got all alike).",
            hint="The resolution of the instrument is too coarse for a study.",
        )
    persons_square = (_K2[persons] * apart) ** 2 - repeat**2 / (parts * trials)
    variance = {
        "EV": repeat**2,
        "INT": 0.0,
        "AV": max(0.0, persons_square),
        "PV": (_K3[parts] * spread) ** 2,
    }
    return _study(variance, tolerance, crossed=True, pooled=True, method="average and range")


@dataclass(frozen=True, slots=True, kw_only=True)
class Bias:
    """Mean less reference, with its interval; ``significant`` when zero lies outside it.

    ``u`` is the standard uncertainty of the mean and of the reference together.
    """

    reference: float
    value: float
    u: float
    low: float
    high: float
    p: float

    @property
    def significant(self) -> bool:
        """Whether chance alone would rarely make such a bias."""
        return not self.low <= 0 <= self.high


def bias(
    values: ArrayLike, reference: float, *, u_reference: float = 0.0, confidence: float = 0.95
) -> Bias:
    """Compare repeated measurements of a reference coil with its certified value.

    Parameters
    ----------
    values : (N,) float
        At least two.
    reference : float
    u_reference : float
        Standard uncertainty of the certified value.
    confidence : float

    Returns
    -------
    Bias

    Raises
    ------
    CaptureError
        When there are fewer than two values.

    Notes
    -----
    t with effective degrees of freedom (n - 1)(u/u_mean)^4. Source: JCGM 100:2008, annex G.4;
    AIAG, *Measurement Systems Analysis*, 4th ed. 2010 (from memory).
    """
    from scipy.special import stdtr, stdtrit  # start-up: scipy only when needed

    x = values_of(values, least=2)
    off = float(x.mean()) - reference
    u_mean = float(np.std(x, ddof=1)) / math.sqrt(x.size)
    u = math.hypot(u_mean, u_reference)
    if u == 0:
        same = 1.0 if off == 0 else 0.0
        return Bias(reference=reference, value=off, u=0.0, low=off, high=off, p=same)
    dof = math.inf if u_mean == 0 else (x.size - 1) * (u / u_mean) ** 4
    dof = min(dof, 1e9)
    reach = float(stdtrit(dof, 0.5 + confidence / 2)) * u
    p = 2 * float(stdtr(dof, -abs(off) / u))
    return Bias(reference=reference, value=off, u=u, low=off - reach, high=off + reach, p=p)


@dataclass(frozen=True, slots=True, kw_only=True)
class Linearity:
    """Bias as a straight line over the reference value.

    ``slope_p`` is the chance of such a slope, ``intercept_p`` of such a bias at reference zero,
    where there is none.
    """

    slope: float
    slope_u: float
    slope_p: float
    intercept: float
    intercept_u: float
    intercept_p: float
    sd: float
    r_squared: float


def linearity(references: ArrayLike, values: ArrayLike) -> Linearity:
    """Fit the bias over several reference coils.

    Parameters
    ----------
    references : (N,) float
        Certified value of the part measured; each may stand several times.
    values : (N,) float
        What was measured.

    Returns
    -------
    Linearity

    Raises
    ------
    CaptureError
        When the rows are not equally long, are fewer than three, or hold one reference only.

    Notes
    -----
    Least squares of value less reference over the reference. Source: AIAG, *Measurement Systems
    Analysis*, 4th ed. 2010 (from memory); the regression is held against certified data.
    """
    from scipy.special import stdtr  # start-up: scipy only when needed

    x, y = values_of(references, least=3), values_of(values, least=3)
    if x.size != y.size or float(np.ptp(x)) == 0:
        raise CaptureError(
            "linearity: must have as many values as references, of two references at least (got "
            f"{y.size} values of {np.unique(x).size} references).",
            hint="Measure a low and a high reference coil several times each.",
        )
    off = y - x
    centred = x - x.mean()
    width = float(centred @ centred)
    slope = float(centred @ (off - off.mean())) / width
    intercept = float(off.mean()) - slope * float(x.mean())
    left = off - off.mean() - slope * centred
    dof = x.size - 2
    sd = math.sqrt(float(left @ left) / dof)
    slope_u = sd / math.sqrt(width)
    intercept_u = sd * math.sqrt(1 / x.size + float(x.mean()) ** 2 / width)
    total = float(np.sum((off - off.mean()) ** 2))

    def chance(value: float, u: float) -> float:
        if u == 0:
            return 1.0 if value == 0 else 0.0
        return 2 * float(stdtr(dof, -abs(value) / u))

    return Linearity(
        slope=slope,
        slope_u=slope_u,
        slope_p=chance(slope, slope_u),
        intercept=intercept,
        intercept_u=intercept_u,
        intercept_p=chance(intercept, intercept_u),
        sd=sd,
        r_squared=1.0 if total == 0 else 1 - float(left @ left) / total,
    )
