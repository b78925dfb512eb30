"""Every long act as a frozen callable ``(progress, cancelled) -> result``.

The same job runs from a test, from the command line and from the window's worker, so that what
one shows the others print.
"""

from __future__ import annotations

from benchapp.jobs.calculation import (
    CoilAnswer,
    ComputeCoil,
    SimulateTanks,
)
from benchapp.jobs.correction import (
    CorrectCapture,
    Nulling,
    OpenCorrections,
    Recheck,
)
from benchapp.jobs.instrument import (
    Discover,
    ExamineAddress,
    SwitchOff,
    TakeSweep,
    unwatched,
)
from benchapp.jobs.part import (
    SAMPLE_CAPTURE,
    SAMPLE_NOMINAL,
    ComparePart,
    Examination,
    ExplainParts,
    FitCapture,
    FitChoices,
    JudgedPart,
    OpenAccuracy,
    OpenFile,
    OpenNominal,
    OpenThresholds,
    SaveCaptures,
    Unreadable,
    part_name,
    sample_folder,
)
from benchapp.jobs.progress import (
    Cancelled,
    Progress,
    not_cancelled,
    silent,
)

__all__ = [
    "SAMPLE_CAPTURE",
    "SAMPLE_NOMINAL",
    "Cancelled",
    "CoilAnswer",
    "ComparePart",
    "ComputeCoil",
    "CorrectCapture",
    "Discover",
    "Examination",
    "ExamineAddress",
    "ExplainParts",
    "FitCapture",
    "FitChoices",
    "JudgedPart",
    "Nulling",
    "OpenAccuracy",
    "OpenCorrections",
    "OpenFile",
    "OpenNominal",
    "OpenThresholds",
    "Progress",
    "Recheck",
    "SaveCaptures",
    "SimulateTanks",
    "SwitchOff",
    "TakeSweep",
    "Unreadable",
    "not_cancelled",
    "part_name",
    "sample_folder",
    "silent",
    "unwatched",
]
