"""The nominal design: its file, the envelope of its tolerances, and the verdict on a part."""

from __future__ import annotations

from benchapp.nominal.envelope import Envelope, envelope, envelope_obstacle
from benchapp.nominal.file import load_nominal, nominal_from
from benchapp.nominal.judge import judge, judged_at, stated_conditions
from benchapp.nominal.value import (
    Accepted,
    Construction,
    Decision,
    Limit,
    LimitVerdict,
    Nominal,
    Outcome,
    Verdict,
)

__all__ = [
    "Accepted",
    "Construction",
    "Decision",
    "Envelope",
    "Limit",
    "LimitVerdict",
    "Nominal",
    "Outcome",
    "Verdict",
    "envelope",
    "envelope_obstacle",
    "judge",
    "judged_at",
    "load_nominal",
    "nominal_from",
    "stated_conditions",
]
