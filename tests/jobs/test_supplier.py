"""The lots of a supplier in the record: grouping, switching, trends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.errors import CancelledError, RecordError
from benchapp.jobs import ReviewSupplier, not_cancelled, silent
from benchapp.logbook import WITHDRAWN, open_logbook
from benchapp.lot import Conclusion
from tests.jobs.lots import FORM, PLAN, keep_lot


def reviewed(record, **choices):
    return ReviewSupplier(record=str(record), **choices)(silent, not_cancelled)


@pytest.fixture
def record(tmp_path):
    return tmp_path / "parts.benchlog"


def test_lots_are_grouped_by_supplier_and_part_whatever_the_capitals(record):
    keep_lot(record, "pp")
    keep_lot(record, "pp", replace(FORM, supplier="coil works", order="2"))
    keep_lot(record, "pp", replace(FORM, part="GA-13"))
    keep_lot(record, "pp", replace(FORM, supplier="Another"))
    found = reviewed(record)
    assert [(one.supplier, one.part, len(one.lots)) for one in found] == [
        ("Another", "GA-12", 1),
        ("coil works", "GA-12", 2),
        ("Coil works", "GA-13", 1),
    ]
    assert [len(one.lots) for one in reviewed(record, supplier="COIL WORKS", part="ga-12")] == [2]


def test_two_rejected_lots_make_the_next_inspection_tightened(record):
    for outcomes in ("pp", "fp", "pp", "pf"):
        keep_lot(record, outcomes)
    (found,) = reviewed(record)
    assert [lot.state.decision for lot in found.lots] == ["accept", "reject", "accept", "reject"]
    assert found.following.severity == "tightened"
    assert found.following.why == "2 of the last 4 lots rejected"


def test_an_open_lot_counts_for_nothing_yet(record):
    for outcomes in ("fp", "pp", "p"):
        keep_lot(record, outcomes)
    (found,) = reviewed(record)
    assert [lot.state.decision for lot in found.lots] == ["reject", "accept", "open"]
    assert found.following.severity == "normal"


def test_a_part_that_was_taken_back_does_not_reject_a_lot(record):
    key = keep_lot(record, "pfp")
    with open_logbook(record) as book:
        failed = next(row for row in book.parts(key) if row.serial == "2")
        book.correct(failed.id, WITHDRAWN, "A. Brandt", "wrong coil")
    (found,) = reviewed(record)
    assert found.lots[0].state.decision == "accept"
    assert [one.serial for one in found.lots[0].state.undone] == ["2"]


def test_a_concession_does_not_make_a_rejected_lot_a_good_one(record):
    for _ in range(2):
        key = keep_lot(record, "fp")
        with open_logbook(record) as book:
            taken = Conclusion(outcome="concession", name="A. Brandt", reason="line stands still")
            book.conclude(key, taken)
    (found,) = reviewed(record)
    assert found.following.severity == "tightened"
    assert found.lots[0].state.conclusion.outcome == "concession"


def test_ten_good_lots_allow_reduced_inspection_only_with_the_limit_number(record):
    for _ in range(10):
        keep_lot(record, "pp")
    assert not reviewed(record)[0].following.reduced_possible
    assert reviewed(record, limit_number=0)[0].following.reduced_possible
    agreed = reviewed(record, limit_number=0, reduced_agreed=True)[0]
    assert agreed.following.severity == "reduced"


def test_a_quantity_is_followed_by_the_means_of_the_lots(record):
    keep_lot(record, "pp", replace(FORM, order="a"))
    keep_lot(record, "pf", replace(FORM, order="b"))
    (found,) = reviewed(record)
    trend = next(one for one in found.trends if one.name == "L")
    assert trend.lots == ("a", "b")
    for lot, figures in zip(found.lots, trend.figures, strict=True):
        values = [one.estimates["L"].value for one in lot.state.latest.values()]
        assert figures.mean == pytest.approx(np.mean(values), rel=1e-12)
    assert trend.figures[1].mean < trend.figures[0].mean


def test_a_lot_without_order_and_date_code_is_called_by_its_key(record):
    key = keep_lot(record, "pp", replace(FORM, order="", date_code=""))
    assert reviewed(record)[0].lots[0].name == key


def test_lots_without_a_design_have_no_trend(record):
    with open_logbook(record) as book:
        book.begin_lot(FORM, PLAN, (), None)
    assert reviewed(record)[0].trends == ()


def test_a_supplier_who_is_not_there_is_refused(record):
    keep_lot(record, "pp")
    with pytest.raises(RecordError, match=r"must hold a lot of this supplier and part \(got none"):
        reviewed(record, supplier="nobody")


def test_a_record_that_is_not_there_is_not_made(record):
    with pytest.raises(RecordError):
        reviewed(record)
    assert not record.exists()


def test_a_person_can_stop_it(record):
    with pytest.raises(CancelledError):
        ReviewSupplier(record=str(record))(silent, lambda: True)
