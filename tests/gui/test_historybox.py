"""The history of a design is shown, and the next entry is made from what changed."""

from __future__ import annotations

from datetime import date

import pytest

from benchapp.gui.historybox import HistoryBox
from benchapp.nominal import Revision
from tests.gui.factories import L_LIMIT, nominal

TODAY = date(2026, 7, 1)
ENTRIES = tuple(
    Revision(revision=letter, date=f"2026-0{month}-01", by="M. Ito", change=f"change {letter}")
    for month, letter in enumerate("ABCDEFGH", start=1)
)


@pytest.fixture
def box(qtbot):
    made = HistoryBox()
    qtbot.addWidget(made)
    made.show()
    return made


def test_the_last_entry_stands_first_and_old_ones_are_left_out(box):
    box.show_history(nominal(history=ENTRIES), None)
    lines = box.entries.text().splitlines()
    assert len(lines) == 6
    assert lines[0] == "2026-08-01  rev H  M. Ito: change H"


def test_a_design_without_history_says_so(box):
    box.show_history(nominal(), None)
    assert box.entries.text() == "No earlier revision is recorded."
    assert box.note.isHidden()


def test_a_new_revision_of_a_changed_design_needs_no_note(box):
    before, after = nominal(), nominal(limits=(L_LIMIT,))
    box.show_history(after, before)
    assert box.note.isVisible()
    box.show_history(nominal(limits=(L_LIMIT,), revision="D"), before)
    assert box.note.isHidden()


def test_an_entry_without_a_reason_says_what_changed(box):
    found = box.next_entry(nominal(), nominal(title="Other", revision="D"), TODAY)
    assert found == Revision(
        revision="D", date="2026-07-01", change="title: Gate antenna coil GA-12 -> Other"
    )


def test_a_new_design_is_first_saved(box):
    assert box.next_entry(None, nominal(), TODAY).change == "first saved"
