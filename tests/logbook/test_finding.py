"""What cannot be found is told by its place."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.errors import RecordError
from benchapp.jobs import BackUpLogbook, not_cancelled, silent
from benchapp.logbook import WITHDRAWN, Search, open_logbook
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


@pytest.fixture
def serials(book, entry):
    for serial in ("GA-0147", "GA-0148", "ga_0149", "100%", "a\\b"):
        book.add(replace(entry, serial=serial))
    return lambda **wanted: [row.serial for row in book.search(Search(**wanted))]


@pytest.mark.parametrize(
    ("pattern", "found"),
    [
        ("GA-*", ["GA-0147", "GA-0148"]),
        ("ga-0147", ["GA-0147"]),
        ("*48", ["GA-0148"]),
        ("*0*4*", ["GA-0147", "GA-0148", "ga_0149"]),
        ("ga_*", ["ga_0149"]),
        ("100%", ["100%"]),
        ("1%", []),
        ("a\\*", ["a\\b"]),
        ("*", ["GA-0147", "GA-0148", "ga_0149", "100%", "a\\b"]),
        ("", []),
    ],
)
def test_only_a_star_stands_for_anything(serials, pattern, found):
    assert serials(serial_like=pattern) == found


def test_a_part_is_found_by_a_pattern_of_its_title(book, entry, serials):
    title = entry.nominal.title
    assert len(serials(part_like=f"{title[:3].upper()}*")) == 5
    assert serials(part_like=f"{title}!") == []


def test_the_newest_come_first_and_are_those_a_limit_leaves(serials):
    assert serials(newest_first=True, limit=2) == ["a\\b", "100%"]
    assert serials(limit=2) == ["GA-0147", "GA-0148"]


def test_measurements_of_some_lots_are_found(book, entry, serials):
    first, second = book.begin_lot(FORM, PLAN), book.begin_lot(FORM, PLAN)
    book.add(replace(entry, serial="one", lot=first))
    book.add(replace(entry, serial="two", lot=second))
    assert serials(lots=(first, second)) == ["one", "two"]
    assert serials(lots=(second,)) == ["two"]
    assert serials(lots=()) == []


@pytest.mark.xdist_group("server")
def test_a_server_understands_the_same_patterns(shared, entry):
    with open_logbook(shared) as book:
        for serial in ("GA-0147", "ga_0149", "a\\b", "100%"):
            book.add(replace(entry, serial=serial))
        found = {
            pattern: [row.serial for row in book.search(Search(serial_like=pattern))]
            for pattern in ("ga*", "GA_*", "a\\*", "1*%")
        }
    assert found == {
        "ga*": ["GA-0147", "ga_0149"],
        "GA_*": ["ga_0149"],
        "a\\*": ["a\\b"],
        "1*%": ["100%"],
    }


def test_where_serials_were_met_is_found_at_once_and_what_was_taken_back_was_not(book, entries):
    title = entries(1)[0].nominal.title
    lots = [book.begin_lot(replace(FORM, order=order), PLAN) for order in "ab"]
    times = ["2026-03-01T08:00:00Z", "2026-03-02T08:00:00Z"]
    for lot, time in zip(lots, times, strict=True):
        book.add_all([replace(each, lot=lot, time=time) for each in entries(2)])
    gone = book.add(replace(entries(1, first=3)[0], lot=lots[0]))
    book.correct(gone, WITHDRAWN, "A. E.", "wrong part")
    outside = book.add(replace(entries(1, first=4)[0]))
    assert book.met(title) == {
        "GA12-0001": list(zip(lots, times, strict=True)),
        "GA12-0002": list(zip(lots, times, strict=True)),
        "GA12-0004": [("", book.entry(outside).entry.time)],
    }
    assert list(book.met(title, "GA12-0002")) == ["GA12-0002"]
    assert book.met("another part") == {}
