from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from benchapp.lot import individuals
from benchapp.report.curves import chart_plot, fit_plot, histogram_plot, overlay_plot
from benchapp.report.plot import scene_of
from tests.report.samples import subject


def traces(plot, panel=0):
    return {trace.name: trace for trace in plot.panels[panel].traces}


def test_a_sweep_is_shown_with_fit_envelope_phase_and_residuals():
    part = subject()
    plot = fit_plot(part.capture, part.fit, part.envelope)
    assert [panel.label for panel in plot.panels] == ["|Z|", "θ", "residual / u"]
    shown = traces(plot)
    np.testing.assert_allclose(10 ** shown["measured"].y, np.abs(part.capture.impedance))
    np.testing.assert_allclose(10 ** shown["fit"].y, np.abs(part.fit.fitted))
    assert np.all(shown["tolerance envelope"].y >= shown["tolerance envelope"].low)


def test_points_not_used_are_rings_beside_the_others():
    part = subject()
    used = part.fit.used.copy()
    used[:3] = False
    shown = traces(fit_plot(part.capture, replace(part.fit, used=used)))
    assert shown["not used"].x.size == 3
    assert shown["measured"].x.size == used.size - 3


@pytest.mark.parametrize("name", ["ga12_ring_down.csv", "ga12_series.s1p"])
def test_other_captures_are_shown_as_what_they_are(name):
    part = subject(name)
    plot = fit_plot(part.capture, part.fit)
    assert plot.panels[-1].label == "residual / u"
    assert all(np.isfinite(t.y).all() for panel in plot.panels for t in panel.traces)


def test_an_overlay_draws_the_odd_ones_last():
    sweep = subject().capture
    plot = overlay_plot([sweep, sweep, sweep], subject().envelope, frozenset({0}))
    band, *lines = plot.panels[0].traces
    assert band.kind == "band"
    colours = [trace.colour for trace in lines]
    assert len(colours) == 5
    assert colours[2] != colours[1] == colours[0]
    np.testing.assert_array_equal(lines[3].y, band.y)  # the edges of the envelope stay in sight
    np.testing.assert_array_equal(lines[4].y, band.low)


@pytest.mark.parametrize(
    ("most", "places"), [(1, ["0", "1"]), (7, ["0", "2", "4", "6"]), (73, ["0", "20", "40", "60"])]
)
def test_counts_of_parts_stand_at_round_numbers(most, places):
    edges, counts = np.array([1.0, 2.0]), np.array([most])
    plot = histogram_plot("L", "H", edges, counts, (None, None))
    assert [text for _, text in plot.panels[0].axis.ticks] == places


def test_a_control_chart_counts_its_parts_from_one_at_round_places():
    charts = individuals(np.linspace(1, 2, 500) % 0.3)
    plot = chart_plot("L", "H", charts.location, charts.spread)
    texts = [text for _, text in plot.axis.ticks]
    assert texts == ["1", *(str(at) for at in range(50, 501, 50))]


def test_a_histogram_reaches_to_its_limits_and_counts_every_part():
    edges, counts = np.array([1.0, 2.0, 3.0]), np.array([4, 6])
    plot = histogram_plot("L", "H", edges, counts, (0.5, None))
    assert plot.axis.low < 0.5
    assert plot.panels[0].along == (0.5,)
    assert plot.panels[0].traces[0].y.sum() == 10


def test_a_control_chart_rings_the_points_that_complete_a_signal():
    values = np.concatenate([np.tile([1.0, 1.1], 20), [5.0]])
    charts = individuals(values)
    plot = chart_plot("L", "H", charts.location, charts.spread)
    rings = [trace for trace in plot.panels[0].traces if trace.kind == "rings"]
    assert 41.0 in rings[0].x
    assert plot.panels[0].across == (charts.location.lower, charts.location.upper)
    assert scene_of(plot).marks
