"""Rows stand one after the other in the chain of their bench, each once."""

from __future__ import annotations

import sqlite3
import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace

import pytest

from benchapp.errors import RecordError
from benchapp.logbook import WITHDRAWN, Search, open_logbook
from benchapp.logbook.chain import chain_digest, row_digest
from benchapp.logbook.writing import PER_CHAIN
from tests.logbook.conftest import FORM, PLAN


def table(address, query):
    with closing(sqlite3.connect(address)) as connection:
        return connection.execute(query).fetchall()


def test_ids_count_from_one_and_go_on_after_opening_again(address, entries):
    with open_logbook(address) as book:
        assert book.add_all(entries(2)) == (1, 2)
    with open_logbook(address) as book:
        assert book.add_all(entries(2, first=3)) == (3, 4)


def test_a_merged_chain_has_ids_of_its_own(address, tmp_path, entries):
    with (
        open_logbook(address) as book,
        open_logbook(tmp_path / "other.benchlog") as other,
    ):
        book.add_all(entries(2))
        other.add_all(entries(2, first=11))
        book.merge(other)
        found = [row.id for row in book.search(Search())]
        assert sorted(found) == [1, 2, PER_CHAIN + 1, PER_CHAIN + 2]


def test_each_row_follows_the_one_before_by_the_written_rule(address, entries):
    with open_logbook(address, bench="bench A") as book:
        book.add_all(entries(3))
    ((name, bench, started),) = table(address, "SELECT chain, bench, started FROM chain")
    digest = chain_digest(name, bench, started)
    assert bench == "bench A"
    for counter, identity, found in table(
        address, "SELECT counter, identity, digest FROM entry ORDER BY id"
    ):
        digest = row_digest(digest, name, counter, identity)
        assert digest == found
    assert table(address, "SELECT counter, digest FROM head") == [(3, digest)]


def test_a_row_given_twice_in_one_batch_or_later_is_kept_once(book, entries):
    first, second = entries(2)
    assert book.add_all([first, second, first]) == (1, 2, 1)
    assert book.add_all([second, *entries(1, first=3)]) == (2, 3)
    assert book.add_all([]) == ()
    assert book.verify() == ()


def test_a_batch_larger_than_one_question_to_the_database_is_recognised(book, entry):
    many = [replace(entry, serial=f"{number}", raw=b"") for number in range(1100)]
    ids = book.add_all(many)
    assert ids == tuple(range(1, 1101))
    assert book.add_all(many) == ids
    assert len(book.search(Search())) == 1100


def test_what_several_parts_share_is_stored_once(address, book, entries):
    book.add_all(entries(1))
    ((before,),) = table(address, "SELECT count(*) FROM blob")
    book.add_all(entries(4, first=2))
    assert table(address, "SELECT count(*) FROM blob") == [(before + 4,)]


def test_a_batch_with_one_bad_entry_is_kept_not_at_all(book, entries):
    good, bad = entries(2)
    with pytest.raises(RecordError, match="serial: must be text"):
        book.add_all([good, replace(bad, serial="\0")])
    assert book.search(Search()) == ()
    assert book.add(good) == 1


def test_a_measurement_whose_attempt_is_taken_has_the_next(book, entries):
    (first,) = entries(1)
    lot = book.begin_lot(FORM, PLAN)
    first = replace(first, lot=lot)
    seconds = [replace(first, attempt=2, retest_reason=cause) for cause in ("clip", "dirt")]
    numbers = [book.add(each) for each in (first, *seconds)]
    assert [book.attempt(number) for number in numbers] == [1, 2, 3]
    assert book.entry(numbers[2]).entry.attempt == 3
    assert [row.attempt for row in book.parts(lot)] == [1, 2, 3]
    assert book.verify() == ()


def test_a_measurement_that_is_sent_again_is_known_under_the_attempt_that_it_was_given(
    book, entries
):
    lot = book.begin_lot(FORM, PLAN)
    first, second = (replace(entry, serial="one", lot=lot) for entry in entries(2))
    numbers = book.add_all([first, second])
    assert [book.attempt(number) for number in numbers] == [1, 2]
    assert book.add_all([second, first]) == numbers[::-1]
    assert len(book.parts(lot)) == 2


def test_parts_of_one_serial_in_two_lots_or_in_none_do_not_count_each_other(book, entries):
    first, second, *bare = entries(4)
    lots = [book.begin_lot(replace(FORM, order=order), PLAN) for order in "ab"]
    numbers = [
        book.add(replace(entry, serial="one", lot=lot))
        for entry, lot in zip((first, second, *bare), (*lots, None, None), strict=True)
    ]
    assert [book.attempt(number) for number in numbers] == [1, 1, 1, 1]


def test_a_measurement_that_was_taken_back_leaves_its_attempt_free(book, entries):
    lot = book.begin_lot(FORM, PLAN)
    first, second = (replace(entry, serial="one", lot=lot) for entry in entries(2))
    number = book.add(first)
    book.correct(number, WITHDRAWN, "A. E.", "wrong part")
    assert book.attempt(book.add(second)) == 1
    assert book.add(first) == number


def test_an_attempt_of_nothing_is_refused(book):
    with pytest.raises(RecordError, match=r"entry: must be a measurement of the record \(got 7"):
        book.attempt(7)


def keep_at_once(address, lot, entries, count):
    """Keep retests of one part from two benches at once, all asking for the same attempt."""
    start = threading.Barrier(2)

    def keep(bench, mine):
        with open_logbook(address, bench=bench) as book:
            start.wait()
            for each in mine:
                book.add(each)

    asked = [replace(each, serial="one", lot=lot, attempt=2) for each in entries(2 * count)]
    with ThreadPoolExecutor(2) as pool:
        done = [pool.submit(keep, "A", asked[:count]), pool.submit(keep, "B", asked[count:])]
        for each in done:
            each.result()


def test_two_benches_that_retest_one_part_at_once_give_no_attempt_twice(address, entries):
    with open_logbook(address) as book:
        lot = book.begin_lot(FORM, PLAN)
        keep_at_once(address, lot, entries, 20)
        attempts = sorted(row.attempt for row in book.parts(lot))
        assert attempts == list(range(2, 42))
        assert book.verify() == ()


@pytest.mark.xdist_group("server")
def test_two_benches_on_a_server_that_retest_one_part_give_no_attempt_twice(shared, entries):
    with open_logbook(shared) as book:
        lot = book.begin_lot(FORM, PLAN)
        keep_at_once(shared, lot, entries, 20)
        attempts = sorted(row.attempt for row in book.parts(lot))
        assert attempts == list(range(2, 42))
        assert book.verify() == ()
