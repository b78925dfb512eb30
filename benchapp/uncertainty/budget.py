"""The budget of one result: its contributions, the largest of them, and what would halve U."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchapp.uncertainty.propagation import effective_dof
from benchapp.units import Estimate

__all__ = ["Budget", "Term"]

_QUARTER = 0.25  # of the variance is left when an uncertainty is halved
_LEFT = 0.2  # of the variance may come from terms left alone, so that no term must vanish


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One line of a budget: what contributes, and the standard uncertainty it causes.

    ``contribution`` is |sensitivity| * u of the input, in the unit of the result; ``evaluation``
    is 'A' where it was found from repetitions or residuals and 'B' where from other knowledge
    (JCGM 100:2008, 2.3.2 and 2.3.3).
    """

    name: str
    contribution: float
    dof: float = math.inf
    evaluation: str = "B"
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The independent contributions to the uncertainty of one result.

    Correlated inputs belong into one term: a fit gives one, from its whole covariance.
    """

    quantity: str
    value: float
    unit: str
    terms: tuple[Term, ...]

    @classmethod
    def of_fit(cls, estimate: Estimate, dof: float, others: Sequence[Term] = ()) -> Budget:
        """Make the budget of a fitted quantity: the fit's own part, and what else is known.

        Parameters
        ----------
        estimate : Estimate
            From a fit; its ``u`` becomes the first term where it is known.
        dof : float
            Degrees of freedom of the fit.
        others : sequence of Term
            The instrument's part: accuracy, fixture, temperature.
        """
        own = () if estimate.u is None else (_own_part(estimate.u, dof),)
        return cls(
            quantity=estimate.name,
            value=estimate.value,
            unit=estimate.unit,
            terms=(*own, *others),
        )

    @property
    def u(self) -> float | None:
        """Combined standard uncertainty, None without a term (JCGM 100:2008, 5.1.2 (10))."""
        return math.hypot(*(term.contribution for term in self.terms)) if self.terms else None

    @property
    def dof(self) -> float:
        """Effective degrees of freedom of ``u``."""
        return effective_dof(
            [term.contribution for term in self.terms], [term.dof for term in self.terms]
        )

    @property
    def shares(self) -> tuple[float, ...]:
        """Part of the variance that each term causes, summing to 1."""
        total = (self.u or 0.0) ** 2
        return tuple(term.contribution**2 / total if total else 0.0 for term in self.terms)

    @property
    def dominant(self) -> Term | None:
        """The largest term: the one worth improving."""
        return max(self.terms, key=lambda term: term.contribution, default=None)

    def estimate(self) -> Estimate:
        """Give the result with its combined uncertainty."""
        return Estimate(name=self.quantity, value=self.value, u=self.u, unit=self.unit)

    @property
    def halving(self) -> str:
        """What would halve U, in words: the terms to be reduced, and how far.

        Terms are taken from the largest down until the others cause a fifth of the variance or
        less; these are to be reduced, all by the same factor.
        """
        order = sorted(zip(self.shares, self.terms, strict=True), key=lambda pair: -pair[0])
        taken = 0
        rest = 1.0
        while taken < len(order) and rest > _LEFT:
            rest -= order[taken][0]
            taken += 1
        if not self.u:
            return ""
        factor = math.sqrt((_QUARTER - max(rest, 0.0)) / (1.0 - rest))
        names = " and ".join(term.name for _, term in order[:taken])
        remedies = " ".join(term.remedy for _, term in order[:taken] if term.remedy)
        return f"To halve U, bring {names} down to {100 * factor:.0f} %. {remedies}".strip()

    def without(self, name: str) -> float | None:
        """Give the combined uncertainty as it would be with one term removed."""
        rest = tuple(term.contribution for term in self.terms if term.name != name)
        return math.hypot(*rest) if rest else None


def _own_part(u: float, dof: float) -> Term:
    return Term(
        name="scatter of the fit",
        contribution=u,
        dof=dof if dof > 0 else math.inf,
        evaluation="A",
        remedy="Four times the points or averages halve it.",
    )
