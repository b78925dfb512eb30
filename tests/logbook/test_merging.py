"""Records of several benches come together: all of it, once, and again without effect."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from contextlib import closing

import pytest

from benchapp.errors import RecordError
from benchapp.logbook import Merged, Search, merging, open_logbook
from benchapp.lot import Conclusion
from tests.logbook.conftest import FORM, PLAN
from tests.logbook.test_verifying import tamper


@pytest.fixture
def other(tmp_path, entries, entry):
    """Give the address of another bench's record: a lot of 5 parts, concluded."""
    address = str(tmp_path / "other.benchlog")
    with open_logbook(address, bench="bench B") as book:
        lot = book.begin_lot(FORM, PLAN, [], entry.nominal)
        book.add_all(entries(5, first=101, lot=lot))
        book.conclude(lot, Conclusion(outcome="accept", name="A. Brandt"))
    return address


def serials(book):
    return [row.serial for row in book.search(Search())]


def test_a_merge_brings_everything_once(book, other, entries):
    book.add_all(entries(2))
    with open_logbook(other) as source:
        assert book.merge(source) == Merged(copied=7, present=0)
        assert book.merge(source) == Merged(copied=0, present=7)
        lot = source.lots()[0].key
        assert book.lot(lot).measurements == 5
        assert [row.key for row in book.parts(lot)] == [row.key for row in source.parts(lot)]
        number = book.parts(lot)[0].id
        assert book.entry(number).bench == "bench B"
        assert book.entry(number).digest == source.entry(source.parts(lot)[0].id).digest
    assert len(serials(book)) == 7
    assert book.verify() == ()


def test_after_a_merge_both_go_on_and_merge_again_either_way(book, other, entries):
    with open_logbook(other) as source:
        book.merge(source)
        source.add_all(entries(1, first=200))
        book.add_all(entries(1))
        assert book.merge(source).copied == 1
        assert source.merge(book).copied == 1
        assert sorted(serials(book)) == sorted(serials(source))
        assert source.verify() == book.verify() == ()


def test_an_interrupted_merge_goes_on_where_it_stopped(book, other, monkeypatch):
    monkeypatch.setattr(merging, "_AT_ONCE", 2)
    whole, pieces = merging._blobs_of, []

    def cut(connection, rows):
        pieces.append(len(rows))
        if len(pieces) == 3:
            raise KeyboardInterrupt
        return whole(connection, rows)

    monkeypatch.setattr(merging, "_blobs_of", cut)
    with open_logbook(other) as source:
        with pytest.raises(KeyboardInterrupt):
            book.merge(source)
        assert book.verify() == ()
        assert book.merge(source) == Merged(copied=3, present=4)
        assert len(serials(book)) == 5
    assert book.verify() == ()


def test_two_copies_of_one_file_that_both_went_on_are_not_mixed(book, address, tmp_path, entries):
    book.add_all(entries(1))
    copy = book.backup(tmp_path / "copy.benchlog")
    with open_logbook(copy, bench=book.bench) as twin:
        twin.add_all(entries(1, first=50))
        book.add_all(entries(1, first=60))
        with pytest.raises(RecordError, match="both records must hold the same entry") as refusal:
            book.merge(twin)
        assert "go on with one, keep the other as it is" in refusal.value.hint
    assert serials(book) == ["GA12-0001", "GA12-0060"]
    assert book.verify() == ()


def test_a_copy_that_another_bench_went_on_with_comes_together_with_its_original(
    book, tmp_path, entries
):
    lot = book.begin_lot(FORM, PLAN)
    book.add_all(entries(2, lot=lot))
    copy = book.backup(tmp_path / "copy.benchlog")
    with open_logbook(copy, bench="bench B") as twin:
        twin.add_all(entries(2, first=50, lot=lot))
        book.add_all(entries(1, first=60, lot=lot))
        assert book.merge(twin).copied == 2
        assert twin.merge(book).copied == 1
        kept = {row.key: row.serial for row in book.parts(lot)}
        assert kept == {row.key: row.serial for row in twin.parts(lot)}
        assert len(kept) == 5
        assert book.verify() == twin.verify() == ()


def test_a_backup_that_fell_behind_is_brought_up_by_its_successor(book, tmp_path, entries):
    book.add_all(entries(1))
    copy = book.backup(tmp_path / "copy.benchlog")
    book.add_all(entries(2, first=2))
    with open_logbook(copy, bench=book.bench) as behind:
        assert behind.merge(book) == Merged(copied=2, present=1)
        assert book.merge(behind).copied == 0
        assert behind.verify() == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET serial = 'x' WHERE id = 3",
        "DELETE FROM blob WHERE length(content) = 6416",
        "UPDATE blob SET content = X'00' WHERE length(content) = 6416",
    ],
)
def test_a_damaged_record_is_not_spread(book, other, statement):
    tamper(other, statement)
    with (
        open_logbook(other) as source,
        pytest.raises(RecordError, match=r"every entry must be whole \(got a damaged entry"),
    ):
        book.merge(source)
    assert book.verify() == ()


def test_a_record_is_not_merged_with_itself(book, address):
    with (
        open_logbook(address) as same,
        pytest.raises(RecordError, match="must be of two records"),
    ):
        book.merge(same)


def test_a_file_that_was_copied_by_hand_merges_as_the_same_chain(book, other, tmp_path):
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    copy = shutil.copy(other, tmp_path / "by-hand.benchlog")
    with open_logbook(other) as source, open_logbook(copy) as twin:
        assert book.merge(source).copied == 7
        assert book.merge(twin) == Merged(copied=0, present=7)


@pytest.mark.xdist_group("server")
def test_two_benches_that_merge_into_one_server_at_once_are_both_whole(
    shared, tmp_path, entries, monkeypatch
):
    monkeypatch.setattr(merging, "_AT_ONCE", 3)
    files = [str(tmp_path / f"bench{number}.benchlog") for number in range(3)]
    for number, file in enumerate(files):
        with open_logbook(file) as book:
            book.add_all(entries(10, first=100 * number + 1))
    failed = []

    def bring(file):
        try:
            with open_logbook(shared) as target, open_logbook(file) as source:
                target.merge(source)
        except RecordError as error:
            failed.append(error)

    # The first file is brought by two at once as well: nothing of it may be there twice.
    threads = [threading.Thread(target=bring, args=(file,)) for file in (*files, files[0])]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with open_logbook(shared) as book:
        assert len(book.search(Search())) == 30
        assert book.verify() == ()
