"""Beginning a lot: what is typed makes the plan at once, and what makes none is said."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QLineEdit, QListWidget, QPushButton

from benchapp.gui.lotform import LotStart
from benchapp.jobs import SupplierLots
from benchapp.logbook import LotRow
from benchapp.lot import Conclusion, LotForm, PlanChoice
from benchapp.sampling import AQLS, LEVELS, State
from tests.gui.factories import nominal
from tests.gui.hand import choose, press
from tests.gui.stage import activate

GERMAN = QLocale(QLocale.Language.German, QLocale.Country.Germany)


@pytest.fixture
def start(qtbot):
    made = LotStart("A. Example")
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    made.show_nominal(nominal())
    return made


def type_in(qtbot, field, words):
    field.setFocus()
    field.selectAll()
    qtbot.keyClick(field, Qt.Key.Key_Delete)
    if words.isascii():
        qtbot.keyClicks(field, words)
    else:  # the simulated keyboard has no other letters
        QApplication.clipboard().setText(words)
        qtbot.keyClick(field, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


def quantity(qtbot, start, words):
    type_in(qtbot, start.delivery.fields["quantity"], words)


def row(key="lot-1", measurements=3, conclusion=None, **stated):
    form = LotForm(**{"part": "GA-12", "supplier": "Example Windings", **stated})
    return LotRow(
        id=1,
        key=key,
        time="2026-05-04T10:20:30.000Z",
        bench="bench",
        form=form,
        plan=PlanChoice().plan(150),
        positions=(1, 2),
        nominal=None,
        measurements=measurements,
        conclusion=conclusion,
    )


def test_without_a_quantity_the_page_asks_for_it_and_begins_nothing(start):
    assert start.words.text() == "Type how many parts are in the lot: the plan follows."
    assert not start.trouble.isVisible()
    assert start.plan is None
    assert not start.begin.isEnabled()
    assert not start.curve.isVisible()
    assert start.folder.isEnabled()


def test_the_plan_follows_each_key_of_the_quantity(qtbot, start):
    quantity(qtbot, start, "8")
    assert start.plan == PlanChoice().plan(8)
    qtbot.keyClicks(start.delivery.fields["quantity"], "00")
    assert start.plan == PlanChoice().plan(800)
    assert start.words.text().startswith("Code letter J")
    assert start.source.text().startswith("Source: MIL-STD-105E Tables I and II")
    assert start.begin.isEnabled()
    assert start.begin.property("role") == "main"


def test_without_a_design_no_lot_is_begun_and_one_can_be_opened(qtbot, start):
    quantity(qtbot, start, "150")
    start.show_nominal(None)
    assert not start.begin.isEnabled()
    assert not start.folder.isEnabled()
    assert start.lack.isVisible()
    with qtbot.waitSignal(start.wants_nominal):
        press(qtbot, start.open_nominal)
    start.show_nominal(nominal())
    assert start.begin.isEnabled()
    assert not start.lack.isVisible()
    assert not start.open_nominal.isVisible()


def test_the_design_offers_its_title_and_revision_until_a_person_types_a_part(qtbot, start):
    fields = start.delivery.fields
    assert (fields["part"].text(), fields["revision"].text()) == ("Gate antenna coil GA-12", "C")
    start.show_nominal(nominal(title="Gate antenna coil GA-14", revision="A"))
    assert (fields["part"].text(), fields["revision"].text()) == ("Gate antenna coil GA-14", "A")
    type_in(qtbot, fields["part"], "Coil by hand")
    start.show_nominal(nominal())
    assert fields["part"].text() == "Coil by hand"


def test_a_lot_is_begun_with_everything_that_was_stated(qtbot, start):
    stated = {
        "part": "GA-12",
        "revision": "D",
        "supplier": "  Wickelei Groß & Söhne ",
        "order": "=4711",
        "date_code": "2640",
        "quantity": "150",
    }
    for key, words in stated.items():
        type_in(qtbot, start.delivery.fields[key], words)
    start.show_history(None)
    with qtbot.waitSignal(start.begun) as seen:
        press(qtbot, start.begin)
    form, plan = seen.args
    assert form == LotForm(
        part="GA-12",
        revision="D",
        supplier="Wickelei Groß & Söhne",
        order="=4711",
        date_code="2640",
        quantity=150,
        operator="A. Example",
    )
    assert plan == PlanChoice().plan(150)


def test_a_lot_is_begun_by_keys_alone(qtbot, start):
    quantity(qtbot, start, "150")
    start.begin.setFocus()
    with qtbot.waitSignal(start.begun):
        qtbot.keyClick(start.begin, Qt.Key.Key_Space)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("many", "Type whole numbers for parts, and percentages as numbers."),
        ("12.5", "Type whole numbers for parts"),
        ("1,500", "Type whole numbers for parts"),
        ("0", "lot size: must be one part or more (got 0). Count the parts"),
        ("-3", "lot size: must be one part or more (got -3)."),
    ],
)
def test_what_is_no_number_of_parts_is_refused_and_nothing_begins(qtbot, start, words, said):
    quantity(qtbot, start, "150")
    quantity(qtbot, start, words)
    assert start.trouble.text().startswith(said)
    assert start.trouble.isVisible()
    assert start.plan is None
    assert not start.begin.isEnabled()
    assert not start.folder.isEnabled()
    assert start.words.text() == ""
    assert not start.curve.isVisible()


def test_the_quantity_is_marked_while_it_is_no_number(qtbot, start):
    field = start.delivery.fields["quantity"]
    quantity(qtbot, start, "many")
    assert field.property("wrong") is True
    quantity(qtbot, start, "150")
    assert field.property("wrong") is False
    assert not start.trouble.isVisible()


@pytest.mark.parametrize(
    ("kind", "shown"),
    [
        ("attributes", {"aql", "level", "severity"}),
        ("variables", {"aql", "level"}),
        ("zero", {"fraction", "risk"}),
        ("all", set()),
    ],
)
def test_only_what_the_way_needs_is_asked(qtbot, start, kind, shown):
    choose(qtbot, start.sampling.choices["kind"], kind)
    entries = {**start.sampling.choices, **start.sampling.fields}
    seen = {key for key, entry in entries.items() if entry.isVisible()}
    assert seen == {"kind", *shown}
    labels = {key for key, label in start.sampling.labels.items() if label.isVisible()}
    assert labels == seen


@pytest.mark.parametrize(
    ("kind", "choices"),
    [
        ("attributes", PlanChoice(kind="attributes")),
        ("variables", PlanChoice(kind="variables")),
        ("zero", PlanChoice(kind="zero")),
        ("all", PlanChoice(kind="all")),
    ],
)
def test_each_way_makes_the_plan_of_the_tables(qtbot, start, kind, choices):
    quantity(qtbot, start, "500")
    choose(qtbot, start.sampling.choices["kind"], kind)
    assert start.plan == choices.plan(500)
    assert start.curve.isVisible() == (kind in ("attributes", "zero"))


@pytest.mark.parametrize("aql", [f"{each:g}" for each in AQLS])
def test_every_aql_of_the_table_can_be_chosen(start, aql):
    box = start.sampling.choices["aql"]
    at = box.findData(aql)
    assert at >= 0
    box.setCurrentIndex(at)
    box.activated.emit(at)
    assert start.choice().aql == float(aql)


@pytest.mark.parametrize("level", LEVELS)
def test_every_level_can_be_chosen(qtbot, start, level):
    choose(qtbot, start.sampling.choices["level"], level)
    quantity(qtbot, start, "3200")
    assert start.plan == PlanChoice(level=level).plan(3200)


@pytest.mark.parametrize("severity", ["normal", "tightened", "reduced"])
def test_the_severity_counts_for_attributes_alone(qtbot, start, severity):
    quantity(qtbot, start, "3200")
    choose(qtbot, start.sampling.choices["severity"], severity)
    if severity != "normal":
        type_in(qtbot, start.sampling.fields["severity_why"], "new tool")
    why = "" if severity == "normal" else "new tool (the rules ask for normal)"
    assert start.plan == PlanChoice(severity=severity, severity_why=why).plan(3200)
    choose(qtbot, start.sampling.choices["kind"], "variables")
    assert start.plan == PlanChoice(kind="variables").plan(3200)


@pytest.mark.parametrize(("key", "other"), [("fraction", "risk"), ("risk", "fraction")])
def test_a_percentage_that_is_none_is_marked_itself(qtbot, start, key, other):
    quantity(qtbot, start, "150")
    choose(qtbot, start.sampling.choices["kind"], "zero")
    type_in(qtbot, start.sampling.fields[key], "few")
    assert start.trouble.text() == "Type whole numbers for parts, and percentages as numbers."
    assert start.sampling.fields[key].property("wrong") is True
    assert not start.sampling.fields[other].property("wrong")
    assert start.plan is None
    type_in(qtbot, start.sampling.fields[key], "7 %")
    assert start.sampling.fields[key].property("wrong") is False
    assert start.plan is not None


@pytest.mark.parametrize("words", ["0", "-5", "150", "nan", "inf"])
def test_a_share_that_no_plan_keeps_out_is_refused_with_a_sentence(qtbot, start, words):
    quantity(qtbot, start, "150")
    choose(qtbot, start.sampling.choices["kind"], "zero")
    type_in(qtbot, start.sampling.fields["fraction"], words)
    assert start.plan is None
    assert "must have a lot, a fraction and a risk between 0 and 1" in start.trouble.text()
    assert not start.begin.isEnabled()


def test_what_is_wrong_in_a_blank_that_is_not_asked_does_not_matter(qtbot, start):
    quantity(qtbot, start, "150")
    choose(qtbot, start.sampling.choices["kind"], "zero")
    type_in(qtbot, start.sampling.fields["fraction"], "few")
    choose(qtbot, start.sampling.choices["kind"], "attributes")
    assert start.plan == PlanChoice().plan(150)
    assert not start.trouble.isVisible()


def test_a_decimal_comma_is_read_where_the_desktop_writes_one(qtbot):
    QLocale.setDefault(GERMAN)
    start = LotStart()
    qtbot.addWidget(start)
    activate(qtbot, start)
    start.show_nominal(nominal())
    quantity(qtbot, start, "150")
    choose(qtbot, start.sampling.choices["kind"], "zero")
    type_in(qtbot, start.sampling.fields["fraction"], "2,5")
    assert start.plan == PlanChoice(kind="zero", fraction=0.025).plan(150)
    chances = [label.text() for label in start.chances.findChildren(QLabel)]
    assert all("." not in words for words in chances)
    assert any("," in words for words in chances)


def test_the_aql_is_written_with_the_decimal_mark_of_the_desktop(qtbot):
    QLocale.setDefault(GERMAN)
    start = LotStart()
    qtbot.addWidget(start)
    box = start.sampling.choices["aql"]
    assert box.itemText(box.findData("0.65")) == "0,65 %"
    box.setCurrentIndex(box.findData("0.65"))
    box.activated.emit(box.currentIndex())
    assert start.choice().aql == 0.65


def test_how_often_lots_are_accepted_is_shown_as_curve_and_in_numbers(qtbot, start):
    quantity(qtbot, start, "150")
    plan = start.plan
    shown = [label.text() for label in start.chances.findChildren(QLabel)]
    # Hypergeometric, 13 of 150 drawn without a reject among the 15 (10 %) in the lot:
    # C(135, 13) / C(150, 13), worked out here from the product of the draws.
    chance = np.prod([(135 - at) / (150 - at) for at in range(13)])
    assert shown[0] == "nonconforming"
    assert f"{100 * chance:.1f} %" in shown
    x, y = start.curve.curve.getData()
    assert y[np.searchsorted(x, 10.0)] == pytest.approx(100 * chance)
    assert plan.n == 13


def test_the_chances_are_laid_out_once_however_often_the_plan_changes(qtbot, start):
    for words in ("150", "500", "3200"):
        quantity(qtbot, start, words)
    QApplication.processEvents()
    shown = [label for label in start.chances.findChildren(QLabel) if label.isVisible()]
    assert len(shown) == 12
    quantity(qtbot, start, "")
    assert not start.chances.isVisible()


def test_without_lots_in_the_record_none_are_offered(start):
    assert not start.lots.isVisible()
    assert not start.resume.isVisible()


def test_lots_are_listed_in_words_and_gone_on_with(qtbot, start):
    ended = Conclusion(outcome="concession", name="B. Example", reason="spares")
    start.show_lots(
        [row(order="4711.2", date_code="2640"), row("lot-0", 1), row("lot-8", conclusion=ended)]
    )
    head, who = "2026-05-04 10:20 UTC", "GA-12 · Example Windings"
    words = [start.lots.item(at).text() for at in range(start.lots.count())]
    assert words == [
        f"{head} · 4711.2 · 2640 · 3 measurements, sample of 13 · {who}",
        f"{head} · 1 measurement, sample of 13 · {who}",
        f"{head} · concluded: taken by concession · {who}",
    ]
    assert start.resume.text() == "Go on with this lot"
    with qtbot.waitSignal(start.wanted) as seen:
        press(qtbot, start.resume)
    assert seen.args == ["lot-1"]
    start.lots.setFocus()
    qtbot.keyClick(start.lots, Qt.Key.Key_End)
    assert start.resume.text() == "Look at this lot"
    with qtbot.waitSignal(start.wanted) as seen:
        qtbot.keyClick(start.lots, Qt.Key.Key_Return)
    assert seen.args == ["lot-8"]


def test_what_was_stated_about_a_lot_is_not_rewritten_with_a_comma(qtbot):
    QLocale.setDefault(GERMAN)
    start = LotStart()
    qtbot.addWidget(start)
    start.show_lots([row(part="Coil Rev 1.2", order="4711.5")])
    assert "4711.5 · 3 measurements, sample of 13 · Coil Rev 1.2 · Ex" in start.lots.item(0).text()


def test_lots_shown_anew_take_the_place_of_the_former(start):
    start.show_lots([row("a"), row("b")])
    start.show_lots([row("c")])
    assert start.lots.count() == 1
    start.show_lots([])
    assert not start.lots.isVisible()


def test_a_folder_is_asked_for_by_a_press(qtbot, start):
    with qtbot.waitSignal(start.wants_folder):
        press(qtbot, start.folder)


def test_tab_reaches_every_control_and_comes_round(qtbot, start):
    quantity(qtbot, start, "150")
    start.show_lots([row()])
    kinds = (QLineEdit, QComboBox, QPushButton, QListWidget)
    wanted = {
        widget
        for kind in kinds
        for widget in start.findChildren(kind)
        if widget.isVisible() and widget.isEnabled()
    }
    assert len(wanted) == 7 + 4 + 2 + 2
    reached = set()
    start.delivery.fields["part"].setFocus()
    for _ in range(40):
        reached.add(QApplication.focusWidget())
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert wanted <= reached


def test_every_control_has_a_name_that_is_read_out(start):
    start.show_lots([row()])
    for kind in (QLineEdit, QComboBox, QListWidget):
        for widget in start.findChildren(kind):
            assert widget.accessibleName(), widget
    for button in start.findChildren(QPushButton):
        assert button.text()
        assert button.toolTip()
    assert start.curve.accessibleName() == "Operating characteristic of the plan"


def test_long_names_do_not_widen_the_page(qtbot, start):
    start.show_lots([row(part="x" * 300)])
    type_in(qtbot, start.delivery.fields["supplier"], "y" * 300)
    assert start.widget().width() <= start.viewport().width()
    assert start.form().supplier == "y" * 300


def history(*letters, severity="tightened", why="2 of the last 4 lots rejected", reduced=False):
    """What the record says of a supplier."""
    following = State(severity=severity, why=why, reduced_possible=reduced)
    lots = tuple(object() for _ in letters)
    return SupplierLots(
        supplier="Coil works", part="GA-12", lots=lots, following=following, trends=()
    )


def ask(qtbot, start, supplier="Coil works"):
    """Type a supplier and wait until the record is asked."""
    with qtbot.waitSignal(start.wants_history, timeout=5_000) as asked:
        type_in(qtbot, start.delivery.fields["supplier"], supplier)
    return asked.args


def test_the_record_is_asked_once_supplier_and_part_are_typed(qtbot, start):
    assert "State supplier and part" in start.following.text()
    assert ask(qtbot, start) == ["Coil works", "Gate antenna coil GA-12"]


def test_what_the_record_proposes_stands_in_the_form_with_its_reason(qtbot, start):
    ask(qtbot, start)
    quantity(qtbot, start, "3200")
    start.show_history(history(*"abcd"))
    assert start.sampling.choices["severity"].currentData() == "tightened"
    assert start.following.text() == (
        "The record proposes tightened inspection: 2 of the last 4 lots rejected "
        "(4 lots in the record)."
    )
    assert not start.sampling.fields["severity_why"].isVisible()
    assert start.plan == PlanChoice(
        severity="tightened", severity_why="2 of the last 4 lots rejected"
    ).plan(3200)
    assert "Tightened inspection: 2 of the last 4 lots rejected." in start.words.text()
    assert start.begin.isEnabled()


def test_a_person_may_inspect_otherwise_but_must_say_why(qtbot, start):
    ask(qtbot, start)
    quantity(qtbot, start, "3200")
    start.show_history(history(*"ab"))
    choose(qtbot, start.sampling.choices["severity"], "normal")
    field = start.sampling.fields["severity_why"]
    assert field.isVisible()
    assert not start.begin.isEnabled()
    assert not start.folder.isEnabled()
    assert start.begin.toolTip().startswith("Type the reason first")
    type_in(qtbot, field, "agreed with purchasing")
    assert start.begin.isEnabled()
    assert start.plan.severity_why == (
        "agreed with purchasing (the rules ask for tightened: 2 of the last 4 lots rejected)"
    )


def test_what_a_person_chose_stays_when_the_record_answers(qtbot, start):
    quantity(qtbot, start, "3200")
    choose(qtbot, start.sampling.choices["severity"], "reduced")
    start.show_history(history(*"ab"))
    assert start.sampling.choices["severity"].currentData() == "reduced"


def test_a_supplier_without_a_lot_is_inspected_normally(qtbot, start):
    ask(qtbot, start)
    start.show_history(history(*"ab"))
    ask(qtbot, start, "New works")
    start.show_history(None)
    assert start.sampling.choices["severity"].currentData() == "normal"
    assert start.following.text() == (
        "No lot of New works and this part is in the record: normal inspection."
    )


def test_where_the_rules_end_sampling_a_sample_needs_a_reason(qtbot, start):
    ask(qtbot, start)
    quantity(qtbot, start, "3200")
    start.show_history(history("a", severity="discontinued", why="5 lots rejected"))
    assert start.following.text().startswith("The rules end sampling here: 5 lots rejected")
    assert start.sampling.choices["severity"].currentData() == "tightened"
    assert not start.begin.isEnabled()
    choose(qtbot, start.sampling.choices["kind"], "all")
    assert start.begin.isEnabled()
    assert not start.following.isVisible()


def test_reduced_inspection_is_only_said_to_be_possible(qtbot, start):
    ask(qtbot, start)
    start.show_history(history("a", severity="normal", why="begins as normal", reduced=True))
    assert start.sampling.choices["severity"].currentData() == "normal"
    assert "Reduced is possible, if the responsible person agrees." in start.following.text()


def test_a_lot_waits_for_what_the_record_proposes_before_it_begins(qtbot, start):
    quantity(qtbot, start, "3200")
    type_in(qtbot, start.delivery.fields["supplier"], "Coil works")
    begun = []
    start.begun.connect(lambda _form, plan: begun.append(plan.severity))
    with qtbot.waitSignal(start.wants_history):
        press(qtbot, start.begin)
    assert begun == []
    start.show_history(history("a", severity="normal", why="begins as normal"))
    assert begun == ["normal"], "as it was shown: it begins"
    type_in(qtbot, start.delivery.fields["supplier"], "Other works")
    press(qtbot, start.begin)
    start.show_history(history(*"ab"))
    assert begun == ["normal"], "otherwise than shown: it is seen first"
    press(qtbot, start.begin)
    assert begun == ["normal", "tightened"]
