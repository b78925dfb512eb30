"""Network and scope files as they arrive from elsewhere: odd but real, with the truth beside."""

from __future__ import annotations

import numpy as np

from tests.readers.foreign_parts import decay, decibel, degrees, reflection, series_through, tank
from tests.readers.foreign_sheet import Trace
from tests.readers.odd_tables import frequencies, lines, odd


def ratio(x, y):
    return Trace(kind="ratio", x=x, y=y)


def level(x, y):
    return Trace(kind="level", x=x, y=np.abs(y))


def voltage(t, v):
    return Trace(kind="voltage", x=t, y=v)


def of_port(rng, through=reflection):
    f = frequencies()
    return f, through(tank(f, rng))


def of_burst(rng):
    t, v, step = decay(rng, 240)
    return t, np.round(v, 6), step


@odd("trace.csv")
def reflection_in_gigahertz_with_commas(rng):
    f, s = of_port(rng)
    body = lines("{:.10f};{:.7f};{:.6f}", f / 1e9, decibel(s), degrees(s), comma=True)
    return "Freq (GHz);S11 (dB);S11 (deg)\n" + body, ratio(f, s)


@odd("trace.csv")
def logmag_and_phase(rng):
    f, s = of_port(rng)
    body = lines("{:.1f},{:.7f},{:.6f}", f, decibel(s), degrees(s))
    return '! Data\nFrequency (Hz),"S11 Log Mag (dB)","S11 Phase (deg)"\n' + body, ratio(f, s)


@odd("coil.S1P")
def touchstone_in_75_ohm(rng):
    f, _ = of_port(rng)
    s = reflection(tank(f, rng), 75.0)
    body = lines("{:.4f}\t{:.8f}\t{:.8f}", f / 1e3, s.real, s.imag, end="\r\n")
    z = 75 * (1 + s) / (1 - s)
    return "# kHz S RI R 75\r\n" + body, ratio(f, reflection(z))


@odd("coil.s1p", encoding="latin-1")
def touchstone_with_an_accent_in_its_remarks(rng):
    f, s = of_port(rng)
    body = lines("{:.1f} {:.8f} {:.6f}", f, abs(s), degrees(s))
    return "! Prüfling 12, 23 °C\n# Hz S MA R 50\n" + body, ratio(f, s)


@odd("coil.s1p", open_end="numbers with a comma are not Touchstone")
def touchstone_with_commas(rng):
    f, s = of_port(rng)
    body = lines("{:.1f} {:.8f} {:.8f}", f, s.real, s.imag, comma=True)
    return "# Hz S RI R 50\n" + body, ratio(f, s)


@odd("bode.csv")
def gain_of_two_channels(rng):
    f, s = of_port(rng, lambda z: z / (z + 25))
    body = lines("{:.1f},{:.7f},{:.6f}", f, decibel(s), degrees(s))
    return "Frequency (Hz),CH2/CH1 (dB),Phase (°)\n" + body, ratio(f, s)


@odd("swr.csv")
def standing_wave_ratio(rng):
    f, s = of_port(rng)
    swr = (1 + abs(s)) / (1 - abs(s))
    return "Frequency (MHz),SWR\n" + lines("{:.7f},{:.9f}", f / 1e6, swr), level(f, s)


@odd("rl.csv")
def return_loss_above_zero(rng):
    f, s = of_port(rng)
    return "Frequency (Hz),Return Loss (dB)\n" + lines("{:.1f},{:.7f}", f, -decibel(s)), level(
        f, s
    )


@odd("mag.csv")
def linear_magnitude_alone(rng):
    f, s = of_port(rng)
    return "Frequency (Hz),|S11|\n" + lines("{:.1f},{:.8f}", f, abs(s)), level(f, s)


@odd("thru.csv")
def transmission_real_and_imaginary(rng):
    f, s = of_port(rng, series_through)
    body = lines("{:.1f},{:.8f},{:.8f}", f, s.real, s.imag)
    return "Frequency (Hz),Re(S21),Im(S21)\n" + body, ratio(f, s)


@odd("thru.csv")
def unwrapped_phase(rng):
    f, s = of_port(rng, series_through)
    s = s * np.exp(-2j * np.pi * f * 8e-6)
    angle = np.degrees(np.unwrap(np.angle(s)))
    body = lines("{:.1f},{:.7f},{:.6f}", f, decibel(s), angle)
    return "Frequency (Hz),S21 (dB),S21 unwrapped phase (deg)\n" + body, ratio(f, s)


@odd("scope.csv")
def microseconds_and_millivolts(rng):
    t, v, _ = of_burst(rng)
    body = lines("{:.4f},{:.4f}", t * 1e6, v * 1e3)
    return "Time (µs),Ch1 (mV)\n" + body, voltage(t, v)


@odd("Oszi.csv")
def german_time_and_channel(rng):
    t, v, _ = of_burst(rng)
    body = lines("{:.7f};{:.6f}", t * 1e3, v, comma=True)
    return "Zeit [ms];Kanal 1 [V]\n" + body, voltage(t, v)


@odd("scope.csv")
def units_as_headings(rng):
    t, v, _ = of_burst(rng)
    return "second,Volt\n" + lines("{:.9f},{:.6f}", t, v), voltage(t, v)


@odd("scope.csv")
def units_with_in(rng):
    t, v, _ = of_burst(rng)
    return "in s,C1 in V\n" + lines("{:.9f},{:.6f}", t, v), voltage(t, v)


@odd("scope.txt")
def interval_in_the_preamble(rng):
    t, v, step = of_burst(rng)
    head = f"Sample interval: {step:.1E} s\nPoints: {t.size}\nVoltage (V)\n"
    return head + lines("{:.6f}", v), voltage(t, v)


@odd("scope.txt")
def rate_in_the_preamble(rng):
    t, v, step = of_burst(rng)
    head = f"Sampling rate: {1e-6 / step:g} MSa/s\nCH1 (V)\n"
    return head + lines("{:.6f}", v), voltage(t, v)


@odd("scope.csv")
def units_behind_times(rng):
    t, v, _ = of_burst(rng)
    return "Time,CH1\n" + lines("{:.1f} ns,{:.3f} mV", t * 1e9, v * 1e3), voltage(t, v)


@odd("scope.csv")
def an_index_before_the_time(rng):
    t, v, _ = of_burst(rng)
    body = lines("{},{:.9f},{:.6f}", range(t.size), t, v)
    return "Sample,Time (s),Voltage (V)\n" + body, voltage(t, v)


@odd("scope.csv", open_end="which of the channels")
def two_channels_with_names(rng):
    t, v, _ = of_burst(rng)
    body = lines("{:.9f},{:.6f},{:.6f}", t, v, np.round(0.1 * v[::-1], 6))
    head = "Time (s),Coil (V),Shunt (V)\n"
    return head + body, voltage(t, v), voltage(t, np.round(0.1 * v[::-1], 6))
