"""What is measured is kept one after the other; what could not be kept is said for good."""

from __future__ import annotations

import threading

import pytest

from benchapp.errors import RecordError
from benchapp.fixture import Corrections, correct
from benchapp.gui.recorder import Recorder, compare_of
from benchapp.gui.session import Part
from benchapp.jobs import (
    Examination,
    FitChoices,
    Place,
    RepeatEntry,
    not_cancelled,
    silent,
)
from benchapp.logbook import Search, open_logbook
from benchapp.uncertainty import Accuracy, Stated
from tests.gui.factories import nominal, reading, sweep


@pytest.fixture
def recorder(qapp, memory):
    made = Recorder(memory)
    yield made
    made.close()
    made.deleteLater()


def part(serial="0147", **changes):
    return Part(path="", capture=sweep(21, part=serial), **changes)


def settled(qtbot, recorder, count):
    qtbot.waitUntil(lambda: recorder.kept + recorder.failed == count, timeout=10_000)
    qtbot.waitUntil(lambda: recorder.words != "keeping…", timeout=10_000)


def rows(memory):
    with open_logbook(memory.record, create=False) as book:
        return book.search(Search())


OPENED = Examination(
    accuracy=Accuracy(title="opened"), thresholds={"low-q-resonance": {"q": 20.0}}
)


def test_a_part_is_judged_as_it_came_without_choices_about_it():
    one = part(reading=reading(), history=[FitChoices(circuit="series"), FitChoices()])
    design = nominal()
    job = compare_of(one, design, OPENED)
    assert (job.capture, job.nominal, job.reading) == (one.capture, design, one.reading)
    assert job.choices == FitChoices()
    assert job.examination == OPENED


def test_what_was_taken_away_at_the_station_is_kept_and_repeated_from_the_record(
    qtbot, recorder, memory
):
    done = correct(sweep(21, part="0147"), Corrections(series_ohm=2.0))
    one = Part(path="", capture=done.capture, corrected=done)
    recorder.keep_measured(one, nominal())
    settled(qtbot, recorder, 1)
    (row,) = rows(memory)
    found = RepeatEntry(record=memory.record, number=row.id)(silent, not_cancelled)
    assert found.stored.entry.measured.digest == done.raw.digest
    assert found.stored.entry.corrections.series_ohm == 2.0
    assert found.differs == ()


def test_the_accuracy_of_its_own_instrument_goes_before_the_one_that_was_opened():
    own = Accuracy(title="own")
    job = compare_of(part(accuracy=own), nominal(), OPENED)
    assert job.examination.accuracy is own
    assert job.examination.thresholds == OPENED.thresholds


def test_what_is_kept_is_judged_as_the_window_judges(qtbot, recorder, memory):
    """Else the record would hold a smaller U, and another outcome, than the page shows."""
    stated = Examination(accuracy=Accuracy(reading=Stated(bound=0.02)))
    recorder.keep_measured(part("a"), nominal())
    recorder.examination = lambda: stated
    recorder.keep_measured(part("b"), nominal())
    settled(qtbot, recorder, 2)
    with open_logbook(memory.record, create=False) as book:
        plain, counted = (book.entry(row.id).entry.verdict for row in book.search(Search()))
    assert (plain.U_holds, counted.U_holds) == ("scatter", "scatter and instrument")
    assert counted.limits[0].expanded > 5 * plain.limits[0].expanded


def test_nothing_is_opened_before_something_is_kept(recorder, memory):
    assert recorder.address == memory.record
    assert recorder.words == "what is measured is kept in record.benchlog"
    assert recorder.short_words == "search, open, compare"
    assert not any(thread.name == "benchapp-work" for thread in threading.enumerate())


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("/bench/lots 2026.benchlog", "lots 2026.benchlog"),
        ("postgresql://bench@server/record", "postgresql://bench@server/record"),
    ],
)
def test_the_place_is_named_as_a_file_or_as_an_address(recorder, memory, address, name):
    memory.record = address
    assert recorder.words == f"what is measured is kept in {name}"
    recorder.switch(on=False)
    assert recorder.words == f"keeping is off (lots are kept in {name})"


def test_a_measurement_is_counted_once_it_is_durable(qtbot, recorder, memory):
    seen = []
    recorder.changed.connect(lambda: seen.append(recorder.words))
    recorder.keep_measured(part(), nominal())
    assert recorder.words == "keeping…"
    settled(qtbot, recorder, 1)
    assert seen == ["keeping…", "1 measurement kept in record.benchlog"]
    assert recorder.short_words == "1 kept here"
    (row,) = rows(memory)
    assert (row.serial, row.part, row.lot) == ("0147", "Gate antenna coil GA-12", None)


def test_several_are_kept_in_the_order_in_which_they_came(qtbot, recorder, memory):
    memory.operator = "A. Example"
    for serial in ("c", "a", "b", ""):
        recorder.keep_measured(part(serial), None)
    settled(qtbot, recorder, 4)
    assert recorder.words == "4 measurements kept in record.benchlog"
    assert recorder.short_words == "4 kept here"
    assert [row.serial for row in rows(memory)] == ["c", "a", "b", "no serial"]
    assert {row.operator for row in rows(memory)} == {"A. Example"}


def test_switched_off_it_keeps_the_parts_of_lots_alone(qtbot, recorder, memory):
    recorder.switch(on=False)
    assert not recorder.is_on
    recorder.keep_measured(part("0001"), None)
    done = []
    compare = compare_of(part("0002"), nominal(), Examination())
    recorder.keep(compare, Place(serial="0002"), done.append, lambda _error: None)
    settled(qtbot, recorder, 1)
    assert [row.serial for row in rows(memory)] == ["0002"]
    assert done[0].record.serial == "0002"
    recorder.switch(on=True)
    assert memory.keeps


def test_what_cannot_be_kept_is_said_and_stays_said(qtbot, recorder, memory, tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    good, memory.record = memory.record, str(tmp_path / "file" / "record.benchlog")
    said, lost = [], []
    recorder.told.connect(said.append)
    recorder.keep(
        compare_of(part(), None, Examination()), Place(serial="1"), said.append, lost.append
    )
    settled(qtbot, recorder, 1)
    assert (recorder.kept, recorder.failed) == (0, 1)
    assert said[0].mark == "stop"
    assert "Press Retry at the foot of the window once that is done." in said[0].hint
    assert said[0].hint.endswith("The measurement is still open here: save it with Ctrl+S.")
    assert lost[0].message == said[0].text
    memory.record = good
    recorder.keep_measured(part(), None)
    settled(qtbot, recorder, 2)
    assert recorder.words == "NOT KEPT: 1 measurement"
    assert len(rows(memory)) == 1


@pytest.fixture
def refused(recorder, memory, tmp_path):
    """A record that cannot be written until it is let."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    good, memory.record = memory.record, str(tmp_path / "file" / "record.benchlog")

    def let():
        memory.record = good

    return let


def test_a_retry_keeps_what_was_not_kept_and_says_no_more_of_it(qtbot, recorder, memory, refused):
    for serial in ("1", "2"):
        recorder.keep_measured(part(serial), None)
    settled(qtbot, recorder, 2)
    recorder.retry()
    settled(qtbot, recorder, 2)
    assert (recorder.kept, recorder.failed) == (0, 2), "the record refuses still"
    refused()
    recorder.retry()
    qtbot.waitUntil(lambda: recorder.kept == 2, timeout=10_000)
    qtbot.waitUntil(lambda: recorder.words.startswith("2 measurements kept in"), timeout=10_000)
    assert recorder.failed == 0
    assert [row.serial for row in rows(memory)] == ["1", "2"], "in the order measured"
    recorder.retry()
    assert recorder.kept == 2


def test_whoever_measured_is_told_of_a_retry_and_of_its_end(qtbot, recorder, refused):
    told = []
    compare = compare_of(part(), None, Examination())
    recorder.keep(
        compare,
        Place(serial="1"),
        lambda _kept: told.append("kept"),
        lambda _error: told.append("lost"),
        lambda: told.append("again"),
    )
    settled(qtbot, recorder, 1)
    refused()
    recorder.retry()
    qtbot.waitUntil(lambda: told == ["lost", "again", "kept"], timeout=10_000)


@pytest.mark.parametrize(
    ("lot", "left"), [("lot-1", 0), (None, 1)], ids=["of a lot", "outside a lot"]
)
def test_a_part_of_a_lot_that_was_put_in_again_waits_no_more(qtbot, recorder, refused, lot, left):
    compare = compare_of(part(), None, Examination())
    place = Place(serial="1", lot=lot)
    recorder.keep(compare, place, lambda _kept: None, lambda _error: None)
    settled(qtbot, recorder, 1)
    refused()
    recorder.keep(compare, place, lambda _kept: None, lambda _error: None)
    qtbot.waitUntil(lambda: recorder.kept == 1, timeout=10_000)
    assert recorder.failed == left


def test_two_that_were_not_kept_are_counted(qtbot, recorder, memory, tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    memory.record = str(tmp_path / "file" / "record.benchlog")
    recorder.keep_measured(part("1"), None)
    recorder.keep_measured(part("2"), None)
    settled(qtbot, recorder, 2)
    assert recorder.words == "NOT KEPT: 2"


def test_an_act_that_fails_is_told_to_whoever_asked_and_the_next_is_done(qtbot, recorder):
    def fail(_progress, _cancelled):
        raise RecordError("lot: must be one of the record (got 'x').")

    failed, done = [], []
    recorder.do(fail, done.append, failed.append)
    recorder.do(lambda _progress, _cancelled: 42, done.append, failed.append)
    qtbot.waitUntil(lambda: done == [42], timeout=10_000)
    assert [error.message for error in failed] == ["lot: must be one of the record (got 'x')."]
    assert recorder.failed == 0, "an act that was asked for is no lost measurement"


def test_no_act_takes_the_place_of_another(qtbot, recorder):
    """The worker of the pages drops an older job for a newer one; the record may not."""
    gate, done = threading.Event(), []
    recorder.do(lambda _p, _c: gate.wait(10), done.append, done.append)
    for at in range(5):
        recorder.do(lambda _p, _c, at=at: at, done.append, done.append)
    gate.set()
    qtbot.waitUntil(lambda: len(done) == 6, timeout=10_000)
    assert done == [True, 0, 1, 2, 3, 4]


def test_the_end_waits_for_what_was_handed_in(recorder, memory):
    for serial in ("a", "b", "c"):
        recorder.keep_measured(part(serial), None)
    recorder.close()
    assert [row.serial for row in rows(memory)] == ["a", "b", "c"]
    recorder.close()


def test_a_capture_kept_is_the_one_judged(recorder):
    one = part()
    found = compare_of(one, nominal(), Examination())(silent, not_cancelled)
    assert found.capture.digest == one.capture.digest
    assert found.verdict is not None


@pytest.mark.parametrize(
    ("address", "there"),
    [
        ("postgresql://bench@server/record", True),
        ("/nowhere/r.benchlog", False),
        ("/" + "x" * 999, True),
    ],
    ids=["on a server", "no such file", "a name that the disk refuses"],
)
def test_whether_there_may_be_a_record_is_known_without_opening_it(
    recorder, memory, address, there
):
    memory.record = address
    assert recorder.may_exist is there


def test_a_record_is_there_once_something_is_kept(qtbot, recorder):
    assert not recorder.may_exist
    recorder.keep_measured(part(), None)
    settled(qtbot, recorder, 1)
    assert recorder.may_exist
