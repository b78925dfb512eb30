"""The same record on a real server, shared by several benches."""

from __future__ import annotations

import contextlib
import threading

import pytest

from benchapp.errors import RecordAwayError, RecordError
from benchapp.logbook import Choices, Search, keeping, open_logbook
from tests.logbook.conftest import FORM, PLAN
from tests.logbook.server import PASSWORD

pytestmark = pytest.mark.xdist_group("server")


def test_a_stored_part_opens_with_the_same_numbers_bit_for_bit(shared, entry):
    with open_logbook(shared) as book:
        stored = book.entry(book.add(entry)).entry
        assert stored.capture.digest == entry.capture.digest
        assert stored.fit.residual.tobytes() == entry.fit.residual.tobytes()
        assert (stored.verdict, stored.raw) == (entry.verdict, entry.raw)
        assert book.verify() == ()


def test_each_bench_has_a_chain_of_its_own(shared, entries):
    with open_logbook(shared, bench="A") as first, open_logbook(shared, bench="B") as second:
        for one, two in zip(entries(3), entries(3, first=4), strict=True):
            first.add(one)
            second.add(two)
        assert len(first.search(Search())) == 6
        stems = {row.key.split("-")[0] for row in first.search(Search())}
        assert len(stems) == 2
        assert second.verify() == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entry SET outcome = 'pass'",
        "DELETE FROM entry",
        "TRUNCATE entry",
        "DELETE FROM blob",
        "UPDATE blob SET content = ''",
        "UPDATE chain SET bench = 'x'",
        "DELETE FROM step",
        "UPDATE head SET counter = 0",
        "DELETE FROM head",
    ],
)
def test_the_server_refuses_to_change_or_remove_a_row(server, shared, entry, statement):
    import psycopg

    with open_logbook(shared) as book:
        book.add(entry)
        with server.connect(shared.rpartition("/")[2]) as connection:
            connection.execute("SET search_path = benchapp")
            with pytest.raises(psycopg.errors.RaiseException, match="only grows"):
                connection.execute(statement)
        assert book.verify() == ()


def test_a_wrong_password_is_told_without_showing_it(shared, monkeypatch):
    monkeypatch.setenv("PGPASSWORD", PASSWORD + "x")
    with pytest.raises(RecordError, match=r"authentication failed.*PGPASSFILE") as caught:
        open_logbook(shared)
    assert PASSWORD not in str(caught.value) + repr(caught.value.facts)


def test_a_bench_waits_for_a_server_that_starts_again_and_nothing_is_lost_or_doubled(
    server, shared, entries
):
    told = []
    choices = Choices(bench="A", patience=20, watch=lambda standing: told.append(standing.state))
    with open_logbook(shared, choices=choices) as book:
        book.add_all(entries(3))
        server.stop()
        again = threading.Timer(0.5, server.start)
        again.start()
        book.add_all(entries(3, first=4))
        again.join()
        assert (set(told[:-1]), told[-1]) == ({"waiting"}, "kept")
        assert [row.serial[-1] for row in book.search(Search())] == list("123456")
        assert book.verify() == ()


def test_without_a_local_file_a_server_that_stays_away_is_told(server, shared, entry):
    with open_logbook(shared, choices=Choices(patience=0.1)) as book:
        server.stop()
        try:
            with pytest.raises(RecordAwayError, match="the server must answer"):
                book.add(entry)
            with pytest.raises(RecordAwayError, match="the server must answer"):
                book.search(Search())
        finally:
            server.start()
        assert book.search(Search()) == ()


def test_a_bench_goes_on_locally_and_brings_it_over_later(server, shared, address, entries):
    choices = Choices(bench="A", standby=address, patience=0.1)
    with open_logbook(shared, choices=choices) as book:
        lot = book.begin_lot(FORM, PLAN, [], None)
        book.add_all(entries(2, lot=lot))
        server.stop()
        try:
            ids = book.add_all(entries(3, first=3, lot=lot))
            assert book.standing.state == "kept locally"
            assert book.standing.waiting == 3
            assert "server must answer" in book.standing.reason
            assert all(number < 0 for number in ids)
            assert book.entry(ids[0]).entry.serial == "GA12-0003"
            assert len(book.parts(lot)) == 3
            book.correct(ids[0], "remark", "A. Brandt", "scratched")
            assert book.catch_up().state == "kept locally"
        finally:
            server.start()
        assert book.catch_up().state == "kept"
        assert [row.serial[-1] for row in book.parts(lot)] == list("12345")
        assert book.catch_up().state == "kept"
        book.add_all(entries(1, first=6, lot=lot))
        assert len(book.parts(lot)) == 6
        server.stop()
        try:
            book.add_all(entries(1, first=7, lot=lot))
            assert book.standing.waiting == 1
        finally:
            server.start()
        assert book.catch_up().state == "kept"
        assert len(book.parts(lot)) == 7
        assert book.verify() == ()


def test_work_starts_while_the_server_is_away(server, shared, address, entry):
    server.stop()
    choices = Choices(standby=address, patience=0.1)
    try:
        with open_logbook(shared, choices=choices) as book:
            assert book.standing.state == "kept locally"
            book.add(entry)
    finally:
        server.start()
    with open_logbook(shared, choices=choices) as book:
        assert book.standing.state == "kept"
        assert len(book.search(Search())) == 1


def test_an_entry_that_arrived_on_both_sides_counts_once(shared, address, entry):
    with open_logbook(shared) as book, open_logbook(address) as local:
        number = book.add(entry)
        local.add(entry)
        assert book.merge(local).copied == 1
        assert [row.id for row in book.search(Search())] == [number]
        assert book.verify() == ()


def test_a_bench_asks_again_by_itself_and_brings_over_what_waits(
    server, shared, address, entries, monkeypatch
):
    monkeypatch.setattr(keeping, "_ASK_AGAIN", 0.0)
    told = []
    choices = Choices(standby=address, patience=0.1, watch=lambda now: told.append(now.state))
    with open_logbook(shared, choices=choices) as book:
        server.stop()
        try:
            book.add_all(entries(2))
            assert book.standing.state == "kept locally"
        finally:
            server.start()
        (number,) = book.add_all(entries(1, first=3))
        assert number > 0
        assert (told[-1], book.standing.waiting) == ("kept", 0)
        assert len(book.search(Search())) == 3


def test_an_answer_that_was_lost_on_the_way_is_not_kept_twice(shared, entry):
    """The server keeps the rows, but the line breaks before it can say so."""
    broken = []

    class Cut:
        def __init__(self, store):
            self.store = store

        @contextlib.contextmanager
        def writing(self):
            with self.store.writing() as connection:
                yield connection
            if not broken:
                broken.append(True)
                raise RecordAwayError("the server must answer (got silence).")

        def __getattr__(self, name):
            return getattr(self.store, name)

    with open_logbook(shared, choices=Choices(patience=5)) as book:
        book._keeper.store = Cut(book._keeper.store)
        number = book.add(entry)
        assert broken
        assert [row.id for row in book.search(Search())] == [number]
        assert book.verify() == ()


def test_an_answer_that_was_lost_before_the_work_went_on_locally_counts_once(
    server, shared, address, entry
):
    with open_logbook(shared) as first:
        first.add(entry)
        # The bench never heard that it was kept, and keeps it locally as well.
        with open_logbook(address) as local:
            local.add(entry)
        choices = Choices(standby=address)
        with open_logbook(shared, choices=choices) as book:
            assert book.standing.state == "kept"
            assert len(book.search(Search())) == 1
            assert book.verify() == ()
