"""Headings as people write them: quantity, unit, port, channel, condition, in six languages."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.readers.heading import Meaning, is_units_row, meaning_of, normal, unit_of

DEGREE = math.pi / 180


@pytest.mark.parametrize(
    ("heading", "role", "unit", "factor"),
    [
        ("Freq(Hz)", "f", "Hz", 1.0),
        ("Freq [kHz]", "f", "Hz", 1e3),
        ("f/MHz", "f", "Hz", 1e6),
        ("FREQ (MHZ)", "f", "Hz", 1e6),
        ("freq(mhz)", "f", "Hz", 1e6),
        ("frequency_hz", "f", "Hz", 1.0),
        ("Frequenz in kHz", "f", "Hz", 1e3),
        ("Fréquence (Hz)", "f", "Hz", 1.0),
        ("Frecuencia, kHz", "f", "Hz", 1e3),
        ("频率(Hz)", "f", "Hz", 1.0),
        ("omega (rad/s)", "omega", "Hz", 1.0),
        ("ω [1/s]", "omega", "Hz", 1.0),
        ("f (rad/s)", "omega", "Hz", 1.0),
        ("lg(f/Hz)", "log f", "Hz", 1.0),
        ("Ls,H", "Ls", "H", 1.0),
        ("Ls [µH]", "Ls", "H", 1e-6),
        ("Ls [\u03bcH]", "Ls", "H", 1e-6),
        ("LS(UH)", "Ls", "H", 1e-6),
        ("Rs [\u2126]", "Rs", "ohm", 1.0),
        ("Rs(mOhm)", "Rs", "ohm", 1e-3),
        ("Z_abs_Ohm", "|Z|", "ohm", 1.0),
        ("|Z| / kΩ", "|Z|", "ohm", 1e3),
        ("Impedanz |Z| (Ohm)", "|Z|", "ohm", 1.0),
        ("Re(Z) (ohm)", "R", "ohm", 1.0),
        ("Im(Z)/Ohm", "X", "ohm", 1.0),
        ("Z' (ohm)", "R", "ohm", 1.0),
        ("-Z'' (ohm)", "X", "ohm", -1.0),
        ("Theta(deg)", "theta", "rad", DEGREE),
        ("θ [°]", "theta", "rad", DEGREE),
        ("Phase (rad)", "theta", "rad", 1.0),
        ("Phasenwinkel [Grad]", "theta", "rad", DEGREE),
        ("deg", "theta", "rad", DEGREE),
        ("D (%)", "D", "", 0.01),
        ("Cp [pF]", "Cp", "F", 1e-12),
        ("G (mS)", "G", "S", 1e-3),
        ("CH2/CH1 (dB)", "gain", "dB", 1.0),
        ("Time (us)", "time", "s", 1e-6),
        ("Temp (°C)", "temperature", "degC", 1.0),
    ],
)
def test_a_heading_has_its_quantity_and_unit(heading, role, unit, factor):
    found = meaning_of(heading)
    assert (found.role, found.unit, found.stated) == (role, unit, True)
    assert found.factor == pytest.approx(factor)


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("Q", "Q"),
        ("Güte", "Q"),
        ("Facteur de qualité", "Q"),
        ("品质因数", "Q"),
        ("tan δ", "D"),
        ("R", "R"),
        ("X", "X"),
        ("|Z|", "|Z|"),
        ("D factor", "D"),
        ("Inductance Ls", "Ls"),
        ("L (series)", "Ls"),
        ("Z phase", "theta"),
        ("Status", "status"),
        ("Std R", "spread"),
        ("log10(f)", "log f"),
        ("Data A", "first"),
        ("Point No.", "point"),
    ],
)
def test_a_heading_without_a_unit_says_so(heading, role):
    found = meaning_of(heading)
    assert (found.role, found.stated) == (role, False)


@pytest.mark.parametrize(
    ("heading", "name", "part"),
    [
        ("dB(S11)", "S11", "db"),
        ("S21 dB", "S21", "db"),
        ("dbS11", "S11", "db"),
        ("angS21", "S21", "phase"),
        ("S11 Re", "S11", "re"),
        ("im:S22", "S22", "im"),
        ("Mag(S21)", "S21", "mag"),
        ("Mag(S21) dB", "S21", "db"),
        ("n11x", "S11", "re"),
        ("n21y", "S21", "im"),
        ("S21 Phase (deg)", "S21", "phase"),
        ("S11", "S11", ""),
    ],
)
def test_an_s_parameter_has_its_name_and_part(heading, name, part):
    found = meaning_of(heading)
    assert (found.role, found.part) == (name, part)


@pytest.mark.parametrize(
    ("heading", "role", "channel", "unit"),
    [
        ("CH1 (V)", "voltage", "CH1", "V"),
        ("Channel 2", "voltage", "CH2", ""),
        ("Kanal A [mV]", "voltage", "CHA", "V"),
        ("CH1 Counts", "counts", "CH1", ""),
        ("1", "voltage", "CH1", ""),
        ("Math1 (A)", "voltage", "MATH1", "A"),
    ],
)
def test_a_channel_has_its_name(heading, role, channel, unit):
    found = meaning_of(heading)
    assert (found.role, found.channel, found.unit) == (role, channel, unit)


@pytest.mark.parametrize(
    ("heading", "role", "variant", "unit"),
    [
        ("Ls @ 1 V (H)", "Ls", "1 V", "H"),
        ("Ls (H) @ 10 mA", "Ls", "10 mA", "H"),
        ("Ls(0 A) [uH]", "Ls", "0 A", "H"),
        ("R 2 (ohm)", "R", "2", "ohm"),
        ("Freq2", "f", "2", ""),
    ],
)
def test_a_condition_or_number_tells_columns_of_one_quantity_apart(heading, role, variant, unit):
    found = meaning_of(heading)
    assert (found.role, found.variant, found.unit) == (role, variant, unit)


@pytest.mark.parametrize(
    "heading", ["", "-", "Foo", "Ls-Rs ratio of bananas", "x" * 500, "(" * 90]
)
def test_an_unknown_heading_means_nothing(heading):
    assert meaning_of(heading) == Meaning()


def test_a_unit_that_does_not_fit_is_marked():
    assert meaning_of("Ls (ohm)").unit == "?"
    assert meaning_of("Frequency", "ohm").unit == "?"


def test_a_units_row_gives_the_unit():
    found = meaning_of("Freq", "kHz")
    assert (found.role, found.factor, found.stated) == ("f", 1e3, True)


def test_c1_in_volt_is_a_channel_and_in_farad_a_capacitance():
    assert (meaning_of("C1 (mV)").channel, meaning_of("C1 (mV)").factor) == ("CH1", 1e-3)
    assert (meaning_of("C1", "V").role, meaning_of("C1", "V").channel) == ("voltage", "CH1")
    assert (meaning_of("C1 (nF)").role, meaning_of("C1 (nF)").variant) == ("C", "1")


def test_the_unit_in_the_heading_comes_before_the_units_row():
    assert meaning_of("Freq (MHz)", "kHz").factor == 1e6


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        (("Hz", "Ohm", "deg"), True),
        (("kHz", "", "-"), True),
        (("(s)", "(V)"), True),
        (("Sequence", "Volt"), True),
        (("Freq", "R", "X"), False),
        (("dB", "Freq(Hz)", "deg"), False),
        (("", ""), False),
        (("Hz", "some words here", "1"), False),
    ],
)
def test_a_units_row_is_told_from_a_heading(cells, expected):
    assert is_units_row(cells) is expected


def test_units_that_readers_need_beyond_the_usual_ones():
    assert unit_of("°") == (pytest.approx(DEGREE), "rad")
    assert unit_of("dB") == (1.0, "dB")
    assert unit_of("rad/s") == (1.0, "rad/s")
    assert unit_of("nonsense") is None
    assert unit_of("x" * 200) is None


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("  Güte ", "gute"),
        ("|Z|", "abs z"),
        ("tanδ", "tan delta"),
        ("Re(Z)", "re z"),
        ("Z''", "z im"),
        ("CH2/CH1", "ch2/ch1"),
        ("Größe", "grosse"),
    ],
)
def test_headings_are_compared_without_accents_and_signs(text, plain):
    assert normal(text) == plain


@given(st.text(max_size=60))
def test_any_heading_has_some_meaning_or_none(heading):
    assert isinstance(meaning_of(heading), Meaning)


@pytest.mark.parametrize(
    ("heading", "role"),
    [
        ("Real part [Ohm]", "R"),
        ("Imaginary part [Ohm]", "X"),
        ("Re (S)", "G"),
        ("Mag (ohm)", "|Z|"),
        ("w (rad/s)", "omega"),
        ("Déphasage (degrés)", "theta"),
        ("Fase (grados)", "theta"),
        ("Phase CH2-CH1 deg", "theta"),
        ("CH2 time (s)", "time"),
        ("Stimulus/Hz", "f"),
    ],
)
def test_a_unit_or_a_channel_tells_what_a_general_word_means(heading, role):
    assert meaning_of(heading).role == role
