"""Columns over frequency to ratios: S-parameters, gain, VSWR, and what must be asked."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Response
from benchapp.errors import ReadError
from benchapp.readers import Answers, understand
from tests.readers.writing import written

F = np.linspace(1e5, 2e5, 21)
W = 2 * np.pi * F
Z = 1 / (1 / (20 + 1j * W * 1.62e-3) + 1j * W * 868e-12)
S11 = (Z - 50) / (Z + 50)
S21 = 100 / (100 + Z)
DB, DEG = 20 * np.log10(abs(S11)), np.angle(S11, deg=True)


def table(heads, *columns):
    lines = [",".join(heads)]
    lines += [",".join(f"{value:.12g}" for value in row) for row in zip(*columns, strict=True)]
    return "\n".join(lines) + "\n"


def read_text(folder, text, name="a.csv", **answers):
    return understand(written(folder, name, text), Answers(**answers))


@pytest.mark.parametrize(
    ("heads", "columns"),
    [
        (("f (Hz)", "S11 (dB)", "S11 Phase (deg)"), (DB, DEG)),
        (("f (Hz)", "S11 Mag", "S11 Ang (deg)"), (abs(S11), DEG)),
        (("f (Hz)", "Re(S11)", "Im(S11)"), (S11.real, S11.imag)),
        (("f (Hz)", "dB(S11)", "Phase (rad)"), (DB, np.deg2rad(DEG))),
        (("f (Hz)", "S11 (dB)", "angS11"), (DB, DEG)),
    ],
)
def test_every_form_of_an_s_parameter_gives_the_same_ratio(tmp_path, heads, columns):
    (response,) = read_text(tmp_path, table(heads, F, *columns)).captures
    assert isinstance(response, Response)
    assert (response.kind, response.has_phase, response.reference) == ("reflection", True, 50.0)
    np.testing.assert_allclose(response.ratio, S11, rtol=1e-9)


def test_several_parameters_stand_in_their_own_captures(tmp_path):
    text = table(
        ("f (Hz)", "S11 (dB)", "S11 (deg)", "S21 (dB)", "S21 (deg)"),
        F,
        DB,
        DEG,
        20 * np.log10(abs(S21)),
        np.angle(S21, deg=True),
    )
    reading = read_text(tmp_path, text)
    assert [c.origin.label for c in reading.captures] == ["S11", "S21"]
    assert [c.kind for c in reading.captures] == ["reflection", "transmission"]
    (sweep,) = read_text(tmp_path, text, port="series-through").captures
    np.testing.assert_allclose(sweep.impedance, Z, rtol=1e-6)


def test_the_port_impedance_is_stated_answered_or_assumed(tmp_path):
    text = table(("f (Hz)", "Re(S11)", "Im(S11)"), F, S11.real, S11.imag)
    assumed = read_text(tmp_path, text)
    assert "port impedance" in [made.subject for made in assumed.assumptions]
    assert read_text(tmp_path, "Z0: 75 Ohm\n" + text).captures[0].reference == 75.0
    assert read_text(tmp_path, text, reference=600).captures[0].reference == 600.0


def test_gain_and_phase(tmp_path):
    gain = 1 / (1 + 1j * F / 1.5e5)
    text = table(
        ("Frequency (Hz)", "Gain (dB)", "Phase (deg)"),
        F,
        20 * np.log10(abs(gain)),
        np.angle(gain, deg=True),
    )
    (response,) = read_text(tmp_path, text).captures
    assert (response.kind, response.has_phase) == ("gain", True)
    np.testing.assert_allclose(response.ratio, gain, rtol=1e-9)


@pytest.mark.parametrize(("head", "asked"), [("Gain (V/V)", []), ("Gain", ["level_unit"])])
def test_a_gain_in_volt_per_volt_is_asked_for_where_it_does_not_say_so(tmp_path, head, asked):
    text = table(("Frequency (Hz)", head), F, np.linspace(0.1, 0.9, 21))
    reading = read_text(tmp_path, text)
    assert not reading.captures[0].has_phase
    assert [question.name for question in reading.questions] == asked
    np.testing.assert_allclose(reading.captures[0].ratio.real, np.linspace(0.1, 0.9, 21))


def test_columns_that_name_no_quantity_must_be_answered(tmp_path):
    text = table(("Freq (Hz)", "Re", "Im"), F, S11.real, S11.imag)
    with pytest.raises(ReadError, match="Which ratio do the columns hold"):
        read_text(tmp_path, text)
    assert read_text(tmp_path, text, parameter="S21").captures[0].kind == "transmission"
    assert read_text(tmp_path, text, parameter="gain").captures[0].kind == "gain"


@pytest.mark.parametrize(
    ("above", "name"), [("Trace: S21 log mag\n", "a.csv"), ("", "coil S21.csv")]
)
def test_the_parameter_may_be_named_around_the_table(tmp_path, above, name):
    reading = read_text(
        tmp_path, above + table(("Freq (Hz)", "Re", "Im"), F, S21.real, S21.imag), name
    )
    assert reading.captures[0].origin.label == "S21"
    assert reading.assumptions[0].subject == "parameter"


def test_a_second_column_of_zeros_is_no_phase(tmp_path):
    reading = read_text(
        tmp_path, table(("Freq (Hz)", "S21 (dB)", "Phase (deg)"), F, DB, np.zeros(21))
    )
    assert not reading.captures[0].has_phase
    assert reading.assumptions[0].value == "not recorded"


@pytest.mark.parametrize(
    ("head", "values"),
    [
        ("VSWR", (1 + abs(S11)) / (1 - abs(S11))),
        ("Return Loss (dB)", -DB),
        ("Return loss (dB)", DB),
    ],
)
def test_scalar_reflections_have_a_magnitude_only(tmp_path, head, values):
    (response,) = read_text(tmp_path, table(("Freq (Hz)", head), F, values)).captures
    assert not response.has_phase
    np.testing.assert_allclose(response.ratio.real, abs(S11), rtol=1e-9)


def test_a_linear_magnitude_below_zero_is_taken_for_decibel_and_asked(tmp_path):
    reading = read_text(tmp_path, table(("Freq (Hz)", "Mag(S11)", "Ang(S11)"), F, DB, DEG))
    np.testing.assert_allclose(reading.captures[0].ratio, S11, rtol=1e-9)
    assert "level_unit" in [asked.name for asked in reading.questions]


def test_a_phase_alone_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"must have a magnitude or a real part beside the phase"):
        read_text(tmp_path, table(("Freq (Hz)", "S11 (deg)"), F, DEG))


def test_a_frequency_without_a_unit_must_be_answered(tmp_path):
    text = table(("Freq", "S11 (dB)", "S11 (deg)"), F / 1e3, DB, DEG)
    with pytest.raises(ReadError, match="In which unit is the frequency"):
        read_text(tmp_path, text)
    (response,) = read_text(tmp_path, text, frequency_unit="kHz").captures
    np.testing.assert_allclose(response.frequency, F)


def test_an_active_ratio_is_said(tmp_path):
    reading = read_text(
        tmp_path, table(("Freq (Hz)", "Re(S11)", "Im(S11)"), F, 2 * S11.real, S11.imag)
    )
    assert "|S11|" in [made.subject for made in reading.assumptions]


def test_a_standing_wave_ratio_below_one_is_set_aside(tmp_path):
    rows = "\n".join(f"{k},{0.8 if k == 3 else 1.5}" for k in range(1, 6))
    reading = understand(written(tmp_path, "a.csv", f"f (MHz),VSWR\n{rows}\n"))
    assert reading.captures[0].frequency.tolist() == [1e6, 2e6, 4e6, 5e6]
    assert [(row.line, row.why) for row in reading.set_aside] == [(4, "a VSWR below one (0.8)")]
