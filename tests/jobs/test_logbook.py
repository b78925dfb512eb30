"""The record's jobs: what the window and the command line do with it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.errors import CancelledError, RecordError, UsageError
from benchapp.jobs import (
    BackUpLogbook,
    FitChoices,
    LotsOf,
    MergeLogbook,
    OpenEntry,
    OpenLogbook,
    RefitEntry,
    SearchLogbook,
    VerifyLogbook,
    not_cancelled,
    silent,
)
from benchapp.logbook import Search, open_logbook
from tests.logbook.conftest import FORM, PLAN, make_entry


def run(job):
    return job(silent, not_cancelled)


@pytest.fixture(scope="module")
def entry():
    return make_entry()


@pytest.fixture
def record(tmp_path, entry):
    address = str(tmp_path / "parts.benchlog")
    with run(OpenLogbook(record=address)) as book:
        lot = book.begin_lot(FORM, PLAN, [], entry.nominal)
        book.add(replace(entry, lot=lot))
    return address


def test_what_was_kept_is_listed_and_opened(record, entry):
    (row,) = run(SearchLogbook(record=record, wanted=Search(serial=entry.serial)))
    (lot,) = run(LotsOf(record=record))
    assert (row.lot, lot.measurements) == (lot.key, 1)
    stored = run(OpenEntry(record=record, number=row.id))
    assert stored.entry.capture.digest == entry.capture.digest


def test_fitting_again_gives_the_same_numbers_beside_the_old(record, entry):
    found = run(RefitEntry(record=record, number=2))
    assert found.part.fit.estimates == entry.fit.estimates
    assert np.array_equal(found.stored.refits[0].fit.covariance, entry.fit.covariance)
    assert found.stored.refits[0].verdict == entry.verdict
    assert found.stored.entry.fit.results == entry.fit.results
    assert run(VerifyLogbook(record=record)) == ()


def test_fitting_again_can_take_another_circuit(record):
    found = run(RefitEntry(record=record, number=2, choices=FitChoices(circuit="parallel-rlc")))
    assert found.stored.refits[0].fit.circuit == "parallel-rlc"
    assert found.stored.entry.fit.circuit == "tank"


def test_an_entry_without_a_capture_cannot_be_fitted(record, entry):
    with open_logbook(record) as book:
        number = book.add(replace(entry, capture=None, fit=None, serial="unreadable"))
    with pytest.raises(RecordError, match=f"entry {number}: must hold a capture"):
        run(RefitEntry(record=record, number=number))


def test_a_copy_holds_the_same(record, tmp_path):
    path = run(BackUpLogbook(record=record, path=str(tmp_path / "copy.benchlog")))
    assert len(run(SearchLogbook(record=path))) == 1
    assert run(VerifyLogbook(record=path)) == ()


def test_a_merge_is_done_once(record, tmp_path):
    into = str(tmp_path / "all.benchlog")
    assert run(MergeLogbook(source=record, record=into)).copied == 2
    assert run(MergeLogbook(source=record, record=into)).copied == 0
    with pytest.raises(UsageError, match="must be of two records"):
        run(MergeLogbook(source=into, record=into))


def test_looking_never_makes_a_record(tmp_path):
    absent = str(tmp_path / "absent.benchlog")
    jobs = (
        SearchLogbook(record=absent),
        LotsOf(record=absent),
        OpenEntry(record=absent, number=1),
        RefitEntry(record=absent, number=1),
        VerifyLogbook(record=absent),
        BackUpLogbook(record=absent, path=str(tmp_path / "x")),
        MergeLogbook(source=absent, record=str(tmp_path / "y")),
    )
    for job in jobs:
        with pytest.raises(RecordError, match="got no such file"):
            run(job)
        with pytest.raises(CancelledError, match="was stopped"):
            job(silent, lambda: True)
    assert list(tmp_path.iterdir()) == []
