from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from benchapp.errors import CancelledError, UsageError
from benchapp.jobs import (
    ReportChoices,
    WriteComplaint,
    WritePartReport,
    not_cancelled,
    silent,
)
from tests.report.samples import TIME, judged

FAILED = "ga12_lot/0209.csv"


def text_of(path):
    return Path(path).read_text(encoding="utf-8")


def choices(folder, name, **more):
    return ReportChoices(path=str(folder / name), time=TIME, **more)


def run(job):
    return job(silent, not_cancelled)


def test_a_report_is_written_by_the_ending_of_its_name(tmp_path):
    part = judged()
    pdf = run(WritePartReport(part=part, choices=choices(tmp_path, "a.pdf")))
    html = run(WritePartReport(part=part, choices=choices(tmp_path, "a.html")))
    assert Path(pdf).read_bytes().startswith(b"%PDF-")
    assert text_of(html).startswith("<!DOCTYPE html>")


def test_the_same_choices_give_the_same_bytes_with_a_number_of_time_and_data(tmp_path):
    first = run(WritePartReport(part=judged(), choices=choices(tmp_path, "a.html")))
    again = run(WritePartReport(part=judged(), choices=choices(tmp_path, "b.html")))
    text = text_of(first)
    assert text == text_of(again)
    assert "20260301100000-" in text
    other = run(WritePartReport(part=judged(FAILED), choices=choices(tmp_path, "c.html")))
    number = text.split("<header>", 1)[1].split("</p>", 1)[0]
    assert number not in text_of(other)


def test_names_and_paper_reach_the_report(tmp_path):
    given = choices(
        tmp_path, "a.html", number="N-9", customer="Farm & Co", authoriser="C", paper="Letter"
    )
    text = text_of(run(WritePartReport(part=judged(), choices=given)))
    assert all(each in text for each in ("N-9", "Farm &amp; Co", "size: Letter"))


def test_another_ending_is_refused_before_anything_is_written(tmp_path):
    job = WritePartReport(part=judged(), choices=choices(tmp_path, "a.docx"))
    with pytest.raises(UsageError, match="report: must end in"):
        run(job)
    assert not list(tmp_path.iterdir())


def test_a_complaint_is_written_on_the_failed_parts(tmp_path):
    job = WriteComplaint(
        parts=(judged(), judged(FAILED)),
        choices=choices(tmp_path, "a.html"),
        lot=(("Order", "4711"),),
    )
    text = text_of(run(job))
    assert "4711" in text
    assert judged().sha256 not in text


def test_a_report_can_be_stopped_and_its_job_pickled(tmp_path):
    job = WritePartReport(part=judged(), choices=choices(tmp_path, "a.html"))
    with pytest.raises(CancelledError, match="stopped"):
        job(silent, lambda: True)
    assert pickle.loads(pickle.dumps(job)).choices == job.choices


@pytest.mark.parametrize("name", ["a.html", "a.pdf"])
def test_a_file_that_is_there_is_written_over_only_where_a_person_agreed(tmp_path, name):
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match=r"must be a new file \(it is there already\)"):
        run(WritePartReport(part=judged(), choices=choices(tmp_path, name)))
    assert text_of(tmp_path / name) == "mine"
    run(WritePartReport(part=judged(), choices=choices(tmp_path, name, overwrite=True)))
    assert (tmp_path / name).stat().st_size > 1000
    assert [path.name for path in tmp_path.iterdir()] == [name]
