from __future__ import annotations

import math

import pytest

from benchapp.errors import FileAccessError, ProfileError
from benchapp.instruments.profile import METHODS, Column
from benchapp.instruments.profile_text import (
    is_profile,
    load_profile,
    parse_profile,
    shipped_profiles,
)

GOOD = """\
title = "Meter"
method = "impedance-points"

[link]
terminator = "CR"
timeout = "2 s"
settle = "5 ms"
numbers = "plain"

[limits]
frequency = "20 Hz .. 2 MHz"
level = "5 mV .. 2 V"

[send]
output_off = ["OUT 0"]
output_on = "OUT 1"
frequency = ["F {frequency}"]
level = ["V {level}"]

[ask]
read = "R?"

[answer]
separator = "blank"
columns = ["Ls (uH)", "Q", "status"]
good = ["N"]
"""


def test_a_profile_reads_as_written():
    profile = parse_profile(GOOD, "meter.toml")
    assert (profile.title, profile.method) == ("Meter", "impedance-points")
    assert (profile.link.terminator, profile.link.timeout) == ("\r", 2.0)
    assert (profile.settle, profile.numbers) == (5e-3, "plain")
    assert profile.limits.frequency == (20.0, 2e6)
    assert profile.limits.level == (5e-3, 2.0)
    assert profile.limits.bias is None
    assert profile.send["output_on"] == ("OUT 1",)
    assert profile.answer.columns[0] == Column(role="Ls", factor=1e-6)
    assert profile.answer.separator == " "
    assert profile.answer.good == ("N",)
    assert profile.source == "meter.toml"


def test_what_is_left_out_has_a_plain_default():
    profile = parse_profile(GOOD.replace('terminator = "CR"\n', ""), "m")
    assert profile.link.terminator == "\n"
    assert profile.link.identify == "*IDN?"
    assert (profile.done_answer, profile.off_answer, profile.no_error) == ("1", "0", "0")
    assert profile.limits.caution_level is None
    assert profile.limits.caution_bias == 0.0


@pytest.mark.parametrize("value", ["75", "75.0", '"75 ohm"'])
def test_a_port_impedance_may_be_a_plain_number(value):
    text = GOOD.replace('timeout = "2 s"', f"reference = {value}")
    assert parse_profile(text, "m").reference == 75.0


@pytest.mark.parametrize(
    ("column", "role", "factor"),
    [
        ("R", "R", 1.0),
        ("R (kohm)", "R", 1e3),
        ("theta (deg)", "theta", math.pi / 180),
        ("theta (rad)", "theta", 1.0),
        ("Cp (pF)", "Cp", 1e-12),
        (" |Z| ( ohm ) ", "|Z|", 1.0),
    ],
)
def test_a_column_is_a_role_with_a_unit(column, role, factor):
    other = {"R": "X", "theta": "|Z|", "Cp": "D", "|Z|": "theta (deg)"}[role]
    text = GOOD.replace('"Ls (uH)", "Q"', f'"{column}", "{other}"')
    found = parse_profile(text, "m").answer.columns[0]
    assert found.role == role
    assert found.factor == pytest.approx(factor, rel=1e-12)


# Each: what to replace, by what, and the refusal with its line.
REFUSALS = [
    ("[link]", "[link", r"m, line \d: must be TOML \(got: "),
    ('title = "Meter"\n', "", r"m: title must be a text in quotes \(got nothing\)"),
    ('title = "Meter"', "title = 5", r"m, line 1: title must be a text in quotes \(got 5\)"),
    ('title = "Meter"', 'title = "M\\u0007"', r"line 1: title must hold printable"),
    ('"impedance-points"', '"impedance"', r"line 2: method must be one of impedance-points, "),
    ("[link]", "[lnk]", r"must be a known key \(got 'lnk'\).*Did you mean link\?"),
    ("timeout", "timout", r"line 6: link.timout must be a known key.*Did you mean timeout\?"),
    ("timeout", "qqq", r"line 6: link.qqq must be a known key.*Known are terminator"),
    ('"CR"', '"CRR"', r"line 5: link.terminator must be one of LF, CR, CRLF \(got 'CRR'\)"),
    ('"2 s"', "2", r"line 6: link.timeout must be a text with a value and its unit.*\"5 s\""),
    ('"2 s"', '"2 V"', r"line 6: link.timeout must be a quantity in s \(got '2 V'\)"),
    ('"2 s"', '"0 s"', r"line 6: link.timeout must be above 0 and at most 600 s"),
    ('"2 s"', '"2 s"\nbaud_rate = "fast"', r"line 7: link.baud_rate must be a whole number"),
    ('"2 s"', '"2 s"\nidentify = "Ω?"', r"line 7: link.identify must be plain ASCII"),
    ('numbers = "plain"', 'numbers = "long"', r"line 8: link.numbers must be one of plain, "),
    ('"20 Hz .. 2 MHz"', '"20 Hz"', r"line 11: limits.frequency must be two bounds with \.\."),
    ('"20 Hz .. 2 MHz"', '"2 MHz .. 20 Hz"', r"line 11: .* must rise from the first"),
    ('"20 Hz .. 2 MHz"', '"20 .. 2 MHz"', r"line 11: .* value and its unit.*20 Hz"),
    ('"5 mV .. 2 V"', '"5 mA .. 2 A"', r"line 12: limits.level must be a quantity in V"),
    ('level = "5 mV .. 2 V"\n', "", r"line 10: limits.level must say what level can be set"),
    ('["OUT 0"]', "[0]", r"line 15: send.output_off must be a text or a list of texts"),
    ('output_off = ["OUT 0"]\n', "", r"line 14: send.output_off must be there for method"),
    ('["F {frequency}"]', '["F {level}"]', r"line 17: .* known names in braces: \{frequency\}"),
    ('["F {frequency}"]', '["F {frequency"]', r"line 17: send.frequency must close every brace"),
    ('["F {frequency}"]', '["F 1000"]', r"line 17: .* say where the value goes.*\{frequency\}"),
    ('["F {frequency}"]', '["F\\n{frequency}"]', r"line 17: .* must be plain ASCII text"),
    ('["OUT 0"]', '["OUT {frequency}"]', r"line 15: .* known names in braces: none"),
    ('read = "R?"', 'read = "R? {level}"', r"line 21: ask.read must use known names"),
    ('read = "R?"', "read = 1", r"line 21: ask.read must be a text in quotes \(got 1\)"),
    ('read = "R?"\n', "", r"line 20: ask.read must be there for method impedance-points"),
    ('"blank"', '"space"', r"line 24: answer.separator must be one of comma, semicolon, blank"),
    ('["Ls (uH)", "Q", "status"]', "5", r"line 25: answer.columns must be a list of texts"),
    ('"Ls (uH)"', '"Lx"', r"line 25: answer.columns must name known quantities: .*got 'Lx'"),
    ('"Ls (uH)"', '"Ls (uF)"', r"line 25: answer.columns must have Ls in H \(got 'Ls \(uF\)'\)"),
    ('"Ls (uH)"', '"Ls (bananas)"', r"line 25: answer.columns must have known units"),
    ('"Ls (uH)", "Q"', '"|Z|", "theta"', r"line 25: .* must give the unit of theta"),
    ('"Ls (uH)", "Q"', '"Q", "Q"', r"line 25: answer.columns must name each quantity once"),
    ('"Ls (uH)", "Q"', '"Q"', r"line 25: .* two quantities that fix an impedance.*got Q status"),
    ('good = ["N"]', "good = 1", r"line 26: answer.good must be a list of texts"),
    ('good = ["N"]\n', "", r"answer.good must go together: a status column"),
    (', "status"', "", r"line 25: answer.columns must go together: a status column"),
    ('good = ["N"]', 'good = ["N"]\noverload = -1', r"line 27: answer.overload must be a number"),
    ('good = ["N"]', 'good = ["N"]\nform = "xml"', r"line 27: answer.form must be one of text"),
    ('good = ["N"]', 'good = ["N"]\nnumber = "i4"', r"line 27: answer.number must be one of"),
    ("[ask]\n", "", r"send.read must be a known key"),
    ('[ask]\nread = "R?"', 'ask = "R?"', r"must be a known key|ask must be a table"),
]


@pytest.mark.parametrize(("old", "new", "refusal"), REFUSALS, ids=[r[2][:40] for r in REFUSALS])
def test_a_broken_rule_is_refused_with_its_line_and_what_was_expected(old, new, refusal):
    assert old in GOOD
    with pytest.raises(ProfileError, match=refusal) as error:
        parse_profile(GOOD.replace(old, new, 1), "m")
    assert error.value.hint


def test_a_table_that_is_none_is_refused():
    text = 'ask = "R?"\n' + GOOD.replace('[ask]\nread = "R?"\n', "")
    with pytest.raises(ProfileError, match=r"line 1: ask must be a table \(got 'R\?'\)"):
        parse_profile(text, "m")


@pytest.mark.parametrize(
    ("method", "columns", "why"),
    [
        ("reflection", '["R", "X"]', "hold re and im"),
        ("gain-phase", '["re", "im"]', "hold voltage"),
    ],
)
def test_each_method_needs_its_own_columns(method, columns, why):
    text = GOOD.replace("impedance-points", method).replace(
        '["Ls (uH)", "Q", "status"]\ngood = ["N"]', columns
    )
    with pytest.raises(ProfileError, match=why):
        parse_profile(text, "m")


# --- files --------------------------------------------------------------------------------


def test_a_file_is_read_and_a_shipped_name_is_found(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text(GOOD, encoding="utf-8-sig")
    assert load_profile(path).source == "mine.toml"
    assert load_profile("lcr-points").title.startswith("LCR meter")


def test_a_missing_file_names_the_profiles_that_come_with_the_program(tmp_path):
    with pytest.raises(FileAccessError, match=r"must be a file that can be opened.*lcr-points"):
        load_profile(tmp_path / "none.toml")


def test_a_file_that_is_no_text_or_too_large_is_refused(tmp_path):
    path = tmp_path / "p.toml"
    path.write_bytes(b"title = \xff")
    with pytest.raises(ProfileError, match=r"must be UTF-8 text \(got byte 0xff at 9\)"):
        load_profile(path)
    path.write_bytes(b"#" * 200_000)
    with pytest.raises(ProfileError, match="must be under 100 kB"):
        load_profile(path)


@pytest.mark.parametrize("name", sorted(shipped_profiles()))
def test_a_shipped_profile_names_no_maker_and_is_complete(name):
    profile = shipped_profiles()[name]
    assert profile.link.expect == ""
    assert "SCPI-1999" in profile.about
    assert {"done", "output", "error"} <= set(profile.ask)


def test_every_method_has_a_shipped_profile():
    assert {profile.method for profile in shipped_profiles().values()} == set(METHODS)


STATED = (
    GOOD
    + """\

[accuracy.instrument]
reading = "±0.1 %"
phase = "±0.05 deg"
"""
)


def test_a_profile_states_the_accuracy_of_its_instrument_as_an_accuracy_file_does():
    stated = parse_profile(STATED, "meter.toml").accuracy
    assert stated.reading.bound == pytest.approx(1e-3)
    assert stated.phase.bound == pytest.approx(math.radians(0.05))
    assert stated.title == "as stated in the profile Meter"
    assert stated.source == "meter.toml"
    assert len(stated.sha256) == 64


def test_the_profiles_that_come_with_the_program_state_no_accuracy():
    assert {name: profile.accuracy for name, profile in shipped_profiles().items()} == (
        dict.fromkeys(shipped_profiles())
    )


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"±0.1 %"', '"0.1"', r"meter.toml, line \d+: instrument.reading must be a fraction in %"),
        ("reading", "readingg", r"Did you mean reading\?"),
        ("[accuracy.instrument]", "[accuracy.instrment]", r"Did you mean instrument\?"),
    ],
)
def test_a_wrong_accuracy_is_refused_with_its_line(old, new, told):
    with pytest.raises(ProfileError, match=told):
        parse_profile(STATED.replace(old, new), "meter.toml")


def test_an_accuracy_that_is_no_table_is_refused():
    with pytest.raises(ProfileError, match=r"accuracy must be a table \(got 3\)"):
        parse_profile("accuracy = 3\n" + GOOD, "meter.toml")


def test_profiles_are_told_from_other_files(tmp_path):
    mine, other = tmp_path / "mine.toml", tmp_path / "other.toml"
    mine.write_text(GOOD, encoding="utf-8")
    other.write_text('[instrument]\nreading = "±1 %"\n', encoding="utf-8")
    assert is_profile(mine)
    assert is_profile("lcr-points")
    assert not is_profile(other)
    assert not is_profile(tmp_path / "none.toml")


def test_a_profile_states_until_when_the_calibration_holds():
    assert parse_profile(GOOD, "meter.toml").calibration_due is None
    dated = parse_profile("calibration_due = 2027-03-01\n" + GOOD, "meter.toml")
    assert dated.calibration_due == "2027-03-01"


@pytest.mark.parametrize("value", ['"2027-03-01"', "2027", "2027-03-01T08:00:00"])
def test_the_date_of_calibration_must_be_a_date(value):
    with pytest.raises(ProfileError, match=r"line 1: calibration_due must be a date"):
        parse_profile(f"calibration_due = {value}\n" + GOOD, "meter.toml")
