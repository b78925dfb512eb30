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


def spoilt(book, answers):
    """Put answers that do not fit in the place of those that are remembered."""
    ((name, entry),) = book.entries().items()
    book.keep(name, replace(entry, answers=answers))


def test_where_earlier_answers_do_not_fit_the_question_names_them(bare, book):
    opened(bare[0], book, remember=True, columns=COLUMNS)
    spoilt(book, Answers(columns="f/Hz"))
    with pytest.raises(ReadError, match="must state everything") as refusal:
        opened(bare[1], book)
    assert "Earlier answers for files laid out alike (columns = f/Hz) do not fit" in str(
        refusal.value
    )
    assert book.entries() != {}


def test_earlier_answers_that_do_not_fit_stop_no_file_that_needs_none(tmp_path, book):
    path = tmp_path / "through.s2p"
    rows = "\n".join(f"{f} 0.1 0 0.5 0.1 0.5 0.1 0.1 0" for f in range(1, 9))
    path.write_text(f"# MHz S RI R 50\n{rows}\n", encoding="ascii")
    opened(str(path), book, remember=True, parameter="S21")
    spoilt(book, Answers(parameter="S43"))
    found = opened(str(path), book)
    (note,) = notes(found)
    assert note.value == "not used"
    assert "parameter: must be S or Z" in note.reason
    assert len(found.captures) == 4


def test_answers_for_a_layout_without_headings_are_doubted(bare, book):
    opened(bare[0], book, remember=True, columns=COLUMNS)
    (note,) = notes(opened(bare[1], book))
    assert note.confidence < 0.7
    assert "another instrument's files may look the same" in note.reason


def test_an_answer_of_one_record_is_doubted_in_the_next(tmp_path, book):
    path = tmp_path / "record.csv"
    path.write_text("CH1 (V)\n" + "0.1\n-0.1\n" * 20, encoding="ascii")
    opened(str(path), book, remember=True, interval="1 us")
    (note,) = notes(opened(str(path), book))
    assert note.value == "interval = 1 us"
    assert "interval may differ from file to file" in note.reason


def test_a_record_of_another_scale_is_another_layout(tmp_path, book):
    paths = [tmp_path / "a.csv", tmp_path / "b.csv"]
    for path, volts in zip(paths, ("1", "5"), strict=True):
        head = f"Sample interval,1e-6\nVolts per division,{volts}\nCH1 (counts)\n"
        path.write_text(head + "10\n-10\n" * 30, encoding="ascii")
    opened(str(paths[0]), book, remember=True, scale="0.04")
    assert opened(str(paths[1]), book).captures[0].voltage[0] == 10 * 5 / 25


def test_answers_that_cannot_be_remembered_cost_no_reading(bare, book):
    text = "[layouts"
    with open(book.path, "w", encoding="utf-8") as file:  # noqa: PTH123 - a plain text file
        file.write(text)
    found = opened(bare[0], book, remember=True, columns=COLUMNS)
    assert len(found.captures) == 1
    assert "must be TOML" in notes(found)[0].reason
    with open(book.path, encoding="utf-8") as file:  # noqa: PTH123 - a plain text file
        assert file.read() == text


def test_a_book_in_no_place_costs_no_reading(bare, tmp_path):
    (tmp_path / "file").touch()
    below = AnswerBook(path=str(tmp_path / "file" / "answers.toml"))
    (note,) = notes(opened(bare[0], below, remember=True, columns=COLUMNS))
    assert note.value in {"not used", "not remembered"}


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
