"""What every report begins and ends with: number, dates, names, statements, signature."""

from __future__ import annotations

from dataclasses import dataclass, field

from benchapp.report.document import (
    Block,
    Caution,
    Document,
    Facts,
    Heading,
    Paragraph,
    Signature,
)
from benchapp.report.template import Template

__all__ = ["Issue", "issued"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Issue:
    """By whom, when and for whom a report is issued. All of it is input: nothing is looked up.

    ``time`` is ISO 8601; ``version`` that of the software; an empty text is not stated.
    """

    number: str
    time: str
    version: str = ""
    operator: str = ""
    authoriser: str = ""
    customer: str = ""
    place: str = ""
    template: Template = field(default_factory=Template)


def issued(
    issue: Issue, title: str, blocks: tuple[Block, ...], cautions: tuple[str, ...] = ()
) -> Document:
    """Put blocks between the beginning and the end that every report has.

    Notes
    -----
    Source: ISO/IEC 17025:2017, 7.8.2.1 (what a report holds; clause from memory).
    """
    words, house = issue.template.words, issue.template.house
    unknown = words("not stated")
    opening = Facts(
        rows=(
            (words("Report number"), issue.number),
            (words("Issued"), issue.time),
            (words("Issued by"), house.name or unknown),
            (words("Customer"), issue.customer or unknown),
            (words("Place of measurement"), issue.place or unknown),
            (words("Measured by"), issue.operator or unknown),
            (words("Software"), f"benchapp {issue.version}"),
        )
    )
    warned: tuple[Block, ...] = ()
    if cautions:
        warned = (Heading(text=words("Cautions")), *(Caution(text=text) for text in cautions))
    closing: tuple[Block, ...] = (
        Heading(text=words("Statements")),
        Paragraph(text=words("The results concern only the items tested, as they were received.")),
        Paragraph(
            text=words("This is no certificate of calibration, and no accreditation is claimed.")
        ),
        Paragraph(
            text=words(
                "Only the whole report may be passed on; parts of it need the issuer's consent."
            )
        ),
        Signature(
            fields=(
                (words("Authorised by"), issue.authoriser),
                (words("Date and signature"), ""),
            )
        ),
        Paragraph(text=words("End of report {number}", number=issue.number), tone="small"),
    )
    return Document(
        title=words(title),
        number=issue.number,
        blocks=(opening, *blocks, *warned, *closing),
        language=words.language,
        paper=issue.template.paper,
        house=house,
        page=words("page {page} of {pages}"),
    )
