"""Thresholds of checks are seen with their defaults, changed by hand, marked and kept."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from benchapp.checks import CHECKS
from benchapp.gui.thresholdpage import ThresholdPage
from benchapp.jobs import ThresholdBook
from tests.gui.hand import press, write
from tests.gui.stage import activate


@pytest.fixture
def book(tmp_path):
    return ThresholdBook(path=str(tmp_path / "checks.toml"))


@pytest.fixture
def page(qtbot, session, book):
    made = ThresholdPage(session, book)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def row_of(page, check, key):
    return next(row for row in page.rows if (row.check, row.key) == (check, key))


def test_every_threshold_has_a_row_with_its_default(page):
    wanted = [(check.id, key) for check in CHECKS for key in check.thresholds]
    assert [(row.check, row.key) for row in page.rows] == wanted
    assert {row.changed.text() for row in page.rows} == {""}
    shown = [label.text() for label in page.findChildren(QLabel)]
    assert shown.count("default 0.1") >= 1


def test_a_change_counts_at_once_is_marked_and_kept(qtbot, page, session, book):
    row = row_of(page, "low-q-resonance", "q")
    write(qtbot, row.field, "20")
    assert row.changed.text() == "changed"
    assert session.examination.thresholds == {"low-q-resonance": {"q": 20.0}}
    assert book.changes() == {"low-q-resonance": {"q": 20.0}}
    page.ensureWidgetVisible(row.restore)
    press(qtbot, row.restore)
    assert row.changed.text() == ""
    assert book.changes() == {}
    assert session.examination.thresholds == {}


def test_what_is_no_number_is_marked_and_changes_nothing(qtbot, page, session, book):
    row = row_of(page, "low-q-resonance", "q")
    write(qtbot, row.field, "much")
    assert row.changed.text() == "not a number"
    assert session.examination.thresholds == {}
    assert book.changes() == {}


def test_what_was_changed_before_is_shown(qtbot, session, book):
    session.use_thresholds({"points-left-out": {"share": 0.02}})
    page = ThresholdPage(session, book)
    qtbot.addWidget(page)
    row = row_of(page, "points-left-out", "share")
    assert (row.field.text(), row.changed.text()) == ("0.02", "changed")


def test_a_place_that_cannot_be_written_is_told_and_the_change_holds(qtbot, session, tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    page = ThresholdPage(session, ThresholdBook(path=str(tmp_path / "file" / "checks.toml")))
    qtbot.addWidget(page)
    activate(qtbot, page)
    told = []
    session.told.connect(told.append)
    write(qtbot, row_of(page, "low-q-resonance", "q").field, "20")
    assert "must be a file that can be written" in told[-1].text
    assert session.examination.thresholds == {"low-q-resonance": {"q": 20.0}}


def test_the_way_back_is_a_press(qtbot, page):
    with qtbot.waitSignal(page.left):
        qtbot.mouseClick(page.back, Qt.MouseButton.LeftButton)
