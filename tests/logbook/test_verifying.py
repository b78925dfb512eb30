"""A silent change of the record is found, wherever it is made, and told by its place."""

from __future__ import annotations

import random
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from benchapp.errors import RecordError
from benchapp.logbook import WITHDRAWN, open_logbook
from benchapp.lot import Conclusion
from tests.logbook.conftest import FORM, PLAN

TABLES = ("chain", "head", "entry", "blob", "step")


@pytest.fixture
def kept(address, entries, entry):
    """Give the path of a closed record with a lot, parts, a newer result and a correction."""
    with open_logbook(address, bench="bench A") as book:
        lot = book.begin_lot(FORM, PLAN, [1, 2], entry.nominal)
        first, *_ = book.add_all(entries(4, lot=lot))
        book.refit(first, entry.fit, entry.verdict, entry.findings)
        book.correct(first, WITHDRAWN, "A. Brandt", "scratched")
        book.conclude(lot, Conclusion(outcome="accept", name="A. Brandt"))
    return address


def tamper(path, *statements):
    """Change a record as a person with a database tool would: guards off, then back as before."""
    with closing(sqlite3.connect(path)) as connection:
        guards = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        guards = guards.fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert connection.execute(statement).rowcount != 0, statement
        for _, sql in guards:
            connection.execute(sql)
        connection.commit()


def broken(path):
    with open_logbook(path, create=False) as book:
        return book.verify()


def test_a_whole_record_passes(kept):
    assert broken(kept) == ()


COLUMNS = [
    *("kind", "time", "lot", "subject", "serial", "part", "outcome", "topic", "light", "content"),
    *("identity", "digest"),
]


@pytest.mark.parametrize("column", COLUMNS)
def test_a_change_in_any_text_of_an_entry_names_it(kept, column):
    tamper(kept, f"UPDATE entry SET {column} = {column} || 'x' WHERE id = 3")
    found = broken(kept)
    assert any(each.where.startswith("entry 3 (") for each in found)


@pytest.mark.parametrize(("column", "value"), [("attempt", 2), ("counter", 99), ("id", 99)])
def test_a_change_in_any_number_of_an_entry_is_found(kept, column, value):
    tamper(kept, f"UPDATE entry SET {column} = {value} WHERE id = 3")
    assert any("entry" in each.where for each in broken(kept))


def test_a_single_changed_digit_of_a_result_is_found(kept):
    tamper(kept, "UPDATE entry SET content = replace(content, '0.0016', '0.0017') WHERE id = 2")
    (found,) = broken(kept)
    assert found.where.startswith("entry 2 (")
    assert "was changed" in found.what


def test_a_changed_array_or_file_names_an_entry_that_holds_it(kept):
    tamper(
        kept,
        "UPDATE blob SET content = CAST(substr(content, 1, 99) || X'00' || substr(content, 101) "
        "AS BLOB) WHERE length(content) = 6416 AND rowid = (SELECT max(rowid) FROM blob "
        "WHERE length(content) = 6416)",
    )
    (found,) = broken(kept)
    assert found.where.startswith("entry ")
    assert "were changed" in found.what


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        ("DELETE FROM entry WHERE id = 3", "must be number 3"),
        ("DELETE FROM entry WHERE id = 8", "must end with number 8"),
        ("DELETE FROM blob WHERE length(content) = 6416", "are missing"),
        ("INSERT INTO blob VALUES ('ab', X'00')", "is named by no entry"),
        ("INSERT INTO blob VALUES ('zz', X'00')", "stands under no digest"),
        ("DELETE FROM head", "its head is missing"),
        ("UPDATE head SET digest = 'x'", "must end with number 8"),
        ("INSERT INTO head VALUES (7, 0, 'x')", "belongs to no chain"),
        ("UPDATE chain SET bench = 'another'", "its line was changed"),
        ("UPDATE chain SET own = 0", "its line was changed"),
        ("DELETE FROM chain", "belongs to no chain"),
        ("UPDATE step SET time = 'x' WHERE version = 1", "its line was changed"),
        ("DELETE FROM step WHERE version = 1", "reached step by step"),
    ],
)
def test_what_is_removed_added_or_moved_is_found(kept, statement, what):
    tamper(kept, statement)
    assert any(what in each.what for each in broken(kept))


def test_an_inserted_entry_is_found(kept):
    tamper(
        kept,
        "INSERT INTO entry SELECT 9, 0, 9, kind, time, lot, subject, 'another', part, attempt, "
        "outcome, topic, light, content, identity, digest FROM entry WHERE id = 2",
    )
    assert any(each.where.startswith("entry 9 (") for each in broken(kept))


def test_two_entries_that_changed_places_are_found(kept):
    tamper(
        kept,
        "UPDATE entry SET id = 90, counter = 90 WHERE id = 2",
        "UPDATE entry SET id = 2, counter = 2 WHERE id = 3",
        "UPDATE entry SET id = 3, counter = 3 WHERE id = 90",
    )
    assert any("does not follow" in each.what for each in broken(kept))


def test_a_guard_that_was_taken_away_is_told(kept):
    with closing(sqlite3.connect(kept)) as connection:
        connection.execute("DROP TRIGGER entry_update")
        connection.execute("CREATE TABLE extra (x)")
        connection.execute("DROP INDEX entry_lot")
        connection.execute("CREATE INDEX entry_lot ON entry (lot)")
    found = {each.where: each.what for each in broken(kept)}
    assert "is missing" in found["trigger entry_update"]
    assert found["table extra"] == "is no part of a record"
    assert found["index entry_lot"] == "is not as it was made"


@pytest.mark.parametrize(
    "statement",
    [
        *(f"DELETE FROM {table}" for table in TABLES),
        "UPDATE entry SET serial = 'x'",
        "UPDATE blob SET content = X'00'",
        "UPDATE chain SET bench = 'x'",
        "UPDATE step SET time = 'x'",
        "UPDATE head SET counter = counter - 1",
        "INSERT OR REPLACE INTO entry SELECT * FROM entry",
        "INSERT OR REPLACE INTO head SELECT number, 0, digest FROM head",
    ],
)
def test_the_file_refuses_to_change_or_remove_a_row(kept, statement):
    with (
        closing(sqlite3.connect(kept)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="only grows"),
    ):
        connection.execute(statement)
    assert broken(kept) == ()


def test_the_file_keeps_its_bytes_where_others_would_take_their_place(kept):
    before = dump(kept)
    with closing(sqlite3.connect(kept)) as connection, connection:
        connection.execute("INSERT OR REPLACE INTO blob SELECT sha256, X'00' FROM blob")
    assert dump(kept) == before


def dump(path):
    """Give everything that is stored, or None where it cannot be read any more."""
    try:
        with closing(sqlite3.connect(path)) as connection:
            connection.text_factory = bytes
            return [connection.execute(f"SELECT * FROM {name}").fetchall() for name in TABLES]
    except (sqlite3.Error, UnicodeDecodeError):
        return None


def flipped(whole: bytes, place: int, bit: int) -> bytes:
    return whole[:place] + bytes([whole[place] ^ (1 << bit)]) + whole[place + 1 :]


def is_found(path):
    """Say whether a damage is noticed: the record is refused, or verify names something."""
    try:
        return bool(broken(path))
    except RecordError:
        return True


def test_a_flipped_bit_anywhere_in_the_file_is_found_where_it_touches_what_is_stored(
    kept, tmp_path
):
    whole = Path(kept).read_bytes()
    before = dump(kept)
    draw = random.Random(20260302)
    touched = 0
    for number in range(150):
        damaged = tmp_path / f"damaged{number}"
        damaged.write_bytes(flipped(whole, draw.randrange(len(whole)), draw.randrange(8)))
        if dump(damaged) != before:
            touched += 1
            assert is_found(str(damaged))
        damaged.unlink()
    assert touched > 75
