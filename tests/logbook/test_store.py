"""What is put in comes out bit for bit, stays as it is, and is found again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.errors import RecordError
from benchapp.logbook import WITHDRAWN, Search, open_logbook
from benchapp.lot import Conclusion, PartRecord, begin, key_of
from benchapp.nominal import Outcome
from tests.logbook.conftest import FORM, PLAN


@pytest.fixture(params=["file", pytest.param("server", marks=pytest.mark.xdist_group("server"))])
def book(request):
    """Give an empty record: every claim holds for a file and for a server."""
    where = request.getfixturevalue("address" if request.param == "file" else "shared")
    with open_logbook(where, bench="bench A") as opened:
        yield opened


def test_a_stored_part_opens_with_the_same_numbers_bit_for_bit(book, entry):
    number = book.add(entry)
    stored = book.entry(number).entry
    assert stored.capture.digest == entry.capture.digest
    assert stored.capture.impedance.tobytes() == entry.capture.impedance.tobytes()
    for name in ("values", "covariance", "used", "fitted", "residual"):
        assert getattr(stored.fit, name).tobytes() == getattr(entry.fit, name).tobytes()
        assert not getattr(stored.fit, name).flags.writeable
    assert stored.fit.results == entry.fit.results
    assert stored.verdict == entry.verdict
    assert stored.findings == entry.findings
    assert stored.nominal == entry.nominal
    for name in ("raw", "nominal_text", "accuracy_text", "answers", "assumptions", "operator"):
        assert getattr(stored, name) == getattr(entry, name)


def test_a_file_that_could_not_be_read_is_kept_as_well(book, entry):
    bare = replace(entry, capture=None, fit=None, verdict=None, nominal=None, findings=())
    stored = book.entry(book.add(bare))
    assert stored.entry.raw == entry.raw
    assert stored.entry.fit is None
    assert book.search(Search())[0].outcome is Outcome.NOT_JUDGED


def test_the_same_entry_given_twice_is_kept_once(book, entry):
    assert book.add(entry) == book.add(entry)
    assert len(book.search(Search())) == 1


def test_a_lot_is_listed_with_its_parts_and_its_end(book, entries, entry):
    lot = book.begin_lot(FORM, PLAN, [3, 1, 2], entry.nominal)
    ids = book.add_all(entries(3, lot=lot))
    rows = book.parts(lot)
    assert [row.id for row in rows] == list(ids)
    assert [row.serial for row in rows] == ["GA12-0001", "GA12-0002", "GA12-0003"]
    judged = {key_of(each.limit): each.measured for each in entry.verdict.limits}
    assert judged.items() <= rows[0].estimates.items()
    assert rows[0].estimates["C"] == entry.fit.estimates["C"]
    assert rows[0].deciding == entry.verdict.deciding.limit.quantity
    assert book.lot(lot).conclusion is None
    book.conclude(lot, Conclusion(outcome="accept", name="A. Brandt"))
    listed = book.lots()[0]
    assert (listed.key, listed.measurements, listed.positions) == (lot, 3, (3, 1, 2))
    assert listed.form == FORM
    assert listed.conclusion == Conclusion(outcome="accept", name="A. Brandt")
    assert listed.nominal == entry.nominal


def test_a_retest_stands_beside_the_first_attempt(book, entry):
    book.add(entry)
    book.add(replace(entry, attempt=2, retest_reason="clip slipped", time="2026-03-02T08:16:00Z"))
    rows = book.search(Search(serial=entry.serial))
    assert [(row.attempt, row.retest_reason) for row in rows] == [(1, ""), (2, "clip slipped")]


def test_a_newer_result_stands_beside_the_old(book, entry):
    number = book.add(entry)
    newer = replace(entry.fit, noise=0.5)
    book.refit(number, newer, None, (), "0.2.0")
    stored = book.entry(number)
    assert stored.entry.fit.noise == entry.fit.noise
    assert [(refit.software, refit.fit.noise) for refit in stored.refits] == [("0.2.0", 0.5)]


def test_a_correction_is_a_new_row_and_a_withdrawn_part_says_so(book, entry):
    number = book.add(entry)
    book.correct(number, WITHDRAWN, "A. Brandt", "wrong part in the clip")
    assert book.search(Search())[0].withdrawn
    assert book.entry(number).corrections[0].reason == "wrong part in the clip"
    assert book.entry(number).entry.serial == entry.serial


def test_a_correction_needs_a_name_and_a_reason(book, entry):
    number = book.add(entry)
    with pytest.raises(RecordError, match="must say what, by whom and why"):
        book.correct(number, "serial", "A. Brandt", " ")


def test_notes_of_a_kind_come_back_in_order(book):
    book.add_note("gauge", {"GRR": 0.1})
    book.add_note("reference", {"L": 1.0})
    book.add_note("gauge", {"GRR": 0.2})
    assert [note.content["GRR"] for note in book.notes("gauge")] == [0.1, 0.2]


def test_search_narrows_by_every_field(book, entries):
    book.add_all(entries(2))
    book.add_all(entries(1, first=9, time="2026-04-01T00:00:00Z"))
    found = {
        "serial": Search(serial="GA12-0002"),
        "since": Search(since="2026-03-15"),
        "until": Search(until="2026-03-15", limit=1),
        "outcome": Search(outcome=Outcome.FAIL),
        "part": Search(part="another"),
    }
    counts = {name: len(book.search(wanted)) for name, wanted in found.items()}
    assert counts == {"serial": 1, "since": 1, "until": 1, "outcome": 0, "part": 0}


@pytest.mark.parametrize("number", [77, -1])
def test_an_entry_that_is_not_there_is_refused(book, number):
    with pytest.raises(RecordError, match="must be a measurement of the record"):
        book.entry(number)
    with pytest.raises(RecordError, match="must be a measurement of the record"):
        book.correct(number, "x", "y", "z")


@pytest.mark.parametrize("key", ["", "nonsense", "abc-1", "abc-x"])
def test_a_lot_that_is_not_there_is_refused(book, key):
    with pytest.raises(RecordError, match="lot: must be one of the record"):
        book.lot(key)


def test_a_record_opens_again(address, entry):
    with open_logbook(address) as book:
        number = book.add(entry)
    with open_logbook(address, create=False) as book:
        assert book.entry(number).entry.serial == entry.serial
        assert book.verify() == ()


def test_a_lot_opens_as_far_as_it_is_inspected(book, entries):
    lot = book.begin_lot(FORM, PLAN, [5, 9, 2])
    first, second, third = book.add_all(entries(3, lot=lot))
    (again,) = entries(1, first=2, lot=lot, attempt=2, retest_reason="clip slipped")
    book.add(again)
    book.correct(third, WITHDRAWN, "A. Brandt", "wrong part in the clip")
    book.correct(third, "remark", "A. Brandt", "it was of another lot")
    state = book.lot_state(lot)
    assert (state.form, state.plan, state.positions) == (FORM, PLAN, (5, 9, 2))
    assert [(part.serial, part.attempt, part.cause) for part in state.parts] == [
        ("GA12-0001", 1, ""),
        ("GA12-0002", 1, ""),
        ("GA12-0002", 2, "clip slipped"),
    ]
    assert [part.entry for part in state.undone] == [third]
    assert [part.entry for part in state.parts[:2]] == [first, second]
    assert (state.counted, state.rejected, state.decision) == (2, 0, "open")
    assert state.parts[0].estimates == book.parts(lot)[0].estimates


def test_lots_are_found_by_supplier_and_part(book):
    book.begin_lot(FORM, PLAN)
    book.begin_lot(replace(FORM, supplier="Another"), PLAN)
    assert [row.form.supplier for row in book.lots(part="GA-12")] == ["Another", "Coil works"]
    assert len(book.lots(supplier="Another", part="GA-12")) == 1
    assert book.lots(supplier="Nobody") == ()


@pytest.mark.parametrize("seed", range(5))
def test_a_lot_from_the_record_is_the_lot_that_was_worked_on(book, entry, seed):
    """Parts, retests and undone parts in any order: the stored lot counts as the one in hand."""
    draw = np.random.default_rng(seed)
    state = begin(FORM, PLAN, draw)
    lot = book.begin_lot(state.form, state.plan, state.positions)
    ids = []
    for number in range(25):
        time = f"2026-03-02T08:15:{number:02d}Z"
        act = draw.choice(["part", "retest", "undo"], p=[0.6, 0.25, 0.15])
        if act == "undo" and state.parts:
            state = state.undo()
            book.correct(ids.pop(), WITHDRAWN, "A. Brandt", "taken back")
            continue
        serial = state.next_serial
        if act == "retest" and state.parts:
            serial = str(draw.choice([record.serial for record in state.parts]))
        outcome = Outcome.FAIL if draw.random() < 0.1 else Outcome.PASS
        record = PartRecord(serial=serial, outcome=outcome, time=time, cause="doubt")
        add = state.retest if serial in state.latest else state.add
        state = add(record)
        kept = state.parts[-1]
        verdict = replace(entry.verdict, outcome=outcome)
        ids.append(
            book.add(
                replace(
                    entry,
                    **{name: getattr(kept, name) for name in ("serial", "attempt", "position")},
                    time=time,
                    lot=lot,
                    retest_reason=kept.cause,
                    verdict=verdict,
                )
            )
        )
    found = book.lot_state(lot)
    names = ("serial", "attempt", "position", "outcome", "cause", "time")
    for one, two in ((found.parts, state.parts), (found.undone, state.undone)):
        several = [
            sorted([getattr(each, n) for n in names] for each in part) for part in (one, two)
        ]
        assert several[0] == several[1]
    assert [part.entry for part in found.parts] == ids
    for name in ("counted", "rejected", "remaining", "decision", "next_serial", "next_position"):
        assert getattr(found, name) == getattr(state, name)
