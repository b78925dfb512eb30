"""Columns over frequency to impedance: pairs, models, families, cross-checks."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Response, Sweep
from benchapp.errors import ReadError
from benchapp.readers import Answers, understand
from tests.readers.writing import written

F = np.geomspace(1e4, 1e5, 21)
W = 2 * np.pi * F
COIL = 12 + 1j * W * 1.6e-3
CAP = 0.5 + 1 / (1j * W * 1e-9)


def table(heads, *columns):
    lines = [",".join(heads)]
    lines += [",".join(f"{value:.12g}" for value in row) for row in zip(*columns, strict=True)]
    return "\n".join(lines) + "\n"


def read_text(folder, text, name="a.csv", **answers):
    return understand(written(folder, name, text), Answers(**answers))


def test_a_sweep_states_what_it_knows_of_its_origin(tmp_path):
    text = "Date: 2026-03-04 10:00\nDUT: coil 7\nLevel: 1 V\n"
    reading = read_text(
        tmp_path, text + table(("f (Hz)", "Ls (H)", "Q"), F, COIL.imag / W, W / 1e3)
    )
    (sweep,) = reading.captures
    assert isinstance(sweep, Sweep)
    assert (sweep.origin.source, sweep.origin.reader, sweep.origin.part) == (
        "a.csv",
        "table",
        "coil 7",
    )
    assert sweep.origin.taken == "2026-03-04T10:00"
    assert sweep.origin.sha256 == reading.sha256
    assert sweep.conditions.level_volt == 1.0
    assert sweep.conditions.equivalent_circuit == "series"
    assert sweep.noise.kind == "unknown"


@pytest.mark.parametrize(
    ("heads", "circuit", "proposed"),
    [
        (("f (Hz)", "L (H)", "Rs (ohm)"), "series", "series"),
        (("f (Hz)", "L (H)", "Q"), "series", "series"),
    ],
)
def test_an_inductance_of_no_stated_circuit_is_asked_for(tmp_path, heads, circuit, proposed):
    loss = COIL.real if heads[2].startswith("Rs") else COIL.imag / COIL.real
    reading = read_text(tmp_path, table(heads, F, COIL.imag / W, loss))
    (asked,) = reading.questions
    assert (asked.name, asked.proposed, asked.choices) == (
        "model",
        proposed,
        ("series", "parallel"),
    )
    np.testing.assert_allclose(reading.captures[0].impedance, COIL, rtol=1e-9)
    assert reading.captures[0].conditions.equivalent_circuit == circuit


def test_the_answered_model_is_followed(tmp_path):
    y = 1 / COIL
    text = table(("f (Hz)", "L (H)", "Q"), F, -1 / (W * y.imag), abs(y.imag) / y.real)
    (sweep,) = read_text(tmp_path, text, model="parallel").captures
    np.testing.assert_allclose(sweep.impedance, COIL, rtol=1e-9)


def test_a_stated_circuit_needs_no_question(tmp_path):
    y = 1 / CAP
    text = "Circuit mode: parallel\n" + table(
        ("f (Hz)", "C (F)", "D"), F, y.imag / W, y.real / y.imag
    )
    reading = read_text(tmp_path, text)
    assert reading.questions == ()
    np.testing.assert_allclose(reading.captures[0].impedance, CAP, rtol=1e-9)


@pytest.mark.parametrize(("capacitance", "proposed"), [(1e-4, "series"), (1e-10, "parallel")])
def test_the_size_of_the_impedance_proposes_the_circuit(tmp_path, capacitance, proposed):
    text = table(("f (Hz)", "C (F)", "D"), F, np.full(21, capacitance), np.full(21, 0.01))
    assert read_text(tmp_path, text).questions[0].proposed == proposed


def test_r_beside_ls_is_its_series_resistance(tmp_path):
    reading = read_text(
        tmp_path, table(("f (Hz)", "Ls (H)", "R (ohm)"), F, COIL.imag / W, COIL.real)
    )
    np.testing.assert_allclose(reading.captures[0].impedance, COIL, rtol=1e-9)


def test_a_dc_resistance_stands_in_with_low_confidence(tmp_path):
    text = table(("f (Hz)", "Ls (H)", "DCR (ohm)"), F, COIL.imag / W, np.full(21, 9.0))
    reading = read_text(tmp_path, text)
    assert reading.captures[0].impedance.real.tolist() == [9.0] * 21
    assert reading.assumptions[0].confidence < 0.5


def test_other_columns_that_disagree_are_said(tmp_path):
    text = table(
        ("f (Hz)", "R (ohm)", "X (ohm)", "|Z| (kohm)", "theta (deg)"),
        F,
        COIL.real,
        COIL.imag,
        abs(COIL),
        np.angle(COIL, deg=True),
    )
    reading = read_text(tmp_path, text)
    (made,) = [entry for entry in reading.assumptions if entry.subject == "columns"]
    assert "|Z| and theta in the same rows disagree by" in made.reason
    assert made.confidence < 0.5


def test_other_columns_that_agree_raise_nothing(tmp_path):
    text = table(
        ("f (Hz)", "R (ohm)", "X (ohm)", "|Z| (ohm)", "theta (deg)", "Q"),
        F,
        COIL.real,
        COIL.imag,
        abs(COIL),
        np.angle(COIL, deg=True),
        COIL.imag / COIL.real,
    )
    assert read_text(tmp_path, text).assumptions == ()


@pytest.mark.parametrize("angle", ["phi (deg)", "Phase (deg)"])
def test_admittance_in_polar_form(tmp_path, angle):
    y = 1 / COIL
    text = table(("f (Hz)", "|Y| (S)", angle), F, abs(y), np.angle(y, deg=True))
    np.testing.assert_allclose(read_text(tmp_path, text).captures[0].impedance, COIL, rtol=1e-9)


def test_a_magnitude_in_decibel_is_of_one_ohm(tmp_path):
    text = table(
        ("f (Hz)", "|Z| (dB)", "theta (deg)"),
        F,
        20 * np.log10(abs(COIL)),
        np.angle(COIL, deg=True),
    )
    reading = read_text(tmp_path, text)
    np.testing.assert_allclose(reading.captures[0].impedance, COIL, rtol=1e-9)
    assert reading.assumptions[0].value == "dB of 1 ohm"


def test_a_magnitude_alone_stays_a_magnitude(tmp_path):
    reading = read_text(tmp_path, table(("f (Hz)", "|Z| (ohm)"), F, abs(COIL)))
    (response,) = reading.captures
    assert isinstance(response, Response)
    assert not response.has_phase
    np.testing.assert_allclose(response.ratio.real, abs(COIL), rtol=1e-9)
    assert "L, C and R" in reading.assumptions[0].reason


def test_families_side_by_side_have_their_conditions(tmp_path):
    text = table(
        ("f (Hz)", "Ls @ 1 V (H)", "Rs @ 1 V (ohm)", "Ls @ 2 A (H)", "Rs @ 2 A (ohm)"),
        F,
        COIL.imag / W,
        COIL.real,
        0.9 * COIL.imag / W,
        COIL.real,
    )
    first, second = read_text(tmp_path, text).captures
    assert (first.conditions.level_volt, second.conditions.bias_ampere) == (1.0, 2.0)
    assert (first.origin.label, second.origin.label) == ("1 V", "2 A")
    np.testing.assert_allclose(second.impedance.imag, 0.9 * COIL.imag, rtol=1e-9)


def test_repeated_columns_without_a_condition_are_taken_in_turn(tmp_path):
    text = table(
        ("f (Hz)", "R (ohm)", "X (ohm)", "R (ohm)", "X (ohm)"),
        F,
        COIL.real,
        COIL.imag,
        CAP.real,
        CAP.imag,
    )
    first, second = read_text(tmp_path, text).captures
    np.testing.assert_allclose(first.impedance, COIL, rtol=1e-9)
    np.testing.assert_allclose(second.impedance, CAP, rtol=1e-9)


def test_a_family_that_lacks_its_loss_is_left_out_and_said(tmp_path):
    text = table(
        ("f (Hz)", "Ls @ 1 V (H)", "Rs @ 1 V (ohm)", "Ls @ 2 V (H)"),
        *(F, COIL.imag / W, COIL.real, COIL.imag / W),
    )
    reading = read_text(tmp_path, text)
    assert [capture.origin.label for capture in reading.captures] == ["1 V"]
    assert [made.value for made in reading.assumptions] == ["2 V: Ls left out"]


def test_an_inverted_sign_is_asked_for_and_the_answer_applied(tmp_path):
    text = table(("f (Hz)", "R (ohm)", "X (ohm)"), F, COIL.real, -COIL.imag)
    reading = read_text(tmp_path, text)
    assert [asked.name for asked in reading.questions] == ["sign"]
    (sweep,) = read_text(tmp_path, text, sign="inverted").captures
    np.testing.assert_allclose(sweep.impedance, COIL, rtol=1e-9)


def test_an_inductance_without_its_loss_is_refused(tmp_path):
    with pytest.raises(
        ReadError, match=r"must have two quantities that fix an impedance.* \(got f, Ls\)"
    ):
        read_text(tmp_path, table(("f (Hz)", "Ls (H)"), F, COIL.imag / W))


def test_points_where_the_formula_has_no_value_are_set_aside(tmp_path):
    q = COIL.imag / COIL.real
    q[3] = 0.0
    reading = read_text(tmp_path, table(("f (Hz)", "Ls (H)", "Q"), F, COIL.imag / W, q))
    assert reading.captures[0].frequency.size == 20
    assert [row.line for row in reading.set_aside] == [5]


def test_an_exact_zero_where_no_part_has_one_is_set_aside(tmp_path):
    q = COIL.imag / COIL.real
    inductance = COIL.imag / W
    inductance[4] = 0.0
    reading = read_text(tmp_path, table(("f (Hz)", "Ls (H)", "Q"), F, inductance, q))
    assert [(row.line, row.why) for row in reading.set_aside] == [(6, "a value is exactly zero")]


def test_a_lone_zero_of_a_loss_is_doubted(tmp_path):
    loss = COIL.real.copy()
    loss[7] = 0.0
    reading = read_text(tmp_path, table(("f (Hz)", "Ls (H)", "Rs (ohm)"), F, COIL.imag / W, loss))
    doubt = reading.assumptions[0]
    assert (doubt.subject, doubt.value) == ("Rs", "zeros kept")
    assert "(line 9)" in doubt.reason
    assert doubt.confidence <= 0.5
    lossless = read_text(
        tmp_path, table(("f (Hz)", "Ls (H)", "Rs (ohm)"), F, COIL.imag / W, 0 * loss), "b.csv"
    )
    assert lossless.assumptions == ()
