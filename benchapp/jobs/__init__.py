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
    OpenStandard,
    Recheck,
)
from benchapp.jobs.export import EXPORTS, Bundle, ExportParts, OpenBundle
from benchapp.jobs.gauge import AnalysedStudy, AnalyseStudy, PlanStudy
from benchapp.jobs.instrument import (
    Discover,
    ExamineAddress,
    SwitchOff,
    TakeSweep,
    unwatched,
)
from benchapp.jobs.logbook import (
    BackUpLogbook,
    LotsOf,
    MergeLogbook,
    OpenEntry,
    OpenLogbook,
    RefitEntry,
    Refitted,
    SearchLogbook,
    VerifyLogbook,
)
from benchapp.jobs.lot import (
    JudgedLot,
    JudgeLot,
    LotFile,
    LotRecipe,
    files_below,
    judge_file,
    record_of,
)
from benchapp.jobs.lot_record import LotKeeper, entry_of
from benchapp.jobs.opening import EARLIER, OpenFile
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
    OpenFacts,
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
from benchapp.jobs.reference import (
    CheckedReference,
    CheckReference,
    KeptChecks,
    Notes,
    OpenReference,
    ReadChecks,
    RecordNotes,
    ReviewReference,
    StationGate,
)
from benchapp.jobs.report import ReportChoices, WriteComplaint, WritePartReport
from benchapp.jobs.settings import AnswerBook, answer_book, settings_folder
from benchapp.jobs.supplier import ReviewSupplier, SupplierLot, SupplierLots
from benchapp.jobs.thresholds import ThresholdBook, threshold_book
from benchapp.jobs.watching import Arrived, AwaitFiles, Stamp, files_now

__all__ = [
    "EARLIER",
    "EXPORTS",
    "SAMPLE_CAPTURE",
    "SAMPLE_NOMINAL",
    "AnalyseStudy",
    "AnalysedStudy",
    "AnswerBook",
    "Arrived",
    "AwaitFiles",
    "BackUpLogbook",
    "Bundle",
    "Cancelled",
    "CheckReference",
    "CheckedReference",
    "CoilAnswer",
    "ComparePart",
    "ComputeCoil",
    "CorrectCapture",
    "Discover",
    "Examination",
    "ExamineAddress",
    "ExplainParts",
    "ExportParts",
    "FitCapture",
    "FitChoices",
    "JudgeLot",
    "JudgedLot",
    "JudgedPart",
    "KeptChecks",
    "LotFile",
    "LotKeeper",
    "LotRecipe",
    "LotsOf",
    "MergeLogbook",
    "Notes",
    "Nulling",
    "OpenAccuracy",
    "OpenBundle",
    "OpenCorrections",
    "OpenEntry",
    "OpenFacts",
    "OpenFile",
    "OpenLogbook",
    "OpenNominal",
    "OpenReference",
    "OpenStandard",
    "OpenThresholds",
    "PlanStudy",
    "Progress",
    "ReadChecks",
    "Recheck",
    "RecordNotes",
    "RefitEntry",
    "Refitted",
    "ReportChoices",
    "ReviewReference",
    "ReviewSupplier",
    "SaveCaptures",
    "SearchLogbook",
    "SimulateTanks",
    "Stamp",
    "StationGate",
    "SupplierLot",
    "SupplierLots",
    "SwitchOff",
    "TakeSweep",
    "ThresholdBook",
    "Unreadable",
    "VerifyLogbook",
    "WriteComplaint",
    "WritePartReport",
    "answer_book",
    "entry_of",
    "files_below",
    "files_now",
    "judge_file",
    "not_cancelled",
    "part_name",
    "record_of",
    "sample_folder",
    "settings_folder",
    "silent",
    "threshold_book",
    "unwatched",
]
