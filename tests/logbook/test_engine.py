"""The connection: one for each thread, closed for all, and every failure in plain words."""

from __future__ import annotations

import sqlite3
import sys
import threading

import pytest

from benchapp.errors import RecordAwayError, RecordError
from benchapp.logbook import Search, open_logbook
from benchapp.logbook.address import parse_address
from benchapp.logbook.engine import Store


def test_each_thread_has_a_connection_of_its_own(book):
    seen = []

    def look():
        with book._store.bare() as connection:
            seen.append(connection)

    for _ in range(2):
        thread = threading.Thread(target=look)
        thread.start()
        thread.join()
    look()
    look()
    assert len({id(connection) for connection in seen}) == 3
    book.close()
    for connection in seen:
        with pytest.raises(sqlite3.ProgrammingError, match="closed"):
            connection.execute("SELECT 1")


def test_a_failed_transaction_leaves_nothing_behind(book, entries):
    whole = entries(2)
    with pytest.raises(RecordError, match="serial: must be text"):
        book.add_all([whole[0], entries(1, first=5)[0].__class__(serial="\0", time="x")])
    with book._store.bare() as connection:
        assert connection.execute("SELECT count(*) FROM entry").fetchone() == (0,)


def test_a_missing_driver_says_how_to_install_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(RecordError, match=r"pip install 'benchapp\[postgresql\]'"):
        Store(parse_address("postgresql://bench@host/parts"))


def test_a_busy_file_is_told_after_a_while(address, book, entry):
    with book._store.bare() as connection:
        connection.execute("PRAGMA busy_timeout = 50")
    other = sqlite3.connect(address, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(RecordError, match=r"locked.*Another program holds the record"):
        book.add(entry)
    other.execute("ROLLBACK")
    other.close()
    assert book.add(entry) == 1


def test_an_error_of_the_driver_itself_is_told_in_plain_words(book):
    with (
        pytest.raises(RecordError, match="must be readable and writable"),
        book._store.bare() as connection,
    ):
        connection.execute("SELECT * FROM nowhere")


def test_a_store_shows_its_address_and_nothing_else(book, address):
    assert repr(book._store) == f"Store({address!r})"
    assert repr(book) == f"Logbook({address!r}, bench='bench A')"


@pytest.mark.xdist_group("server")
def test_the_password_is_in_no_message_and_no_repr(server, shared, caplog):
    from tests.logbook.server import PASSWORD

    with open_logbook(shared) as book:
        shown = repr(book) + repr(book._store) + repr(book._store.engine) + book.address
        server.stop()
        try:
            with pytest.raises(RecordAwayError) as caught:
                book.search(Search())
        finally:
            server.start()
    assert PASSWORD not in shown + str(caught.value) + repr(caught.value.__cause__) + caplog.text


@pytest.mark.xdist_group("server")
def test_a_database_that_is_not_there_is_told(server, shared):
    with pytest.raises(RecordError, match=r"does not exist.*make the database"):
        open_logbook(server.address("nowhere"))
