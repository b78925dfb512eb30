"""What cannot be found is told by its place."""

from __future__ import annotations

import pytest

from benchapp.errors import RecordError
from benchapp.jobs import BackUpLogbook, not_cancelled, silent
from benchapp.logbook import Search, open_logbook
from tests.logbook.conftest import FORM, PLAN
from tests.logbook.test_verifying import tamper


def test_missing_bytes_of_an_entry_are_told(book, address, entry):
    number = book.add(entry)
    tamper(address, "DELETE FROM blob WHERE length(content) = 6416")
    with pytest.raises(RecordError, match=r"must hold what its entries name \(got no blob"):
        book.entry(number)


def test_a_lot_is_no_measurement_and_a_measurement_no_lot(book, entry):
    lot = book.begin_lot(FORM, PLAN)
    number = book.add(entry)
    with pytest.raises(RecordError, match="must be a measurement"):
        book.entry(1)
    with pytest.raises(RecordError, match="lot: must be one of the record"):
        book.lot_state(book.entry(number).key)
    assert book.lot(lot).measurements == 0


@pytest.mark.xdist_group("server")
def test_a_server_is_copied_by_merging_not_by_the_copy_of_a_file(shared, tmp_path, entry):
    with open_logbook(shared) as book:
        with pytest.raises(RecordError, match="must be a file to be copied like this"):
            book.backup(tmp_path / "copy.benchlog")
        book.add(entry)
    copy = str(tmp_path / "copy.benchlog")
    BackUpLogbook(record=shared, path=copy)(silent, not_cancelled)
    with open_logbook(copy) as book:
        assert book.entry(book.search(Search())[0].id).entry.capture.digest == entry.capture.digest
        assert book.verify() == ()
