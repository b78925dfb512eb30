"""The plan of a study as it is typed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt

from benchapp.gui.studyform import StudyForm
from benchapp.jobs import OpenNominal, not_cancelled, sample_folder, silent
from tests.gui.hand import press
from tests.gui.lotstage import fill
from tests.gui.stage import activate


@pytest.fixture
def form(qtbot):
    made = StudyForm()
    qtbot.addWidget(made)
    made.show_nominal(OpenNominal(path=str(sample_folder() / "ga12.toml"))(silent, not_cancelled))
    activate(qtbot, made)
    return made


def stated(qtbot, form, **typed):
    """Type, press the button, give what is stated; None where nothing is."""
    heard = []
    form.stated.connect(lambda plan, seed: heard.append((plan, seed)))
    fill(qtbot, form.form, typed)
    press(qtbot, form.begin)
    return heard[0] if heard else None


def test_the_usual_plan_takes_quantity_and_tolerance_from_the_design(qtbot, form):
    plan, seed = stated(qtbot, form)
    assert (len(plan.parts), plan.persons, plan.trials) == (10, ("A", "B", "C"), 3)
    assert (plan.quantity, plan.unit) == ("L", "H")
    assert plan.tolerance == pytest.approx(97.2e-6)
    assert (plan.references, seed) == ((), None)
    assert form.form.fields["tolerance"].placeholderText() == "97.20 µH"


def test_parts_by_serial_a_tolerance_of_ones_own_true_values_and_a_seed(qtbot, form):
    plan, seed = stated(
        qtbot,
        form,
        parts="0201, 0202",
        persons="A. Example, B. Example",
        tolerance="50 uH",
        references="1.61 mH; 1.63 mH",
        seed="7",
    )
    assert (plan.parts, plan.persons) == (("0201", "0202"), ("A. Example", "B. Example"))
    assert plan.tolerance == pytest.approx(50e-6)
    assert plan.references == pytest.approx((1.61e-3, 1.63e-3))
    assert seed == 7


def test_a_quantity_at_a_frequency_and_one_that_the_design_does_not_limit(qtbot, form):
    names = [form.quantity.itemText(at) for at in range(form.quantity.count())]
    form.quantity.setCurrentIndex(next(at for at, one in enumerate(names) if "Q at" in one))
    assert stated(qtbot, form)[0].quantity == "Q at 134.2 kHz"
    form.quantity.setFocus()
    form.quantity.setCurrentIndex(names.index("C"))
    form.quantity.activated.emit(names.index("C"))
    assert form.form.fields["tolerance"].placeholderText() == "none: judged by the study"
    heard = []
    form.stated.connect(lambda plan, _seed: heard.append(plan))
    press(qtbot, form.begin)
    assert (heard[0].quantity, heard[0].unit, heard[0].tolerance) == ("C", "F", None)


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"trials": "three"}, "trials", "must be a whole number (got 'three')"),
        ({"seed": "x"}, "seed", "must be a whole number (got 'x')"),
        ({"tolerance": "3 ohm"}, "tolerance", "ohm"),
        ({"references": "1.6 mH; high"}, "references", "high"),
        ({"references": "1.6 mH"}, None, "true value of every part or of none"),
        ({"persons": "A, A"}, None, "every person must have a name of its own"),
        ({"persons": "A,,B"}, None, "got an empty one"),
    ],
)
def test_what_cannot_be_is_said_and_its_field_marked(qtbot, form, typed, field, said):
    assert stated(qtbot, form, **typed) is None
    assert said in form.trouble.text()
    marked = [key for key, one in form.form.fields.items() if one.property("wrong")]
    assert marked == ([] if field is None else [field])
    fill(qtbot, form.form, {"trials": "2"})


def test_a_mark_goes_once_it_is_right(qtbot, form):
    assert stated(qtbot, form, trials="x") is None
    plan, _ = stated(qtbot, form, trials="2")
    assert (plan.trials, form.trouble.text()) == (2, "")
    assert not form.form.fields["trials"].property("wrong")


def test_the_number_of_measurements_is_told_and_where_it_is_small(qtbot, form):
    words = "10 parts × 3 persons × 3 trials: 90 measurements."
    assert form.size.text() == words
    fill(qtbot, form.form, {"parts": "3", "persons": "A"})
    assert form.size.text().startswith("3 parts × 1 person × 3 trials: 9 measurements.")
    assert "So few say little" in form.size.text()


def test_another_design_keeps_the_quantity_that_was_chosen(form):
    form.quantity.setCurrentIndex(form.quantity.findText("C"))
    form.show_nominal(None)
    assert form.quantity.currentText() == "C"


def test_every_blank_is_reached_by_tab(qtbot, form):
    form.quantity.setFocus()
    seen = []
    for _ in range(12):
        qtbot.keyClick(form.window().focusWidget(), Qt.Key.Key_Tab)
        seen.append(form.window().focusWidget())
    assert set(form.form.fields.values()) <= set(seen)
    assert {form.begin, form.opener} <= set(seen)
