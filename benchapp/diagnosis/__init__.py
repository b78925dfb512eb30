"""What may be wrong with a part, and why two captures of one part disagree."""

from __future__ import annotations

from benchapp.diagnosis.disagreement import CAUSES, Subject, explain
from benchapp.diagnosis.fault import FAMILIES
from benchapp.diagnosis.hypotheses import hypotheses
from benchapp.diagnosis.value import Cause, Diagnosis, Disagreement, Hypothesis

__all__ = [
    "CAUSES",
    "FAMILIES",
    "Cause",
    "Diagnosis",
    "Disagreement",
    "Hypothesis",
    "Subject",
    "explain",
    "hypotheses",
]
