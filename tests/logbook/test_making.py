"""New records, old ones, newer ones, and files that are none."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from benchapp.errors import RecordError
from benchapp.logbook import Search, making, open_logbook
from benchapp.logbook.making import step_digest
from benchapp.logbook.schema import APPLICATION_ID, FIRST, MIGRATIONS, VERSION, Migration, guards

FIRST_TABLES = """
CREATE TABLE chain (number INTEGER NOT NULL, chain TEXT NOT NULL, bench TEXT NOT NULL,
    started TEXT NOT NULL, own INTEGER NOT NULL, digest TEXT NOT NULL, PRIMARY KEY (number),
    UNIQUE (chain)) STRICT;
CREATE TABLE head (number INTEGER NOT NULL, counter INTEGER NOT NULL, digest TEXT NOT NULL,
    PRIMARY KEY (number)) STRICT;
CREATE TABLE entry (id INTEGER NOT NULL, number INTEGER NOT NULL, counter INTEGER NOT NULL,
    kind TEXT NOT NULL, time TEXT NOT NULL, lot TEXT NOT NULL, subject TEXT NOT NULL,
    serial TEXT NOT NULL, part TEXT NOT NULL, attempt INTEGER NOT NULL, outcome TEXT NOT NULL,
    topic TEXT NOT NULL, light TEXT NOT NULL, content TEXT NOT NULL, identity TEXT NOT NULL,
    digest TEXT NOT NULL, PRIMARY KEY (id)) STRICT;
CREATE INDEX entry_lot ON entry (lot, kind);
CREATE INDEX entry_serial ON entry (serial);
CREATE INDEX entry_subject ON entry (subject);
CREATE INDEX entry_identity ON entry (identity);
CREATE TABLE blob (sha256 TEXT NOT NULL, content BLOB NOT NULL, PRIMARY KEY (sha256)) STRICT;
CREATE TABLE step (version INTEGER NOT NULL, time TEXT NOT NULL, software TEXT NOT NULL,
    digest TEXT NOT NULL, PRIMARY KEY (version)) STRICT;
"""
"""The tables of version 1, as they were made."""


def old_record(path, source):
    """Make a file of version 1 that holds what another record holds."""
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(FIRST_TABLES)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute("PRAGMA user_version = 1")
        step = (1, "2025-12-01T00:00:00Z", "0.0.9")
        connection.execute("INSERT INTO step VALUES (?, ?, ?, ?)", (*step, step_digest(*step)))
        connection.execute("ATTACH ? AS new", (source,))
        for table in ("chain", "head", "entry", "blob"):
            connection.execute(f"INSERT INTO {table} SELECT * FROM new.{table}")
        for statement in guards("sqlite"):
            connection.execute(statement)
        connection.commit()
    return str(path)


@pytest.fixture
def old(address, tmp_path, entries):
    with open_logbook(address) as book:
        book.add_all(entries(2))
    return old_record(tmp_path / "old.benchlog", address)


def pragma(path, name, value=None):
    with closing(sqlite3.connect(path)) as connection:
        if value is not None:
            connection.execute(f"PRAGMA {name} = {value}")
        return connection.execute(f"PRAGMA {name}").fetchone()[0]


def test_a_new_record_is_marked_as_one_in_its_header(address, book):
    book.close()
    assert Path(address).read_bytes()[68:72] == APPLICATION_ID.to_bytes(4, "big") == b"BCLB"
    assert pragma(address, "user_version") == VERSION
    assert pragma(address, "journal_mode") == "wal"


def test_every_commit_is_written_through_to_the_disk(book):
    with book._store.bare() as connection:
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2


def test_the_steps_lead_from_the_first_version_to_this_one_without_a_gap():
    assert [each.version for each in MIGRATIONS] == list(range(FIRST + 1, VERSION + 1))
    assert all(each.title and each.statements for each in MIGRATIONS)


def test_an_old_record_is_brought_up_and_holds_what_it_held(old, entry):
    with open_logbook(old) as book:
        rows = book.search(Search())
        assert [row.serial for row in rows] == ["GA12-0001", "GA12-0002"]
        stored = book.entry(rows[0].id).entry
        assert stored.fit.residual.tobytes() == entry.fit.residual.tobytes()
        assert book.verify() == ()
    assert pragma(old, "user_version") == VERSION


def test_a_copy_is_made_before_an_old_record_is_brought_up(old):
    with open_logbook(old):
        pass
    copy = f"{old}.version-1"
    assert pragma(copy, "user_version") == 1
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT count(*) FROM entry").fetchone() == (2,)


def test_where_no_copy_can_be_made_the_old_record_stays_as_it_is(old):
    Path(f"{old}.version-1.part").mkdir()
    with pytest.raises(RecordError, match=r"version-1: must be a file that can be written"):
        open_logbook(old)
    assert pragma(old, "user_version") == 1


def test_bringing_up_that_was_cut_off_is_done_again(old, monkeypatch):
    bad = Migration(version=2, title="cut off", statements=("CREATE INDEX",))
    monkeypatch.setattr(making, "MIGRATIONS", (bad,))
    with pytest.raises(RecordError, match="must be readable and writable"):
        open_logbook(old)
    assert pragma(old, "user_version") == 1
    monkeypatch.undo()
    with open_logbook(old) as book:
        assert len(book.search(Search())) == 2
        assert book.verify() == ()
    for copy in (f"{old}.version-1", f"{old}.version-1.2"):
        assert pragma(copy, "user_version") == 1


def test_a_newer_record_is_refused_and_left_alone(address, book):
    book.close()
    pragma(address, "user_version", VERSION + 1)
    before = Path(address).read_bytes()
    with pytest.raises(RecordError, match=rf"version {VERSION} or older \(got {VERSION + 1}\)"):
        open_logbook(address)
    assert Path(address).read_bytes() == before


def test_a_database_of_another_program_is_refused_and_left_alone(tmp_path):
    path = tmp_path / "other.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE mine (x)")
    before = path.read_bytes()
    with pytest.raises(RecordError, match="must be a record of benchapp"):
        open_logbook(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("content", [b"f/Hz;Z/ohm\n" * 100, b"\0" * 5000])
def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path, content):
    path = tmp_path / "sweep.csv"
    path.write_bytes(content)
    with pytest.raises(RecordError, match=r"sweep\.csv"):
        open_logbook(path)
    assert path.read_bytes() == content


def test_a_missing_record_is_refused_where_none_shall_be_made(tmp_path):
    path = tmp_path / "none.benchlog"
    with pytest.raises(RecordError, match="got no such file"):
        open_logbook(path, create=False)
    assert not path.exists()


def test_an_empty_file_becomes_a_record_only_where_one_may_be_made(tmp_path):
    path = tmp_path / "empty.benchlog"
    path.touch()
    with pytest.raises(RecordError, match="got none there"):
        open_logbook(path, create=False)
    with open_logbook(path) as book:
        assert book.verify() == ()


@pytest.mark.xdist_group("server")
def test_an_empty_database_becomes_a_record_only_where_one_may_be_made(server, shared):
    with pytest.raises(RecordError, match="got none there"):
        open_logbook(shared, create=False)
    with server.connect(shared.rpartition("/")[2]) as connection:
        query = "SELECT count(*) FROM pg_namespace WHERE nspname = 'benchapp'"
        assert connection.execute(query).fetchone() == (0,)
    with open_logbook(shared) as book:
        assert book.verify() == ()


def test_a_folder_that_cannot_be_made_is_told(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordError, match="must stand in a folder that can be made"):
        open_logbook(tmp_path / "file" / "parts.benchlog")


def test_a_backup_is_whole_while_the_record_is_in_use(book, tmp_path, entries):
    book.add_all(entries(3))
    path = book.backup(tmp_path / "copy.benchlog")
    book.add_all(entries(1, first=9))
    with open_logbook(path, create=False) as copy:
        assert len(copy.search(Search())) == 3
        assert copy.verify() == ()
    assert not list(tmp_path.glob("*.part"))


def test_a_backup_replaces_nothing(book, tmp_path):
    path = tmp_path / "there.benchlog"
    path.write_text("precious")
    with pytest.raises(RecordError, match="must be a new file"):
        book.backup(path)
    assert path.read_text() == "precious"


def test_a_backup_that_cannot_be_written_is_told(book, tmp_path):
    with pytest.raises(RecordError, match="must be a file that can be written"):
        book.backup(tmp_path / "nowhere" / "copy.benchlog")


def alter(server, address, *statements):
    """Change the tables of a record on the server, with its guards off meanwhile."""
    with server.connect(address.rpartition("/")[2]) as connection:
        connection.execute("SET search_path = benchapp")
        connection.execute("SET session_replication_role = replica")
        for statement in statements:
            connection.execute(statement)


@pytest.mark.xdist_group("server")
def test_an_old_record_on_a_server_is_brought_up(server, shared, entries):
    with open_logbook(shared) as book:
        book.add_all(entries(2))
    alter(server, shared, "DROP INDEX entry_kind", "DELETE FROM step WHERE version = 2")
    with open_logbook(shared) as book:
        assert len(book.search(Search())) == 2
        assert book.verify() == ()


@pytest.mark.xdist_group("server")
def test_a_newer_record_on_a_server_is_refused(server, shared):
    with open_logbook(shared):
        pass
    alter(server, shared, f"INSERT INTO step VALUES ({VERSION + 1}, 'x', 'x', 'x')")
    with pytest.raises(RecordError, match=rf"version {VERSION} or older \(got {VERSION + 1}\)"):
        open_logbook(shared)


@pytest.mark.xdist_group("server")
@pytest.mark.parametrize(
    ("statement", "what"),
    [
        ("UPDATE entry SET serial = 'x' WHERE id = 2", "was changed"),
        ("DELETE FROM entry WHERE id = 2", "must end with number 2"),
        ("UPDATE blob SET content = ''", "were changed"),
        ("ALTER TABLE entry DISABLE TRIGGER entry_change", "is not as it was made"),
        ("DROP TRIGGER entry_change ON entry", "is missing"),
    ],
)
def test_a_change_on_the_server_is_found(server, shared, entries, statement, what):
    with open_logbook(shared) as book:
        book.add_all(entries(2))
        assert book.verify() == ()
        alter(server, shared, statement)
        assert any(what in each.what for each in book.verify())
