"""Sampling by variables, standard deviation unknown (s-method), after ANSI Z1.9.

The table gives sample size and the greatest estimated fraction nonconforming M for normal
inspection; k follows from M exactly. Source: ANSI/ASQ Z1.9 by a public package of statistics
(values seen), k worked out. ISO 3951-1 is similar, not identical.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from benchapp.errors import UsageError

__all__ = [
    "VARIABLES_AQLS",
    "VARIABLES_LEVELS",
    "SMethodPlan",
    "VariablesVerdict",
    "estimated_fraction",
    "judge_variables",
    "s_method_plan",
    "variables_letter",
]

VARIABLES_AQLS = (0.10, 0.15, 0.25, 0.40, 0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
VARIABLES_LEVELS = ("S-3", "S-4", "I", "II", "III")
_LOT_ENDS = (
    *(8, 15, 25, 50, 90, 150, 280, 400, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000),
    math.inf,
)
_LETTERS_OF_LOT = (
    *("BBBBC", "BBBBD", "BBBCE", "BBCDF", "BBDEG", "BCEFH", "BDFGI", "CEGHJ", "CEGIJ"),
    *("DFHJK", "EGIKL", "FHJLM", "GIKMN", "HJLNP", "HKMPP", "HKNPP"),
)
_SMALL = ((7, 0.005), (7, 0.087), (7, 0.421), (5, 0.041), (5, 1.34))
_CELLS: Mapping[str, tuple[tuple[int, float], ...]] = MappingProxyType(
    {
        "B": (*_SMALL, (4, 1.49), (4, 5.46), (3, 7.59), (3, 18.86), (3, 26.94), (3, 33.69)),
        "C": (*_SMALL, (4, 1.49), (4, 5.46), (4, 10.88), (4, 16.41), (4, 22.84), (4, 29.43)),
        "D": (*_SMALL, (5, 3.33), (5, 5.82), (5, 9.80), (5, 14.37), (5, 20.19), (5, 26.55)),
    }
)
_SIZES = {"E": 7, "F": 10, "G": 15, "H": 20, "I": 25, "J": 35, "K": 50, "L": 75, "M": 100}
_SIZES |= {"N": 150, "P": 200}
_PERCENTS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "E": (0.005, 0.087, 0.421, 1.05, 2.13, 3.54, 5.34, 8.40, 12.19, 17.34, 23.30),
        "F": (0.179, 0.349, 0.714, 1.27, 2.14, 3.27, 4.72, 7.26, 10.53, 15.17, 20.73),
        "G": (0.311, 0.491, 0.839, 1.33, 2.09, 3.06, 4.32, 6.55, 9.48, 13.74, 18.97),
        "H": (0.356, 0.531, 0.864, 1.33, 2.03, 2.93, 4.10, 6.18, 8.95, 13.01, 18.07),
        "I": (0.378, 0.551, 0.874, 1.32, 2.00, 2.86, 3.97, 5.98, 8.65, 12.60, 17.55),
        "J": (0.373, 0.534, 0.833, 1.24, 1.87, 2.66, 3.70, 5.58, 8.11, 11.89, 16.67),
        "K": (0.355, 0.503, 0.778, 1.16, 1.73, 2.47, 3.44, 5.21, 7.61, 11.23, 15.87),
        "L": (0.326, 0.461, 0.711, 1.06, 1.59, 2.27, 3.17, 4.83, 7.10, 10.58, 15.07),
        "M": (0.315, 0.444, 0.684, 1.02, 1.52, 2.18, 3.06, 4.67, 6.88, 10.29, 14.71),
        "N": (0.292, 0.412, 0.636, 0.946, 1.42, 2.05, 2.88, 4.42, 6.56, 9.86, 14.18),
        "P": (0.294, 0.414, 0.637, 0.945, 1.42, 2.04, 2.86, 4.39, 6.52, 9.80, 14.11),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SMethodPlan:
    """A plan by variables: measure ``n`` parts, take mean and s.

    For one limit accept when (limit - mean)/s is ``k`` or more; for two limits when the estimated
    fraction outside both is ``most`` (M, a fraction) or less. ``everything``: the lot is not
    larger than the sample.
    """

    letter: str
    n: int
    k: float
    most: float
    aql: float
    everything: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class VariablesVerdict:
    """What a sample by variables says: the estimated fraction outside, and whether it is accepted.

    ``below`` and ``above`` are the estimates for each limit, None where there is none.
    """

    accepted: bool
    outside: float
    below: float | None
    above: float | None


def variables_letter(lot_size: int, level: str = "II") -> str:
    """Give the code letter of a lot for sampling by variables (ANSI Z1.9 Table A-2).

    Parameters
    ----------
    lot_size : int
    level : {'S-3', 'S-4', 'I', 'II', 'III'}

    Returns
    -------
    str

    Raises
    ------
    UsageError
        When the lot is too small or there is no such level.
    """
    if level not in VARIABLES_LEVELS:
        raise UsageError(
            f"inspection level: must be one of {', '.join(VARIABLES_LEVELS)} (got '{level}').",
            hint="II is usual.",
        )
    if lot_size < 2:
        raise UsageError(
            f"lot size: must be two or more for sampling (got {lot_size}).",
            hint="Inspect a single part by itself.",
        )
    row = next(place for place, end in enumerate(_LOT_ENDS) if lot_size <= end)
    return _LETTERS_OF_LOT[row][VARIABLES_LEVELS.index(level)]


def s_method_plan(lot_size: int, aql: float, level: str = "II") -> SMethodPlan:
    """Give the plan by variables of a lot, normal inspection, sigma unknown.

    Parameters
    ----------
    lot_size : int
    aql : float
        Percent, one of `VARIABLES_AQLS`.
    level : str
        One of `VARIABLES_LEVELS`.

    Returns
    -------
    SMethodPlan

    Raises
    ------
    UsageError
        When size, level or AQL is not one of the table's.
    """
    letter = variables_letter(lot_size, level)
    if aql not in VARIABLES_AQLS:
        raise UsageError(
            f"AQL: must be one of {', '.join(f'{each:g}' for each in VARIABLES_AQLS)} % "
            f"(got {aql:g} %).",
            hint="The table by variables is shorter than that by attributes.",
        )
    place = VARIABLES_AQLS.index(aql)
    if letter in _CELLS:
        n, percent = _CELLS[letter][place]
    else:
        n, percent = _SIZES[letter], _PERCENTS[letter][place]
    return SMethodPlan(
        letter=letter,
        n=min(n, lot_size),
        k=_k(percent / 100, n),
        most=percent / 100,
        aql=aql,
        everything=n >= lot_size,
    )


def _k(most: float, n: int) -> float:
    """Give k of one limit: (1 - 2 B)(n - 1)/sqrt(n), B the beta quantile of M, shapes n/2 - 1."""
    from scipy.special import betaincinv  # start-up: scipy only when needed

    shape = n / 2 - 1
    return float((1 - 2 * betaincinv(shape, shape, most)) * (n - 1) / math.sqrt(n))


def estimated_fraction(distance: float, n: int) -> float:
    """Give the unbiased estimate of the fraction beyond a limit.

    The beta distribution function with both shapes n/2 - 1 at
    max(0, 1/2 - distance sqrt(n)/(2 (n - 1))).

    Parameters
    ----------
    distance : float
        (limit - mean)/s, positive inside.
    n : int
        Three or more.

    Returns
    -------
    float

    Raises
    ------
    UsageError
        When there are fewer than three parts.

    Notes
    -----
    Source: ANSI Z1.9 Appendix (Lieberman and Resnikoff 1955), from memory.
    """
    if n < 3:
        raise UsageError(
            f"sample by variables: must have three parts or more (got {n}).",
            hint="Judge so few parts by attributes.",
        )
    from scipy.special import betainc  # start-up: scipy only when needed

    place = 0.5 - distance * math.sqrt(n) / (2 * (n - 1))
    return float(betainc(n / 2 - 1, n / 2 - 1, min(max(place, 0.0), 1.0)))


def judge_variables(
    plan: SMethodPlan,
    mean: float,
    deviation: float,
    *,
    lower: float | None = None,
    upper: float | None = None,
) -> VariablesVerdict:
    """Judge a lot by mean and standard deviation of its sample.

    Parameters
    ----------
    plan : SMethodPlan
    mean, deviation : float
        Of the ``n`` parts, the deviation with n - 1; above zero.
    lower, upper : float, optional
        Limits, one at least.

    Returns
    -------
    VariablesVerdict
        Holds for a normal distribution only: look at the values first.

    Raises
    ------
    UsageError
        When there is no limit or no spread.
    """
    if lower is None and upper is None:
        raise UsageError("limits: must have one at least (got none).", hint="Give the design's.")
    if not deviation > 0:
        raise UsageError(
            f"standard deviation: must be above zero (got {deviation!r}).",
            hint="Equal readings of all parts mean too coarse a resolution: use attributes.",
        )
    below = None if lower is None else estimated_fraction((mean - lower) / deviation, plan.n)
    above = None if upper is None else estimated_fraction((upper - mean) / deviation, plan.n)
    outside = (below or 0.0) + (above or 0.0)
    return VariablesVerdict(
        accepted=outside <= plan.most, outside=outside, below=below, above=above
    )
