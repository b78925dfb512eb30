from __future__ import annotations

from benchapp.report.document import Caution, Facts, Signature
from benchapp.report.issue import issued
from tests.report.samples import issue


def test_what_is_not_stated_is_said_to_be_so():
    document = issued(issue(operator=""), "Part report", ())
    rows = dict(next(block for block in document.blocks if isinstance(block, Facts)).rows)
    assert rows["Measured by"] == rows["Customer"] == "not stated"
    assert rows["Report number"] == "R-17"


def test_the_name_of_who_authorises_stands_at_the_signature():
    document = issued(issue(authoriser="C. Dorn"), "Part report", ())
    sign = next(block for block in document.blocks if isinstance(block, Signature))
    assert ("Authorised by", "C. Dorn") in sign.fields


def test_cautions_stand_where_there_are_some():
    assert not [b for b in issued(issue(), "Lot", ()).blocks if isinstance(b, Caution)]
    found = issued(issue(), "Lot", (), ("hot",)).blocks
    assert [b.text for b in found if isinstance(b, Caution)] == ["hot"]
