"""Longer ways through the window: every sample, many choices at once, a long day."""

from __future__ import annotations

import gc
import random
import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtWidgets import QApplication

from benchapp.gui.session import Session
from benchapp.gui.startpage import sample_paths
from benchapp.jobs import FitChoices, sample_folder
from benchapp.nominal import Outcome
from tests.gui.factories import DirectWorker, judged, nominal, reading, sweep

SAMPLE, DESIGN = sample_paths()
CAPTURES = sorted(
    path.with_suffix("")
    for path in sample_folder().glob("*.*.toml")
    if path.with_suffix("").is_file()
)
SWEEPS = [
    path
    for path in CAPTURES
    if tomllib.loads(Path(f"{path}.toml").read_text(encoding="utf-8"))["read"]["kind"] == "sweep"
]


def opened(qtbot, window, *paths):
    window.session.open(paths)
    qtbot.waitUntil(
        lambda: (
            window.session.part is not None
            and window.session.part.path == paths[-1]
            and window.session.is_settled
            and not window._worker.is_busy
        ),
        timeout=30_000,
    )


def test_there_are_samples_of_several_kinds():
    assert len(CAPTURES) >= 5
    assert len(SWEEPS) >= 4


@pytest.mark.parametrize("path", CAPTURES, ids=lambda path: path.name)
def test_every_sample_opens_and_is_drawn(qtbot, window, path):
    """What the note beside the sample says must be read is what the window shows."""
    note = tomllib.loads(Path(f"{path}.toml").read_text(encoding="utf-8"))
    opened(qtbot, window, str(path))
    part = window.session.part
    assert type(part.capture).__name__.lower() == note["read"]["kind"]
    points = part.capture.time if note["read"]["kind"] == "transient" else part.capture.frequency
    assert points.size == note["read"]["points"] - note["read"]["set_aside"]
    assert window.session.result is not None, part.error
    page = window.page("capture")
    assert window.stack.currentWidget() is page
    drawn = sum(
        item.getData()[0].size
        for item in (page.plots.upper.measured, page.plots.upper.aside, page.plots.upper.outside)
        if item.getData()[0] is not None
    )
    assert drawn == points.size
    assert f"{points.size} points" in window.line.buttons[2].state.line


@pytest.mark.parametrize("path", SWEEPS, ids=lambda path: path.name)
def test_results_on_screen_are_those_of_the_sample(qtbot, window, path):
    note = tomllib.loads(Path(f"{path}.toml").read_text(encoding="utf-8"))
    opened(qtbot, window, str(path))
    found = window.session.result.fit.estimates
    for name, share in note["fit"]["within"].items():
        assert found[name].value == pytest.approx(note["true"][name], rel=share), name
    shown = {name for name, _, _ in window.page("capture").results.rows}
    assert set(note["fit"]["within"]) <= shown


def test_an_unknown_coil_from_a_file_of_another_country(qtbot, window):
    """From the file to the answer without a design: open, look, copy one number."""
    german = str(sample_folder() / "ga12_tank_german.csv")
    opened(qtbot, window, german)
    page = window.page("capture")
    page.understood.fold.click()
    assert "cp1252" in "".join(
        label.text() for label in page.understood.findChildren(type(page.stated))
    )
    page.copier.click()
    copied = QApplication.clipboard().text()
    assert copied.splitlines()[0].startswith("L\t1.63")
    qtbot.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    assert window.page("verdict").banner.word == "Not judged"


def test_a_lot_of_parts_is_walked_through_by_space(qtbot, window):
    lot = sorted(str(path) for path in (sample_folder() / "ga12_lot").glob("*.csv"))
    window.session.open([DESIGN, *lot])
    qtbot.waitUntil(
        lambda: len(window.session.parts) == len(lot) and not window._worker.is_busy,
        timeout=60_000,
    )
    window.session.choose_part(0)
    window.go("verdict")
    outcomes = []
    for position in range(len(lot)):
        qtbot.waitUntil(lambda: window.session.result is not None and window.session.is_settled)
        assert window.session.position == position
        outcomes.append(window.session.result.verdict.outcome)
        qtbot.keyClick(window.stack.currentWidget(), Qt.Key.Key_Space)
    assert outcomes.count(Outcome.PASS) == len(lot) - 1
    assert Outcome.FAIL in outcomes


def test_many_choices_at_once_end_with_the_last_one(qtbot, window):
    """Sixty clicks faster than the fit: what is shown belongs to what was chosen last."""
    opened(qtbot, window, DESIGN, SAMPLE)
    order = random.Random(5)
    session = window.session
    for _ in range(60):
        act = order.choice(("toggle", "band", "circuit", "undo", "redo"))
        if act == "toggle":
            session.toggle_points([order.randrange(401)])
        elif act == "band":
            low = order.uniform(115e3, 125e3)
            session.restrict((low, low + 25e3))
        elif act == "circuit":
            session.choose_circuit(order.choice(("auto", "tank", "inductor")))
        else:
            getattr(session, act)()
    qtbot.waitUntil(lambda: session.is_settled and not window._worker.is_busy, timeout=20_000)
    choices, fit = session.part.choices, session.result.fit
    frequency = session.part.capture.frequency
    aside = np.zeros(401, dtype=bool)
    aside[list(choices.set_aside)] = True
    if choices.band is not None:
        aside |= (frequency < choices.band[0]) | (frequency > choices.band[1])
    assert not fit.used[aside].any()
    assert fit.circuit == (choices.circuit if choices.circuit != "auto" else "tank")


def test_a_long_day_leaves_no_widgets_and_no_parts_behind(qtbot, window):
    window.ahead.stop()  # pages that are made meanwhile are no leftovers
    lot = sorted(str(path) for path in (sample_folder() / "ga12_lot").glob("*.csv"))[:2]

    def left():
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        gc.collect()
        return len(QApplication.allWidgets()), len(window.session.parts)

    opened(qtbot, window, DESIGN, lot[0])
    window.go("verdict")
    window.session.close_part()
    before = left()
    for turn in range(12):
        opened(qtbot, window, lot[turn % 2])
        window.session.close_part()
    assert left() == before


class Choices(RuleBasedStateMachine):
    """Undo and redo of a session against a plain list of what was chosen."""

    def __init__(self):
        super().__init__()
        self.worker = DirectWorker()
        self.session = Session(self.worker)
        self.session.open(["tank.csv"])
        self.worker.take("read tank.csv").done(reading(sweep(11)))
        self.past, self.future = [FitChoices()], []

    def _chose(self, **changes):
        from dataclasses import replace

        wanted = replace(self.past[-1], **changes)
        if wanted != self.past[-1]:
            self.past.append(wanted)
            self.future.clear()

    @rule(name=st.sampled_from(["auto", "tank", "coil"]))
    def circuit(self, name):
        self.session.choose_circuit(name)
        self._chose(circuit=name)

    @rule(band=st.sampled_from([None, (120e3, 130e3), (125e3, 150e3)]))
    def band(self, band):
        self.session.restrict(band)
        self._chose(band=band)

    @rule(points=st.sets(st.integers(0, 10), min_size=1, max_size=3))
    def toggle(self, points):
        self.session.toggle_points(points)
        self._chose(set_aside=tuple(sorted(set(self.past[-1].set_aside) ^ points)))

    @rule()
    def undo(self):
        self.session.undo()
        if len(self.past) > 1:
            self.future.append(self.past.pop())

    @rule()
    def redo(self):
        self.session.redo()
        if self.future:
            self.past.append(self.future.pop())

    @precondition(lambda self: self.worker.tasks)
    @rule()
    def answer(self):
        task = self.worker.take("result")
        assert task.job.choices == self.past[-1]
        task.done(judged(task.job.capture, nominal=nominal()))
        assert self.session.is_settled

    @invariant()
    def holds_what_was_chosen(self):
        assert self.session.part.choices == self.past[-1]
        assert self.session.can_undo == (len(self.past) > 1)
        assert self.session.can_redo == bool(self.future)

    def teardown(self):
        self.session._patience.stop()


TestChoices = pytest.mark.usefixtures("qapp")(Choices.TestCase)
TestChoices.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)
