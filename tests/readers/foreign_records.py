"""Variants 47 to 69: network data, gain and phase, and records over time."""

from __future__ import annotations

import numpy as np

from tests.readers.foreign_parts import (
    capacitor,
    coil,
    decay,
    decibel,
    degrees,
    grid,
    reflection,
    series_through,
    tank,
)
from tests.readers.foreign_sheet import Sheet

RECORDS = {}


def variant(number):
    def keep(function):
        RECORDS[number] = function
        return function

    return keep


@variant(47)
def _(rng, comma):
    f = grid(rng)
    s = reflection(tank(f, rng))
    head = [
        ("Freq. [Hz]", "S11 [dB]", "S11 [deg]"),
        ("freq(Hz)", "S11 log mag(dB)", "S11 phase(deg)"),
        ("Frequency Hz", "|S11| dB", "ang S11 deg"),
    ][int(rng.integers(3))]
    sheet = Sheet(comma=comma)
    sheet.head(*head)
    sheet.rows(f, decibel(s), degrees(s), spec=(".6E", ".6f", ".5f"))
    sheet.holds("ratio", f, s)
    return sheet


@variant(48)
def _(rng, comma):
    f = grid(rng)
    s = reflection(coil(f, rng))
    sheet = Sheet(comma=comma, delimiter="\t")
    sheet.head("Freq (kHz)", "S11 lin mag", "S11 phase (deg)")
    sheet.rows(f / 1e3, abs(s), degrees(s))
    sheet.holds("ratio", f, s)
    return sheet


@variant(49)
def _(rng, comma):
    f = grid(rng, 1e6, 3e7)
    s = reflection(capacitor(f, rng))
    head = [
        ("f/MHz", "Re S11", "Im S11"),
        ("Frequency(MHz)", "S11 Real", "S11 Imag"),
        ("MHz", "S11_re", "S11_im"),
    ][int(rng.integers(3))]
    sheet = Sheet(comma=comma, delimiter=";")
    sheet.head(*head)
    sheet.rows(f / 1e6, s.real, s.imag, spec=".7E")
    sheet.holds("ratio", f, s)
    return sheet


@variant(50)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    s11, s21 = z / (z + 100), series_through(z)
    sheet = Sheet(comma=comma)
    sheet.head(
        "freq[Hz]", "dbS11", "angS11", "dbS21", "angS21", "dbS12", "angS12", "dbS22", "angS22"
    )
    columns = [fn(s) for s in (s11, s21, s21, s11) for fn in (decibel, degrees)]
    sheet.rows(f, *columns, spec=".7E")
    for s in (s11, s21, s21, s11):
        sheet.holds("ratio", f, s)
    return sheet


@variant(51)
def _(rng, comma):
    f = grid(rng)
    s = reflection(tank(f, rng))
    sheet = Sheet(comma=comma)
    sheet.text("# Channel 1", "# Trace 1, S11, Log Mag")
    sheet.head("Frequency", "Formatted Data", "Formatted Data 2")
    sheet.rows(f, decibel(s), np.zeros(f.size), spec=(".6E", ".7E", ".1f"))
    sheet.holds("level", f, abs(s))
    sheet.open_end = "quantity"
    return sheet


def _couple(value, form):
    if form == "RI":
        return value.real, value.imag
    return (decibel(value) if form == "DB" else abs(value)), degrees(value)


def _square(rng, f, ports):
    """S of a passive network: every path a through of some coil, scaled to stay passive."""
    out = np.empty((f.size, ports, ports), complex)
    for row in range(ports):
        for column in range(row + 1):
            path = series_through(coil(f, rng) / (1 + 2 * row + column)) / ports
            out[:, row, column] = out[:, column, row] = path
    return out


def _ports(sheet, f, s, form, unit):
    """Write the points of a network with the line breaks of its number of ports."""
    ports = s.shape[1]
    scale = {"HZ": 1, "KHZ": 1e3, "MHZ": 1e6, "GHZ": 1e9}[unit.upper()]
    for point, matrix in zip(f, s, strict=True):
        order = matrix.T.ravel() if ports == 2 else matrix.ravel()
        cells = [sheet.number(v, "+.9E") for one in order for v in _couple(one, form)]
        first = [sheet.number(point / scale, ".9E")]
        if ports <= 2:
            sheet.lines.append(first + cells)
            continue
        for row in range(ports):
            part = cells[2 * ports * row : 2 * ports * (row + 1)]
            sheet.lines.append((first if row == 0 else [""]) + part)
    for row in range(ports):
        for column in range(ports):
            sheet.holds("ratio", f, s[:, row, column])


@variant(52)
def _(rng, comma):
    ports, form = int(rng.integers(1, 5)), str(rng.choice(["MA", "DB", "RI"]))
    unit, second = str(rng.choice(["HZ", "kHz", "MHz", "GHz"])), bool(rng.integers(2))
    f = grid(rng, count=30)
    s = _square(rng, f, ports)
    ending = "ts" if second else f"s{ports}p"
    sheet = Sheet(comma=comma, delimiter=" ", name=f"network.{ending}", newline="\r\n")
    sheet.text(
        "! taken on the bench", f"   # {unit} S {form} R 50" if not second else "[Version] 2.0"
    )
    if second:
        sheet.text(f"# {unit} S {form} R 50", f"[Number of Ports] {ports}")
        if ports == 2:
            sheet.text("[Two-Port Data Order] 21_12")
        sheet.text(f"[Number of Frequencies] {f.size}", "[Network Data]")
    else:
        sheet.text("! points follow")
    _ports(sheet, f, s, form, unit)
    if second:
        sheet.text("[End]")
    return sheet


@variant(53)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    g = z / (z + 1000)
    sheet = Sheet(comma=comma, delimiter=str(rng.choice([",", ";"])))
    head = [
        ("Frequency (Hz)", "Gain (dB)", "Phase (°)"),
        ("Freq in Hz", "CH2/CH1 dB", "Phase CH2-CH1 deg"),
        ("Frequency(Hz)", "CH1 amplitude(Vpp)", "Gain(dB)", "Phase(deg)"),
    ][int(rng.integers(3))]
    sheet.head(*head)
    drive = [np.full(f.size, 1.0)] if len(head) == 4 else []
    sheet.rows(f, *drive, decibel(g), degrees(g), spec=".6E")
    sheet.holds("ratio", f, g)
    return sheet


@variant(54)
def _(rng, comma):
    f = grid(rng, count=25)
    sheet = Sheet(comma=comma, delimiter=" ", name="bias.mdf")
    for bias in (0, 1, 2):
        s = reflection(tank(f, rng))
        sheet.text(f"VAR Ibias(real) = {bias}", "BEGIN SWEEP", "% freq(real) S11(complex)")
        sheet.rows(f, s.real, s.imag, spec=".8E")
        sheet.text("END", "")
        sheet.holds("ratio", f, s)
    return sheet


@variant(55)
def _(rng, comma):
    f = grid(rng)
    z = tank(f, rng)
    level = abs(reflection(z))
    sheet = Sheet(comma=comma)
    if rng.integers(2):
        sheet.head("Freq (MHz)", "VSWR")
        sheet.rows(f / 1e6, (1 + level) / (1 - level), spec=".10E")
    else:
        sheet.head("Freq (MHz)", "Return loss (dB)")
        sheet.rows(f / 1e6, -20 * np.log10(level), spec=".8E")
    sheet.holds("level", f, level)
    return sheet


@variant(56)
def _(rng, comma):
    t, v, _ = decay(rng)
    sheet = Sheet(comma=comma)
    head = [
        ("Time (s)", "CH1 (V)", "CH2 (V)"),
        ("Time", "Channel A", "Channel B"),
        ("second", "Volt", "Volt"),
    ][int(rng.integers(3))]
    sheet.head(*head)
    if head[0] == "Time":
        sheet.head("(us)", "(mV)", "(mV)")
        sheet.rows(t * 1e6, v * 1e3, v[::-1] * 500, spec=".7E")
    else:
        sheet.rows(t, v, v[::-1] / 2, spec=".7E")
    sheet.holds("voltage", t, v)
    sheet.holds("voltage", t, v[::-1] / 2)
    return sheet


@variant(57)
def _(rng, comma):
    t, v, step = decay(rng)
    sheet = Sheet(comma=comma, timeless=True)
    sheet.head("X", "CH1", "Start", "Increment")
    sheet.head("Sequence", "Volt", sheet.number(0.0), sheet.number(step))
    sheet.rows([str(k) for k in range(t.size)], v, spec=("s", ".7E"))
    sheet.holds("voltage", t, v)
    return sheet


@variant(58)
def _(rng, comma):
    _, v, step = decay(rng)
    t = np.arange(v.size) * step
    sheet = Sheet(comma=comma, delimiter="\t", timeless=True)
    line = [
        f"dt = {sheet.number(step)} s",
        f"Sample interval: {sheet.number(step * 1e9, 'g')} ns",
        f"Sample rate: {sheet.number(1e-6 / step, 'g')} MS/s",
    ][int(rng.integers(3))]
    sheet.text(line, f"Record length: {v.size}")
    sheet.head("CH1 [V]")
    sheet.rows(v, spec=".7E")
    sheet.holds("voltage", t, v)
    return sheet


@variant(59)
def _(rng, comma):
    _, v, step = decay(rng)
    scale, offset = 0.02, 0.0
    counts = np.clip(np.round(v / scale), -125, 125)
    t = np.arange(v.size) * step
    sheet = Sheet(comma=comma, timeless=True)
    if rng.integers(2):
        sheet.head("Sample interval [s]", sheet.number(step))
        sheet.head("Vertical scale [V/count]", sheet.number(scale, "g"))
        sheet.head("Vertical offset [V]", sheet.number(offset, "g"))
    else:
        sheet.head("Sample interval [s]", sheet.number(step))
        sheet.head("Volts per division", sheet.number(scale * 25, "g"))
        sheet.head("Counts per division", "25")
    sheet.head("CH1 (counts)")
    sheet.rows([f"{int(k)}" for k in counts], spec="s")
    sheet.holds("voltage", t, counts * scale)
    return sheet


@variant(60)
def _(rng, comma):
    _, v, step = decay(rng)
    counts = np.round(v / 0.02) + 127
    start = -20 * step
    sheet = Sheet(timeless=True, delimiter="\n")
    sheet.text(f"0,0,{v.size},1,{step:.4E},{start:.6E},0,2.000000E-02,0.0E+00,127")
    sheet.rows([f"{int(k)}" for k in counts], spec="s")
    sheet.holds("voltage", np.arange(v.size) * step + start, (counts - 127) * 0.02)
    sheet.open_end = "quantity"
    return sheet


@variant(61)
def _(rng, comma):
    t, v, step = decay(rng)
    sheet = Sheet(comma=comma, delimiter=";")
    sheet.head("CH1 time (s)", "CH1 (V)", "CH2 time (s)", "CH2 (V)")
    sheet.rows(t, v, t + step / 4, v[::-1], spec=".8E")
    sheet.holds("voltage", t, v)
    sheet.holds("voltage", t + step / 4, v[::-1])
    return sheet


@variant(62)
def _(rng, comma):
    t, v, _ = decay(rng)
    low, high = v - 0.02, v + 0.02
    sheet = Sheet(comma=comma)
    sheet.head("Time (s)", "CH1 (V)")
    sheet.rows(np.repeat(t, 2), np.column_stack([low, high]).ravel(), spec=".7E")
    sheet.holds("voltage", t, low)
    sheet.holds("voltage", t, high)
    return sheet


@variant(63)
def _(rng, comma):
    sheet = Sheet(comma=comma)
    table = bool(rng.integers(2))
    if table:
        sheet.head("Segment", "Time (s)", "CH1 (V)")
    t, _, _ = decay(rng, 120)
    for k in range(3):
        v = decay(rng, 120)[1]
        if table:
            sheet.rows([str(k + 1)] * t.size, t, v, spec=("s", ".7E", ".7E"))
        else:
            sheet.text(f"Segment {k + 1}; trigger at {k * 0.01:g} s")
            sheet.head("Time (s)", "CH1 (V)")
            sheet.rows(t, v, spec=".7E")
        sheet.holds("voltage", t, v)
    return sheet


@variant(64)
def _(rng, comma):
    _, v, _ = decay(rng)
    sheet = Sheet(comma=comma, delimiter="\t", name="amplitude.txt", timeless=True)
    sheet.rows(v, spec=".6f")
    sheet.holds("voltage", np.arange(v.size), v)
    sheet.open_end = "interval"
    return sheet


@variant(65)
def _(rng, comma):
    t, v, _ = decay(rng)
    sheet = Sheet(comma=comma)
    sheet.head("Time (s)", "CH1 min (V)", "CH1 max (V)")
    sheet.rows(t, v - 0.03, v + 0.03, spec=".7E")
    sheet.holds("voltage", t, v - 0.03)
    sheet.holds("voltage", t, v + 0.03)
    return sheet


@variant(66)
def _(rng, comma):
    t, v, _ = decay(rng)
    sheet = Sheet(comma=comma, delimiter=";")
    sheet.head("Time (ms)", "CH1 (V)", "MATH1 = CH2/0.1 (A)")
    sheet.rows(t * 1e3, v, v / 40, spec=".8E")
    sheet.holds("voltage", t, v)
    sheet.holds("voltage", t, v / 40)
    return sheet


@variant(67)
def _(rng, comma):
    t, v, _ = decay(rng, early=0.2)
    sheet = Sheet(comma=comma, delimiter="\t")
    sheet.head("Zeit (µs)", "Kanal 1 (mV)")
    sheet.rows(t * 1e6, v * 1e3, spec=".7E")
    sheet.holds("voltage", t, v)
    return sheet


@variant(68)
def _(rng, comma):
    t, v, _ = decay(rng, 20000)
    sheet = Sheet(comma=comma)
    sheet.head("t (s)", "u (V)")
    sheet.rows(t, v, spec=".7E")
    sheet.holds("voltage", t, v)
    return sheet


@variant(69)
def _(rng, comma):
    t, v, _ = decay(rng)
    sheet = Sheet(comma=comma, name="shot_0003_CH2.csv")
    sheet.head("Source", "CH2")
    sheet.head("Record Length", str(v.size))
    sheet.head("Vertical Units", "V")
    sheet.head("Horizontal Units", "s")
    sheet.head("TIME", "CH2")
    sheet.rows(t, v, spec=".7E")
    sheet.holds("voltage", t, v)
    return sheet
