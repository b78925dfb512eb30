"""Measurements are found by their lot and its supplier, as a person types them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.errors import CancelledError, RecordError
from benchapp.jobs import FindParts, not_cancelled, silent
from benchapp.logbook import Search, open_logbook
from tests.jobs.lots import FORM, judged, keep_lot


@pytest.fixture
def record(tmp_path):
    path = str(tmp_path / "parts.benchlog")
    keep_lot(path, "pf", replace(FORM, order="4711", date_code="2640"))
    keep_lot(path, "p", replace(FORM, order="4811", supplier="Änderwicklung"))
    with open_logbook(path) as book:
        book.add(replace(judged("p"), serial="loose"))
    return path


def found(record, **wanted):
    return FindParts(record=record, **wanted)(silent, not_cancelled)


@pytest.mark.parametrize(
    ("wanted", "count"),
    [
        ({}, 4),
        ({"lot": "4711"}, 2),
        ({"lot": "47"}, 2),
        ({"lot": "264"}, 2),
        ({"lot": "4"}, 3),
        ({"lot": "711"}, 0),
        ({"supplier": "coil"}, 2),
        ({"supplier": "ÄNDER"}, 1),
        ({"supplier": "coil", "lot": "4811"}, 0),
    ],
)
def test_a_lot_is_found_by_its_order_or_date_code_and_its_supplier(record, wanted, count):
    assert len(found(record, **wanted).rows) == count


def test_a_lot_is_found_by_its_key(record):
    key = next(row.lot for row in found(record).rows if row.lot)
    assert {row.lot for row in found(record, lot=key).rows} == {key}


def test_the_forms_of_the_lots_come_along(record):
    result = found(record, lot="4811")
    assert result.lots[result.rows[0].lot].supplier == "Änderwicklung"


def test_what_else_is_wanted_holds_as_well(record):
    wanted = Search(serial_like="2*")
    assert [row.serial for row in found(record, wanted=wanted, lot="4711").rows] == ["2"]


def test_a_search_that_is_called_off_reads_nothing(record):
    with pytest.raises(CancelledError):
        FindParts(record=record)(silent, lambda: True)


def test_a_record_that_is_not_there_is_told(tmp_path):
    with pytest.raises(RecordError, match="must be a record"):
        found(str(tmp_path / "none.benchlog"))
