"""The design file: what it means, and refusals that name the line and what was expected."""

from __future__ import annotations

import hashlib
import textwrap
from pathlib import Path

import pytest

from benchapp.capture import Conditions
from benchapp.errors import FileAccessError, NominalError
from benchapp.fit import QUANTITIES
from benchapp.nominal import (
    Accepted,
    Construction,
    Decision,
    Limit,
    Revision,
    load_nominal,
    nominal_from,
)
from benchapp.nominal.file import LIMIT_UNITS
from benchapp.units import UNITS

ROOT = Path(__file__).parents[2]
GA12 = """\
title = "Gate antenna coil GA-12"
revision = "C"
circuit = "tank"

[conditions]                    # at which the limits hold
frequency = "134.2 kHz"
level = "1 V"
temperature = "23 degC"
fixture = "four-terminal clip"

[limits.L]
nominal = "1.620 mH"
tolerance = "±3 %"

[limits.Q]
at = "134.2 kHz"
lower = 60
upper = 110

[limits.ESR]
at = "134.2 kHz"
upper = "22 ohm"

[decision]
guard = 1.0
coverage = 2
"""


def _load(tmp_path, text):
    path = tmp_path / "design.toml"
    path.write_text(text, encoding="utf-8")
    return load_nominal(path)


def _with(old, new):
    assert GA12.count(old) == 1
    return GA12.replace(old, new)


def _limits(text):
    return 'title = "x"\n' + text


def test_the_documented_design_is_read_whole(tmp_path):
    nominal = _load(tmp_path, GA12)
    assert (nominal.title, nominal.revision, nominal.circuit) == (
        "Gate antenna coil GA-12",
        "C",
        "tank",
    )
    assert nominal.frequency == 134.2e3
    assert nominal.conditions == Conditions(
        level_volt=1.0, temperature_celsius=23.0, fixture="four-terminal clip"
    )
    inductance, q, esr = nominal.limits
    assert inductance.nominal == 1.62e-3
    assert inductance.lower == pytest.approx(1.5714e-3, rel=1e-12)
    assert inductance.upper == pytest.approx(1.6686e-3, rel=1e-12)
    assert q == Limit(quantity="Q", unit="1", lower=60.0, upper=110.0, at=134.2e3)
    assert esr == Limit(quantity="ESR", unit="ohm", upper=22.0, at=134.2e3)
    assert nominal.decision == Decision(guard=1.0, coverage=2.0)
    assert nominal.source.endswith("design.toml")
    assert nominal.sha256 == hashlib.sha256(GA12.encode()).hexdigest()


def test_the_sample_design_is_the_one_that_the_document_shows():
    sample = (ROOT / "sample_captures" / "ga12.toml").read_text(encoding="utf-8")
    page = (ROOT / "docs" / "nominal.md").read_text(encoding="utf-8")
    assert textwrap.indent(sample, "    ") in page
    assert load_nominal(ROOT / "sample_captures" / "ga12.toml").limits[0].nominal == 1.62e-3


def test_conditions_without_a_tolerance_get_the_usual_one(tmp_path):
    level, temperature = _load(tmp_path, GA12).accepted
    assert level == Accepted(condition="level_volt", unit="V", stated=1.0, lower=0.8, upper=1.2)
    assert (temperature.lower, temperature.upper) == (18.0, 28.0)


def test_conditions_with_a_tolerance_keep_their_own(tmp_path):
    text = _with('"23 degC"', '"23 ±1 degC"').replace('"1 V"', '"10 mA -50 % +10 %"')
    level, temperature = _load(tmp_path, text).accepted
    assert (level.condition, level.lower, level.upper) == (
        "level_ampere",
        pytest.approx(5e-3),
        pytest.approx(11e-3),
    )
    assert (temperature.lower, temperature.upper) == (22.0, 24.0)


def test_everything_that_may_be_left_out_has_its_meaning():
    nominal = nominal_from({"title": "x", "limits": {"L": {"lower": "1 mH"}}})
    assert (nominal.circuit, nominal.revision, nominal.frequency) == ("auto", "", None)
    assert nominal.conditions == Conditions()
    assert nominal.accepted == ()
    assert nominal.decision == Decision(guard=1.0, coverage=2.0)


def test_all_conditions_can_be_stated():
    stated = {
        "bias": "0.5 A",
        "surroundings": "on the ferrite plate",
        "equivalent_circuit": "series",
    }
    nominal = nominal_from(
        {"title": "x", "conditions": stated, "limits": {"L": {"lower": "1 mH"}}}
    )
    assert nominal.conditions == Conditions(
        bias_ampere=0.5, surroundings="on the ferrite plate", equivalent_circuit="series"
    )


@pytest.mark.parametrize(
    ("entry", "low", "high"),
    [
        ({"nominal": "1.62 mH", "tolerance": "-2 % +5 %"}, 1.5876e-3, 1.701e-3),
        ({"nominal": "1.62 mH", "tolerance": "±50 µH"}, 1.57e-3, 1.67e-3),
        ({"nominal": "1.62 mH ±3 %"}, 1.5714e-3, 1.6686e-3),
        ({"nominal": "1,62 mH", "lower": "1.6 mH", "upper": "1.7 mH"}, 1.6e-3, 1.7e-3),
        ({"lower": "1600 uH", "upper": "1m7H"}, 1.6e-3, 1.7e-3),
    ],
)
def test_a_range_can_be_stated_in_every_usual_form(entry, low, high):
    (limit,) = nominal_from({"title": "x", "limits": {"L": entry}}).limits
    assert (limit.lower, limit.upper) == (
        pytest.approx(low, rel=1e-12),
        pytest.approx(high, rel=1e-12),
    )


def test_one_quantity_can_be_limited_at_several_frequencies(tmp_path):
    text = _limits(
        '[[limits."|Z|"]]\nat = "100 kHz"\nlower = "1 kohm"\n'
        '[[limits."|Z|"]]\nat = "200 kHz"\nupper = "500 ohm"\n'
    )
    first, second = _load(tmp_path, text).limits
    assert (first.at, first.lower, second.at, second.upper) == (1e5, 1e3, 2e5, 500.0)


def test_every_quantity_can_be_limited_in_a_known_unit():
    assert set(LIMIT_UNITS) == set(QUANTITIES)
    assert set(LIMIT_UNITS.values()) <= set(UNITS)


def test_theta_may_be_negative():
    limits = {"theta": {"at": "1 kHz", "lower": "-90 deg", "upper": "-85°"}}
    (limit,) = nominal_from({"title": "x", "limits": limits}).limits
    assert (limit.lower, limit.upper) == (-90.0, -85.0)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        # unknown keys
        ("tolerance", "toleranz", r"line 13: limits\.L\.toleranz must be .*mean tolerance"),
        ("[limits.ESR]", "[limits.esr]", r"line 20: limits\.esr must be a known key.*mean ESR"),
        ("[decision]", "[decisions]", r"line 24: decisions must be a known key of the design"),
        ("revision", "xyz", r"line 2: xyz must be a known key.*Check its spelling"),
        ("level =", "levels =", r"line 7: conditions\.levels must be a known key of \[condi"),
        # missing units
        ('"1.620 mH"', "1.62", r'line 12: limits\.L\.nominal must have a unit.*"1\.5 H"'),
        ('"1.620 mH"', '"1.62"', r"line 12: limits\.L\.nominal must have a unit \(got '1\.62'\)"),
        ('"1.620 mH"', '"1.62m"', r"line 12: limits\.L\.nominal must have a unit"),
        ('"22 ohm"', '"22"', r"line 22: limits\.ESR\.upper must have a unit"),
        ('"23 degC"', '"23"', r"line 8: conditions\.temperature must have a unit"),
        ('"1 V"', '"1"', r"line 7: conditions\.level must have a unit"),
        ('"±3 %"', '"±3"', r"line 13: limits\.L\.tolerance must be a tolerance with % or a unit"),
        ('"±3 %"', "3", r"line 13: limits\.L\.tolerance must be a tolerance with % or a unit"),
        # wrong values
        ('"1.620 mH"', '"1.62 mF"', r"line 12: limits\.L\.nominal must be in H \(got '1\.62 mF'"),
        ('"1.620 mH"', '"1,620 mH"', r"line 12: limits\.L\.nominal must have one reading"),
        ('"1.620 mH"', "true", r"line 12: limits\.L\.nominal must be a value in quotes"),
        ('"1 V"', '"1 mH"', r"line 7: conditions\.level must be in V"),
        ('"1 V"', '"2 Vpp"', r"line 7: conditions\.level must be an rms value"),
        ("lower = 60", 'lower = "60 ±5"', r"line 17: limits\.Q\.lower must be one value, without"),
        ("guard = 1.0", 'guard = "1"', r"line 25: decision\.guard must be a number"),
        ("guard = 1.0", "guard = true", r"line 25: decision\.guard must be a number"),
        ("guard = 1.0", "guard = nan", r"line 25: decision\.guard must be a number"),
        ("guard = 1.0", "guard = -1", r"line 25: decision\.guard must be zero or more"),
        ("coverage = 2", "coverage = 0", r"line 26: decision\.coverage must be above zero"),
        ('circuit = "tank"', 'circuit = "tanc"', r"line 3: circuit must be one of.*mean tank"),
        ('circuit = "tank"', "circuit = 3", r"line 3: circuit must be a text in quotes"),
        ('"Gate antenna coil GA-12"', '" "', r"line 1: title must be a text in quotes"),
        ('fixture = "four', 'equivalent_circuit = "four', "must be series or parallel"),
        # impossible ranges
        ("upper = 110", "upper = 50", r"line 15: limits\.Q must rise from lower over nominal"),
        ("upper = 110", "upper = 60", r"line 15: limits\.Q must rise from lower over nominal"),
        ("lower = 60", "lower = -60", r"line 15: limits\.Q must lie above zero"),
        ('"±3 %"', '"±120 %"', r"line 13: limits\.L\.tolerance must be a tolerance"),
        ('"±3 %"', '"±2 mH"', r"line 11: limits\.L must lie above zero"),
        ('"1.620 mH"', '"-1.62 mH"', r"line 11: limits\.L must lie above zero"),
        ('frequency = "134.2 kHz"', 'frequency = "0 Hz"', r"line 6: .* must be above zero"),
    ],
)  # fmt: skip
def test_refusals_name_the_line_and_what_was_expected(tmp_path, old, new, message):
    with pytest.raises(NominalError, match=message) as caught:
        _load(tmp_path, _with(old, new))
    assert caught.value.message.startswith("design.toml, line ")
    assert caught.value.hint


WIDE_L = '{ nominal = "1.62 mH ±3 %" }'
WRONG_C = '{ nominal = "868 nF ±2 %" }'
NARROW_F0 = '{ nominal = "134.2 kHz ±2 %" }'


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[limits.L]\n", r"line 2: limits\.L must have a tolerance, a lower or an upper limit"),
        ('[limits.L]\nnominal = "1 mH"\n', r"limits\.L must have a tolerance"),
        ('[limits.L]\ntolerance = "±3 %"\n', r"line 3: limits\.L\.tolerance must stand beside"),
        (
            '[limits.L]\nnominal = "1 mH"\ntolerance = "±3 %"\nlower = "1 mH"\n',
            r"line 4: limits\.L\.tolerance must stand beside nominal, without lower or upper",
        ),
        (
            '[limits.L]\nnominal = "1 mH ±2 %"\ntolerance = "±3 %"\n',
            r"limits\.L must state its range once",
        ),
        ('[limits."|Z|"]\nlower = "1 ohm"\n', "must say at which frequency"),
        ('[limits.theta]\nat = "1 kHz"\nupper = "200 deg"\n', "must lie within -180 to 180"),
        ('limits = "none"\n', "line 2: limits must be a table"),
        ("[limits]\nL = 3\n", r"line 3: limits\.L must be a table"),
        ("[limits]\n", "line 2: limits must hold at least one limit"),
        ("", "limits must hold at least one limit"),
        (
            f"limits = {{ L = {WIDE_L}, C = {WRONG_C}, f0 = {NARROW_F0} }}\n",
            r"line 2: limits\.f0 must overlap what L and C give, 4\.\d+ kHz to 4\.\d+ kHz",
        ),
        (
            '[[limits."|Z|"]]\nat = "1 kHz"\nlower = "1 ohm"\n[[limits."|Z|"]]\nat = "0 Hz"\n',
            r"line 6: limits\.\|Z\|\.2\.at must be above zero",
        ),
        (
            'limits.L = { nominal = "1 mF", tolerance = "±3 %" }\n',
            r"line 2: limits\.L\.nominal must be in H",
        ),
    ],
)
def test_incomplete_and_contradictory_limits_are_refused(tmp_path, text, message):
    with pytest.raises(NominalError, match=message) as caught:
        _load(tmp_path, _limits(text))
    assert caught.value.hint


def test_limits_of_l_c_and_f0_that_agree_are_accepted():
    limits = {
        "L": {"nominal": "1.62 mH ±3 %"},
        "C": {"nominal": "868 pF ±2 %"},
        "f0": {"lower": "130 kHz"},
    }
    assert len(nominal_from({"title": "x", "limits": limits}).limits) == 3


def test_a_missing_title_is_asked_for(tmp_path):
    with pytest.raises(NominalError, match=r"title must be a text in quotes \(got nothing\)"):
        _load(tmp_path, GA12.split("\n", 1)[1])


@pytest.mark.parametrize(
    ("text", "line"),
    [(GA12.replace('"1 V"', '"1 V'), 7), ("title = \n", 1), ('title = "x"\n[limits.L', 2)],
)
def test_what_is_not_toml_is_refused_with_the_line(tmp_path, text, line):
    with pytest.raises(NominalError, match=rf"design\.toml, line {line}: must be TOML \(got: "):
        _load(tmp_path, text)


@pytest.mark.parametrize(
    "content", [b"", b"\x00\x01\x02\x03" * 50, "title = 'µ'".encode("latin-1")]
)
def test_what_is_no_text_is_refused(tmp_path, content):
    path = tmp_path / "design.toml"
    path.write_bytes(content)
    with pytest.raises(NominalError, match="must be a nominal design, a short UTF-8 text file"):
        load_nominal(path)


def test_a_long_file_is_no_design(tmp_path):
    with pytest.raises(NominalError, match="must be a nominal design, a short"):
        _load(tmp_path, GA12 + "# filled up\n" * 6000)


def test_a_byte_order_mark_does_no_harm(tmp_path):
    path = tmp_path / "design.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GA12.encode())
    assert load_nominal(path).revision == "C"


def test_a_file_that_cannot_be_opened_is_refused(tmp_path):
    with pytest.raises(FileAccessError, match="must exist"):
        load_nominal(tmp_path / "nothing.toml")
    with pytest.raises(FileAccessError, match="got a folder"):
        load_nominal(tmp_path)


def test_a_design_from_a_mapping_is_refused_by_its_name():
    with pytest.raises(NominalError, match=r"^GA-12: limits\.X must be a known key"):
        nominal_from({"title": "x", "limits": {"X": {}}}, source="GA-12")


def test_the_construction_may_be_stated(tmp_path):
    text = GA12 + '\n[construction]\nturns = 56\nstrands = 30\ncore = "air"\n'
    assert _load(tmp_path, text).construction == Construction(turns=56, strands=30, core="air")
    assert _load(tmp_path, GA12).construction == Construction()


@pytest.mark.parametrize(
    ("line", "match"),
    [
        ("turns = 0", "line 28: construction.turns must be at least 1"),
        ("strands = 2.5", "line 28: construction.strands must be a whole number"),
        ('core = "wood"', "line 28: construction.core must be one of air, ferrite"),
        ("loops = 3", r"line 28: construction.loops must be a known key of \[construction\]"),
    ],
)
def test_an_impossible_construction_is_refused_with_its_line(tmp_path, line, match):
    text = GA12 + f"[construction]\n{line}\n"
    with pytest.raises(NominalError, match=match):
        _load(tmp_path, text)


def test_the_history_of_a_design_is_read_in_its_order(tmp_path):
    text = GA12 + '[[history]]\nrevision = "B"\ndate = "2026-03-14"\nby = "M. Ito"\n'
    text += '[[history]]\nrevision = "C"\ndate = "2026-05-02"\nchange = "L narrower"\n'
    assert _load(tmp_path, text).history == (
        Revision(revision="B", date="2026-03-14", by="M. Ito"),
        Revision(revision="C", date="2026-05-02", change="L narrower"),
    )
    assert _load(tmp_path, GA12).history == ()


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("[history]\n", r"line \d+: history must be a list of entries"),
        ('[[history]]\ndate = "14.3.2026"\n', r"line 28: history.date must be a date"),
        ('[[history]]\nwhen = "2026-03-14"\n', r"history.when must be a known key"),
    ],
)
def test_an_impossible_history_is_refused_with_its_line(tmp_path, text, match):
    with pytest.raises(NominalError, match=match):
        _load(tmp_path, GA12 + text)
