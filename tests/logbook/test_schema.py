"""Every table is guarded on both databases, and strict about what it takes."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
import sqlalchemy as sa

from benchapp.logbook.making import expected_schema
from benchapp.logbook.schema import guards, metadata

TABLES = sorted(metadata.tables)


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("act", ["UPDATE", "DELETE", "INSERT"])
def test_every_table_of_a_file_has_a_guard_for_each_act(table, act):
    assert any(f" BEFORE {act} ON {table} " in statement for statement in guards("sqlite"))


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("act", ["UPDATE", "DELETE", "TRUNCATE"])
def test_every_table_of_a_server_has_a_guard_for_each_act(table, act):
    assert any(
        act in statement.split(" FOR ")[0] and f" ON {table} " in statement
        for statement in guards("postgresql")
    )


@pytest.mark.parametrize("dialect", ["sqlite", "postgresql"])
def test_each_guard_is_looked_for_by_verify(dialect):
    made = [text.split()[2] for text in guards(dialect) if text.split()[1] == "TRIGGER"]
    expected = expected_schema(dialect)
    assert len(set(made)) == len(made)
    assert {f"trigger {name}" for name in made} <= expected.keys()


def test_no_column_may_be_left_empty():
    columns = [column for table in metadata.tables.values() for column in table.columns]
    assert [str(column) for column in columns if column.nullable] == []


@pytest.mark.parametrize("table", TABLES)
def test_a_file_refuses_a_value_of_another_type(book, address, table):
    # SQLite documentation, 'STRICT Tables': a text that is no number is refused.
    number = next(
        column.name
        for column in metadata.tables[table].columns
        if isinstance(column.type, sa.LargeBinary | sa.Integer | sa.BigInteger)
    )
    columns = [column.name for column in metadata.tables[table].columns]
    values = ", ".join("'word'" if name == number else "0" for name in columns)
    with (
        closing(sqlite3.connect(address)) as connection,
        pytest.raises(sqlite3.IntegrityError, match=r"cannot store TEXT value|datatype mismatch"),
    ):
        connection.execute(f"INSERT INTO {table} VALUES ({values})")
