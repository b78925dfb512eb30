from __future__ import annotations

import io

import numpy as np
import pytest
import skrf

from benchapp.bench import Converter, layout
from benchapp.bench.meter import OVERLOAD, Readings
from benchapp.bench.scope import Record

F = np.array([100e3, 134.25e3, 200e3])
Z = np.array([12.5 + 980j, 1.067e5 - 321.5j, 40.25 - 2200j])


def readings(status=(0, 0, 0)):
    status = np.array(status)
    return Readings(
        frequency=F,
        impedance=np.where(status == 0, Z, complex(OVERLOAD, OVERLOAD)),
        status=status,
        level_volt=np.ones(3),
        range_index=np.zeros(3, dtype=int),
    )


def numbers(text, separator, skip, decimal="."):
    rows = text.splitlines()[skip:]
    return np.array(
        [[float(cell.replace(decimal, ".")) for cell in row.split(separator)] for row in rows]
    )


def test_the_plain_table_holds_r_and_x_under_comment_lines():
    text = layout.resistance_table(readings(), ("Part: 1", "Level: 1 V")).decode("ascii")
    assert text.splitlines()[:3] == ["# Part: 1", "# Level: 1 V", "Frequency (Hz),R (ohm),X (ohm)"]
    table = numbers(text, ",", 3)
    np.testing.assert_allclose(table[:, 1] + 1j * table[:, 2], Z, rtol=1e-6)
    np.testing.assert_array_equal(table[:, 0], F)


def test_the_german_table_has_decimal_commas_and_windows_bytes():
    content = layout.german_table(readings(), [("Prüfling", "1")])
    text = content.decode("cp1252")
    assert b"Pr\xfcfling;1\r\n" in content
    assert "Frequenz (kHz);|Z| (kOhm);Phase (°)" in text
    assert "." not in text
    table = numbers(text, ";", 3, ",")
    z = table[:, 1] * 1e3 * np.exp(1j * np.radians(table[:, 2]))
    np.testing.assert_allclose(z, Z, rtol=1e-6)
    np.testing.assert_allclose(table[:, 0], F / 1e3)


def test_the_parallel_table_holds_capacitance_and_resistance_across_each_other():
    text = layout.parallel_table(readings()).decode("ascii")
    assert text.splitlines()[:2] == ["Freq\tCp\tRp\tStatus", "Hz\tF\tohm\t"]
    table = numbers(text, "\t", 2)
    z = 1 / (1 / table[:, 2] + 2j * np.pi * table[:, 0] * table[:, 1])
    np.testing.assert_allclose(z, Z, rtol=1e-5)


def test_the_parallel_table_sends_the_overload_value_of_scpi():
    text = layout.parallel_table(readings(status=(0, 1, 0))).decode("ascii")
    assert text.splitlines()[3] == "134250\t9.9000000E+37\t9.9000000E+37\t+1"


def test_the_coil_table_holds_series_inductance_and_q():
    text = layout.coil_table(readings(), ("Part: 1",)).decode("ascii")
    assert text.splitlines()[:3] == ["Part: 1", "", "Frequency [kHz],Ls [uH],Q"]
    f, inductance, q = numbers(text, ",", 3).T
    x = 2 * np.pi * f * 1e3 * inductance * 1e-6
    np.testing.assert_allclose(x / q + 1j * x, Z, rtol=1e-5)


def test_the_touchstone_file_is_read_alike_by_a_general_network_library():
    ratio = np.array([0.25 - 0.5j, -0.125 + 0.75j, 1.0 + 0j])
    content = layout.touchstone(F, ratio, 75.0, ["one", "two"])
    stream = io.StringIO(content.decode("ascii"))
    stream.name = "sample.s1p"
    network = skrf.Network(stream)
    np.testing.assert_allclose(network.s[:, 0, 0], ratio)
    np.testing.assert_allclose(network.f, F)
    assert network.z0[0, 0] == pytest.approx(75.0)


def test_the_scope_table_keeps_every_converter_step_exactly():
    converter = Converter(bits=8, full_scale=1.25)
    volts = np.arange(-128, 128) * converter.step
    record = Record(time=np.arange(256) * 2e-7, voltage=volts[np.newaxis], converter=converter)
    text = layout.scope_table(record, [("Record", "one")]).decode("ascii")
    assert text.splitlines()[:2] == ["Record,one", "Time (s),CH1 (V)"]
    table = numbers(text, ",", 2)
    np.testing.assert_array_equal(table[:, 1], volts)
    np.testing.assert_allclose(table[:, 0], record.time, rtol=1e-7)
