"""The rule of 100 over frequency, drawn."""

from __future__ import annotations

import numpy as np

from benchapp.fixture import RULE, Validity
from benchapp.gui.ratioplot import RatioPlot


def test_the_ratio_plot_leaves_out_what_was_not_read(qtbot):
    plot = RatioPlot()
    qtbot.addWidget(plot)
    f = np.array([1e3, 2e3])
    plot.show_rule(
        Validity(frequency=f, open_ratio=f, short_ratio=None, valid=np.array([True, True]))
    )
    assert plot.opened.getData()[0].size == 2
    assert plot.shorted.getData()[0] is None


def test_the_line_stands_at_the_rule(qtbot):
    plot = RatioPlot()
    qtbot.addWidget(plot)
    assert 10 ** plot.rule.value() == RULE
