"""Table, charts and sweeps of a lot show the same parts, and a choice in one is one in all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QApplication, QLabel

from benchapp.checks import Facts
from benchapp.gui.desk import Desk
from benchapp.gui.lotfigures import LotFigures, capability_words
from benchapp.jobs import Examination, Overlay, not_cancelled, silent
from benchapp.lot import LotForm, LotPlan, LotState, PartRecord, summarize
from benchapp.nominal import Outcome
from tests.gui.factories import L_LIMIT, Q_LIMIT, envelope, estimate, nominal, tank
from tests.gui.heldrecord import HeldRecord, count, lot, part, put_on
from tests.gui.stage import activate

GERMAN = QLocale(QLocale.Language.German, QLocale.Country.Germany)
FREQUENCY = np.linspace(114e3, 154e3, 51)


def whole(values, outcomes=(), without=()):
    """A lot measured whole, with one value of L and Q for each part."""
    plan = LotPlan(
        kind="all", quantity=len(values), n=len(values), accept=0, reject=99, everything=True
    )
    parts = tuple(
        PartRecord(
            serial=f"{at:04d}",
            outcome=outcomes[at - 1] if outcomes else Outcome.PASS,
            estimates={
                "Q at 134.2 kHz": estimate("Q", 78.0 + at, 0.2, "1"),
                **({} if at in without else {"L": estimate("L", value, 1e-6, "H")}),
            },
            position=10 * at,
            entry=100 + at,
            time="2026-05-04T10:20:30.000Z",
            deciding="L",
        )
        for at, value in enumerate(values, start=1)
    )
    return LotState(form=LotForm(quantity=len(values)), plan=plan, parts=parts)


VALUES = tuple(1.62e-3 + 1e-5 * np.random.default_rng(3).normal(size=30))


@pytest.fixture
def desk(qapp, memory):
    made = Desk(HeldRecord(), memory)
    yield made
    made.deleteLater()


@pytest.fixture
def figures(qtbot, desk, direct):
    made = LotFigures(desk, direct, desk.recorder)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


def answer(figures, direct):
    """Let the worker give the figures and the sweeps."""
    task = direct.take("lot figures")
    task.done(task.job(silent, not_cancelled))
    if any(one.subject == "lot overlay" for one in direct.tasks):
        task = direct.take("lot overlay")
        sweeps = {
            serial: (FREQUENCY, (1 + 0.02 * at) * tank(FREQUENCY))
            for at, serial in enumerate(task.job.entries)
        }
        task.done(Overlay(sweeps=sweeps, envelope=envelope(FREQUENCY)))
    return task.job


@pytest.fixture
def shown(figures, desk, direct):
    """Thirty parts, everything worked out."""
    put_on(desk, whole(VALUES))
    answer(figures, direct)
    return figures


def keys(figures):
    return [line.key for line in figures.table.rows.lines]


def test_without_a_lot_the_page_says_where_to_begin_one(figures):
    assert figures.currentIndex() == 0
    words = [label.text() for label in figures.currentWidget().findChildren(QLabel)]
    assert words == [
        "No lot is open",
        "Begin a lot, or go on with one, under Inspect (Alt+1).",
    ]


def test_a_lot_that_is_put_away_leaves_the_empty_page(shown, desk):
    desk.leave()
    assert shown.currentIndex() == 0


def test_each_part_is_a_row_with_what_was_measured(shown):
    assert len(keys(shown)) == 30
    line = shown.table.rows.lines[0]
    assert line.cells == ("0001", "10", "once", "10:20 UTC", "L")
    heads = [
        shown.table.rows.headerData(at, Qt.Orientation.Horizontal)
        for at in range(shown.table.rows.columnCount())
    ]
    assert heads[:6] == ["outcome", "serial", "place", "measured", "time", "decided by"]
    assert heads[6] == "L"
    assert len(heads) == 6 + len(nominal().limits)


def test_a_part_measured_twice_is_one_row_that_says_so(figures, desk, direct):
    state = lot(Outcome.FAIL)
    again = replace(state.parts[0], outcome=Outcome.PASS, cause="poor contact")
    put_on(desk, state.retest(again))
    (line,) = figures.table.rows.lines
    assert line.cells[2] == "2 times"
    assert line.outcome is Outcome.PASS
    answer(figures, direct)


def test_nothing_is_worked_out_while_nobody_looks(qtbot, desk, direct):
    made = LotFigures(desk, direct, desk.recorder)
    qtbot.addWidget(made)
    put_on(desk, whole(VALUES))
    assert direct.tasks == []
    made.show()
    assert [task.subject for task in direct.tasks] == ["lot figures", "lot overlay"]


def test_every_quantity_of_the_design_can_be_chosen_with_the_keys(qtbot, shown):
    box = shown.quantity
    assert box.count() == len(nominal().limits)
    assert box.itemText(0) == "L · 1.62 mH ±3 %"
    box.setFocus()
    qtbot.keyClick(box, Qt.Key.Key_Down)
    assert box.currentData() == "Q at 134.2 kHz"
    assert shown.run._values[0] == 79.0
    assert shown.words.text().replace("\u00a0", " ").startswith("30 parts: mean 93.5")


def test_the_chosen_quantity_stays_when_a_part_comes(qtbot, shown, desk, direct):
    shown.quantity.setFocus()
    qtbot.keyClick(shown.quantity, Qt.Key.Key_Down)
    put_on(desk, whole((*VALUES, 1.63e-3)))
    answer(shown, direct)
    assert shown.quantity.currentData() == "Q at 134.2 kHz"
    assert shown.run._values.size == 31


def test_a_row_that_is_chosen_is_marked_in_every_plot(shown, desk):
    shown.table.selectRow(4)
    assert desk.chosen == "0005"
    x, y = shown.run.ring.getData()
    assert (x[0], y[0]) == (5, VALUES[4])
    assert shown.histogram.mark.isVisible()
    assert shown.histogram.mark.value() == VALUES[4]
    x, _ = shown.overlay.one.getOriginalDataset()
    assert np.array_equal(x, FREQUENCY)


def test_a_part_chosen_elsewhere_is_chosen_in_the_table(shown, desk):
    desk.choose("0009")
    assert shown.table.chosen_keys() == ("0009",)
    assert shown.run.ring.getData()[0][0] == 9
    desk.choose("")
    assert shown.table.chosen_keys() == ()
    assert not shown.histogram.mark.isVisible()


def test_a_row_that_is_let_go_is_marked_no_more(qtbot, shown, desk):
    table = shown.table
    place = table.visualRect(table.rows.index(2, 1)).center()
    left, control = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier
    qtbot.mouseClick(table.viewport(), left, pos=place)
    assert desk.chosen == "0003"
    qtbot.mouseClick(table.viewport(), left, control, pos=place)
    assert table.chosen_keys() == ()
    assert desk.chosen == ""
    assert not shown.histogram.mark.isVisible()


def test_the_table_stays_linked_when_it_is_sorted_by_value(shown, desk):
    shown.table.sortByColumn(6, Qt.SortOrder.AscendingOrder)
    order = [f"{1 + at:04d}" for at in np.argsort(VALUES)]
    assert keys(shown) == order
    shown.table.selectRow(0)
    assert desk.chosen == order[0]
    assert shown.run.ring.getData()[1][0] == min(VALUES)


def test_a_click_on_a_bar_chooses_all_of_its_parts(shown, desk):
    found = shown._found
    at = int(found.counts.argmax())
    low, high = found.edges[at : at + 2]
    shown.histogram.clicked.emit(float((low + high) / 2), 1.0)
    inside = [f"{1 + i:04d}" for i, value in enumerate(VALUES) if low <= value < high]
    assert len(inside) == found.counts[at]
    assert sorted(shown.table.chosen_keys()) == inside
    assert desk.chosen == inside[0]


def test_every_part_belongs_to_one_bar_the_largest_value_to_the_last(shown):
    found = shown._found
    chosen = []
    for low, high in zip(found.edges[:-1], found.edges[1:], strict=True):
        shown.table.choose([])
        shown.histogram.clicked.emit(float((low + high) / 2), 1.0)
        chosen += shown.table.chosen_keys()
    assert sorted(chosen) == sorted(keys(shown))


def test_a_click_on_an_empty_bar_chooses_nothing(figures, desk, direct):
    put_on(desk, whole((1.60e-3, 1.60e-3, 1.60e-3, 1.60e-3, 1.64e-3)))
    answer(figures, direct)
    found = figures._found
    empty = int(np.flatnonzero(found.counts == 0)[0])
    figures.histogram.clicked.emit(float(found.edges[empty : empty + 2].mean()), 1.0)
    assert figures.table.chosen_keys() == ()
    assert desk.chosen == ""


def test_a_click_on_the_run_chart_chooses_the_part(shown, desk):
    shown.run.clicked.emit(12.2, 0.0)
    assert desk.chosen == "0012"
    assert shown.table.chosen_keys() == ("0012",)


def test_a_click_on_a_sweep_chooses_its_part(shown, desk):
    shown.overlay.grab()
    frequency, z = shown.overlay._sweeps["0030"]
    at = 20
    shown.overlay.clicked.emit(float(frequency[at]), float(np.log10(np.abs(z[at]))))
    assert desk.chosen == "0030"


def test_a_part_without_a_value_is_chosen_but_has_no_place_in_the_charts(figures, desk, direct):
    put_on(desk, whole(VALUES[:6], without=(3,)))
    answer(figures, direct)
    desk.choose("0003")
    assert figures.table.chosen_keys() == ("0003",)
    assert not figures.histogram.mark.isVisible()
    x = figures.run.ring.getData()[0]
    assert x is None or x.size == 0
    assert "1 without a value." in figures.words.text()
    figures.run.clicked.emit(3.0, 0.0)
    assert desk.chosen == "0004"


def test_of_many_sweeps_those_set_apart_and_the_newest_are_drawn(figures, desk, direct):
    outcomes = [Outcome.PASS] * 250
    outcomes[3], outcomes[7] = Outcome.FAIL, Outcome.NOT_JUDGED
    put_on(desk, whole(np.linspace(1.6e-3, 1.64e-3, 250), outcomes))
    job = direct.take("lot overlay").job
    entries = job.entries
    assert {"0004", "0008", "0250", "0100"} <= set(entries)
    assert "0001" not in entries
    assert len(entries) <= 200
    assert entries["0250"] == 350
    assert job.record == "bench.benchlog"


def test_sweeps_that_are_drawn_are_not_fetched_again(qtbot, shown, desk, direct):
    shown.hide()
    shown.show()
    assert [task.subject for task in direct.tasks] == ["lot figures"]


def test_sweeps_measured_here_are_not_fetched_from_the_record(figures, desk, direct):
    put_on(desk, lot())
    direct.tasks.clear()
    desk.take(part("0147"))
    count(desk)
    job = direct.take("lot overlay").job
    assert set(job.known) == {"0147"}
    assert job.entries == {"0147": 7}


def test_a_lot_without_a_part_says_so(figures, desk, direct):
    put_on(desk, lot())
    answer(figures, direct)
    assert figures.words.text() == "No part has a value of this quantity yet."
    assert not figures.hints.isVisible()


def test_what_the_checks_find_about_the_lot_stands_with_the_hints(shown, desk, direct):
    desk.recorder.examination = lambda: Examination(facts=Facts(random_sample=False))
    put_on(desk, whole(VALUES), "lot-2")
    answer(shown, direct)
    assert "The sample was not picked at random." in shown.hints.text()
    assert "Pick by the drawn positions" in shown.hints.text()


def test_another_lot_leaves_no_limit_of_the_one_before(shown, desk, direct):
    put_on(desk, lot(), "lot-2")
    answer(shown, direct)
    lines = [line.value() for line, _ in shown.histogram._lines]
    assert lines == [L_LIMIT.lower, L_LIMIT.upper, L_LIMIT.nominal]
    assert keys(shown) == []


def test_controls_are_named_and_reached_by_tab(qtbot, shown):
    assert shown.table.accessibleName() == "Parts of the lot"
    assert shown.quantity.accessibleName() == "quantity"
    names = [plot.accessibleName() for plot in (shown.histogram, shown.run, shown.overlay)]
    assert names == ["Histogram", "Run chart", "All sweeps over each other"]
    shown.table.setFocus()
    reached = set()
    for _ in range(10):
        reached.add(QApplication.focusWidget())
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert {shown.table, shown.quantity} <= reached


def summary(values, limit=L_LIMIT, without=()):
    design = nominal(limits=(limit,))
    return summarize(whole(values, without=without), design).quantities[0]


def test_figures_of_one_part_are_told_without_a_spread():
    words = capability_words(summary((1.62e-3,)))
    assert words.startswith("1 part: mean 1.62")
    assert "standard deviation" not in words
    assert "Ppk" not in words


def test_mean_and_spread_are_those_of_the_values():
    words = capability_words(summary((1.61e-3, 1.62e-3, 1.63e-3)))
    # mean 1.62 mH, s = 10 µH
    assert words.startswith("3 parts: mean 1.620 mH, standard deviation 10 µH.")


def test_capability_is_told_with_what_it_is_at_least():
    found = summary(VALUES)
    words = capability_words(found)
    index = found.capability.ppk
    spread = np.std(VALUES, ddof=1)
    by_hand = min(L_LIMIT.upper - np.mean(VALUES), np.mean(VALUES) - L_LIMIT.lower) / (3 * spread)
    assert index.value == pytest.approx(by_hand)
    assert f"Ppk {by_hand:.2f}, at least {index.lower_bound:.2f} with " in words
    assert index.lower_bound < by_hand


def test_how_many_lie_inside_is_told_with_its_interval():
    words = capability_words(summary((*VALUES[:9], 1.75e-3)))
    assert "Inside the limits: 9 of 10 (" in words


def test_values_that_are_not_normally_distributed_are_told():
    skewed = 1.60e-3 + 4e-6 * np.random.default_rng(1).exponential(size=60) ** 2
    words = capability_words(summary(tuple(skewed)))
    assert words.endswith("Not normally distributed: capability does not hold.")


def test_missing_values_are_counted():
    assert "2 without a value." in capability_words(summary(VALUES[:8], without=(2, 5)))


def test_a_quantity_that_no_part_has_is_told():
    assert capability_words(summary((1.6e-3,), limit=replace(Q_LIMIT, at=None))) == (
        "No part has a value of this quantity yet."
    )


def test_all_numbers_carry_the_decimal_mark_of_the_desktop():
    QLocale.setDefault(GERMAN)
    words = capability_words(summary(VALUES))
    assert "mean 1,62" in words
    assert "Ppk 1," in words
    assert not any(
        a.isdigit() and m == "." and b.isdigit()
        for a, m, b in zip(words, words[1:], words[2:], strict=False)
    )
