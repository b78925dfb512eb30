"""What the record keeps of a part is all that was known when it was measured."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.capture import Origin, Sweep
from benchapp.checks import Facts
from benchapp.fixture import Corrections, correct
from benchapp.jobs import (
    ComparePart,
    Examination,
    FitChoices,
    JudgeLot,
    LotRecipe,
    OpenAccuracy,
    OpenFile,
    OpenNominal,
    Place,
    SaveCaptures,
    entry_of,
    judge_file,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.jobs.lot_record import text_of
from benchapp.logbook import open_logbook
from benchapp.readers import Answers
from benchapp.units import Estimate

FILE = sample_folder() / "ga12_lot" / "0201.csv"
DESIGN = sample_folder() / "ga12.toml"
ACCURACY = 'title = "Bench meter"\n\n[instrument]\nreading = "±0.1 %"\n'


def do(job):
    return job(silent, not_cancelled)


@pytest.fixture(scope="module")
def nominal():
    return do(OpenNominal(path=str(DESIGN)))


@pytest.fixture
def accuracy(tmp_path):
    path = tmp_path / "meter.toml"
    path.write_text(ACCURACY, encoding="utf-8")
    return do(OpenAccuracy(path=str(path)))


@pytest.fixture
def part(tmp_path, nominal):
    path = tmp_path / "part.csv"
    shutil.copy(FILE, path)
    return judge_file(str(path), LotRecipe(nominal=nominal)).parts[0]


def test_all_that_is_known_of_a_measurement_is_kept(part, accuracy):
    place = Place(serial="7", lot="a-1", position=19, attempt=2, cause="bent lead", operator="Ito")
    looked = replace(part.examination, accuracy=accuracy)
    entry = entry_of(replace(part, examination=looked), place)
    kept = (entry.serial, entry.lot, entry.position, entry.attempt)
    assert kept == ("7", "a-1", 19, 2)
    assert (entry.retest_reason, entry.operator) == ("bent lead", "Ito")
    assert entry.accuracy_text == ACCURACY
    assert entry.nominal_text == DESIGN.read_text(encoding="utf-8")
    assert entry.raw == FILE.read_bytes()
    assert (entry.fit, entry.verdict, entry.findings) == (part.fit, part.verdict, part.findings)


def test_the_answers_that_a_file_was_read_with_are_kept(nominal):
    answers = Answers(sign="as written")
    (part,) = judge_file(str(FILE), LotRecipe(nominal=nominal, answers=answers)).parts
    assert entry_of(part, Place(serial="7")).answers == answers


def test_how_a_part_was_fitted_and_examined_is_kept(nominal, accuracy):
    known = Estimate(name="C", value=868e-12, u=1e-12, unit="F")
    choices = FitChoices(circuit="tank", fix=(known,), band=(120e3, 150e3), set_aside=(3, 4))
    recipe = LotRecipe(
        nominal=nominal,
        choices=choices,
        examination=Examination(
            accuracy=accuracy,
            thresholds={"capability-from-few": {"parts": 20.0}},
            facts=Facts(calibration_due="2099-01-31"),
        ),
    )
    (part,) = judge_file(str(FILE), recipe).parts
    basis = entry_of(part, Place(serial="7")).basis
    assert (basis.choices, basis.accuracy, basis.thorough) == (choices, accuracy, False)
    assert basis.thresholds == {"capability-from-few": {"parts": 20.0}}
    assert (basis.facts.in_lot, basis.facts.calibration_due) == (True, "2099-01-31")
    assert basis.facts.today is not None  # the day that the calibration was held against


def test_which_capture_of_its_file_it_is_is_kept(tmp_path, nominal):
    captures = do(OpenFile(path=str(FILE))).captures * 2
    both = tmp_path / "both.csv"
    do(SaveCaptures(path=str(both), captures=captures))
    parts = judge_file(str(both), LotRecipe(nominal=nominal)).parts
    assert [entry_of(part, Place(serial="7")).sweep for part in parts] == [1, 2]
    assert entry_of(replace(parts[0], reading=None), Place(serial="7")).sweep is None


def test_a_corrected_capture_is_kept_with_the_one_it_came_from_and_what_was_taken_away(part):
    known = Corrections(series_ohm=1.0)
    done = correct(part.capture, known)
    entry = entry_of(replace(part, capture=done.capture, corrected=done), Place(serial="7"))
    assert (entry.capture, entry.measured) == (done.capture, part.capture)
    assert (entry.corrections, entry.sweep) == (known, 1)
    plain = entry_of(part, Place(serial="7"))
    assert (plain.measured, plain.corrections) == (None, None)


def test_a_file_does_not_say_which_instrument_wrote_it_but_a_measurement_does(part):
    assert part.capture.origin.reader == "table"
    assert entry_of(part, Place(serial="7")).instrument == ""
    taken = Origin(source="Bench meter 12", reader="profile meter.toml")
    measured = replace(part, path="", capture=replace(part.capture, origin=taken))
    assert entry_of(measured, Place(serial="7")).instrument == "Bench meter 12"


def test_a_part_may_be_kept_from_memory(part):
    entry = entry_of(replace(part, path="", reading=None), Place(serial="77"))
    assert (entry.raw, entry.lot, entry.answers) == (b"", None, Answers())


def test_a_file_changed_since_it_was_read_is_not_kept_as_what_was_measured(part):
    assert entry_of(part, Place(serial="1")).raw == Path(part.path).read_bytes()
    with Path(part.path).open("ab") as file:
        file.write(b"# touched\n")
    changed = entry_of(part, Place(serial="1"))
    assert changed.raw == b""
    assert changed.capture.origin.sha256 == part.sha256
    Path(part.path).unlink()
    assert entry_of(part, Place(serial="1")).raw == b""


def test_a_capture_that_was_not_fitted_is_kept_with_its_file_and_its_design(nominal, accuracy):
    reading = do(OpenFile(path=str(FILE)))
    entry = entry_of(
        ComparePart(
            capture=reading.captures[0],
            path=str(FILE),
            nominal=nominal,
            reading=reading,
            examination=Examination(accuracy=accuracy),
        ),
        Place(serial="7"),
    )
    assert (entry.fit, entry.verdict, entry.findings) == (None, None, ())
    assert (entry.raw, entry.accuracy_text) == (FILE.read_bytes(), ACCURACY)
    assert entry.assumptions == reading.assumptions
    assert entry.nominal is nominal


def test_the_text_of_a_design_changed_since_it_was_read_is_not_kept(tmp_path):
    path = tmp_path / "design.toml"
    shutil.copy(DESIGN, path)
    design = do(OpenNominal(path=str(path)))
    assert text_of(design) == DESIGN.read_text(encoding="utf-8")
    path.write_text("changed")
    assert text_of(design) == ""
    assert text_of(replace(design, source="")) == ""
    assert text_of(None) == ""


def test_a_lot_keeps_the_accuracy_that_it_was_judged_with(tmp_path, nominal, accuracy):
    folder = tmp_path / "lot"
    folder.mkdir()
    shutil.copy(FILE, folder / "a.csv")
    recipe = LotRecipe(nominal=nominal, examination=Examination(accuracy=accuracy))
    record = str(tmp_path / "parts.benchlog")
    found = do(JudgeLot(folder=str(folder), recipe=recipe, record=record))
    with open_logbook(record) as book:
        (row,) = book.parts(found.lot)
        entry = book.entry(row.id).entry
    assert entry.accuracy_text == ACCURACY
    assert entry.nominal_text == DESIGN.read_text(encoding="utf-8")


def test_a_capture_from_memory_names_no_instrument():
    flat = Sweep(frequency=np.array([1e5]), impedance=np.array([1 + 2j]))
    entry = entry_of(ComparePart(capture=flat), Place(serial="7"))
    assert (entry.instrument, entry.nominal_text, entry.accuracy_text) == ("", "", "")
