"""Every capture below a folder is one part of the lot, whatever the processes and the files do."""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.checks import Facts
from benchapp.errors import CancelledError, FileAccessError
from benchapp.jobs import (
    Examination,
    JudgeLot,
    LotFile,
    LotRecipe,
    RepeatEntry,
    files_below,
    judge_file,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.jobs.lot import _in_processes
from benchapp.logbook import Search, open_logbook
from benchapp.logbook.store import Logbook
from benchapp.lot import LotForm, PlanChoice
from benchapp.nominal import Outcome, load_nominal

FOLDER = sample_folder() / "ga12_lot"
NOMINAL = load_nominal(sample_folder() / "ga12.toml")
RECIPE = LotRecipe(nominal=NOMINAL)


def judged(folder=FOLDER, **changes):
    return JudgeLot(folder=str(folder), recipe=RECIPE, **changes)(silent, not_cancelled)


@pytest.fixture
def lot(tmp_path):
    """Three parts of the sample lot in a folder of their own."""
    for number in (1, 2, 10):
        shutil.copy(FOLDER / f"{200 + number:04d}.csv", tmp_path / f"part {number}.csv")
    return tmp_path


def test_every_capture_is_one_part_with_its_serial():
    found = judged()
    assert [record.serial for record in found.state.parts] == [f"02{n:02d}" for n in range(1, 14)]
    assert len(found.parts) == 13
    assert found.unreadable == ()
    assert found.summary.outcomes == {"pass": 12, "fail": 1}
    assert (found.state.decision, found.state.rejected) == ("reject", 1)
    assert [record.serial for record in found.state.quarantined] == ["0209"]


def test_a_part_carries_the_quantities_of_its_limits():
    record = judged().state.parts[0]
    assert set(record.estimates) >= {"L", "f0", "Q at 134.2 kHz", "ESR at 134.2 kHz"}
    assert record.outcome is Outcome.PASS


def test_files_are_counted_as_a_person_counts(lot):
    assert [Path(path).name for path in files_below(str(lot))] == [
        "part 1.csv",
        "part 2.csv",
        "part 10.csv",
    ]


def test_folders_below_count_and_what_is_hidden_or_no_capture_does_not(lot):
    (lot / "more").mkdir()
    (lot / ".trash").mkdir()
    shutil.copy(FOLDER / "0203.csv", lot / "more" / "part 3.csv")
    shutil.copy(FOLDER / "0203.csv", lot / ".trash" / "part 4.csv")
    (lot / "ga12.toml").write_text("x")
    (lot / ".hidden.csv").write_text("x")
    assert [Path(path).name for path in files_below(str(lot))][-1] == "part 10.csv"
    assert len(files_below(str(lot))) == 4


def test_a_file_that_cannot_be_read_is_named_and_the_others_are_judged(lot):
    (lot / "part 5.csv").write_text("nothing in here\n")
    found = judged(lot)
    assert len(found.parts) == 3
    (bad,) = found.unreadable
    assert bad.path.endswith("part 5.csv")
    assert "must hold rows of numbers" in bad.error.message
    assert found.state.form.quantity == 4
    assert found.state.decision == "open"


def test_serials_that_stand_twice_are_told_apart_by_their_files(lot):
    for folder in ("x", "y"):
        (lot / folder).mkdir()
        shutil.copy(lot / "part 1.csv", lot / folder / "part 1.csv")
    found = judged(lot)
    assert [record.serial for record in found.state.parts] == [
        "part 1",
        "part 2",
        "part 10",
        "part 1 (part 1.csv)",
        "part 1 (part 1.csv 3)",
    ]
    assert found.remarks == ("'part 1' stands in 3 captures: they are told apart by their files.",)


def test_a_plan_counts_the_first_parts_of_its_sample(lot):
    found = judged(lot, choice=PlanChoice(kind="zero", fraction=0.5, risk=0.4), quantity=2)
    assert found.state.plan.n == 2
    assert found.summary.decision == "accept"
    assert found.remarks[0] == "3 parts were measured, the plan counts the first 2."
    assert found.remarks[1] == "The lot is stated as 2 parts, 3 are there."


def test_a_lot_larger_than_what_was_measured_stays_open(lot):
    found = judged(lot, choice=PlanChoice(), quantity=500)
    assert (found.state.plan.n, found.summary.decision) == (50, "open")


def test_without_a_choice_every_part_is_inspected():
    # The table itself asks for the whole of 13 parts; of 60 it would ask for 13 only.
    assert judged().state.plan.letter == "B"
    job = JudgeLot(folder="", recipe=RECIPE)
    assert job._planned(60)[1].kind == "all"


def test_a_folder_without_captures_is_told(tmp_path):
    with pytest.raises(FileAccessError, match="must hold at least one capture") as refusal:
        judged(tmp_path)
    assert refusal.value.hint == "It holds no file."
    with pytest.raises(FileAccessError, match=r"must be a folder with captures \(got nothing"):
        judged(tmp_path / "away")
    (tmp_path / "a.csv").write_text("x")
    with pytest.raises(FileAccessError, match=r"must be a folder with captures \(got a file"):
        judged(tmp_path / "a.csv")


def test_a_stopped_lot_is_stopped():
    job = JudgeLot(folder=str(FOLDER), recipe=RECIPE)
    with pytest.raises(CancelledError):
        job(silent, lambda: True)


def test_progress_says_how_many_and_how_long():
    told = []
    JudgeLot(folder=str(FOLDER), recipe=RECIPE)(
        lambda text, share: told.append((text, share)), not_cancelled
    )
    assert told[-1] == ("part 13 of 13, 0 s left", 1.0)


def test_other_processes_give_the_same_numbers(tmp_path):
    for copy in range(5):
        for path in FOLDER.glob("*.csv"):
            shutil.copy(path, tmp_path / f"{copy}-{path.name}")
    many, one = judged(tmp_path, workers=2), judged(tmp_path, workers=1)
    assert len(many.parts) == len(one.parts) == 65
    assert [record.serial for record in many.state.parts] == [
        record.serial for record in one.state.parts
    ]
    for left, right in zip(many.parts, one.parts, strict=True):
        assert left.capture.digest == right.capture.digest
        assert left.fit.values.tolist() == right.fit.values.tolist()
        assert left.verdict.outcome is right.verdict.outcome


def _fatal(paths, recipe):
    if any(path == "fatal" for path in paths):
        os._exit(7)
    return [LotFile(path=path) for path in paths]


def test_a_file_that_ends_a_process_is_named_and_the_others_are_judged(monkeypatch):
    monkeypatch.setattr("benchapp.jobs.lot._judge_files", _fatal)
    chunks = [["a", "b"], ["c", "fatal", "d"], ["e"]]
    found = list(_in_processes(chunks, RECIPE, 2, not_cancelled))
    assert [one.path for one in found] == ["a", "b", "c", "fatal", "d", "e"]
    errors = {one.path: one.error for one in found if one.error is not None}
    assert list(errors) == ["fatal"]
    assert "must be a file that can be worked on" in errors["fatal"].message


def test_everything_is_kept_in_the_record(tmp_path):
    address = str(tmp_path / "parts.benchlog")
    found = judged(record=address)
    with open_logbook(address) as logbook:
        rows = logbook.parts(found.lot)
        assert [row.serial for row in rows] == [record.serial for record in found.state.parts]
        stored = logbook.entry(rows[8].id).entry
        assert stored.verdict.outcome is Outcome.FAIL
        assert stored.raw == (FOLDER / "0209.csv").read_bytes()
        assert stored.fit.values.tolist() == found.parts[8].fit.values.tolist()
        assert stored.capture.digest == found.parts[8].capture.digest
        assert stored.nominal_text.startswith('title = "Gate antenna coil GA-12"')
        assert logbook.verify() == ()


def test_what_was_judged_before_a_stop_is_kept(tmp_path):
    address = str(tmp_path / "parts.benchlog")
    asked = iter([False] * 5 + [True] * 20)
    job = JudgeLot(folder=str(FOLDER), recipe=RECIPE, record=address)
    with pytest.raises(CancelledError):
        job(silent, lambda: next(asked))
    with open_logbook(address) as logbook:
        (lot,) = logbook.lots()
        kept = [row.serial for row in logbook.parts(lot.key)]
    assert kept == [f"02{n:02d}" for n in range(1, len(kept) + 1)]
    assert 0 < len(kept) < 13


def test_an_instrument_overdue_for_calibration_stops_the_parts_of_a_lot(lot):
    overdue = Facts(calibration_due="2026-01-31", today="2026-03-01")
    recipe = replace(RECIPE, examination=Examination(facts=overdue))
    (part,) = judge_file(str(lot / "part 1.csv"), recipe).parts
    assert part.verdict.outcome is Outcome.NOT_JUDGED
    assert part.verdict.reason.startswith("Calibration was due on 2026-01-31, 29 days ago.")


def named(folder, serial, source="0201.csv", name="part.csv"):
    """Write a capture of the sample lot under a serial that it states."""
    folder.mkdir(exist_ok=True)
    _, rest = (FOLDER / source).read_text(encoding="utf-8").split("\n", 1)
    (folder / name).write_text(f"# DUT: {serial}\n{rest}", encoding="utf-8")
    return folder


def met_before(found):
    return [
        [one.text for one in part.findings if one.id == "serial-met-before"]
        for part in found.parts
    ]


def test_a_serial_that_the_record_has_is_told_by_its_lot_and_kept_so(tmp_path):
    record = str(tmp_path / "r.benchlog")
    first, second = (named(tmp_path / name, "GA-00201") for name in "ab")
    named(second, "GA-00202", name="new.csv")
    assert met_before(judged(first, record=record, form=LotForm(date_code="2610"))) == [[]]
    found = judged(second, record=record)
    assert [len(words) for words in met_before(found)] == [0, 1]
    told = found.parts[1]
    assert told.capture.origin.part == "GA-00201"
    assert met_before(found)[1][0].startswith("This serial was met before: in lot 2610, on 20")
    with open_logbook(record) as book:
        last = book.search(Search(serial="GA-00201"))[-1]
        kept = book.entry(last.id).entry
    assert kept.findings == told.findings
    assert kept.basis.facts.serial_seen == told.examination.facts.serial_seen
    again = RepeatEntry(record=record, number=last.id)(silent, not_cancelled)
    assert again.differs == ()


def test_a_part_that_failed_and_was_met_before_is_judged_as_before(tmp_path):
    record = str(tmp_path / "r.benchlog")
    folder = named(tmp_path / "a", "GA-00209", source="0209.csv")
    once, twice = (judged(folder, record=record).parts[0] for _ in range(2))
    assert twice.verdict == once.verdict
    assert twice.diagnosis == once.diagnosis
    assert len(twice.findings) == len(once.findings) + 1


def test_numbers_that_every_lot_counts_anew_are_not_met_before(tmp_path):
    record = str(tmp_path / "r.benchlog")
    for _ in range(2):
        found = judged(record=record)
    assert met_before(found) == [[]] * 13


def test_the_record_is_asked_once_for_a_whole_lot(tmp_path, monkeypatch):
    record = str(tmp_path / "r.benchlog")
    for number in range(3):
        named(tmp_path / "a", f"GA-0020{number}", name=f"{number}.csv")
    asked = []
    usual = Logbook.met
    monkeypatch.setattr(Logbook, "met", lambda *words: asked.append(words) or usual(*words))
    for _ in range(2):
        found = judged(tmp_path / "a", record=record)
    assert all("outside" not in words[0] for words in met_before(found))
    assert len(asked) == 2


def test_a_serial_that_stands_in_two_files_of_one_lot_is_told_with_the_first(tmp_path):
    folder = named(tmp_path / "a", "GA-00201", name="1.csv")
    named(folder, "GA-00201", name="2.csv")
    first, second = met_before(judged(folder))
    assert first == []
    assert second[0].startswith("This serial was met before: in this lot, in 1.csv.")
