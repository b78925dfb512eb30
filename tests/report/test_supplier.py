from __future__ import annotations

import pytest

from benchapp.errors import UsageError
from benchapp.report.document import Figure, Table
from benchapp.report.html import html_of
from benchapp.report.supplier import complaint
from tests.report.samples import issue, subject

FAILED = "ga12_lot/0209.csv"


def test_a_complaint_says_what_failed_against_what_and_how_to_see_it_again():
    document = complaint((subject(), subject(FAILED)), issue(), lot=(("Order", "4711"),))
    text = html_of(document)
    for asked in ("Complaint to the supplier", "4711", "fail", "four-terminal clip"):
        assert asked in text
    assert "points, and fit the circuit tank to it." in text
    assert subject(FAILED).sha256 in text


def test_parts_that_passed_are_no_part_of_a_complaint():
    document = complaint((subject(), subject(FAILED)), issue())
    table = next(block for block in document.blocks if isinstance(block, Table))
    assert {row[0] for row in table.rows} == {subject(FAILED).name}
    assert sum(isinstance(block, Figure) for block in document.blocks) == 1


def test_nothing_to_complain_of_is_refused():
    with pytest.raises(UsageError, match="must have a part that failed"):
        complaint((subject(),), issue())
