"""The lots of a supplier: chosen in plot or table alike, told with what drifts, opened again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt

from benchapp.gui.desk import Desk
from benchapp.gui.recorder import Recorder
from benchapp.gui.supplierpage import SupplierPage, drift_words
from benchapp.lot import LotForm, trends
from benchapp.nominal import Nominal
from tests.gui.factories import L_LIMIT, estimate
from tests.gui.hand import choose, press
from tests.gui.heldrecord import lot, put_on
from tests.gui.stage import activate
from tests.jobs.lots import FORM, keep_lot

DESIGN = Nominal(title="GA-12", circuit="tank", limits=(L_LIMIT,))


def trend(*means, scatter=1e-6):
    lots = [
        (f"lot {at}", {"L": [estimate("L", mean + d, 1e-6, "H") for d in (-scatter, 0, scatter)]})
        for at, mean in enumerate(means, start=1)
    ]
    return trends(lots, DESIGN)[0]


@pytest.fixture
def recorder(qapp, memory):
    made = Recorder(memory)
    yield made
    made.close()
    made.deleteLater()


@pytest.fixture
def desk(recorder, memory):
    made = Desk(recorder, memory)
    yield made
    made.deleteLater()


@pytest.fixture
def page(qtbot, desk, worker, recorder):
    def show():
        made = SupplierPage(desk, worker, recorder)
        qtbot.addWidget(made)
        made.resize(1100, 640)
        activate(qtbot, made)
        return made

    return show


@pytest.fixture
def filled(qtbot, page, memory):
    for order, outcomes in enumerate(("pp", "fp", "pp", "p"), start=1):
        keep_lot(memory.record, outcomes, replace(FORM, order=str(order)))
    keep_lot(memory.record, "pp", replace(FORM, supplier="Another", order="9"))
    made = page()
    qtbot.waitUntil(lambda: made.table.rowCount() == 1, timeout=10_000)
    choose(qtbot, made.group, ("coil works", "ga-12"))
    made.group.activated.emit(made.group.currentIndex())
    qtbot.waitUntil(lambda: made.table.rowCount() == 4, timeout=10_000)
    return made


def cells(page, row):
    return [page.table.item(row, at).text() for at in range(page.table.columnCount())]


def test_without_a_lot_the_page_says_where_to_begin_one(page):
    made = page()
    assert made.said.text().startswith("No lot is in the record yet.")
    assert not made.table.isVisible()
    assert not made.group.isVisible()


def test_every_supplier_with_its_part_can_be_chosen(filled):
    names = [filled.group.itemText(at) for at in range(filled.group.count())]
    assert names == ["Another · GA-12", "Coil works · GA-12"]


def test_each_lot_is_a_row_with_what_became_of_it(filled):
    assert filled.said.text().startswith("4 lots, 1 rejected by its plan. Next inspection: normal")
    rows = [cells(filled, row) for row in range(4)]
    assert [row[1] for row in rows] == ["1", "2", "3", "4"]
    assert [row[3:6] for row in rows] == [
        ["2", "0", "the plan accepts the lot"],
        ["2", "1", "the plan rejects the lot"],
        ["2", "0", "the plan accepts the lot"],
        ["1", "0", "going on"],
    ]
    assert all(row[2].endswith(" UTC") for row in rows)
    assert rows[0][6].endswith(" mH")


def test_a_click_on_a_point_chooses_its_lot_and_a_row_its_point(qtbot, filled):
    box = filled.plot.plotItem.vb
    filled.plot.grab()
    at = box.mapViewToScene(QPointF(2.0, float(filled.plot._means[1])))
    place = filled.plot.mapFromScene(at)
    qtbot.mouseClick(filled.plot.viewport(), Qt.MouseButton.LeftButton, pos=place)
    qtbot.waitUntil(lambda: filled.table.currentRow() == 1, timeout=5_000)
    assert filled.plot.ring.getData()[0][0] == 2
    filled.table.setFocus()
    qtbot.keyClick(filled.table, Qt.Key.Key_Down)
    assert filled.plot.ring.getData()[0][0] == 3


def test_a_lot_is_opened_by_return_or_by_its_button(qtbot, filled):
    with qtbot.waitSignal(filled.wants_lot) as first:
        press(qtbot, filled.open)
    filled.table.setFocus()
    with qtbot.waitSignal(filled.wants_lot) as second:
        qtbot.keyClick(filled.table, Qt.Key.Key_Return)
    assert first.args == second.args == [filled._found.lots[3].row.key]


def test_another_quantity_is_shown_with_its_means(qtbot, filled):
    choose(qtbot, filled.quantity, "f0")
    filled.quantity.activated.emit(filled.quantity.currentIndex())
    assert filled.table.horizontalHeaderItem(6).text() == "mean f0"
    assert cells(filled, 0)[6].endswith(" kHz")
    assert filled.table.currentRow() == 3, "the chosen lot stays chosen"


def test_the_supplier_of_the_lot_on_the_bench_stands_first(qtbot, page, desk, memory):
    keep_lot(memory.record, "pp", replace(FORM, supplier="Another"))
    keep_lot(memory.record, "pp")
    form = LotForm(part="GA-12", supplier="Coil works", quantity=150)
    desk.recorder.acts = []
    desk.recorder.do = lambda job, done, failed: desk.recorder.acts.append(
        type("Act", (), {"done": staticmethod(done)})
    )
    put_on(desk, lot(form=form))
    made = page()
    qtbot.waitUntil(lambda: made.group.count() == 2, timeout=10_000)
    assert made.group.currentText() == "Coil works · GA-12"


def test_a_drift_is_told_by_its_way_and_its_share_of_the_tolerance():
    words = drift_words(trend(1.610e-3, 1.620e-3, 1.630e-3))
    assert words == "The mean went from 1.610 mH to 1.630 mH, 21 % of the tolerance."


def test_a_mean_that_did_not_move_is_told_as_such():
    words = drift_words(trend(1.620e-3, 1.630e-3, 1.6200001e-3))
    assert words == "The last lot has the mean of the first, 1.620 mH."


def test_one_lot_has_no_trend():
    assert drift_words(trend(1.62e-3)) == "One lot has values of this quantity: a trend needs two."


def test_the_last_lots_that_stand_out_are_named():
    scatter = np.array([0.3, -0.5, 0.9, -0.2, -0.8, 0.6, 0.1, -0.4])
    means = [*(1.62e-3 + 1e-6 * scatter), 1.65e-3]
    assert drift_words(trend(*means)).endswith("lot 9.")
    rising = 1.60e-3 + 4e-6 * np.arange(14)
    assert "more than chance at: …; " in drift_words(trend(*rising))
