"""Years later the record alone gives the same numbers: nothing else is needed."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.capture import Sweep
from benchapp.checks import Acknowledgement, Facts
from benchapp.errors import CancelledError, FileAccessError, ReadError, RecordError
from benchapp.fixture import Compensation, Corrections, correct
from benchapp.jobs import (
    ComparePart,
    Examination,
    FitChoices,
    JudgeLot,
    KeepPart,
    LotRecipe,
    OpenAccuracy,
    OpenFile,
    OpenNominal,
    Place,
    RefitEntry,
    RepeatEntry,
    SaveCaptures,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.jobs.again import reading_of
from benchapp.logbook import Search, open_logbook
from benchapp.readers import Answers
from benchapp.units import Estimate

FILE = sample_folder() / "ga12_lot" / "0201.csv"
KNOWN_C = Estimate(name="C", value=868e-12, u=1e-12, unit="F")


def do(job):
    return job(silent, not_cancelled)


@pytest.fixture
def record(tmp_path):
    return str(tmp_path / "record.benchlog")


@pytest.fixture
def bench(tmp_path):
    """Give a folder with a design, an accuracy and a file of two sweeps, to be thrown away."""
    folder = tmp_path / "bench"
    folder.mkdir()
    for name in ("ga12.toml", "bench_meter.accuracy.toml"):
        shutil.copy(sample_folder() / name, folder)
    captures = do(OpenFile(path=str(FILE))).captures
    second = replace(captures[0], impedance=captures[0].impedance * 1.001)
    do(SaveCaptures(path=str(folder / "two.csv"), captures=(*captures, second)))
    return folder


def fixture_readings(sweep):
    opened = Sweep(frequency=sweep.frequency, impedance=1 / (2e-12j * sweep.frequency))
    shorted = Sweep(frequency=sweep.frequency, impedance=0.01 + 1e-8j * sweep.frequency)
    return Compensation(opened=opened, shorted=shorted)


def keep(record, path, *, design="", sweep=0, corrections=None, **compare):
    reading = do(OpenFile(path=str(path)))
    raw = reading.captures[sweep]
    done = None if corrections is None else correct(raw, corrections)
    job = ComparePart(
        capture=raw if done is None else done.capture,
        path=str(path),
        nominal=do(OpenNominal(path=str(design))) if design else None,
        reading=reading,
        corrected=done,
        **compare,
    )
    return do(KeepPart(record=record, place=Place(serial="GA-1"), compare=job))


def test_all_that_went_into_a_result_comes_out_of_the_record_alone(record, bench):
    sweep = do(OpenFile(path=str(bench / "two.csv"))).captures[1]
    corrections = Corrections(
        delay=5e-10, compensation=fixture_readings(sweep), series_ohm=0.2, probe_farad=1e-13
    )
    kept = keep(
        record,
        bench / "two.csv",
        design=bench / "ga12.toml",
        sweep=1,
        corrections=corrections,
        choices=FitChoices(circuit="tank", fix=(KNOWN_C,), band=(120e3, 150e3), set_aside=(50,)),
        examination=Examination(
            accuracy=do(OpenAccuracy(path=str(bench / "bench_meter.accuracy.toml"))),
            facts=Facts(calibration_due="2020-01-31", dwell=1e-3),
            thresholds={"capability-from-few": {"parts": 20.0}},
        ),
    )
    shutil.rmtree(bench)
    found = do(RepeatEntry(record=record, number=kept.entry))
    assert found.differs == ()
    assert found.part.fit.covariance.tobytes() == kept.part.fit.covariance.tobytes()
    assert found.part.verdict == kept.part.verdict
    assert found.part.findings == kept.part.findings
    assert "calibration-overdue" in {finding.id for finding in found.part.findings}
    assert found.start == f"the {len(found.stored.entry.raw)} bytes of its file"
    assert found.remarks == ()


def test_a_file_read_with_answers_is_read_with_them_again(record, tmp_path):
    path = tmp_path / "part.csv"
    sweep = do(OpenFile(path=str(FILE))).captures[0]
    points = zip(sweep.frequency, sweep.impedance, strict=True)
    rows = "".join(f"{f:.3f},{z.real:.9g},{z.imag:.9g}\n" for f, z in points)
    path.write_text(f"f,A,B\n{rows}", encoding="utf-8")
    answers = Answers(columns="f/Hz, R/ohm, X/ohm")
    reading = do(OpenFile(path=str(path), answers=answers))
    job = ComparePart(capture=reading.captures[0], path=str(path), reading=reading)
    kept = do(KeepPart(record=record, place=Place(serial="1"), compare=job))
    path.unlink()
    found = do(RepeatEntry(record=record, number=kept.entry))
    assert found.stored.entry.answers == answers
    assert found.part.capture.digest == reading.captures[0].digest
    assert found.differs == ()


def test_an_accepted_warning_stays_accepted(record):
    accepted = Acknowledgement(check="gauge-too-wide", name="A. E.", reason="known here")
    looked = Examination(acknowledged=(accepted,), facts=Facts(gauge_percent=31.0))
    kept = keep(record, FILE, examination=looked)
    found = do(RepeatEntry(record=record, number=kept.entry))
    assert [one.acknowledged for one in found.part.findings if one.acknowledged] == [accepted]
    assert found.differs == ()


def test_a_lot_of_files_is_repeated_part_by_part(record, bench):
    folder = bench / "lot"
    folder.mkdir()
    for name in ("0201", "0209"):
        shutil.copy(FILE.with_name(f"{name}.csv"), folder)
    recipe = LotRecipe(nominal=do(OpenNominal(path=str(bench / "ga12.toml"))))
    do(JudgeLot(folder=str(folder), recipe=recipe, record=record))
    shutil.rmtree(bench)
    with open_logbook(record) as book:
        rows = book.search(Search())
    for row in rows:
        found = do(RepeatEntry(record=record, number=row.id))
        assert found.differs == ()
        assert found.part.verdict.outcome is row.outcome
    assert len(rows) == 2


def test_what_was_measured_here_is_repeated_from_its_points(record):
    capture = replace(do(OpenFile(path=str(FILE))).captures[0])
    corrections = Corrections(series_ohm=1.5)
    done = correct(capture, corrections)
    job = ComparePart(capture=done.capture, corrected=done)
    kept = do(KeepPart(record=record, place=Place(serial="1"), compare=job))
    found = do(RepeatEntry(record=record, number=kept.entry))
    assert found.start == "the points that were measured"
    assert found.stored.entry.measured.digest == capture.digest
    assert found.differs == ()


def changed(record, kept, **changes):
    """Keep a measurement once more with something in it that its own data do not give."""
    with open_logbook(record) as book:
        entry = book.entry(kept.entry).entry
        return book.add(replace(entry, **changes))


def test_what_differs_is_said(record, bench):
    kept = keep(record, bench / "two.csv", design=bench / "ga12.toml")
    fit, verdict = kept.part.fit, kept.part.verdict
    first = fit.results[0]
    other = replace(first, value=first.value * (1 + 1e-12))
    number = changed(
        record,
        kept,
        fit=replace(fit, results=(other, *fit.results[1:])),
        verdict=replace(verdict, reason="by hand"),
        findings=kept.part.findings[1:],
        sweep=2,
    )
    differs = do(RepeatEntry(record=record, number=number)).differs
    assert [words.split(":")[0] for words in differs] == [
        *("the points of the capture", "the fit", "the verdict", "the findings")
    ]
    assert f"{first.name} was " in differs[1]
    assert differs[3] == f"the findings: {kept.part.findings[0].id}"


def test_a_fit_whose_results_agree_may_still_differ(record):
    kept = keep(record, FILE)
    covariance = np.array(kept.part.fit.covariance) * 2
    number = changed(record, kept, fit=replace(kept.part.fit, covariance=covariance))
    assert do(RepeatEntry(record=record, number=number)).differs == (
        "the fit: not its results, but what stands behind them",
    )


def test_an_entry_of_an_older_version_is_repeated_in_the_usual_way(record):
    kept = keep(record, FILE, choices=FitChoices(circuit="tank"))
    number = changed(record, kept, basis=None, sweep=None, software="0.0.9")
    found = do(RepeatEntry(record=record, number=number))
    assert found.differs == ()
    assert "Kept by software 0.0.9, repeated by" in found.remarks[0]
    assert "did not keep how it was fitted" in found.remarks[1]


def test_what_was_never_fitted_cannot_be_repeated(record):
    number = changed(record, keep(record, FILE), fit=None)
    with pytest.raises(RecordError, match="must have been fitted to be repeated"):
        do(RepeatEntry(record=record, number=number))
    with pytest.raises(CancelledError):
        RepeatEntry(record=record, number=number)(silent, lambda: True)


def test_bytes_that_cannot_be_laid_down_or_read_are_told(record, monkeypatch, tmp_path):
    kept = keep(record, FILE)
    with open_logbook(record) as book:
        entry = book.entry(kept.entry).entry
    with pytest.raises(ReadError, match=r"0201\.csv"):
        reading_of(replace(entry, raw=b"no numbers in here\n"))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "absent"))
    with pytest.raises(FileAccessError, match=r"0201\.csv: must be laid down to be read again"):
        reading_of(entry)


def test_fitting_again_goes_by_the_choices_that_were_kept(record):
    choices = FitChoices(circuit="tank", fix=(KNOWN_C,), band=(120e3, 150e3))
    kept = keep(record, FILE, choices=choices)
    found = do(RefitEntry(record=record, number=kept.entry))
    assert found.part.fit.results == kept.part.fit.results
    assert found.stored.refits[0].basis.choices == choices
    other = do(RefitEntry(record=record, number=kept.entry, choices=FitChoices(circuit="tank")))
    assert other.part.fit.fixed == ()


def test_fitting_again_does_without_bytes_that_cannot_be_read(record):
    kept = keep(record, FILE)
    number = changed(record, kept, raw=b"no numbers in here\n")
    assert do(RefitEntry(record=record, number=number)).part.fit.results == kept.part.fit.results


def test_nothing_of_the_bytes_stays_in_the_folder_for_temporary_files(
    record, monkeypatch, tmp_path
):
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    do(RepeatEntry(record=record, number=keep(record, FILE).entry))
    assert list(Path(folder).iterdir()) == []
