"""Which parts of a lot are inspected, and when the lot is accepted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from benchapp.errors import UsageError
from benchapp.sampling import (
    Severity,
    operating_characteristic,
    s_method_plan,
    single_plan,
    zero_acceptance,
)

__all__ = ["KINDS", "LotPlan", "PlanChoice"]

Kind = Literal["attributes", "zero", "variables", "all"]
KINDS: dict[Kind, str] = {
    "attributes": "single sampling by attributes",
    "zero": "zero acceptance",
    "variables": "single sampling by variables, s method",
    "all": "every part is inspected",
}
"""Kinds of plans, and their names in words."""

_VERIFY = "verify it against your organisation's copy of the standard in force"
_SOURCES: dict[Kind, str] = {
    "attributes": f"MIL-STD-105E Tables I and II; {_VERIFY}",
    "zero": "hypergeometric distribution, exact for the lot",
    "variables": f"ANSI Z1.9 Tables A-2 and B, s method; {_VERIFY}",
    "all": "100 % inspection: no table",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LotPlan:
    """How many parts are inspected, and when the lot is accepted.

    Accepted with up to ``accept`` nonconforming parts among ``n``, rejected from ``reject`` on.
    ``letter`` is empty where no table was used; ``used_letter`` is where its arrow leads. ``k``
    and ``most`` (M, a fraction) belong to a plan by variables, which the mean and s of each
    quantity decide, ``fraction`` and ``risk`` to one with zero acceptance. ``everything``: the
    whole lot is inspected. ``severity_why`` says why it is inspected with this severity: by the
    switching rules, or by whose decision.
    """

    kind: Kind
    quantity: int
    n: int
    accept: int
    reject: int
    letter: str = ""
    used_letter: str = ""
    aql: float | None = None
    level: str = ""
    severity: Severity = "normal"
    severity_why: str = ""
    everything: bool = False
    k: float | None = None
    most: float | None = None
    fraction: float | None = None
    risk: float | None = None

    @property
    def source(self) -> str:
        """Where the plan comes from."""
        return _SOURCES[self.kind]

    def acceptance(self, fraction: NDArray[np.float64]) -> NDArray[np.float64] | None:
        """Give the probability of accepting lots with these fractions nonconforming.

        Parameters
        ----------
        fraction : (N,) float

        Returns
        -------
        (N,) float or None
            Exact for the size of the lot. None for a plan by variables, whose curve depends on the
            distribution of the values.
        """
        if self.kind == "variables":
            return None
        return operating_characteristic(self.n, self.accept, fraction, lot_size=self.quantity)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChoice:
    """What a person chooses about sampling.

    ``aql`` in percent and ``level`` for the two kinds from tables; ``fraction`` nonconforming that
    a zero-acceptance plan keeps out but for ``risk``.
    """

    kind: Kind = "attributes"
    aql: float = 1.0
    level: str = "II"
    severity: Severity = "normal"
    severity_why: str = ""
    fraction: float = 0.05
    risk: float = 0.1

    def plan(self, quantity: int) -> LotPlan:
        """Make the plan for a lot of that many parts.

        Raises
        ------
        UsageError
            When there is no such plan: the lot is too small, the AQL is not one of the table's.
        """
        if self.kind not in KINDS:
            raise UsageError(
                f"plan: must be one of {', '.join(KINDS)} (got '{self.kind}').",
                hint="attributes is usual.",
            )
        if quantity < 1:
            raise UsageError(
                f"lot size: must be one part or more (got {quantity}).",
                hint="Count the parts that were delivered.",
            )
        if self.kind == "all" or quantity == 1:
            return _whole(quantity)
        return {"attributes": self._attributes, "zero": self._zero, "variables": self._variables}[
            self.kind
        ](quantity)

    def _attributes(self, quantity: int) -> LotPlan:
        plan = single_plan(quantity, self.aql, self.level, self.severity)
        return LotPlan(
            kind="attributes",
            quantity=quantity,
            n=plan.n,
            accept=plan.accept,
            reject=plan.reject,
            letter=plan.letter,
            used_letter=plan.used_letter,
            aql=self.aql,
            level=self.level,
            severity=self.severity,
            severity_why=self.severity_why,
            everything=plan.everything,
        )

    def _zero(self, quantity: int) -> LotPlan:
        n = zero_acceptance(quantity, self.fraction, self.risk)
        return LotPlan(
            kind="zero",
            quantity=quantity,
            n=n,
            accept=0,
            reject=1,
            everything=n == quantity,
            fraction=self.fraction,
            risk=self.risk,
        )

    def _variables(self, quantity: int) -> LotPlan:
        if self.severity != "normal":
            raise UsageError(
                f"severity: must be normal for a plan by variables (got '{self.severity}').",
                hint="Only the normal table is part of this program: judge by attributes.",
            )
        plan = s_method_plan(quantity, self.aql, self.level)
        return LotPlan(
            kind="variables",
            quantity=quantity,
            n=plan.n,
            accept=0,
            reject=1,
            letter=plan.letter,
            used_letter=plan.letter,
            aql=self.aql,
            level=self.level,
            everything=plan.everything,
            k=plan.k,
            most=plan.most,
        )


def _whole(quantity: int) -> LotPlan:
    return LotPlan(kind="all", quantity=quantity, n=quantity, accept=0, reject=1, everything=True)
