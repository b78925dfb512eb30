"""The study on the bench: what typed words mean, slips, captures one by one, files that fail."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QLocale

from benchapp.errors import QuantityError
from benchapp.jobs import OpenStudy, not_cancelled, sample_folder, silent
from benchapp.logbook import Search, open_logbook
from benchapp.lot import StudyPlan
from tests.gui.studies import filled

PLAN = StudyPlan(parts=("1", "2"), persons=("A",), trials=2, quantity="L", unit="H")


@pytest.fixture
def study(window):
    return window.lots.studies.study


@pytest.fixture
def said(study):
    """Everything that the study tells."""
    told = []
    study.told.connect(told.append)
    return told


def settled(qtbot, window):
    qtbot.waitUntil(lambda: window.lots.recorder.words != "keeping…", timeout=20_000)


def saved(path):
    return OpenStudy(path=str(path))(silent, not_cancelled)


def test_every_value_is_in_the_file_before_the_next(qtbot, window, study, tmp_path):
    path = tmp_path / "study.csv"
    assert study.begin(PLAN, str(path), 7)
    for count, value in enumerate((1.62e-3, 1.63e-3), start=1):
        study.take(value)
        settled(qtbot, window)
        assert saved(path).taken == count
    study.undo()
    settled(qtbot, window)
    assert saved(path).taken == 1


def test_a_seed_draws_the_same_order_again_and_none_a_new_one(study, tmp_path):
    plan = StudyPlan(parts=tuple("123456789"), persons=("A", "B"), trials=3)
    orders = []
    for seed in (7, 7, None, None):
        study.begin(plan, str(tmp_path / "study.csv"), seed)
        orders.append(study.sheet)
    assert orders[0] == orders[1]
    assert len({one.text() for one in orders}) == 3


def test_the_unit_is_typed_once(study, tmp_path):
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    with pytest.raises(QuantityError, match=r"value: must have its unit \(got '1\.62'\)"):
        study.read("1.62")
    assert study.read("1.62 mH") == pytest.approx(1.62e-3)
    assert study.read("1.63") == pytest.approx(1.63e-3)
    assert study.read("1640uH") == pytest.approx(1.64e-3)
    assert study.read("1650") == pytest.approx(1.65e-3)
    with pytest.raises(QuantityError):
        study.read("3 ohm")
    assert study.read("1660") == pytest.approx(1.66e-3), "a refused unit is not remembered"


def test_a_ratio_needs_no_unit(study, tmp_path):
    plan = StudyPlan(parts=("1", "2"), persons=("A",), trials=2, quantity="Q", unit="1")
    study.begin(plan, str(tmp_path / "study.csv"), 7)
    assert study.read("85.2") == 85.2
    with pytest.raises(QuantityError):
        study.read("85 mH")


def test_a_study_that_names_no_quantity_takes_the_unit_of_its_first_value(
    qtbot, window, study, tmp_path
):
    path = tmp_path / "study.csv"
    bare = StudyPlan(parts=("1", "2"), persons=("A",), trials=2)
    study.begin(bare, str(path), 7)
    study.take(study.read("1.62 mH"))
    assert study.sheet.unit == "H"
    study.take(study.read("1.63"))
    settled(qtbot, window)
    assert saved(path).readings[1].value == pytest.approx(1.63e-3)


def test_a_decimal_comma_is_read_on_a_desktop_that_writes_one(study, tmp_path):
    QLocale.setDefault(QLocale(QLocale.Language.German, QLocale.Country.Germany))
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    assert study.read("1,62 mH") == pytest.approx(1.62e-3)
    assert study.read("1,63") == pytest.approx(1.63e-3)


@pytest.mark.parametrize(
    ("taken", "value", "far"),
    [
        ((), 1.6, False),
        ((1.62e-3, 1.63e-3), 1.64e-3, False),
        ((1.62e-3, 1.63e-3), 1.64, True),
        ((1.62e-3, 1.63e-3), -1.64e-3, True),
        ((-85.0, -86.0), -84.0, False),
        ((-85.0, -86.0), -8.4, True),
        ((-0.2, 0.3), 5.0, False),
        ((0.1, 0.9), 5.0, False),
    ],
)
def test_a_slip_is_far_from_values_that_are_near_each_other(study, tmp_path, taken, value, far):
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    for one in taken:
        study.take(one)
    assert study.is_far(value) is far


def test_a_plan_that_cannot_be_drawn_is_told(study, said, tmp_path):
    assert not study.begin(StudyPlan(parts=("1",), persons=("A",), trials=2), "x.csv")
    assert "must have two parts" in said[0].text
    assert study.sheet is None


def test_values_stay_where_their_file_cannot_be_written(qtbot, window, study, said, tmp_path):
    study.begin(PLAN, str(tmp_path / "no folder" / "study.csv"), 7)
    study.take(1.62e-3)
    settled(qtbot, window)
    assert "must be a file that can be written" in said[0].text
    assert "saved with the next one" in said[0].hint
    assert study.sheet.taken == 1


def test_values_that_do_not_vary_are_told_and_can_be_taken_back(qtbot, window, study, tmp_path):
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    for _ in range(4):
        study.take(1.62e-3)
    qtbot.waitUntil(lambda: bool(study.trouble), timeout=10_000)
    assert "the values must vary" in study.trouble
    assert study.found is None
    study.undo()
    study.take(1.63e-3)
    qtbot.waitUntil(lambda: study.found is not None, timeout=10_000)


def parts_of(qtbot, window, *names):
    window.session.open([str(sample_folder() / name) for name in names])
    qtbot.waitUntil(lambda: len(window.session.parts) == len(names), timeout=20_000)
    return window.session.parts


def test_captures_that_come_together_count_one_by_one(qtbot, window, study, said, tmp_path):
    first, second = parts_of(qtbot, window, "ga12_lot/0201.csv", "ga12_lot/0202.csv")
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    study.take_part(first)
    assert (study.is_waiting, study.can_undo) == (True, False)
    study.take(1.62e-3)
    study.take_part(second)
    assert "0202.csv came while another capture was measured" in said[0].text
    qtbot.waitUntil(lambda: not study.is_waiting, timeout=20_000)
    assert study.sheet.taken == 1


def test_a_capture_is_kept_as_that_part_by_that_person(qtbot, window, study, tmp_path):
    (part,) = parts_of(qtbot, window, "ga12_lot/0201.csv")
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    act = study.sheet.next
    study.take_part(part)
    settled(qtbot, window)
    with open_logbook(window.lots.recorder.address, create=False) as book:
        (row,) = book.search(Search())
    assert (row.serial, row.operator) == (act.part, act.person)


def test_a_capture_does_not_count_for_a_study_put_away_meanwhile(qtbot, window, study, tmp_path):
    (part,) = parts_of(qtbot, window, "ga12_lot/0201.csv")
    study.begin(PLAN, str(tmp_path / "study.csv"), 7)
    study.take_part(part)
    study.leave()
    settled(qtbot, window)
    assert (study.sheet, study.is_waiting) == (None, False)


def test_a_capture_for_a_study_of_nothing_named_is_refused(qtbot, window, study, said, tmp_path):
    (part,) = parts_of(qtbot, window, "ga12_lot/0201.csv")
    bare = StudyPlan(parts=("1", "2"), persons=("A",), trials=2)
    study.begin(bare, str(tmp_path / "study.csv"), 7)
    study.take_part(part)
    assert "does not say which quantity it is of" in said[0].text
    assert not study.is_waiting


def test_a_complete_study_that_is_opened_is_not_kept_again(qtbot, window, study, tmp_path):
    path = tmp_path / "study.csv"
    path.write_text(filled().text(), encoding="utf-8")
    study.open(str(path))
    qtbot.waitUntil(lambda: study.found is not None, timeout=20_000)
    settled(qtbot, window)
    assert not window.lots.recorder.may_exist
