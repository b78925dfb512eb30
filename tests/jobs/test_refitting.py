"""Many stored measurements are fitted again; what moved by it is told from what did not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.errors import CancelledError, RecordError
from benchapp.jobs import FindParts, RefitEntries, is_moved, not_cancelled, silent
from benchapp.logbook import open_logbook
from tests.jobs.lots import judged, keep_lot


@pytest.fixture
def record(tmp_path):
    path = str(tmp_path / "parts.benchlog")
    keep_lot(path, "pfp")
    return path


def numbers(record):
    return tuple(row.id for row in FindParts(record=record)(silent, not_cancelled).rows)


def test_each_measurement_gets_a_result_beside_the_one_it_has(record):
    said = []
    found = RefitEntries(record=record, numbers=numbers(record))(
        lambda words, _fraction: said.append(words), not_cancelled
    )
    assert [len(one.stored.refits) for one in found] == [1, 1, 1]
    assert said[-1] == "fitting again 3 of 3"
    assert not any(is_moved(one) for one in found)
    listed = FindParts(record=record)(silent, not_cancelled)
    assert sorted(listed.refits.values()) == [1, 1, 1]
    assert set(listed.refits) == {row.key for row in listed.rows}


def test_what_was_done_before_a_stop_stays(record):
    asked = []

    def cancelled():
        asked.append(True)
        with open_logbook(record) as book:
            return bool(book.refit_counts())

    with pytest.raises(CancelledError):
        RefitEntries(record=record, numbers=numbers(record))(silent, cancelled)
    with open_logbook(record) as book:
        assert sum(book.refit_counts().values()) == 1
        assert book.verify() == ()


def test_a_measurement_that_is_not_there_is_told(record):
    with pytest.raises(RecordError, match="must be a measurement of the record"):
        RefitEntries(record=record, numbers=(99,))(silent, not_cancelled)


@pytest.fixture
def refitted(record):
    return RefitEntries(record=record, numbers=numbers(record)[:1])(silent, not_cancelled)[0]


def with_old(found, **changes):
    stored = found.stored
    return replace(found, stored=replace(stored, entry=replace(stored.entry, **changes)))


def test_another_value_beyond_both_u_is_a_move(refitted):
    fit = refitted.stored.entry.fit

    def shifted(times):
        results = tuple(replace(one, value=one.value + times * one.u) for one in fit.results)
        return with_old(refitted, fit=replace(fit, results=results))

    assert not is_moved(shifted(2.5)), "within 2 * sqrt(2) u"
    assert is_moved(shifted(3.0))


def test_another_verdict_or_no_result_before_is_a_move(refitted):
    assert is_moved(with_old(refitted, verdict=judged("f").verdict))
    assert is_moved(with_old(refitted, verdict=None))
    assert is_moved(with_old(refitted, fit=None))
    fewer = replace(refitted.stored.entry.fit, results=refitted.stored.entry.fit.results[1:])
    assert is_moved(with_old(refitted, fit=fewer))
