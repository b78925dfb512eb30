"""No text is cut off and nothing lies over anything, on any page, at any size and scale."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QScrollArea, QWidget

from benchapp.gui.startpage import sample_paths
from benchapp.jobs import sample_folder
from tests.gui.clipping import clipped, overlapping

SIZES = ((960, 540), (1092, 614), (1280, 800), (1920, 1080))
REJECTED = str(sample_folder() / "ga12_lot" / "0209.csv")

_SCALED = """
import sys, tempfile
from pathlib import Path
from PySide6.QtCore import QDeadlineTimer, QLocale
from PySide6.QtWidgets import QApplication
from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.gui.tanksheet import EXAMPLE
from tests.gui.clipping import clipped, overlapping
QLocale.setDefault(QLocale.c())
application = QApplication([])
window = make_window(Memory(Path(tempfile.mkdtemp()) / "settings.ini"))
window.resize(int(sys.argv[1]), int(sys.argv[2]))
window.show()
window.session.open(sys.argv[3:])
deadline = QDeadlineTimer(60_000)
while not (window.session.result and window.session.is_settled) and not deadline.hasExpired():
    application.processEvents()
assert window.session.result is not None
window.sheet.fill({**EXAMPLE, "rated_dc": "630 V"})
window.page("marking").code.setText("0.1")
window.page("marking").code.textEdited.emit("0.1")
bad = []
for theme in ("light", "dark"):
    window.menu.wear(theme)
    for key in ("start", "nominal", "tank", "stress", "marking", "coil", "setup", "capture",
                "verdict"):
        window.go(key)
        for _ in range(20):
            application.processEvents()
        bad += [(theme, key, words) for words in clipped(window)]
        bad += [(theme, key, pair) for pair in overlapping(window)]
ratio = window.devicePixelRatio()
window.close()
print(ratio)
sys.exit(f"{bad}" if bad else 0)
"""


def test_the_finder_finds_a_label_that_is_too_narrow(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    label, button = QLabel("a long label", holder), QPushButton("a long button", holder)
    label.setGeometry(0, 0, 30, 20)
    button.setGeometry(0, 30, 30, 20)
    holder.show()
    assert clipped(holder) == ["a long label", "a long button"]
    label.resize(300, 20)
    button.resize(300, 30)
    assert clipped(holder) == []


def test_the_finder_finds_a_wrapped_text_that_is_too_low(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    label = QLabel("several words that need several lines in a narrow place", holder)
    label.setWordWrap(True)
    label.setGeometry(0, 0, 100, 16)
    holder.show()
    assert clipped(holder) == [label.text()]


def test_the_finder_finds_what_lies_over_each_other(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    first, second = QLabel("one", holder), QLabel("two", holder)
    first.setGeometry(0, 0, 50, 20)
    second.setGeometry(30, 0, 50, 20)
    holder.show()
    assert len(overlapping(holder)) == 1
    second.move(50, 0)
    assert overlapping(holder) == []


def test_the_finder_finds_a_page_wider_than_its_place(qtbot):
    area, sheet = QScrollArea(), QWidget()
    qtbot.addWidget(area)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    sheet.setObjectName("sheet")
    sheet.resize(500, 50)
    area.setWidget(sheet)
    holder = QWidget()
    qtbot.addWidget(holder)
    area.setParent(holder)
    area.resize(300, 100)
    holder.show()
    assert clipped(holder) == ["the right edge of sheet"]
    area.resize(600, 100)
    assert clipped(holder) == []


def test_what_is_hidden_is_not_looked_at(qtbot):
    holder = QWidget()
    qtbot.addWidget(holder)
    row = QHBoxLayout(holder)
    hidden = QLabel("hidden")
    row.addWidget(hidden)
    holder.show()
    hidden.hide()
    hidden.resize(1, 1)
    assert clipped(holder) == []


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_no_text_is_cut_off_at_any_size(qtbot, window, size):
    window.resize(*size)
    window.session.open([REJECTED, sample_paths()[1]])
    qtbot.waitUntil(
        lambda: window.session.result is not None and window.session.is_settled, timeout=20_000
    )
    for key in (
        "start",
        "nominal",
        "setup",
        "live",
        "capture",
        "verdict",
        "thresholds",
        "no_nominal",
        "no_capture",
    ):
        window.stack.setCurrentWidget(window.page(key))
        qtbot.waitUntil(lambda: (clipped(window), overlapping(window)) == ([], []))


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_the_complex_plane_and_the_guided_run_cut_no_text(qtbot, window, size):
    window.resize(*size)
    window.ahead.stop()
    window.session.open([str(sample_folder() / "ga12_series.s1p")])
    qtbot.waitUntil(
        lambda: window.session.result is not None and window.session.is_settled, timeout=20_000
    )
    window.guide.begin()
    window.go("capture")
    for key in ("impedance-plane", "reflection-plane"):
        window.page("capture").bar.choose(key)
        qtbot.waitUntil(lambda: (clipped(window), overlapping(window)) == ([], []))
    assert (window.width(), window.height()) == size


@pytest.mark.parametrize(
    ("factor", "width", "height"), [("2", "960", "540"), ("1.25", "1092", "614")]
)
def test_no_text_is_cut_off_on_scaled_screens(factor, width, height):
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "QT_SCALE_FACTOR": factor}
    done = subprocess.run(
        [sys.executable, "-c", _SCALED, width, height, *sample_paths()],
        env=environment,
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert float(done.stdout) == float(factor)
