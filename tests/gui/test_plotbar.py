"""Choices around the plots, by mouse and key; a band that cannot be is refused with a reason."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QLocale, Qt

from benchapp.circuit import CIRCUITS
from benchapp.gui.plotbar import BandEdges, PlotBar
from benchapp.jobs import FitChoices
from tests.gui.factories import nominal, response, sweep, transient
from tests.gui.stage import activate


@pytest.fixture
def bar(qtbot):
    made = PlotBar()
    qtbot.addWidget(made)
    made.show_capture(sweep(11), "", None)
    made.show()
    return made


@pytest.fixture
def edges(qtbot):
    made = BandEdges()
    qtbot.addWidget(made)
    made.show_band(sweep(11), None)
    activate(qtbot, made)
    return made


def items(box) -> list[str]:
    return [box.itemText(at) for at in range(box.count())]


def test_the_views_of_a_sweep_are_offered(bar):
    assert items(bar.views) == ["|Z| and θ", "R and X", "Ls and Q", "Cp and D", "plane of Z"]
    assert bar.view.key == "magnitude-phase"


def test_the_view_that_was_chosen_last_is_chosen_again(bar):
    bar.show_capture(sweep(11), "inductance-quality", None)
    assert bar.view.key == "inductance-quality"
    bar.show_capture(sweep(11), "gone", None)
    assert bar.view.key == "magnitude-phase"


def test_another_view_is_chosen_by_key(qtbot, bar):
    bar.views.setFocus()
    with qtbot.waitSignal(bar.view_chosen):
        qtbot.keyClick(bar.views, Qt.Key.Key_Down)
    assert bar.show_view().key == "resistance-reactance"
    assert bar.log_y.text() == "log R"


def test_offering_captures_is_no_choice_of_the_person(qtbot, bar):
    told = []
    bar.view_chosen.connect(lambda: told.append("view"))
    bar.circuit_chosen.connect(told.append)
    bar.show_capture(response(), "", None)
    bar.show_choices(FitChoices(circuit="coil"), can_undo=True, can_redo=False)
    assert told == []


def test_every_circuit_can_be_chosen_and_is_explained(qtbot, bar):
    assert items(bar.circuits) == ["by the data", *CIRCUITS]
    told = []
    bar.circuit_chosen.connect(told.append)
    bar.circuits.setFocus()
    qtbot.keyClick(bar.circuits, Qt.Key.Key_Down)
    qtbot.keyClick(bar.circuits, Qt.Key.Key_Up)
    assert told == [next(iter(CIRCUITS)), "auto"]
    tip = bar.circuits.itemData(1, Qt.ItemDataRole.ToolTipRole)
    assert tip == next(iter(CIRCUITS.values())).title


def test_with_a_design_its_circuit_is_what_is_fitted(bar):
    bar.show_capture(sweep(11), "", nominal())
    assert bar.circuits.currentText() == "tank (design)"
    bar.show_capture(sweep(11), "", nominal(circuit="auto"))
    assert bar.circuits.currentText() == "by the data"


@pytest.mark.parametrize(
    ("capture", "words"), [(response(), "resonance"), (transient(), "ring-down")]
)
def test_other_captures_have_one_way_to_be_fitted(bar, capture, words):
    bar.show_capture(capture, "", nominal())
    assert items(bar.circuits) == [words]
    assert not bar.circuits.isEnabled()


def test_a_record_over_time_has_no_logarithmic_axes(bar):
    bar.show_capture(transient(), "", None)
    bar.show_view()
    assert bar.log_x.isHidden()
    assert bar.log_y.isHidden()


def test_undo_and_redo_can_be_pressed_when_there_is_something_to_undo(bar):
    bar.show_choices(FitChoices(), can_undo=False, can_redo=True)
    assert not bar.undo.isEnabled()
    assert bar.redo.isEnabled()


def type_in(qtbot, field, words):
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, words)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def test_a_band_is_typed_with_any_usual_unit(qtbot, edges):
    told = []
    edges.typed.connect(told.append)
    type_in(qtbot, edges.low, "0.12 MHz")
    type_in(qtbot, edges.high, "140k")
    assert told == [pytest.approx((120e3, 154e3)), pytest.approx((120e3, 140e3))]


def test_a_decimal_comma_is_taken_where_the_desktop_writes_one(qtbot, edges):
    QLocale.setDefault(QLocale(QLocale.Language.German))
    told = []
    edges.typed.connect(told.append)
    type_in(qtbot, edges.low, "120,125 kHz")
    assert told[0][0] == pytest.approx(120125)


def test_emptied_fields_mean_the_whole_sweep(qtbot, edges):
    edges.show_band(sweep(11), (120e3, 140e3))
    told = []
    edges.typed.connect(told.append)
    type_in(qtbot, edges.low, " ")
    edges.high.clear()
    type_in(qtbot, edges.high, " ")
    assert told[-1] is None


def test_all_is_one_press_away(qtbot, edges):
    edges.show_band(sweep(11), (120e3, 140e3))
    with qtbot.waitSignal(edges.typed) as told:
        qtbot.mouseClick(edges.whole, Qt.MouseButton.LeftButton)
    assert told.args == [None]


def test_a_band_that_holds_is_shown_rounded(edges):
    edges.show_band(sweep(11), (120e3, 140123.456789))
    assert (edges.low.text(), edges.high.text()) == ("120 kHz", "140.123 kHz")
    assert edges.whole.isEnabled()
    edges.show_band(sweep(11), None)
    assert (edges.low.text(), edges.high.text()) == ("", "")
    assert not edges.whole.isEnabled()


def test_leaving_a_field_untouched_changes_nothing(qtbot, edges):
    """A shown band is rounded: passing through the fields must not take the rounded one."""
    edges.show_band(sweep(11), (120e3, 140123.456789))
    told = []
    edges.typed.connect(told.append)
    edges.low.setFocus()
    qtbot.keyClick(edges.low, Qt.Key.Key_Tab)
    qtbot.keyClick(edges.high, Qt.Key.Key_Tab)
    assert told == []


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ("12 mH", "quantity: must be in Hz (got '12 mH')."),
        ("soon", "quantity: must be a number with a unit (got 'soon')."),
    ],
)
def test_what_is_no_frequency_is_refused_and_marked(qtbot, edges, words, reason):
    refused, told = [], []
    edges.refused.connect(refused.append)
    edges.typed.connect(told.append)
    type_in(qtbot, edges.low, words)
    assert refused[0].message == reason
    assert refused[0].hint
    assert edges.low.property("wrong")
    assert told == []
    type_in(qtbot, edges.low, "120k")
    assert not edges.low.property("wrong")
    assert len(told) == 1


def test_a_falling_band_is_refused(qtbot, edges):
    refused = []
    edges.refused.connect(refused.append)
    edges.show_band(sweep(11), (120e3, 140e3))
    type_in(qtbot, edges.high, "110 kHz")
    assert "must rise from its first to its second frequency (got 120 kHz to 110 kHz)" in str(
        refused[0]
    )


def test_a_record_over_time_has_no_band(edges):
    edges.show_band(transient(), None)
    assert edges.isHidden()
