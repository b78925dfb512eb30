"""Uncertainty of results: the fit's part and the instrument's part, combined, and the budget."""

from __future__ import annotations

from benchapp.uncertainty.accuracy import DIVISORS, Accuracy, Stated
from benchapp.uncertainty.budget import Budget, Term
from benchapp.uncertainty.file import accuracy_from, load_accuracy
from benchapp.uncertainty.instrument import budget, combine, described, holds, response
from benchapp.uncertainty.propagation import (
    correlation,
    effective_dof,
    expanded,
    from_readings,
    gradient,
    propagate,
    student_coverage,
)

__all__ = [
    "DIVISORS",
    "Accuracy",
    "Budget",
    "Stated",
    "Term",
    "accuracy_from",
    "budget",
    "combine",
    "correlation",
    "described",
    "effective_dof",
    "expanded",
    "from_readings",
    "gradient",
    "holds",
    "load_accuracy",
    "propagate",
    "response",
    "student_coverage",
]
