"""The plots of a gauge study show every value where it belongs, in the colours of the theme."""

from __future__ import annotations

import numpy as np
import pytest
from pyqtgraph import functions as fn
from PySide6.QtWidgets import QWidget

from benchapp.gui import theme
from benchapp.gui.studyplots import COLOURS, SYMBOLS, PartPlot, PersonPlot
from benchapp.lot import StudyTable
from tests.gui.studies import analysed

TABLE = analysed().table


BOTH = pytest.mark.parametrize("kind", [PartPlot, PersonPlot])


def drawn(qtbot, kind, table=TABLE):
    """Give a plot of a study, in a holder as on its page."""
    holder = QWidget()
    qtbot.addWidget(holder)
    made = kind(holder)
    made.holder = holder
    made.show_study(table)
    return made


def test_every_value_stands_over_its_part(qtbot):
    plot = drawn(qtbot, PartPlot)
    for person, item in enumerate(plot.dots):
        x, y = item.getData()
        assert np.array_equal(np.round(x).reshape(10, 3)[:, 0], np.arange(1, 11))
        assert np.array_equal(y.reshape(10, 3), TABLE.values[:, person, :])
    assert plot.level.value() == pytest.approx(TABLE.values.mean())
    assert plot.means.getData()[1] == pytest.approx(TABLE.values.mean(axis=(1, 2)))


def test_persons_are_shown_by_what_they_measure_above_the_mean_of_the_part(qtbot):
    plot = drawn(qtbot, PersonPlot)
    off = TABLE.values - TABLE.values.mean(axis=(1, 2), keepdims=True)
    for person, item in enumerate(plot.dots):
        x, y = item.getData()
        assert set(np.round(x)) == {person + 1}
        assert np.array_equal(y.reshape(10, 3), off[:, person, :])
    assert plot.level.value() == 0
    assert plot.means.getData()[1] == pytest.approx(off.mean(axis=(0, 2)))


@BOTH
def test_all_values_lie_inside_the_axes(qtbot, kind):
    plot = drawn(qtbot, kind)
    (left, right), (low, high) = plot.plotItem.vb.viewRange()
    for item in plot.dots:
        x, y = item.getData()
        assert left < x.min() < x.max() < right
        assert low < y.min() < y.max() < high


@BOTH
def test_no_two_persons_share_sign_or_colour(qtbot, kind):
    plot = drawn(qtbot, kind)
    signs = [item.opts["symbol"] for item in plot.dots]
    colours = [fn.mkBrush(item.opts["symbolBrush"]).color().name() for item in plot.dots]
    assert signs == list(SYMBOLS[:3])
    assert len(set(colours)) == 3
    assert len(set(COLOURS)) == len(set(SYMBOLS)) == 6


@BOTH
def test_another_study_takes_the_place_of_the_first(qtbot, kind):
    plot = drawn(qtbot, kind)
    plot.show_study(analysed(parts=3, persons="AB", trials=2).table)
    assert len(plot.dots) == 2
    assert sum(item.getData()[0].size for item in plot.dots) == 12


@BOTH
def test_colours_follow_the_theme(qtbot, qapp, kind):
    plot = drawn(qtbot, kind)
    before = plot.dots[0].opts["symbolBrush"]
    theme.apply(qapp, theme.DARK)
    qtbot.waitUntil(
        lambda: fn.mkBrush(plot.dots[0].opts["symbolBrush"]).color() == theme.DARK.color("fit")
    )
    assert plot.dots[0].opts["symbolBrush"] != before
    assert fn.mkBrush(plot.means.opts["symbolBrush"]).color() == theme.DARK.color("ink")
    theme.apply(qapp, theme.LIGHT)


@pytest.mark.parametrize("width", [260, 400, 900])
def test_as_many_parts_are_named_as_there_is_room_for(qtbot, width):
    names = tuple(f"serial {at:06d}" for at in range(40))
    values = np.random.default_rng(1).normal(size=(40, 1, 2))
    many = StudyTable(parts=names, persons=("A",), values=values, unit="")
    plot = drawn(qtbot, PartPlot, many)
    plot.holder.show()
    plot.resize(width, 200)
    (ticks,) = plot.base._tickLevels
    step = (width - 110) / 40 * (ticks[1][0] - ticks[0][0]) if len(ticks) > 1 else width
    assert step >= max(plot.fontMetrics().horizontalAdvance(words) for _, words in ticks)
    assert all(len(words) <= 12 for _, words in ticks)


def test_few_parts_are_all_named(qtbot):
    plot = drawn(qtbot, PartPlot)
    plot.holder.show()
    plot.resize(600, 200)
    assert [words for _, words in plot.base._tickLevels[0]] == list(TABLE.parts)
