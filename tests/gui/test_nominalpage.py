"""The Nominal page: the design can be changed by typing, and only into another design."""

from __future__ import annotations

import tomllib

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.nominalpage import NominalPage
from benchapp.gui.preview import Preview, preview_span
from benchapp.nominal import Limit, nominal_from
from tests.gui.factories import ESR_LIMIT, L_LIMIT, Q_LIMIT, nominal
from tests.gui.stage import activate

F0_LIMIT = Limit(quantity="f0", unit="Hz", lower=132.187e3, upper=136.213e3, nominal=134.2e3)


@pytest.fixture
def page(qtbot, session):
    session.use_nominal(nominal(limits=(L_LIMIT, F0_LIMIT, Q_LIMIT, ESR_LIMIT)), "ga12.toml")
    made = NominalPage(session)
    qtbot.addWidget(made)
    made.resize(1280, 720)
    activate(qtbot, made)
    return made


def type_in(qtbot, field, words):
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    qtbot.keyClicks(field, words)
    qtbot.keyClick(field, Qt.Key.Key_Return)


def cell(page, quantity, key, place=0):
    return page.rows.fields[quantity, place, key]


def limit(session, quantity):
    return next(one for one in session.nominal.limits if one.quantity == quantity)


def test_the_form_shows_the_design(page):
    assert page.fields["", "title"].text() == "Gate antenna coil GA-12"
    assert page.fields["", "revision"].text() == "C"
    assert page.circuit.currentData() == "tank"
    assert cell(page, "L", "nominal").text() == "1.62 mH"
    assert cell(page, "L", "tolerance").text() == "±3 %"
    assert cell(page, "Q", "lower").text() == "60"
    assert cell(page, "Q", "at").text() == "134.2 kHz"
    assert page.fields["decision", "guard"].text() == "1"
    assert page.file.text() == "ga12.toml"


def test_the_circuit_is_drawn_with_its_nominal_values(page):
    assert page.drawing.accessibleName().endswith("L 1.620 mH, f0 134.2 kHz")
    assert page.circuit_title.text() == "a coil with series resistance, across a capacitor"


def test_a_typed_tolerance_changes_the_design_at_once(qtbot, page, session):
    changed = []
    session.nominal_changed.connect(lambda: changed.append(1))
    type_in(qtbot, cell(page, "L", "tolerance"), "-2 % +5 %")
    assert limit(session, "L").upper == pytest.approx(1.62e-3 * 1.05)
    assert changed == [1]
    assert page.file.text() == "ga12.toml, changed, not saved"
    assert page.undo.isEnabled()


def test_leaving_a_field_as_it_is_changes_nothing(qtbot, page, session):
    before = session.nominal
    for field in (*page.fields.values(), *page.rows.fields.values()):
        field.setFocus()
        qtbot.keyClick(field, Qt.Key.Key_Return)
    assert session.nominal is before


@pytest.mark.parametrize(
    ("quantity", "key", "words", "reason"),
    [
        ("L", "nominal", "12 ohm", "limits.L.nominal must be in H (got '12 ohm')."),
        ("L", "tolerance", "a bit", "limits.L.tolerance must be a tolerance with % or a unit"),
        ("Q", "lower", "200", "limits.Q must rise from lower over nominal to upper"),
        ("Q", "at", "-3 kHz", "limits.Q.at must be above zero"),
        ("ESR", "upper", "", "limits.ESR must have a tolerance, a lower or an upper limit"),
    ],
)
def test_what_makes_no_design_is_refused_with_the_reason(
    qtbot, page, session, quantity, key, words, reason
):
    before = session.nominal
    type_in(qtbot, cell(page, quantity, key), words)
    assert reason in page.refusal.text()
    assert page.refusal.isVisible()
    assert cell(page, quantity, key).property("wrong")
    assert session.nominal is before


def test_a_refused_field_can_be_put_right(qtbot, page, session):
    type_in(qtbot, cell(page, "L", "nominal"), "12 ohm")
    type_in(qtbot, cell(page, "L", "nominal"), "1.7 mH")
    assert not page.refusal.isVisible()
    assert not cell(page, "L", "nominal").property("wrong")
    assert limit(session, "L").nominal == pytest.approx(1.7e-3)


def test_undo_takes_changes_back_one_by_one(qtbot, page, session):
    type_in(qtbot, cell(page, "Q", "lower"), "50")
    type_in(qtbot, page.fields["", "title"], "Coil")
    qtbot.mouseClick(page.undo, Qt.MouseButton.LeftButton)
    assert session.nominal.title == "Gate antenna coil GA-12"
    assert page.fields["", "title"].text() == "Gate antenna coil GA-12"
    assert limit(session, "Q").lower == 50
    qtbot.mouseClick(page.undo, Qt.MouseButton.LeftButton)
    assert limit(session, "Q").lower == 60
    assert cell(page, "Q", "lower").text() == "60"
    assert not page.undo.isEnabled()
    assert page.file.text() == "ga12.toml"


def test_conditions_and_the_rule_of_decision_are_typed_too(qtbot, page, session):
    type_in(qtbot, page.fields["conditions", "bias"], "0.5 A")
    type_in(qtbot, page.fields["conditions", "surroundings"], "on ferrite")
    type_in(qtbot, page.fields["decision", "guard"], "0")
    assert session.nominal.conditions.bias_ampere == 0.5
    assert session.nominal.conditions.surroundings == "on ferrite"
    assert session.nominal.decision.guard == 0
    type_in(qtbot, page.fields["conditions", "bias"], "")
    assert session.nominal.conditions.bias_ampere is None


def test_a_rule_of_decision_that_is_no_number_is_refused(qtbot, page, session):
    type_in(qtbot, page.fields["decision", "coverage"], "two")
    assert "got 'two'" in page.refusal.text()
    type_in(qtbot, page.fields["decision", "coverage"], "-1")
    assert "must be above zero" in page.refusal.text()
    assert session.nominal.decision.coverage == 2


def test_a_limit_is_added_by_choosing_its_quantity_and_typing(qtbot, page, session):
    box = page.rows.adder
    box.setCurrentIndex(box.findData("C"))
    box.activated.emit(box.findData("C"))
    assert "limits.C must have a tolerance" in page.refusal.text()
    type_in(qtbot, cell(page, "C", "nominal"), "868 pF")
    type_in(qtbot, cell(page, "C", "tolerance"), "±2 %")
    assert limit(session, "C").upper == pytest.approx(868e-12 * 1.02)
    assert not page.refusal.isVisible()
    assert page.rows.gauges["C", 0].isVisible()


def test_a_second_limit_for_a_quantity_stands_in_a_row_of_its_own(qtbot, page, session):
    box = page.rows.adder
    box.activated.emit(box.findData("Q"))
    type_in(qtbot, cell(page, "Q", "at", place=1), "125 kHz")
    type_in(qtbot, cell(page, "Q", "lower", place=1), "40")
    assert [one.lower for one in session.nominal.limits if one.quantity == "Q"] == [60, 40]


def test_choosing_no_quantity_adds_no_limit(page, session):
    before = session.nominal
    page.rows.adder.activated.emit(0)
    assert session.nominal is before


def test_a_limit_is_removed_and_undo_brings_it_back(qtbot, page, session):
    page.rows._remove("ESR", 0)
    assert [one.quantity for one in session.nominal.limits] == ["L", "f0", "Q"]
    qtbot.mouseClick(page.undo, Qt.MouseButton.LeftButton)
    assert [one.quantity for one in session.nominal.limits] == ["L", "f0", "Q", "ESR"]


def test_the_last_limit_cannot_be_removed(page, session):
    session.use_nominal(nominal(limits=(L_LIMIT,)))
    page.rows._remove("L", 0)
    assert "limits must hold at least one limit" in page.refusal.text()
    assert len(session.nominal.limits) == 1


def test_another_circuit_is_drawn(page, session):
    at = page.circuit.findData("series-rlc")
    page.circuit.setCurrentIndex(at)
    page.circuit.activated.emit(at)
    assert session.nominal.circuit == "series-rlc"
    assert page.circuit_title.text() == "R, L and C in series"


def test_what_is_saved_is_the_design_as_typed(qtbot, page, session):
    type_in(qtbot, cell(page, "L", "tolerance"), "±5 %")
    with qtbot.waitSignal(page.wants_place) as told:
        qtbot.mouseClick(page.saver, Qt.MouseButton.LeftButton)
    written = tomllib.loads(told.args[0])
    assert written["limits"]["L"] == {"nominal": "1.62 mH", "tolerance": "±5 %"}
    assert nominal_from(written).limits == session.nominal.limits


def test_a_change_enters_the_history_with_who_and_why(qtbot, page, session):
    type_in(qtbot, cell(page, "L", "tolerance"), "±5 %")
    qtbot.keyClicks(page.history.by, "M. Ito")
    qtbot.keyClicks(page.history.why, "agreed with the supplier")
    with qtbot.waitSignal(page.wants_place) as told:
        qtbot.mouseClick(page.saver, Qt.MouseButton.LeftButton)
    (entry,) = nominal_from(tomllib.loads(told.args[0])).history
    assert (entry.revision, entry.by) == ("C", "M. Ito")
    assert entry.change == "agreed with the supplier (L, tolerance: ±3 % -> ±5 %)"
    assert page.history.note.text() == "The design changed, but its revision is still C."


def test_saving_an_unchanged_design_adds_nothing_to_its_history(qtbot, page):
    with qtbot.waitSignal(page.wants_place) as told:
        qtbot.mouseClick(page.saver, Qt.MouseButton.LeftButton)
    assert "history" not in tomllib.loads(told.args[0])
    assert page.history.note.isHidden()


def test_a_design_from_elsewhere_replaces_what_was_typed(qtbot, page, session):
    type_in(qtbot, cell(page, "L", "tolerance"), "±5 %")
    session.use_nominal(nominal(title="Other", limits=(Q_LIMIT,)), "other.toml")
    assert page.fields["", "title"].text() == "Other"
    assert set(page.rows.fields) == {
        ("Q", 0, key) for key in ("nominal", "tolerance", "lower", "upper", "at")
    }
    assert not page.undo.isEnabled()
    assert page.file.text() == "other.toml"


def test_without_a_design_nothing_can_be_typed(qtbot, session):
    bare = NominalPage(session)
    qtbot.addWidget(bare)
    assert not bare.isEnabled()


def test_the_envelope_is_shown_where_the_limits_bound_one(page, session):
    assert page.preview.isVisible()
    session.use_nominal(nominal(limits=(L_LIMIT,)))
    assert not page.preview.isVisible()
    assert page.no_preview.text().startswith("For an envelope two of L, C and f0 need")


def test_the_preview_spans_the_frequency_of_the_design(qtbot):
    preview = Preview()
    qtbot.addWidget(preview)
    assert preview.show_nominal(nominal(limits=(L_LIMIT, F0_LIMIT, Q_LIMIT)))
    x, low = preview.upper._edges[0].getData()
    assert x[[0, -1]] == pytest.approx([0.85 * 134.2e3, 1.15 * 134.2e3])
    assert 10 ** low.max() > 2e4


@pytest.mark.parametrize(
    ("changes", "centre"),
    [
        ({"frequency": 125e3}, 125e3),
        ({"frequency": None, "limits": (F0_LIMIT,)}, 134.2e3),
        ({"frequency": None, "limits": (Q_LIMIT,)}, 134.2e3),
    ],
)
def test_the_preview_is_centred_on_what_the_design_states(changes, centre):
    low, high = preview_span(nominal(**changes))
    assert (low + high) / 2 == pytest.approx(centre)


def test_a_design_without_any_frequency_has_no_preview():
    assert preview_span(nominal(frequency=None, limits=(L_LIMIT,))) is None


def test_a_narrow_window_puts_the_columns_below_each_other(qtbot, page):
    page.resize(940, 600)
    qtbot.wait(5)
    fields = page.rows.fields.values()
    needed = max(field.fontMetrics().horizontalAdvance("134.2 kHz") for field in fields)
    assert min(field.width() for field in fields) > needed + 20
    assert page.drawing.mapTo(page, page.drawing.rect().topLeft()).x() < 300


def test_every_field_has_a_name_for_a_screen_reader(page):
    from PySide6.QtWidgets import QLineEdit

    names = [field.accessibleName() for field in page.findChildren(QLineEdit)]
    assert all(names)
    assert "L, tolerance" in names
