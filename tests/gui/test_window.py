"""The whole window with its real worker: journeys by mouse and key on the sample captures."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QMimeData, QPoint, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragMoveEvent, QDropEvent, QGuiApplication
from PySide6.QtWidgets import QApplication, QGraphicsView, QLineEdit

from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.gui.startpage import sample_paths
from benchapp.jobs import sample_folder
from benchapp.nominal import Outcome
from tests.gui.factories import PORT, reading
from tests.gui.hand import judged, opened, press
from tests.gui.stage import activate

CONTROL = Qt.KeyboardModifier.ControlModifier
SAMPLE, DESIGN = sample_paths()
REJECTED = str(sample_folder() / "ga12_lot" / "0209.csv")
COIL = str(sample_folder() / "ga12_coil.csv")


def page(window):
    return window.stack.currentWidget()


def drop(window, *paths, at=None):
    """Drop files on what lies at a place of the window, as the desktop would."""
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(path) for path in paths])
    where = QPoint(400, 300) if at is None else at
    target = window.childAt(where) or window
    while not target.acceptDrops():
        target = target.parentWidget()
    arguments = (Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, Qt.KeyboardModifier(0))
    enter = QDragEnterEvent(where, *arguments)
    QApplication.sendEvent(target, enter)
    move = QDragMoveEvent(where, *arguments)
    QApplication.sendEvent(target, move)
    release = QDropEvent(QPointF(where), *arguments)
    QApplication.sendEvent(target, release)
    return target, enter.isAccepted()


def test_a_first_start_shows_offers_and_no_station(window):
    assert page(window) is window.page("start")
    assert not any(button.isChecked() for button in window.line.buttons)


def test_the_sample_is_one_press_away_from_its_verdict(qtbot, window):
    press(qtbot, window.page("start").buttons[2])
    qtbot.waitUntil(lambda: judged(window), timeout=20_000)
    assert page(window) is window.page("capture")
    result = window.session.result
    assert result.verdict.outcome is Outcome.PASS
    rows = {name: value for name, value, _ in page(window).results.rows}
    assert rows["L"].startswith("1.631")
    assert rows["L"].endswith(" mH")
    assert window.line.buttons[3].state.word == "pass"
    assert result.envelope is not None


def test_a_rejected_part_is_seen_on_every_station(qtbot, window):
    opened(qtbot, window, REJECTED, DESIGN)
    assert window.line.buttons[3].state.word == "fail"
    qtbot.keyClick(window, Qt.Key.Key_4, CONTROL)
    assert window.page("verdict").banner.word == "Fail"
    assert "outside its limit" in window.page("verdict").sentence.text()


def test_stations_without_their_subject_say_how_to_get_it(qtbot, window):
    for number, key in enumerate(("no_nominal", "setup", "no_capture", "verdict")):
        press(qtbot, window.line.buttons[number])
        assert page(window) is window.page(key)


def test_a_page_appears_as_soon_as_its_subject_does(qtbot, window):
    press(qtbot, window.line.buttons[2])
    opened(qtbot, window, SAMPLE)
    assert page(window) is window.page("capture")
    qtbot.keyClick(window, Qt.Key.Key_W, CONTROL)
    assert page(window) is window.page("start")


def test_a_design_alone_opens_on_its_own_page(qtbot, window):
    window.session.open([DESIGN])
    qtbot.waitUntil(lambda: window.session.nominal is not None)
    assert page(window) is window.page("nominal")


def test_who_watches_the_verdicts_stays_there_when_the_next_file_comes(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.go("verdict")
    opened(qtbot, window, REJECTED)
    qtbot.waitUntil(lambda: window.page("verdict").banner.word == "Fail")
    assert page(window) is window.page("verdict")


def test_files_dropped_anywhere_are_opened(qtbot, window):
    target, accepted = drop(window, SAMPLE, DESIGN)
    assert accepted
    assert target is window
    qtbot.waitUntil(lambda: window.session.nominal is not None and judged(window), timeout=20_000)


@pytest.mark.parametrize("key", ["nominal", "capture"])
def test_a_drop_on_a_plot_or_a_field_is_a_drop_on_the_window(qtbot, window, key):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.go(key)
    inside = window.page(key).findChildren(QLineEdit) + window.page(key).findChildren(
        QGraphicsView
    )
    assert inside
    for widget in inside:
        assert not widget.acceptDrops()
    plot = next(one for one in inside if isinstance(one, QGraphicsView))
    target, accepted = drop(window, COIL, at=plot.mapTo(window, plot.rect().center()))
    assert target is window
    assert accepted
    qtbot.waitUntil(lambda: window.session.part.path == COIL and judged(window), timeout=20_000)


def test_what_is_no_file_is_not_taken(window):
    mime = QMimeData()
    mime.setText("1.62 mH")
    enter = QDragEnterEvent(
        QPoint(5, 5),
        Qt.DropAction.CopyAction,
        mime,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier(0),
    )
    enter.ignore()
    QApplication.sendEvent(window, enter)
    assert not enter.isAccepted()


def test_a_wrong_file_is_told_in_the_window_and_nothing_is_lost(qtbot, window, tmp_path):
    opened(qtbot, window, SAMPLE, DESIGN)
    result = window.session.result
    bad = tmp_path / "holiday.csv"
    bad.write_text("Dear diary,\nno numbers today.\n", encoding="utf-8")
    drop(window, str(bad))
    qtbot.waitUntil(window.message.isVisible)
    assert window.message.words.text().startswith("holiday.csv: ")
    assert window.message.hint.text()
    assert str(tmp_path) not in window.message.words.text()
    assert window.session.result is result
    press(qtbot, window.message.closer)
    assert not window.message.isVisible()


@pytest.mark.parametrize("name", ["gone.csv", "gone.toml"])
def test_a_file_that_is_gone_is_told_too(qtbot, window, tmp_path, name):
    window.session.open([str(tmp_path / name)])
    qtbot.waitUntil(window.message.isVisible)
    assert name in window.message.words.text()


def test_a_design_with_a_slip_is_told_with_its_line(qtbot, window, tmp_path):
    bad = tmp_path / "design.toml"
    bad.write_text('title = "x"\n[limits.L]\nnominal = 5\n', encoding="utf-8")
    window.session.open([str(bad)])
    qtbot.waitUntil(window.message.isVisible)
    assert "line 3" in window.message.words.text()


def test_points_circuit_and_undo_work_on_real_data(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    view = window.page("capture")
    view.plots.setFocus()
    qtbot.keyClick(view.plots, Qt.Key.Key_Home)
    qtbot.keyClick(view.plots, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: judged(window))
    assert window.session.result.fit.set_aside == (0,)
    qtbot.keyClick(window, Qt.Key.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: judged(window))
    assert window.session.result.fit.set_aside == ()
    view.bar.circuits.setCurrentIndex(view.bar.circuits.findData("inductor"))
    qtbot.waitUntil(lambda: judged(window))
    assert window.session.result.fit.circuit == "inductor"
    qtbot.keyClick(window, Qt.Key.Key_Z, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    qtbot.keyClick(window, Qt.Key.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: judged(window))
    assert window.session.result.fit.circuit == "tank"


def test_a_band_dragged_out_with_the_mouse_is_fitted(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    plots = window.page("capture").plots
    qtbot.wait(30)
    area = plots.lower.area.sceneBoundingRect()
    start, end = (
        plots.mapFromScene(QPointF(area.left() + part * area.width(), area.center().y()))
        for part in (0.3, 0.7)
    )
    view = plots.viewport()
    qtbot.mousePress(view, Qt.MouseButton.LeftButton, pos=start)
    for step in range(1, 7):
        qtbot.mouseMove(view, start + (end - start) * step / 6)
        qtbot.wait(2)
    qtbot.mouseRelease(view, Qt.MouseButton.LeftButton, pos=end)
    qtbot.waitUntil(lambda: window.session.part.choices.band is not None and judged(window))
    low, high = window.session.part.choices.band
    used = window.session.result.fit.used
    frequency = window.session.part.capture.frequency
    assert (used == ((frequency >= low) & (frequency <= high))).all()
    assert 0.3 < used.mean() < 0.5


def test_a_changed_limit_is_judged_at_once(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.go("nominal")
    field = window.page("nominal").rows.fields["ESR", 0, "upper"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "10 ohm")
    qtbot.keyClick(field, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: judged(window))
    assert window.line.buttons[3].state.word == "fail"


def test_a_result_that_arrives_leaves_the_keyboard_where_it_was(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.go("nominal")
    window.activateWindow()
    fields = window.page("nominal").rows.fields
    field = fields["ESR", 0, "upper"]
    field.setFocus()
    field.selectAll()
    qtbot.keyClicks(field, "30 ohm")
    qtbot.keyClick(field, Qt.Key.Key_Tab)
    qtbot.waitUntil(lambda: judged(window))
    assert window.focusWidget() is window.page("nominal").rows.fields["ESR", 0, "at"]


def test_the_window_comes_back_where_it_was(qtbot, memory, tmp_path):
    first = make_window(memory)
    first.resize(790, 555)
    activate(qtbot, first)
    first.close()
    second = make_window(Memory(tmp_path / "settings.ini"))
    qtbot.addWidget(second)
    assert (second.width(), second.height()) == (790, 555)
    second.close()


def test_full_screen_leaves_the_verdict_alone_and_escape_brings_all_back(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)
    window.go("verdict")
    qtbot.keyClick(window, Qt.Key.Key_F11)
    assert window.isFullScreen()
    assert not window.line.isVisible()
    assert not window.foot.isVisible()
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    assert not window.isFullScreen()
    assert window.line.isVisible()
    qtbot.keyClick(window, Qt.Key.Key_Escape)
    assert window.line.isVisible()


def test_space_walks_through_the_parts_in_full_screen(qtbot, window):
    lot = sorted(str(path) for path in (sample_folder() / "ga12_lot").glob("*.csv"))[:3]
    window.session.open([DESIGN, *lot])
    qtbot.waitUntil(lambda: len(window.session.parts) == 3 and judged(window), timeout=20_000)
    window.session.choose_part(0)
    window.go("verdict")
    qtbot.keyClick(window, Qt.Key.Key_F11)
    for position in (1, 2, 2):
        qtbot.keyClick(page(window), Qt.Key.Key_Space)
        assert window.session.position == position
    qtbot.waitUntil(lambda: judged(window))
    qtbot.keyClick(window, Qt.Key.Key_F11)


def test_the_page_is_copied_as_a_picture(qtbot, window):
    opened(qtbot, window, SAMPLE)
    shift = Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(window, Qt.Key.Key_C, CONTROL | shift)
    picture = QGuiApplication.clipboard().image()
    assert picture.width() >= window.stack.width()
    assert window.message.words.text() == "The page is on the clipboard."


def test_a_file_is_asked_about_once_and_remembered_for_its_like(qtbot, window, tmp_path):
    rows = "1000,5,6\n2000,6,7\n3000,7,9\n4000,8,12\n"
    for name in ("first.csv", "second.csv"):
        (tmp_path / name).write_text(rows, encoding="ascii")
    window.session.open([str(tmp_path / "first.csv")])
    ask = window.page("ask")
    qtbot.waitUntil(lambda: page(window) is ask and "columns" in ask.fields)
    assert not ask.use.isEnabled()
    qtbot.waitUntil(ask.use.isEnabled)  # what is proposed is tried, and used only on request
    assert window.session.parts == ()
    ask.fields["columns"].selectAll()
    qtbot.keyClicks(ask.fields["columns"], "f/kHz, R, X")
    qtbot.waitUntil(lambda: ask.values.horizontalHeaderItem(0).text() == "frequency, MHz")
    assert [ask.values.item(row, 2).text() for row in range(4)] == ["6", "7", "9", "12"]
    press(qtbot, ask.use)
    qtbot.waitUntil(lambda: len(window.session.parts) == 1)
    window.session.open([str(tmp_path / "second.csv")])
    qtbot.waitUntil(lambda: len(window.session.parts) == 2)
    assert window.message.words.text().startswith("second.csv: earlier answers: columns = f/kHz")
    qtbot.waitUntil(lambda: judged(window))


def test_a_file_that_was_never_answered_for_is_asked_about(window):
    window.session.asked.emit(reading(questions=(PORT,), source="/a/first.s2p"))
    assert page(window) is window.page("ask")
    assert not any(button.isChecked() for button in window.line.buttons)


def test_work_that_takes_long_shows_and_can_be_cancelled(qtbot, window):

    def job(progress, cancelled):
        progress("sweeping", 0.5)
        while not cancelled():
            time.sleep(0.005)

    window._worker.submit("slow", job, lambda _result: None)
    qtbot.waitUntil(lambda: window.foot.doing.text() == "sweeping")
    assert window.foot.bar.value() == 50
    press(qtbot, window.foot.canceller)
    assert not window.foot.canceller.isVisible()


def test_the_window_never_waits_for_the_work(qtbot, window):
    """While a fit runs the window answers; a tick that comes late would show a blocked thread."""
    gaps, last = [], time.perf_counter()

    def tick():
        nonlocal last
        now = time.perf_counter()
        gaps.append(now - last)
        last = now

    timer = QTimer(interval=5)
    timer.timeout.connect(tick)
    timer.start()
    window._worker.submit("slow", lambda _p, _c: time.sleep(0.3), lambda _result: None)
    qtbot.waitUntil(lambda: not window._worker.is_busy)
    timer.stop()
    assert len(gaps) > 10


def test_nothing_is_modal(qtbot, window, tmp_path):
    opened(qtbot, window, SAMPLE, DESIGN)
    (tmp_path / "empty.csv").touch()
    window.session.open([str(tmp_path / "empty.csv")])
    qtbot.waitUntil(window.message.isVisible)
    assert QApplication.activeModalWidget() is None
    assert QApplication.activePopupWidget() is None


@pytest.mark.parametrize("size", [(960, 500), (1092, 590), (1280, 800), (1920, 1080)])
def test_every_page_fits_its_window(qtbot, window, size):
    """No page needs to be wider than the window: nothing is cut off at the right."""
    opened(qtbot, window, REJECTED, DESIGN)
    window.resize(*size)
    for key in ("start", "nominal", "capture", "verdict"):
        window.go(key)
        qtbot.wait(5)
        assert (window.width(), window.height()) == size
        assert page(window).minimumSizeHint().width() <= size[0], key
        assert all(field.width() >= 50 for field in page(window).findChildren(QLineEdit))


def test_closing_ends_the_work_and_keeps_the_settings(qtbot, memory):
    made = make_window(memory)
    made.show()
    thread = made._worker._thread
    made.close()
    assert not thread.is_alive()
    assert not memory.geometry.isEmpty()


def test_the_window_holds_no_more_widgets_after_thirty_results(qtbot, window):
    opened(qtbot, window, SAMPLE, DESIGN)

    def widgets():
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        return len(QApplication.allWidgets())

    view = window.page("capture")
    view._show_result()
    before = widgets()
    for _ in range(30):
        view._show_result()
    assert widgets() <= before


def test_sweeps_of_other_shapes_follow_each_other_without_a_trace(qtbot, window):
    ring = str(sample_folder() / "ga12_ring_down.csv")
    for path in (SAMPLE, ring, COIL, ring, SAMPLE):
        window.session.open([path])
        qtbot.waitUntil(
            lambda path=path: (
                window.session.part is not None
                and window.session.part.path == path
                and window.session.is_settled
            ),
            timeout=20_000,
        )
        qtbot.wait(10)
    assert window.page("capture").plots.lower.isVisible()


def test_a_very_long_name_does_not_widen_the_window(qtbot, window, tmp_path):
    long = tmp_path / ("part_" * 40 + ".csv")
    long.write_bytes(Path(SAMPLE).read_bytes())
    opened(qtbot, window, str(long), DESIGN)
    window.session.open([str(tmp_path / ("gone_" * 40 + ".csv"))])
    qtbot.waitUntil(window.message.isVisible)
    for key in ("capture", "verdict", "nominal"):
        window.go(key)
        qtbot.wait(5)
        assert window.minimumSizeHint().width() <= 960, key
