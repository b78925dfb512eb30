"""A file is read with what is answered now and what was answered for its like."""

from __future__ import annotations

from dataclasses import replace

import pytest

from benchapp.errors import ReadError
from benchapp.jobs import (
    EARLIER,
    SAMPLE_NOMINAL,
    AnswerBook,
    OpenFile,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.readers import Answers

BARE = "1000,5,6\n2000,6,7\n3000,7,9\n4000,8,12\n"
COLUMNS = "f/Hz, R, X"


@pytest.fixture
def book(tmp_path):
    return AnswerBook(path=str(tmp_path / "answers.toml"))


@pytest.fixture
def bare(tmp_path):
    """Two files of one layout, neither of which says what its columns hold."""
    paths = [tmp_path / name for name in ("a.csv", "b.csv")]
    for path in paths:
        path.write_text(BARE, encoding="ascii")
    return [str(path) for path in paths]


def opened(path, book, *, remember=False, **answers):
    job = OpenFile(path=path, answers=Answers(**answers), book=book, remember=remember)
    return job(silent, not_cancelled)


def notes(reading):
    return [entry for entry in reading.assumptions if entry.subject == EARLIER]


def test_an_answer_is_remembered_for_files_laid_out_alike_and_said(bare, book):
    first = opened(bare[0], book, remember=True, columns=COLUMNS)
    assert notes(first) == []
    second = opened(bare[1], book)
    (note,) = notes(second)
    assert note.value == f"columns = {COLUMNS}"
    assert book.path in note.reason
    assert second.captures[0].impedance.tolist() == [5 + 6j, 6 + 7j, 7 + 9j, 8 + 12j]


def test_the_book_says_in_words_which_layout_it_means(bare, book):
    opened(bare[0], book, remember=True, columns=COLUMNS)
    (entry,) = book.entries().values()
    assert entry.layout.startswith("table | comma, decimal point")


def test_without_the_wish_nothing_is_remembered(bare, book):
    opened(bare[0], book, columns=COLUMNS)
    assert book.entries() == {}
    with pytest.raises(ReadError, match="must state everything"):
        opened(bare[1], book)


def test_an_answer_of_now_overrides_the_earlier_one(bare, book):
    opened(bare[0], book, remember=True, columns=COLUMNS)
    found = opened(bare[1], book, columns="f/kHz, R, X")
    assert notes(found) == []
    assert found.captures[0].frequency[0] == 1e6
    assert opened(bare[1], book).captures[0].frequency[0] == 1e3


def test_a_new_answer_joins_the_earlier_ones(tmp_path, book):
    path = tmp_path / "through.s2p"
    rows = "\n".join(f"{f} 0.1 0 0.5 0.1 0.5 0.1 0.1 0" for f in range(1, 9))
    path.write_text(f"# MHz S RI R 50\n{rows}\n", encoding="ascii")
    opened(str(path), book, remember=True, port="series-through")
    found = opened(str(path), book, remember=True, parameter="S21")
    (entry,) = book.entries().values()
    assert entry.answers == Answers(port="series-through", parameter="S21")
    assert notes(found)[0].value == "port = series-through"


def test_another_layout_is_not_touched_by_what_is_remembered(bare, book):
    opened(bare[0], book, remember=True, columns=COLUMNS)
    path = str(sample_folder() / "ga12_tank.csv")
    with_book, without = opened(path, book), opened(path, None)
    assert notes(with_book) == []
    assert with_book.captures[0].digest == without.captures[0].digest


def test_a_damaged_book_stops_nobody_and_is_said(book):
    path = str(sample_folder() / "ga12_tank.csv")
    with open(book.path, "w", encoding="utf-8") as file:  # noqa: PTH123 - a plain text file
        file.write("[layouts")
    (note,) = notes(opened(path, book))
    assert note.value == "not used"
    assert "must be TOML" in note.reason


def test_where_earlier_answers_do_not_fit_a_refusal_names_them(bare, book):
    opened(bare[0], book, remember=True, columns=COLUMNS)
    ((name, entry),) = book.entries().items()
    book.keep(name, replace(entry, answers=Answers(columns="f/Hz")))
    with pytest.raises(ReadError) as refusal:
        opened(bare[1], book)
    assert "Earlier answers for files laid out alike were used (columns = f/Hz)" in str(
        refusal.value
    )


def test_a_design_is_told_from_a_capture():
    path = str(sample_folder() / SAMPLE_NOMINAL)
    with pytest.raises(ReadError, match=r"must be a capture \(got a nominal design\)") as refusal:
        opened(path, None)
    assert "--nominal" in refusal.value.hint


def test_a_toml_that_is_no_design_is_no_capture_either(tmp_path):
    path = tmp_path / "other.toml"
    path.write_text("colour = 3\n", encoding="utf-8")
    with pytest.raises(ReadError) as refusal:
        opened(str(path), None)
    assert "nominal design" not in refusal.value.message
