from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.errors import CancelledError, RecordError, UsageError
from benchapp.jobs import (
    JudgeLot,
    LotRecipe,
    ReportChoices,
    WriteEntryReport,
    WriteLotReport,
    WriteStoredLotReport,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.logbook import PartEntry, open_logbook
from tests.jobs.lots import FORM, PLAN, judged, keep_lot, nominal

TIME = "2026-03-01T10:00:00Z"


def choices(folder, name="r.html", **more):
    return ReportChoices(path=str(folder / name), time=TIME, **more)


def text_of(job):
    return Path(job(silent, not_cancelled)).read_text(encoding="utf-8")


@pytest.fixture
def record(tmp_path):
    return str(tmp_path / "r.benchlog")


def test_a_judged_lot_is_reported_by_the_serials_of_its_parts(tmp_path):
    job = JudgeLot(folder=str(sample_folder() / "ga12_lot"), recipe=LotRecipe(nominal=nominal()))
    lot = job(silent, not_cancelled)
    write = WriteLotReport(
        lot=lot, nominal=nominal(), choices=choices(tmp_path), reference="Coil 7: open"
    )
    text = text_of(write)
    assert "Decision: REJECT" in text
    assert "Coil 7: open" in text
    assert all(f"<td>{part.serial}</td>" in text for part in lot.state.parts)
    again = replace(write, choices=choices(tmp_path, "again.html"))
    assert text_of(again) == text


def test_a_stored_lot_is_reported_as_it_was_kept(tmp_path, record):
    key = keep_lot(record, "pfp")
    text = text_of(WriteStoredLotReport(record=record, key=key, choices=choices(tmp_path)))
    assert "Decision: REJECT" in text
    assert "Coil works" in text
    assert "3 sweeps; those of parts that are not accepted (1) stand out." in text


def test_a_lot_with_a_part_that_was_never_fitted_is_reported_with_it(tmp_path, record):
    key = keep_lot(record, "p")
    with open_logbook(record) as book:
        book.add(PartEntry(serial="torn", time=TIME, lot=key, nominal=nominal()))
    text = text_of(WriteStoredLotReport(record=record, key=key, choices=choices(tmp_path)))
    assert "<td>torn</td>" in text
    assert "1 sweeps" in text


def test_a_lot_without_a_part_cannot_be_reported(tmp_path, record):
    with open_logbook(record) as book:
        key = book.begin_lot(FORM, PLAN, (), nominal())
    with pytest.raises(RecordError, match="must have a design and a measured part"):
        text_of(WriteStoredLotReport(record=record, key=key, choices=choices(tmp_path)))


def test_one_entry_is_reported_with_its_numbers(tmp_path, record):
    key = keep_lot(record, "f")
    with open_logbook(record) as book:
        (row,) = book.parts(key)
    text = text_of(WriteEntryReport(record=record, number=row.id, choices=choices(tmp_path)))
    assert "Verdict: FAIL" in text
    assert judged("f").capture.digest in text


def test_an_entry_that_was_not_fitted_is_refused(tmp_path, record):
    with open_logbook(record) as book:
        number = book.add(PartEntry(serial="torn", time=TIME))
    with pytest.raises(RecordError, match="must have been fitted to be reported on"):
        text_of(WriteEntryReport(record=record, number=number, choices=choices(tmp_path)))


def test_a_file_that_is_there_is_refused_before_the_record_is_opened(tmp_path, record):
    (tmp_path / "r.html").write_text("mine", encoding="utf-8")
    for job in (
        WriteStoredLotReport(record=record, key="x", choices=choices(tmp_path)),
        WriteEntryReport(record=record, number=1, choices=choices(tmp_path)),
    ):
        with pytest.raises(UsageError, match="must be a new file"):
            text_of(job)
    assert (tmp_path / "r.html").read_text(encoding="utf-8") == "mine"
    assert not Path(record).exists()


def test_the_work_can_be_stopped(tmp_path, record):
    key = keep_lot(record, "pp")
    with pytest.raises(CancelledError, match="stopped"):
        WriteStoredLotReport(record=record, key=key, choices=choices(tmp_path))(
            silent, lambda: True
        )
    assert not (tmp_path / "r.html").exists()
