"""A search is typed as it is remembered; one that finds nothing says what to try."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.recordsearch import RecordSearch
from tests.gui.hand import press
from tests.gui.stage import activate


@pytest.fixture
def search(qtbot):
    made = RecordSearch()
    qtbot.addWidget(made)
    activate(qtbot, made)
    return made


def type_in(qtbot, search, key, words):
    qtbot.keyClicks(search.form.fields[key], words)


def test_a_fresh_record_is_told_apart_from_a_search_without_a_hit(qtbot, search):
    search.show_count(0)
    assert search.found.text().startswith("The record holds no measurement yet")
    type_in(qtbot, search, "serial", "0147")
    search.show_count(0)
    assert search.found.text() == (
        "Nothing in the record is like this: put * before the serial, to find it anywhere in "
        "one, or show everything."
    )


@pytest.mark.parametrize(
    ("key", "typed", "hint"),
    [
        ("lot", "47", "look for the lot by its supplier"),
        ("since", "2026-05-04", "begin at an earlier day"),
        ("until", "2026-05-04", "end at a later day"),
        ("part", "GA", "put * before the part"),
    ],
)
def test_what_to_try_follows_what_was_typed(qtbot, search, key, typed, hint):
    type_in(qtbot, search, key, typed)
    search.show_count(0)
    assert hint in search.found.text()
    assert search.found.text().endswith("or show everything.")


def test_a_star_that_is_typed_is_not_advised_again(qtbot, search):
    type_in(qtbot, search, "serial", "*47")
    search.show_count(0)
    assert search.found.text() == "Nothing in the record is like this: or show everything."


def test_everything_is_shown_again_by_one_press(qtbot, search):
    assert not search.clear.isVisible()
    type_in(qtbot, search, "supplier", "Coil works")
    told = []
    search.edited.connect(lambda: told.append(search.job("record").supplier))
    press(qtbot, search.clear)
    assert told == [""]
    assert search.form.fields["supplier"].text() == ""
    assert not search.clear.isVisible()


def test_days_are_those_of_this_place(qtbot, search, clock_of):
    clock_of("Europe/Berlin")
    type_in(qtbot, search, "since", "2026-05-04")
    type_in(qtbot, search, "until", "2026-05-04")
    wanted = search.job("record").wanted
    assert (wanted.since, wanted.until) == ("2026-05-03T22:00:00", "2026-05-04T22:00:00")


def test_days_in_the_wrong_order_are_told_and_nothing_is_searched(qtbot, search):
    type_in(qtbot, search, "since", "2026-05-04")
    type_in(qtbot, search, "until", "2026-05-03")
    assert search.job("record") is None
    assert search.found.text() == "The last day must not be before the first."
    assert search.form.fields["until"].property("wrong") is True


def test_every_field_is_reached_by_tab(qtbot, search):
    search.form.fields["serial"].setFocus()
    names = []
    for _ in range(7):
        names.append(search.focusWidget().accessibleName())
        qtbot.keyClick(search.focusWidget(), Qt.Key.Key_Tab)
    assert names == ["serial", "part", "verdict", "lot", "supplier", "from", "to"]
