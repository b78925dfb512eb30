"""The nominal design: its file, the envelope of its tolerances, and the verdict on a part."""

from __future__ import annotations

from benchapp.nominal.difference import differences
from benchapp.nominal.envelope import Envelope, envelope, envelope_obstacle
from benchapp.nominal.file import design_of, load_nominal, nominal_from
from benchapp.nominal.judge import judge, judged_at, stated_conditions
from benchapp.nominal.value import (
    Accepted,
    Construction,
    Decision,
    Limit,
    LimitVerdict,
    Nominal,
    Outcome,
    Revision,
    Verdict,
)
from benchapp.nominal.writing import form_from, toml_text

__all__ = [
    "Accepted",
    "Construction",
    "Decision",
    "Envelope",
    "Limit",
    "LimitVerdict",
    "Nominal",
    "Outcome",
    "Revision",
    "Verdict",
    "design_of",
    "differences",
    "envelope",
    "envelope_obstacle",
    "form_from",
    "judge",
    "judged_at",
    "load_nominal",
    "nominal_from",
    "stated_conditions",
    "toml_text",
]
