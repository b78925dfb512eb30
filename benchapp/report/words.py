"""The texts of reports through one table, so that a settings file can say them otherwise."""

from __future__ import annotations

import string
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from benchapp.errors import UsageError

__all__ = ["PHRASES", "Words"]

PHRASES: frozenset[str] = frozenset(
    (
        # every report
        "page {page} of {pages}",
        "Report number",
        "Issued",
        "Issued by",
        "Customer",
        "Place of measurement",
        "Measured by",
        "Software",
        "not stated",
        "Statements",
        "The results concern only the items tested, as they were received.",
        "This is no certificate of calibration, and no accreditation is claimed.",
        "Only the whole report may be passed on; parts of it need the issuer's consent.",
        "End of report {number}",
        "Authorised by",
        "Date and signature",
        "Cautions",
        "Traceable digests",
        "Method",
        "Item",
        "Results",
        # part
        "Part report",
        "Part",
        "Serial or name",
        "Design",
        "File",
        "Measured on",
        "Conditions",
        "Limits hold at",
        "Frequency range",
        "Points",
        "{used} used of {read} read",
        "Steps applied",
        "Circuit",
        "Verdict",
        "No design was given: nothing is judged.",
        "Decision rule",
        "Quantity",
        "Measured ± U",
        "Limits",
        "Guard band",
        "Margin",
        "Outcome",
        "Not determined by these data",
        "The circuit does not describe the data: do not use these values.",
        "U = {coverage} u, about 95 % where the distribution is near normal; u counts {what}.",
        "Checks",
        "Level",
        "Seen",
        "To do",
        "none",
        "accepted by {name}: {reason}",
        "Uncertainty budget",
        "Contribution",
        "Standard uncertainty",
        "Share",
        "Evaluation",
        "What may be wrong",
        "Likelihood",
        "As if",
        "Next test",
        "Understood from the file",
        "Subject",
        "Taken as",
        "Why",
        (
            "Points: measured; line: fit; shaded: where every part within its limits lies; below: "
            "residuals in standard uncertainties."
        ),
        # lot
        "Lot report",
        "Lot",
        "Revision",
        "Supplier",
        "Order",
        "Date code",
        "Quantity delivered",
        "Inspection plan",
        "Kind of plan",
        "Source of the plan",
        "Sample",
        "Decision",
        "Conclusion",
        "Parts measured",
        "Conforming",
        "Capability",
        "Distribution",
        "Mean",
        "Standard deviation",
        "Lowest",
        "Highest",
        "At least (95 %)",
        "Interval (95 %)",
        "Index",
        "Value",
        "All parts",
        "Attempt",
        "Reason",
        "Worst parts",
        "Sweeps over each other",
        "Hints",
        "Unreadable files",
        "Histogram of {name} with its limits.",
        "Control chart of {name}: rings mark points that complete a pattern chance rarely makes.",
        "{count} sweeps; those of parts that are not accepted ({odd}) stand out.",
        "Reference coil",
        "Capability indices assume a normal distribution; look at the histogram first.",
        # supplier
        "Complaint to the supplier",
        "What failed",
        "How it was measured",
        "How to reproduce it",
        "Please state",
        "the cause, and since which batch it is there;",
        "what was done at once with parts in stock and on the way;",
        "what prevents it from now on, and when it takes effect.",
        "Measure at the conditions named above, with the fixture compensated.",
        (
            "Sweep from {low} to {high} with at least {points} points, and fit the circuit "
            "{circuit} to it."
        ),
        "Judge by the limits and the decision rule above; the digests below name the files.",
        # gauge
        "Gauge study",
        "Study",
        "Parts, persons, trials",
        "Judgement",
        "Distinct categories",
        "Every value over its part; the persons stand beside each other.",
        "Bias",
        "Reference value",
        "Significant",
        "yes",
        "none shown",
        "Linearity",
        "Slope",
        "Offset",
        "Source",
        "Percent of study",
        "Percent of variance",
        "Percent of tolerance",
        "Analysis of variance",
        "Degrees of freedom",
        "Mean square",
        "F",
        "p",
        # design and calculation
        "Nominal design",
        "Limit",
        "Nominal",
        "History",
        "Date",
        "By",
        "Change",
        "Tolerance stack-up",
        "Worst case",
        "Root sum of squares",
        "Stress on the capacitor",
        "Case",
        "Allowed",
        "Calculation",
        "Given",
    )
)
"""Every phrase that reports are written with; a settings file may give each another text."""


def _fields(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """The phrases in the language of a report; one without another text stays as it is.

    Raises
    ------
    UsageError
        When a changed phrase does not exist, or its text lacks a place for a value.
    """

    language: str = "en"
    changed: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def __post_init__(self) -> None:
        for phrase, text in self.changed.items():
            if phrase not in PHRASES:
                raise UsageError(
                    f"texts: must name phrases of reports (got {phrase!r}).",
                    hint="The documentation of reports lists them.",
                )
            if not _same_fields(phrase, text):
                raise UsageError(
                    f"texts: the text for {phrase!r} must have the same places in braces "
                    f"(got {text!r}).",
                    hint="Keep each {name} where its value belongs.",
                )

    def __call__(self, phrase: str, **values: object) -> str:
        """Give a phrase with its values in place."""
        text = self.changed.get(phrase, phrase)
        return text.format(**values) if values else text


def _same_fields(phrase: str, text: str) -> bool:
    try:
        return _fields(phrase) == _fields(text)
    except ValueError:
        return False
