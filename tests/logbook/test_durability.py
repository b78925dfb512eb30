"""What was acknowledged is there: after a kill, on a full disk, with several at once."""

from __future__ import annotations

import contextlib
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from benchapp.errors import RecordError
from benchapp.logbook import Search, open_logbook

ROOT = Path(__file__).resolve().parents[2]


def start(address, first, last, bench, size=1):
    words = (address, str(first), str(last), bench, str(size))
    return subprocess.Popen(
        [sys.executable, "-m", "tests.logbook.bench_at_work", *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )


def kill_at_random(address, draw, rounds, size):
    """Kill a working bench again and again; give what it had acknowledged."""
    acknowledged = []
    for number in range(rounds):
        bench = start(address, 1, 100_000, f"r{number}", size)
        assert bench.stdout.readline() == "ready\n"
        killer = threading.Timer(draw.uniform(0, 0.4), bench.send_signal, (signal.SIGKILL,))
        killer.start()
        for line in bench.stdout:
            # The last line may be cut in the middle: only whole lines were acknowledged.
            if line.endswith("\n"):
                acknowledged += line.split()
        bench.wait()
        killer.join()
        bench.stdout.close()
    return acknowledged


@pytest.mark.parametrize("size", [1, 20])
def test_after_a_kill_at_any_moment_all_that_was_acknowledged_is_there(address, size):
    acknowledged = kill_at_random(address, random.Random(size), 2, size)
    with open_logbook(address) as book:
        kept = [row.serial for row in book.search(Search())]
        assert set(acknowledged) <= set(kept)
        assert len(kept) == len(set(kept))
        assert len(acknowledged) > 3
        assert book.verify() == ()


def test_a_full_disk_loses_nothing_and_work_resumes_once_there_is_room(book, entries):
    with book._store.bare() as connection:
        pages = connection.execute("PRAGMA page_count").fetchone()[0]
        connection.execute(f"PRAGMA max_page_count = {pages + 60}")
    kept = []

    def work():
        for entry in entries(100):
            book.add(entry)
            kept.append(entry.serial)

    with pytest.raises(RecordError, match=r"full.*Nothing of this entry was kept"):
        work()
    assert 2 < len(kept) < 100
    assert [row.serial for row in book.search(Search())] == kept
    assert book.verify() == ()
    with book._store.bare() as connection:
        connection.execute("PRAGMA max_page_count = 1000000")
    book.add(entries(1, first=500)[0])
    assert len(book.search(Search())) == len(kept) + 1
    assert book.verify() == ()


def test_a_folder_that_became_read_only_is_told(book, entry, monkeypatch):
    with book._store.bare() as connection:
        connection.execute("PRAGMA query_only = ON")
    with pytest.raises(RecordError, match=r"readonly.*where you may write"):
        book.add(entry)


def test_several_threads_keep_parts_at_once(book, entries):
    def keep(first):
        for entry in entries(10, first=first):
            book.add(entry)

    threads = [threading.Thread(target=keep, args=(first,)) for first in (1, 101, 201)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(book.search(Search())) == 30
    assert book.verify() == ()


def test_two_programs_keep_parts_in_one_file_at_once(address):
    benches = [start(address, 1, 40, name) for name in ("A", "B")]
    for bench in benches:
        bench.communicate(timeout=60)
    with open_logbook(address) as book:
        assert len(book.search(Search())) == 80
        assert book.verify() == ()


def test_a_reader_sees_whole_transactions_while_another_writes(book, address, entries):
    seen = []

    def look():
        with open_logbook(address, create=False) as other:
            while not done.is_set():
                seen.append(len(other.search(Search())))
                time.sleep(0.001)

    done = threading.Event()
    reader = threading.Thread(target=look)
    reader.start()
    with contextlib.ExitStack() as at_end:
        at_end.callback(reader.join)
        at_end.callback(done.set)
        for first in range(1, 200, 20):
            book.add_all(entries(20, first=first))
    assert all(count % 20 == 0 for count in seen)


@pytest.mark.xdist_group("server")
def test_two_benches_and_a_server_that_starts_again_lose_and_double_nothing(server, shared):
    benches = {name: start(shared, 1, 400, name, size=2) for name in ("A", "B")}
    said = {name: [] for name in benches}

    def listen(name):
        for line in benches[name].stdout:
            said[name] += line.split()

    listeners = [threading.Thread(target=listen, args=(name,)) for name in benches]
    for listener in listeners:
        listener.start()
    while min(len(words) for words in said.values()) < 20:
        time.sleep(0.01)
    at_work = [name for name in benches if f"{name}-380" not in said[name]]
    server.stop()
    server.start()
    for listener in listeners:
        listener.join()
    for name, bench in benches.items():
        assert bench.wait(60) == 0, said[name]
        bench.stdout.close()
    assert at_work
    for name in at_work:  # one that was done already had nothing to wait for
        assert "waiting" in said[name]
    with open_logbook(shared) as book:
        found = sorted(row.serial for row in book.search(Search()))
        assert found == sorted(f"{name}-{number}" for name in "AB" for number in range(1, 401))
        assert book.verify() == ()
