"""The Capture page: what is done on it reaches the session, and what comes back is shown."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QPushButton

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS
from benchapp.errors import FitError
from benchapp.gui.capturepage import CapturePage
from benchapp.jobs import FitChoices
from tests.gui.factories import PORT, envelope, fit, judged, nominal, reading, sweep, transient
from tests.gui.hand import write
from tests.gui.stage import activate


@pytest.fixture
def page(qtbot, session, memory):
    made = CapturePage(session, memory)
    qtbot.addWidget(made)
    made.resize(1280, 700)
    activate(qtbot, made)
    return made


@pytest.fixture
def opened(qtbot, page, session, direct):
    """The page with a fitted capture."""
    session.use_nominal(nominal())
    show(session, direct, sweep(101))
    qtbot.wait(5)
    return page


def show(session, direct, *captures, **changes):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(*captures))
    answer(direct, **changes)


def answer(direct, **changes):
    task = direct.take("result")
    task.done(judged(task.job.capture, **changes))


def press(qtbot, button):
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def test_an_empty_page_is_quiet(page):
    assert page.parts.count() == 0
    assert not page.notice.isVisible() or page.results.rows == []


def test_results_warnings_and_conditions_are_shown(opened):
    assert opened.results.rows[0] == ("L", "1.6315 ± 0.0020 mH", "1.62 mH ±3 %")
    assert [row.line.level for row in opened.findings.rows] == ["warn", "note"]
    assert opened.stated.text() == "1 V · 23 °C"
    assert opened.parts.currentText() == "tank.csv"


def test_while_it_is_fitted_the_page_says_so(page, session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(101)))
    assert page.state.text() == "Fitting…"
    assert page.state.isVisible()
    assert not page.copier.isEnabled()
    assert page.plots.upper.measured.getData()[0].size == 101


def test_a_capture_that_cannot_be_fitted_says_why_and_what_to_do(page, session, direct):
    session.open(["tank.csv"])
    direct.take("read tank.csv").done(reading(sweep(3)))
    direct.take("result").failed(FitError("fit: must have 4 points (got 3).", hint="Sweep on."))
    assert page.state.text() == "fit: must have 4 points (got 3). Sweep on."
    assert page.results.rows == []


def test_a_result_without_warnings_says_so(page, session, direct):
    show(session, direct, sweep(11), findings=())
    assert page.quiet.isVisible()
    assert page.quiet.text() == "Nothing: no check has found anything to warn of."


def test_a_circuit_chosen_here_is_fitted(qtbot, opened, direct):
    box = opened.bar.circuits
    box.setFocus()
    qtbot.keyClick(box, Qt.Key.Key_End)
    assert direct.take("result").job.choices.circuit == box.currentData()
    assert opened.bar.undo.isEnabled()


def test_a_clicked_point_is_set_aside_and_undo_takes_it_back(qtbot, opened, session, direct):
    opened.plots.point_chosen.emit(17)
    assert session.part.choices.set_aside == (17,)
    answer(direct)
    press(qtbot, opened.bar.undo)
    assert session.part.choices == FitChoices()
    press(qtbot, opened.bar.redo)
    assert session.part.choices.set_aside == (17,)


def test_a_point_that_was_set_aside_is_hollow_at_once(opened, session):
    """Before the new fit comes: a person must see that the click has arrived."""
    opened.plots.point_chosen.emit(17)
    x, _ = opened.plots.upper.aside.getData()
    assert x == pytest.approx([session.part.capture.frequency[17]])


def test_a_dragged_band_shows_in_the_fields_and_the_other_way_round(qtbot, opened, session):
    opened.plots.band_chosen.emit((120e3, 140e3))
    assert (opened.edges.low.text(), opened.edges.high.text()) == ("120 kHz", "140 kHz")
    opened.edges.low.setFocus()
    opened.edges.low.selectAll()
    qtbot.keyClicks(opened.edges.low, "125k")
    qtbot.keyClick(opened.edges.low, Qt.Key.Key_Return)
    assert session.part.choices.band == pytest.approx((125e3, 140e3))
    assert opened.plots._regions[0].getRegion() == pytest.approx((125e3, 140e3))


def test_a_band_that_cannot_be_is_told_in_the_window(qtbot, opened, session):
    told = []
    session.told.connect(told.append)
    opened.edges.low.setFocus()
    qtbot.keyClicks(opened.edges.low, "fast")
    qtbot.keyClick(opened.edges.low, Qt.Key.Key_Return)
    assert told[-1].mark == "doubt"
    assert "got 'fast'" in told[-1].text
    assert session.part.choices.band is None


def test_another_view_is_kept_for_the_next_capture(qtbot, opened, memory, session, direct):
    opened.bar.views.setFocus()
    qtbot.keyClick(opened.bar.views, Qt.Key.Key_End)
    qtbot.keyClick(opened.bar.views, Qt.Key.Key_Up)
    assert memory.view == "capacitance-dissipation"
    assert opened.plots.upper.trace.name == "Cp"
    session.open(["b.csv"])
    direct.take("read b.csv").done(reading(sweep(51), source="b.csv"))
    assert opened.plots.upper.trace.name == "Cp"


def test_a_sweep_over_decades_opens_on_a_logarithmic_axis(page, session, direct):
    wide = np.geomspace(1e3, 6e5, 61)
    show(
        session,
        direct,
        Sweep(frequency=wide, impedance=6 + 2j * np.pi * wide * 1e-3),
        envelope=envelope(wide),
    )
    assert page.bar.log_x.isChecked()
    show(session, direct, sweep(21))
    assert not page.bar.log_x.isChecked()


def test_logarithmic_axes_are_a_press_away(qtbot, opened):
    press(qtbot, opened.bar.log_x)
    assert opened.plots.strip.base_axis.logMode
    press(qtbot, opened.bar.log_y)
    assert not opened.plots.upper.scale_axis.logMode


def test_choosing_a_warning_rings_its_points_in_the_plot(qtbot, opened, session):
    press(qtbot, opened.findings.rows[0].button)
    x, _ = opened.plots.upper.pointed.getData()
    assert x == pytest.approx(session.part.capture.frequency[[50, 51]])


def test_results_are_copied_from_here(qtbot, opened):
    press(qtbot, opened.copier)
    assert QGuiApplication.clipboard().text().startswith("L\t1.6315 ± 0.0020 mH\t1.62 mH ±3 %")


def test_another_of_several_captures_is_chosen_by_key(qtbot, page, session, direct):
    show(session, direct, sweep(11, label="sweep 1"), sweep(21, label="sweep 2"))
    assert [page.parts.itemText(at) for at in range(2)] == [
        "tank.csv (sweep 1)",
        "tank.csv (sweep 2)",
    ]
    page.parts.setFocus()
    qtbot.keyClick(page.parts, Qt.Key.Key_Down)
    assert session.position == 1
    assert page.plots.upper.measured.getData()[0].size == 21


def test_answers_about_an_open_file_are_kept_and_read(qtbot, page, session, direct):
    session.open(["through.s2p"])
    asking = reading(sweep(11), questions=(PORT,), source="through.s2p")
    direct.take("read through.s2p").done(asking)
    page.understood.fields["port"].setCurrentText("shunt-through")
    page.understood.answered.emit({"port": "shunt-through"})
    job = direct.take("read through.s2p").job
    assert (job.answers.port, job.remember) == ("shunt-through", True)


def test_what_was_read_is_seen_beside_the_rows_of_the_file(qtbot, page, session, direct):
    session.open(["through.s2p"])
    found = reading(sweep(11), source="through.s2p", sample=("# MHz S RI R 50",))
    direct.take("read through.s2p").done(found)
    page.understood.fold.click()
    (button,) = page.understood.findChildren(QPushButton)
    with qtbot.waitSignal(session.asked) as shown:
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    assert shown.args == [found]


@pytest.mark.parametrize(
    ("circuit", "shown"), [("tank", True), ("series-rlc", True), ("inductor", False)]
)
def test_the_caution_stands_beside_a_resonant_circuit_only(page, session, direct, circuit, shown):
    capture = sweep(11)
    names = CIRCUITS[circuit].elements
    values = [1.62e-3, 868e-12, 17.5] if len(names) == 3 else [1.62e-3, 17.5]
    found = fit(
        capture, circuit=circuit, elements=names, values=values, covariance=np.eye(len(names))
    )
    show(session, direct, capture, fit=found)
    assert page.notice.isVisible() == shown


def test_the_caution_defers_to_local_rules(page):
    said = page.notice.accessibleName()
    assert "many times the drive voltage" in said
    assert "workplace's rules" in said


def test_the_legend_names_what_can_be_seen_and_nothing_else(opened, session, direct):
    words = [sign.words for sign in opened.legend._signs]
    assert words == ["measured", "fitted", "allowed", "half power", "imaginary residual"]
    session.use_nominal(None)
    capture = session.part.capture
    answer(direct, envelope=None, fit=fit(capture, aside=(3,)))
    words = [sign.words for sign in opened.legend._signs]
    assert words == ["measured", "fitted", "set aside", "half power", "imaginary residual"]


def test_a_record_over_time_hides_what_makes_no_sense_for_it(page, session, direct):
    show(session, direct, transient())
    assert page.edges.isHidden()
    assert page.bar.log_x.isHidden()
    assert page.bar.view.key == "voltage"


def test_the_plots_have_two_thirds_of_the_page(opened):
    assert 0.6 < opened.plots.width() / opened.width() < 0.7


def test_every_control_is_reached_by_tab(qtbot, opened):
    """Tab from the first control comes back to it, and passes all that can be pressed."""
    opened.bar.views.setFocus()
    seen = []
    widget = opened.bar.views
    for _ in range(120):
        seen.append(widget)
        qtbot.keyClick(widget, Qt.Key.Key_Tab)
        widget = opened.focusWidget()
        if widget is opened.bar.views:
            break
    wanted = [
        opened.bar.log_x,
        opened.bar.log_y,
        opened.bar.circuits,
        opened.plots,
        opened.edges.low,
        opened.edges.high,
        opened.parts,
        opened.opener,
        opened.copier,
        opened.findings.rows[0].button,
        opened.understood.fold,
    ]
    assert [one for one in wanted if one not in seen] == []


def test_every_control_has_a_name_for_a_screen_reader(opened):
    from PySide6.QtWidgets import QAbstractButton, QComboBox, QLineEdit

    for kind in (QComboBox, QLineEdit):
        assert all(one.accessibleName() for one in opened.findChildren(kind))
    unnamed = [one for one in opened.findChildren(QAbstractButton) if not one.text()]
    assert unnamed == []
    assert opened.plots.accessibleName()
    assert "101 points used" in opened.plots.accessibleDescription()


def test_a_warning_accepted_here_is_kept_with_the_result(qtbot, opened, session, direct):
    row = opened.findings.rows[0]
    press(qtbot, row.accept)
    write(qtbot, row.form.name, "A. Brandt")
    write(qtbot, row.form.reason, "known for this part")
    job = direct.take("result").job
    (entry,) = job.examination.acknowledged
    assert (entry.check, entry.name) == (row.line.check, "A. Brandt")
    session.withdraw(entry.check)
    assert direct.take("result").job.examination.acknowledged == ()
