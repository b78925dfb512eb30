"""Rows stand one after the other in the chain of their bench, each once."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace

import pytest

from benchapp.errors import RecordError
from benchapp.logbook import Search, open_logbook
from benchapp.logbook.chain import chain_digest, row_digest
from benchapp.logbook.writing import PER_CHAIN


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
