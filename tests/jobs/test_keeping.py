"""What is measured is in the record before it counts; a lot opens again where it was left."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.capture import Sweep
from benchapp.checks import Facts
from benchapp.errors import FileAccessError, RecordError
from benchapp.jobs import (
    BeginLot,
    ComparePart,
    ConcludeLot,
    Examination,
    ExportFound,
    ExportRaw,
    FitChoices,
    KeepPart,
    KeepResult,
    OpenFile,
    OpenLot,
    OpenNominal,
    OverlayLot,
    Place,
    SummarizeLot,
    TakeBack,
    not_cancelled,
    sample_folder,
    silent,
)
from benchapp.logbook import Search, open_logbook
from benchapp.lot import Conclusion, LotForm, PlanChoice
from benchapp.nominal import Outcome

FOLDER = sample_folder()
FILES = tuple(str(path) for path in sorted((FOLDER / "ga12_lot").glob("*.csv")))


def do(job):
    return job(silent, not_cancelled)


@pytest.fixture(scope="module")
def nominal():
    return do(OpenNominal(path=str(FOLDER / "ga12.toml")))


@pytest.fixture
def record(tmp_path):
    return str(tmp_path / "record.benchlog")


def begun(record, nominal):
    form = LotForm(part="GA-12", supplier="Example Windings", quantity=150, operator="A. E.")
    plan = PlanChoice().plan(150)
    return do(BeginLot(record=record, form=form, plan=plan, nominal=nominal, seed=5))


def kept(record, nominal, path, serial, **place):
    reading = do(OpenFile(path=path))
    compare = ComparePart(capture=reading.captures[0], path=path, nominal=nominal, reading=reading)
    return do(KeepPart(record=record, place=Place(serial=serial, **place), compare=compare))


def test_a_lot_opens_again_where_it_was_left(record, nominal):
    lot = begun(record, nominal)
    parts = [
        kept(record, nominal, path, f"{at:04d}", lot=lot.key, position=lot.state.positions[at])
        for at, path in enumerate(FILES[:3])
    ]
    again = do(OpenLot(record=record, key=lot.key))
    assert again.nominal.title == nominal.title
    assert again.state.positions == lot.state.positions
    assert [one.serial for one in again.state.parts] == ["0000", "0001", "0002"]
    assert [one.entry for one in again.state.parts] == [one.entry for one in parts]
    for fresh, stored in zip(parts, again.state.parts, strict=True):
        assert stored.outcome is fresh.record.outcome
        assert stored.position == fresh.record.position
        assert stored.estimates["L"] == fresh.record.estimates["L"]
        assert stored.time == fresh.record.time


def test_a_lot_opened_again_gives_the_same_figures(record, nominal):
    lot = begun(record, nominal)
    fresh = [
        kept(record, nominal, path, f"{at:04d}", lot=lot.key).record
        for at, path in enumerate(FILES)
    ]
    again = do(OpenLot(record=record, key=lot.key)).state
    for before, stored in zip(fresh, again.parts, strict=True):
        assert stored.deciding == before.deciding
        assert dict(stored.estimates).items() <= dict(before.estimates).items()
    before = do(SummarizeLot(state=replace(lot.state, parts=tuple(fresh)), nominal=nominal))
    after = do(SummarizeLot(state=again, nominal=nominal))
    assert [one.name for one in after.quantities if one.figures is not None] == [
        *("L", "f0", "Q at 134.2 kHz", "ESR at 134.2 kHz")
    ]
    assert [one.figures for one in after.quantities] == [one.figures for one in before.quantities]
    assert (after.why, after.decision) == (before.why, before.decision)


def test_the_same_seed_draws_the_same_positions(tmp_path, nominal):
    drawn = [begun(str(tmp_path / name), nominal).state.positions for name in "ab"]
    assert drawn[0] == drawn[1]
    assert len(set(drawn[0])) == 13


def test_the_bytes_of_the_file_and_of_the_design_are_kept(record, nominal):
    found = kept(record, nominal, FILES[0], "0201", operator="A. E.", cause="", attempt=1)
    with open_logbook(record, create=False) as book:
        entry = book.entry(found.entry).entry
    assert entry.raw == Path(FILES[0]).read_bytes()
    assert entry.nominal_text == (FOLDER / "ga12.toml").read_text(encoding="utf-8")
    assert entry.operator == "A. E."
    assert entry.verdict == found.part.verdict


def test_a_capture_that_cannot_be_fitted_is_kept_and_never_counts_as_good(record, nominal):
    flat = Sweep(frequency=np.array([1e5]), impedance=np.array([1.0 + 2.0j]))
    job = KeepPart(
        record=record,
        place=Place(serial="0007"),
        compare=ComparePart(capture=flat, nominal=nominal),
    )
    found = do(job)
    assert found.part is None
    assert found.record.outcome is Outcome.NOT_JUDGED
    assert found.record.reason
    with open_logbook(record, create=False) as book:
        assert book.entry(found.entry).entry.capture.digest == flat.digest


def test_what_is_taken_back_does_not_count_and_stays(record, nominal):
    lot = begun(record, nominal)
    found = kept(record, nominal, FILES[0], "0201", lot=lot.key)
    do(TakeBack(record=record, entry=found.entry, name="A. E.", reason="wrong part"))
    state = do(OpenLot(record=record, key=lot.key)).state
    assert state.parts == ()
    assert [one.serial for one in state.undone] == ["0201"]


def test_a_conclusion_is_kept_with_its_time(record, nominal):
    lot = begun(record, nominal)
    signed = Conclusion(outcome="hold", name="B. E.", reason="gauge in repair")
    dated = do(ConcludeLot(record=record, key=lot.key, conclusion=signed))
    assert dated.time
    assert replace(dated, time="") == signed
    assert do(OpenLot(record=record, key=lot.key)).state.conclusion == dated


def test_a_lot_without_a_design_is_not_gone_on_with(record):
    with open_logbook(record) as book:
        key = book.begin_lot(LotForm(quantity=5), PlanChoice(kind="all").plan(5), (), None)
    with pytest.raises(RecordError, match="lot: must have a nominal design"):
        do(OpenLot(record=record, key=key))


def test_sweeps_come_from_the_record_where_they_are_not_known(record, nominal):
    one = kept(record, nominal, FILES[0], "a")
    two = kept(record, nominal, FILES[1], "b")
    known = {"b": (np.array([1e5, 2e5]), np.array([1 + 0j, 2 + 0j]))}
    job = OverlayLot(
        record=record, entries={"a": one.entry, "b": two.entry}, nominal=nominal, known=known
    )
    found = do(job)
    assert set(found.sweeps) == {"a", "b"}
    assert np.array_equal(found.sweeps["a"][1], one.capture.impedance)
    assert found.sweeps["b"] is known["b"]
    assert found.envelope.frequency[0] == 1e5
    assert do(OverlayLot(record=record, entries={})).envelope is None


def test_the_figures_of_a_lot_are_those_of_its_parts(record, nominal):
    lot = begun(record, nominal)
    state = lot.state
    for path in FILES[:3]:
        state = state.add(kept(record, nominal, path, Path(path).stem, lot=lot.key).record)
    summary = do(SummarizeLot(state=state, nominal=nominal))
    quantity = next(one for one in summary.quantities if one.name == "L")
    values = [one.estimates["L"].value for one in state.parts]
    assert quantity.figures.mean == pytest.approx(np.mean(values), rel=1e-12)


def test_what_is_found_is_saved_as_a_table_or_as_values(record, nominal, tmp_path):
    kept(record, nominal, FILES[0], "=1+1")
    with open_logbook(record, create=False) as book:
        rows = book.search(Search())
    table = do(ExportFound(path=str(tmp_path / "a.csv"), rows=rows))
    assert "'=1+1" in Path(table).read_text(encoding="utf-8"), "no formula for a spreadsheet"
    values = json.loads(
        Path(do(ExportFound(path=str(tmp_path / "a.json"), rows=rows))).read_text()
    )
    assert values[0]["estimates"]["L"]["value"] == rows[0].estimates["L"].value


def test_a_file_is_given_back_byte_by_byte(record, nominal, tmp_path):
    found = kept(record, nominal, FILES[0], "0201")
    path = do(ExportRaw(record=record, number=found.entry, path=str(tmp_path / "raw.csv")))
    assert Path(path).read_bytes() == Path(FILES[0]).read_bytes()
    with pytest.raises(FileAccessError, match="must be a file that can be written"):
        do(ExportRaw(record=record, number=found.entry, path=str(tmp_path / "no" / "raw.csv")))


def test_a_measurement_that_came_from_no_file_has_none_to_give(record, nominal, tmp_path):
    capture = do(OpenFile(path=FILES[0])).captures[0]
    compare = ComparePart(capture=capture, nominal=nominal)
    found = do(KeepPart(record=record, place=Place(serial="1"), compare=compare))
    with pytest.raises(RecordError, match="must have come from a file"):
        do(ExportRaw(record=record, number=found.entry, path=str(tmp_path / "raw.csv")))


def _ids(found):
    return {finding.id for finding in found.part.findings}


def test_a_serial_that_was_met_in_another_lot_is_told(record, nominal):
    first, second = begun(record, nominal), begun(record, nominal)
    kept(record, nominal, FILES[0], "GA-00201", lot=first.key)
    again = kept(record, nominal, FILES[0], "GA-00201", lot=second.key)
    (finding,) = [each for each in again.part.findings if each.id == "serial-met-before"]
    assert finding.text.startswith(f"This serial was met before: in lot {first.key}, on 20")
    with open_logbook(record, create=False) as book:
        assert finding in book.entry(again.entry).entry.findings


@pytest.mark.parametrize(
    "place", [{"serial": "0201"}, {"serial": "GA-00201", "attempt": 2, "cause": "clip slipped"}]
)
def test_running_numbers_and_retests_are_not_met_before(record, nominal, place):
    first, second = begun(record, nominal), begun(record, nominal)
    kept(record, nominal, FILES[0], place["serial"], lot=first.key)
    again = kept(record, nominal, FILES[0], lot=second.key, **place)
    assert "serial-met-before" not in _ids(again)


def test_two_retests_handed_in_before_the_first_is_kept_have_numbers_of_their_own(record, nominal):
    lot = begun(record, nominal)
    state = lot.state.add(kept(record, nominal, FILES[0], "0001", lot=lot.key).record)
    again = [
        kept(record, nominal, FILES[0], "0001", lot=lot.key, attempt=2, cause=cause).record
        for cause in ("clip", "dirt")
    ]
    assert [one.attempt for one in again] == [2, 3]
    for one in again:
        state = state.retest(one)
    stored = do(OpenLot(record=record, key=lot.key)).state
    numbered = [(one.attempt, one.cause) for one in stored.parts]
    assert numbered == [(one.attempt, one.cause) for one in state.parts]
    assert numbered == [(1, ""), (2, "clip"), (3, "dirt")]


def test_outside_a_lot_a_part_may_be_measured_as_often_as_one_likes(record, nominal):
    kept(record, nominal, FILES[0], "GA-00201")
    assert "serial-met-before" not in _ids(kept(record, nominal, FILES[0], "GA-00201"))
    lot = begun(record, nominal)
    found = kept(record, nominal, FILES[0], "GA-00201", lot=lot.key)
    assert any("met before: outside a lot" in each.text for each in found.part.findings)


def test_a_measurement_that_was_taken_back_was_not_met(record, nominal):
    first, second = begun(record, nominal), begun(record, nominal)
    gone = kept(record, nominal, FILES[0], "GA-00201", lot=first.key)
    do(TakeBack(record=record, entry=gone.entry, name="A. E.", reason="wrong tray"))
    again = kept(record, nominal, FILES[0], "GA-00201", lot=second.key)
    assert "serial-met-before" not in _ids(again)


def test_retests_without_a_cause_are_counted(record, nominal):
    lot = begun(record, nominal).key
    once = kept(record, nominal, FILES[0], "0001", lot=lot, attempt=2)
    twice = kept(record, nominal, FILES[0], "0001", lot=lot, attempt=3, unexplained=1)
    told = kept(record, nominal, FILES[0], "0001", lot=lot, attempt=3, unexplained=1, cause="clip")
    assert ["tested-into-compliance" in _ids(each) for each in (once, twice, told)] == [
        *(False, True, False)
    ]


def test_a_calibration_that_has_ended_stops_a_part_of_a_lot(record, nominal):
    reading = do(OpenFile(path=FILES[0]))
    facts = Facts(calibration_due="2020-01-01")
    compare = ComparePart(
        capture=reading.captures[0],
        path=FILES[0],
        nominal=nominal,
        examination=Examination(facts=facts),
    )
    outcomes = [
        do(KeepPart(record=record, place=place, compare=compare)).record.outcome
        for place in (Place(serial="1"), Place(serial="1", lot=begun(record, nominal).key))
    ]
    assert outcomes[0] is not Outcome.NOT_JUDGED
    assert outcomes[1] is Outcome.NOT_JUDGED


def test_a_file_that_was_changed_since_it_was_read_is_not_kept_as_what_was_read(
    tmp_path, record, nominal
):
    path = tmp_path / "part.csv"
    path.write_bytes(Path(FILES[0]).read_bytes())
    reading = do(OpenFile(path=str(path)))
    compare = ComparePart(
        capture=reading.captures[0], path=str(path), nominal=nominal, reading=reading
    )
    do(KeepPart(record=record, place=Place(serial="as read"), compare=compare))
    path.write_text("something else")
    do(KeepPart(record=record, place=Place(serial="changed"), compare=compare))
    path.unlink()
    do(KeepPart(record=record, place=Place(serial="gone"), compare=compare))
    with open_logbook(record) as book:
        raw = [book.entry(row.id).entry.raw for row in book.search(Search())]
    assert raw == [Path(FILES[0]).read_bytes(), b"", b""]


def test_a_part_that_cannot_be_fitted_is_kept_with_the_bytes_that_were_read(record, tmp_path):
    path = tmp_path / "short.csv"
    path.write_text("Frequency (Hz),R (ohm),X (ohm)\n1000,1,2\n2000,1,3\n")
    reading = do(OpenFile(path=str(path)))
    choices = FitChoices(band=(5e3, 6e3))
    compare = ComparePart(
        capture=reading.captures[0], path=str(path), reading=reading, choices=choices
    )
    found = do(KeepPart(record=record, place=Place(serial="1"), compare=compare))
    assert found.part is None
    with open_logbook(record) as book:
        assert book.entry(found.entry).entry.raw == path.read_bytes()


def test_the_result_by_a_persons_choice_stands_beside_the_first(record, nominal):
    lot = begun(record, nominal)
    first = kept(record, nominal, FILES[0], "0001", lot=lot.key)
    capture = first.capture
    again = do(ComparePart(capture=capture, nominal=nominal, choices=FitChoices(set_aside=(3, 4))))
    assert do(KeepResult(record=record, number=first.entry, part=again)) == first.entry
    with open_logbook(record) as book:
        stored = book.entry(first.entry)
        assert book.verify() == ()
    assert stored.entry.fit.set_aside == first.part.fit.set_aside
    assert set(stored.refits[0].fit.set_aside) >= {3, 4}
    assert len(do(OpenLot(record=record, key=lot.key)).state.parts) == 1
