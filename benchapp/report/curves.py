"""The plots of the trade: a capture with its fit, a lot overlaid, a histogram, a control chart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from benchapp.capture import Capture, Sweep, Transient
from benchapp.fit import Fit
from benchapp.lot import Chart
from benchapp.nominal import Envelope
from benchapp.report.axis import Axis, linear_axis, log_axis
from benchapp.report.plot import Panel, Plot, Trace
from benchapp.report.scene import FAINT, FITTED, INK, LIMIT, MUTED, WARNING

__all__ = ["chart_plot", "fit_plot", "histogram_plot", "overlay_plot"]

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

_ROUND = tuple(k * 10**decade for decade in range(10) for k in (1, 2, 5))
_TINY = float(np.finfo(np.float64).tiny)
_ENVELOPE_SPAN = 30.0  # an envelope open to infinity does not flatten the curve


def fit_plot(capture: Capture, fit: Fit, band: Envelope | None = None) -> Plot:
    """Plot a capture with its fit, its envelope and its residuals.

    Parameters
    ----------
    capture : Capture
    fit : Fit
    band : Envelope, optional
        At the frequencies of the capture.
    """
    x, axis, label = _across(capture)
    panels = [*_measured(capture, fit, x, band), _residuals(fit, x)]
    words = (
        f"{capture.origin.part or 'capture'}: {x.size} points, circuit {fit.circuit}, "
        f"{'described' if fit.describes else 'not described'} by the fit"
    )
    return Plot(axis=axis, label=label, panels=tuple(panels), words=words)


def _across(capture: Capture) -> tuple[FloatArray, Axis, str]:
    if isinstance(capture, Transient):
        time = capture.time
        return time, linear_axis(float(time[0]), float(time[-1]), "s", most=8), "time"
    return _frequencies(capture.frequency)


def _frequencies(frequency: FloatArray) -> tuple[FloatArray, Axis, str]:
    low, high = float(frequency[0]), float(frequency[-1])
    if high > 10 * low:
        return np.log10(frequency), log_axis(low, high, "Hz", most=8), "frequency"
    return frequency, linear_axis(low, high, "Hz", most=7), "frequency"


def _measured(
    capture: Capture, fit: Fit, x: FloatArray, band: Envelope | None
) -> tuple[Panel, ...]:
    if isinstance(capture, Transient):
        traces = _pair(x, capture.voltage, fit.fitted.real, fit.used)
        axis = _linear(capture.voltage, fit.fitted.real, unit="V")
        return (Panel(label="voltage", axis=axis, traces=traces, weight=4.0),)
    values = capture.impedance if isinstance(capture, Sweep) else capture.ratio
    unit, name = ("ohm", "|Z|") if isinstance(capture, Sweep) else ("1", "magnitude")
    size, model = (np.maximum(np.abs(each), _TINY) for each in (values, fit.fitted))
    low, high = min(size.min(), model.min()), max(size.max(), model.max())
    traces = _pair(x, np.log10(size), np.log10(model), fit.used)
    if band is not None:
        floor, roof = low / _ENVELOPE_SPAN, high * _ENVELOPE_SPAN
        outer = np.log10(np.clip(band.magnitude_high, floor, roof))
        inner = np.log10(np.clip(band.magnitude_low, floor, roof))
        traces = (_envelope(x, outer, inner), *traces)
        low, high = 10 ** float(inner.min()), 10 ** float(outer.max())
    axis = log_axis(float(low) / 1.1, float(high) * 1.1, unit)
    panels = (Panel(label=name, axis=axis, traces=traces, weight=4.0),)
    if not isinstance(capture, Sweep) and not capture.has_phase:
        return panels
    return (*panels, _phase(values, fit, x, band))


def _phase(values: ComplexArray, fit: Fit, x: FloatArray, band: Envelope | None) -> Panel:
    angle, model = (np.degrees(np.angle(each)) for each in (values, fit.fitted))
    traces = tuple(
        Trace(kind=each.kind, x=each.x, y=each.y, colour=each.colour, width=each.width)
        for each in _pair(x, angle, model, fit.used)
    )
    axis = _linear(angle, model, unit="deg")
    if band is not None:
        upper, lower = band.theta_high_degrees, band.theta_low_degrees
        shade = Trace(kind="band", x=x, y=upper, low=lower, colour=MUTED)
        traces, axis = (shade, *traces), _linear(angle, model, upper, lower, unit="deg")
    return Panel(label="θ", axis=axis, traces=traces, weight=2.6)


def _envelope(x: FloatArray, outer: FloatArray, inner: FloatArray) -> Trace:
    return Trace(kind="band", x=x, y=outer, low=inner, colour=MUTED, name="tolerance envelope")


def _pair(
    x: FloatArray, measured: FloatArray, model: FloatArray, used: NDArray[np.bool_]
) -> tuple[Trace, ...]:
    dots = Trace(kind="dots", x=x[used], y=measured[used], colour=INK, name="measured")
    line = Trace(kind="line", x=x, y=model, colour=FITTED, name="fit")
    if used.all():
        return dots, line
    aside = Trace(kind="rings", x=x[~used], y=measured[~used], colour=WARNING, name="not used")
    return dots, line, aside


def _residuals(fit: Fit, x: FloatArray) -> Panel:
    whole = np.concatenate([fit.residual.real, fit.residual.imag])
    most = max(4.0, float(np.max(np.abs(whole[np.tile(fit.used, 2)]), initial=0.0)))
    axis = linear_axis(-most, most, "1", most=4)
    parts = ((fit.residual.real, INK), (fit.residual.imag, FITTED))
    traces = tuple(
        Trace(kind="dots", x=x, y=np.clip(part, -most, most), colour=colour)
        for part, colour in (parts if np.iscomplexobj(fit.residual) else parts[:1])
        if np.any(part)
    )
    return Panel(label="residual / u", axis=axis, traces=traces, weight=1.4)


def _linear(*values: FloatArray, unit: str) -> Axis:
    low = min(float(each.min()) for each in values)
    high = max(float(each.max()) for each in values)
    room = 0.05 * (high - low)
    return linear_axis(low - room, high + room, unit, most=5)


def overlay_plot(sweeps: Sequence[Sweep], band: Envelope | None, odd: frozenset[int]) -> Plot:
    """Plot the magnitudes of many sweeps over each other; those at ``odd`` places stand out.

    Parameters
    ----------
    sweeps : sequence of Sweep
        At least one.
    band : Envelope, optional
        At the frequencies of the first sweep.
    odd : frozenset of int
    """
    low = min(float(sweep.frequency[0]) for sweep in sweeps)
    high = max(float(sweep.frequency[-1]) for sweep in sweeps)
    _, axis, label = _frequencies(np.array([low, high]))
    logs = [np.log10(np.maximum(np.abs(sweep.impedance), _TINY)) for sweep in sweeps]
    bottom, top = (float(f([f(each) for each in logs])) for f in (np.min, np.max))
    order = sorted(range(len(sweeps)), key=lambda place: place in odd)
    traces = [
        Trace(
            kind="line",
            x=np.log10(sweeps[place].frequency) if high > 10 * low else sweeps[place].frequency,
            y=logs[place],
            colour=WARNING if place in odd else FAINT,
            width=1.2 if place in odd else 0.6,
        )
        for place in order
    ]
    if band is not None:
        x = np.log10(band.frequency) if high > 10 * low else band.frequency
        outer, inner = (
            np.clip(np.log10(np.maximum(each, _TINY)), bottom - 0.5, top + 0.5)
            for each in (band.magnitude_high, band.magnitude_low)
        )
        edges = [
            Trace(kind="line", x=x, y=edge, colour=LIMIT, width=1.0) for edge in (outer, inner)
        ]
        traces = [_envelope(x, outer, inner), *traces, *edges]
    panel = Panel(
        label="|Z|", axis=log_axis(10**bottom / 1.1, 10**top * 1.1, "ohm"), traces=tuple(traces)
    )
    words = f"{len(sweeps)} sweeps over each other, {len(odd)} of them set off"
    return Plot(axis=axis, label=label, panels=(panel,), words=words)


def histogram_plot(
    name: str,
    unit: str,
    edges: FloatArray,
    counts: NDArray[np.int64],
    limits: tuple[float | None, float | None],
) -> Plot:
    """Plot how the values of one quantity spread, with its limits.

    Parameters
    ----------
    name, unit : str
    edges : (N + 1,) float, in ``unit``
    counts : (N,) int
    limits : (float or None, float or None), in ``unit``
    """
    stated = [limit for limit in limits if limit is not None]
    low, high = min([float(edges[0]), *stated]), max([float(edges[-1]), *stated])
    room = 0.05 * (high - low)
    bars = Trace(kind="bars", x=edges, y=counts.astype(np.float64), colour=FITTED)
    panel = Panel(
        label="parts",
        axis=Axis(low=0.0, high=1.08 * float(counts.max()), ticks=_whole(int(counts.max()))),
        traces=(bars,),
        along=tuple(stated),
    )
    return Plot(
        axis=linear_axis(low - room, high + room, unit, most=6),
        label=name,
        panels=(panel,),
        words=f"histogram of {name}: {int(counts.sum())} parts",
    )


def _whole(most: int, steps: int = 5, first: int = 0) -> tuple[tuple[float, str], ...]:
    """Give round whole numbers up to ``most`` as ticks, ``first`` in place of zero."""
    step = next(k for k in _ROUND if k * steps >= most)
    found = [max(first, count) for count in range(0, most + 1, step)]
    return tuple((float(count), str(count)) for count in found)


def chart_plot(name: str, unit: str, location: Chart, spread: Chart) -> Plot:
    """Plot a control chart: values and moving ranges in the order taken, signals set off."""
    count = max(location.points.size, spread.points.size + 1)
    panels = tuple(
        _control(chart, unit, label, offset, weight)
        for chart, label, offset, weight in (
            (location, name, 1, 2.0),
            (spread, "range", 1 + count - spread.points.size, 1.2),
        )
    )
    axis = Axis(low=0.5, high=count + 0.5, ticks=_whole(count, 10, first=1))
    met = sum(len(signal.points) for signal in location.signals)
    words = f"control chart of {name}: {count} parts, {met} points with a signal"
    return Plot(axis=axis, label="part, in the order taken", panels=panels, words=words)


def _control(chart: Chart, unit: str, label: str, offset: int, weight: float) -> Panel:
    points = chart.points
    x = np.arange(points.size, dtype=np.float64) + offset
    ends = np.array([*points[np.isfinite(points)], chart.lower, chart.upper])
    met = sorted({point for signal in chart.signals for point in signal.points})
    traces = [
        Trace(kind="line", x=x, y=points, colour=FAINT, width=0.8),
        Trace(kind="dots", x=x, y=points, colour=INK),
    ]
    if met:
        traces.append(Trace(kind="rings", x=x[met], y=points[met], colour=WARNING))
    middle = np.full(2, chart.centre)
    ends_x = np.array([0.5, points.size + offset])
    traces.append(Trace(kind="line", x=ends_x, y=middle, colour=FITTED, width=1.0))
    return Panel(
        label=label,
        axis=_linear(ends, unit=unit),
        traces=tuple(traces),
        weight=weight,
        across=(chart.lower, chart.upper),
    )
