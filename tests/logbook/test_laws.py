"""Laws of the record, over acts in any order."""

from __future__ import annotations

import random
from contextlib import ExitStack
from dataclasses import replace

import pytest

from benchapp.logbook import WITHDRAWN, Search, open_logbook

BENCHES = ("A", "B", "C")


@pytest.fixture
def books(tmp_path):
    """Give the open records of three benches."""
    with ExitStack() as opened:
        yield {
            name: opened.enter_context(open_logbook(tmp_path / f"{name}.benchlog", bench=name))
            for name in BENCHES
        }


def contents(book):
    """Give what a record says, without the numbers that are its own."""
    rows = book.search(Search())
    return sorted((row.key, row.serial, row.attempt, row.outcome, row.withdrawn) for row in rows)


@pytest.mark.parametrize("seed", range(6))
def test_records_that_merged_with_each_other_say_the_same(books, entry, seed):
    draw = random.Random(seed)
    measured = 0
    for number in range(25):
        name = draw.choice(BENCHES)
        book = books[name]
        act = draw.choice(["part", "part", "part", "correct", "merge"])
        rows = book.search(Search())
        if act == "merge":
            book.merge(books[draw.choice([other for other in BENCHES if other != name])])
        elif act == "correct" and rows:
            book.correct(draw.choice(rows).id, WITHDRAWN, name, f"reason {number}")
        else:
            book.add(replace(entry, serial=f"{name}-{number}", raw=b"%d" % number))
            measured += 1
    for name in BENCHES:
        for other in BENCHES:
            if name != other:
                books[name].merge(books[other])
    said = [contents(book) for book in books.values()]
    assert said[0] == said[1] == said[2]
    assert len(said[0]) == measured
    assert [book.verify() for book in books.values()] == [(), (), ()]


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_merging_does_not_matter(books, tmp_path, entry, seed):
    draw = random.Random(seed)
    for number in range(12):
        name = draw.choice(BENCHES)
        books[name].add(replace(entry, serial=f"{name}-{number}", raw=b""))
    found = []
    for turn in range(2):
        order = draw.sample(BENCHES, 3)
        with open_logbook(tmp_path / f"all{turn}.benchlog") as together:
            for name in order:
                together.merge(books[name])
            found.append(contents(together))
            assert together.verify() == ()
    assert found[0] == found[1]
    assert len(found[0]) == 12


@pytest.mark.parametrize("seed", range(3))
def test_chunks_of_any_size_give_the_same_record(tmp_path, entry, seed):
    draw = random.Random(seed)
    parts = [replace(entry, serial=f"{number}", raw=b"%d" % number) for number in range(30)]
    said = []
    for turn in range(2):
        with open_logbook(tmp_path / f"{turn}.benchlog") as book:
            start = 0
            while start < len(parts):
                size = draw.randint(1, 9)
                book.add_all(parts[start : start + size])
                start += size
            rows = book.search(Search())
            said.append([(row.id, row.serial, row.estimates) for row in rows])
            assert book.verify() == ()
    assert said[0] == said[1]
    assert [serial for _, serial, _ in said[0]] == [f"{number}" for number in range(30)]
