"""A verdict as plain values: the form that JSON has wherever limits are written."""

from __future__ import annotations

import math
from typing import Any

from benchapp.nominal.value import LimitVerdict
from benchapp.uncertainty import Budget

__all__ = ["limit_values"]


def limit_values(entry: LimitVerdict) -> dict[str, Any]:
    """Give what was found about one limit, in SI units; what is not known is None.

    Parameters
    ----------
    entry : LimitVerdict
    """
    return {
        "quantity": entry.limit.quantity,
        "at": entry.limit.at,
        "unit": entry.limit.unit,
        "measured": None if entry.measured is None else entry.measured.value,
        "U": entry.expanded,
        "lower": entry.limit.lower,
        "upper": entry.limit.upper,
        "guard": entry.guard,
        "outcome": entry.outcome.value,
        "margin_percent": entry.margin_percent,
        "probability_outside": entry.probability_outside,
        "probability_conforming": entry.probability_conforming,
        "probability_false_accept": entry.probability_false_accept,
        "probability_false_reject": entry.probability_false_reject,
        "false_accept_at_limit": entry.false_accept_at_limit,
        "uncertainty_ratio": entry.uncertainty_ratio,
        "budget": None if entry.budget is None else _budget_values(entry.budget),
        "reason": entry.reason,
    }


def _budget_values(budget: Budget) -> dict[str, Any]:
    dominant = budget.dominant
    return {
        "u": budget.u,
        "dof": budget.dof if math.isfinite(budget.dof) else None,
        "terms": [
            {
                "name": term.name,
                "u": term.contribution,
                "share": share,
                "evaluation": term.evaluation,
                "dof": term.dof if math.isfinite(term.dof) else None,
            }
            for term, share in zip(budget.terms, budget.shares, strict=True)
        ],
        "dominant": None if dominant is None else dominant.name,
        "to_halve": budget.halving,
    }
