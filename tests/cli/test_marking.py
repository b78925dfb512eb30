"""``benchapp marking`` as a technician and as a script use it."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from benchapp.cli import ACCEPTED, USAGE, main

READING_KEYS = {
    "kind",
    "value",
    "unit",
    "tolerance_low",
    "tolerance_high",
    "absolute_tolerance",
    "rating_volt",
    "rating_kind",
    "dielectric",
    "why",
}


@pytest.fixture
def run(capsys):
    def call(*words):
        status = main(["marking", *words], lambda _files: pytest.fail("opened the window"))
        out, err = capsys.readouterr()
        return status, out, err

    return call


def test_json_has_the_fixed_form(run):
    status, out, err = run("103K 2J", "--json")
    answer = json.loads(out)
    assert (status, err) == (ACCEPTED, "")
    assert answer["schema"] == "benchapp.marking/1"
    assert answer["code"] == "103K 2J"
    assert all(set(reading) >= READING_KEYS for reading in answer["readings"])
    first = answer["readings"][0]
    assert first["kind"] == "capacitor"
    assert first["value"] == pytest.approx(10e-9)
    assert first["unit"] == "F"
    assert (first["tolerance_low"], first["tolerance_high"]) == pytest.approx((-0.1, 0.1))
    assert first["absolute_tolerance"] is None
    assert (first["rating_volt"], first["rating_kind"]) == (630, "dc")
    assert first["dielectric"] is None


def test_asymmetric_tolerance_in_json(run):
    first = json.loads(run("104Z", "--json")[1])["readings"][0]
    assert (first["tolerance_low"], first["tolerance_high"]) == pytest.approx((-0.2, 0.8))


def test_picofarad_tolerance_in_json_is_absolute(run):
    first = json.loads(run("4R7C", "--kind", "capacitor", "--json")[1])["readings"][0]
    assert first["absolute_tolerance"] == pytest.approx(0.25e-12)
    assert first["tolerance_high"] is None


def test_dielectric_and_ac_rating_in_json(run):
    first = json.loads(run("MKP X2 0.1µF 275V~", "--json")[1])["readings"][0]
    assert first["dielectric"] == "polypropylene"
    assert (first["rating_volt"], first["rating_kind"]) == (275, "ac")
    assert first["safety_class"] == "X2"


@pytest.mark.parametrize("code", ["0.1", "100"])
def test_ambiguous_markings_list_all_readings_most_likely_first(run, code):
    readings = json.loads(run(code, "--kind", "capacitor", "--json")[1])["readings"]
    values = [reading["value"] for reading in readings]
    assert {"0.1": [1e-7, 1e-13], "100": [1e-11, 1e-10]}[code] == pytest.approx(values[:2])
    shares = [reading["likelihood"] for reading in readings]
    assert shares == sorted(shares, reverse=True)


def test_words_may_also_stand_unquoted(run):
    quoted, loose = (
        run("brown black red gold", "--json")[1],
        run("brown", "black", "red", "gold", "--json")[1],
    )
    assert quoted == loose
    assert json.loads(quoted)["readings"][0]["value"] == 1000


def test_text_says_value_reason_and_caution(run):
    status, out, _ = run("103K 2J")
    assert status == ACCEPTED
    assert "capacitor 10 nF ±10 %, 630 V DC" in out
    assert "10 x 10^3 pF" in out
    assert "A DC rating is no AC rating" in out


def test_text_warns_where_several_values_are_possible(run):
    out = run("100")[1]
    assert "capacitor 10 pF" in out
    assert "capacitor 100 pF" in out
    assert "measure the part before you rely on one" in out


def test_text_shows_how_likely_each_reading_is(run):
    assert "   only  capacitor" in run("104/250V", "--kind", "capacitor")[1]
    assert "<1 %" in run("100")[1]
    assert ">99 %" in run("104K1H")[1]


def test_text_names_words_that_were_set_aside(run):
    assert "not understood and set aside: foo" in run("foo 104K")[1]


def test_class_2_and_ac_ratings_are_cautioned(run):
    assert "not for a tank" in run("104K X7R 50V")[1]
    assert "An AC rating holds at mains frequency" in run("0.1µF 275V~ X2")[1]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("1O4K",), "marking: must be a known code (got '1O4K'). Nearest valid form: 104K."),
        (("100nF", "--kind", "resistor"), "which only a capacitor or inductor carries"),
        ((), "marking: must have one of CODE, --write or --prefer (got 0)."),
        (
            ("104", "--write", "1nF"),
            "marking: must have one of CODE, --write or --prefer (got 2).",
        ),
        (("104", "--kind", "diode"), "invalid choice: 'diode'"),
        (("--write", "10V"), "value: must be in F, H or ohm (got the unit 'V')."),
        (("--write", "10nF", "--kind", "resistor"), "for a resistor (got the unit 'F')"),
        (("--prefer", "10nF", "--series", "E13"), "preferred series: must be one of E3"),
        (("--write", "1.2345nF"), "must have at most three significant digits"),
        (("--prefer", "0nF"), "wanted value: must be above zero"),
    ],
)
def test_bad_usage_is_one_sentence_and_status_2(run, words, sentence):
    status, out, err = run(*words)
    assert status == USAGE
    assert out == ""
    assert sentence in err
    assert err.startswith("benchapp: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_write_gives_markings_for_a_value(run):
    answer = json.loads(run("--write", "100nF ±10%", "--dc", "630V", "--json")[1])
    assert answer["schema"] == "benchapp.written/1"
    assert {"style": "three-digit code", "text": "104K 2J"} in answer["markings"]
    assert "104K 2J" in run("--write", "100nF ±10%", "--dc", "630V")[1]


def test_write_keeps_an_absolute_tolerance(run):
    texts = [
        entry["text"]
        for entry in json.loads(run("--write", "4.7pF ±0.25pF", "--json")[1])["markings"]
    ]
    assert "4R7C" in texts


def test_write_takes_the_kind_for_a_bare_number(run):
    answer = json.loads(run("--write", "4.7", "--kind", "resistor", "--json")[1])
    assert answer["unit"] == "ohm"


def test_prefer_gives_the_nearest_value_and_pairs_with_their_shares(run):
    answer = json.loads(run("--prefer", "868pF", "--json")[1])
    assert answer["schema"] == "benchapp.preferred/1"
    assert answer["nearest"]["value"] == pytest.approx(820e-12)
    best = answer["pairs"][0]
    assert best["connection"] == "parallel"
    assert (best["larger"], best["smaller"]) == pytest.approx((820e-12, 47e-12))
    assert best["error"] == pytest.approx(867 / 868 - 1)
    assert sum(best["current_shares"]) == pytest.approx(1)
    assert best["voltage_shares"] == [1, 1]


def test_prefer_shares_out_voltage_and_current(run):
    out = run("--prefer", "868pF", "--voltage", "100V", "--current", "2A")[1]
    assert "820 pF: 100 V rms, 1.89 A rms" in out
    assert "6.8 nF: 12.8 V rms, 2.00 A rms" in out
    assert "DC voltage divides by leakage" in out
    assert "% of the voltage" in run("--prefer", "868pF")[1]


def test_help_names_the_forms(run):
    with pytest.raises(SystemExit) as caught:
        run("--help")
    assert caught.value.code == 0


def test_reading_a_marking_needs_neither_scipy_nor_qt():
    code = (
        "import sys, benchapp.cli.marking\n"
        "sys.exit(str({'scipy', 'numpy', 'PySide6', 'pyvisa'} & set(sys.modules) or '') or 0)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr


def _first(run, *words):
    return json.loads(run(*words, "--json")[1])["readings"][0]


@pytest.mark.parametrize(
    ("words", "kind", "value", "unit"),
    [
        (("4K7",), "resistor", 4700.0, "ohm"),
        (("47K3",), "resistor", 47300.0, "ohm"),
        (("4R7", "--kind", "resistor"), "resistor", 4.7, "ohm"),
        (("4R7", "--kind", "inductor"), "inductor", 4.7e-6, "H"),
        (("4R7", "--kind", "capacitor"), "capacitor", 4.7e-12, "F"),
        (("R47", "--kind", "inductor"), "inductor", 0.47e-6, "H"),
        (("27N", "--kind", "inductor"), "inductor", 27e-9, "H"),
        (("101", "--kind", "inductor"), "inductor", 100e-6, "H"),
        (("104",), "capacitor", 100e-9, "F"),
        (("2n2",), "capacitor", 2.2e-9, "F"),
        (("68X",), "resistor", 49.9, "ohm"),
        (("yellow violet red gold",), "resistor", 4700.0, "ohm"),
        (("yellow violet red gold", "--kind", "inductor"), "inductor", 4.7e-3, "H"),
    ],
)
def test_first_reading_of_each_kind_of_part(run, words, kind, value, unit):
    first = _first(run, *words)
    assert first["kind"] == kind
    assert first["value"] == pytest.approx(value)
    assert first["unit"] == unit


@pytest.mark.parametrize(
    ("code", "volt", "kind"),
    [
        ("103K 2J", 630, "dc"),
        ("103K 1H", 50, "dc"),
        ("0.1µF 250V", 250, "dc"),
        ("0.1µF 250VDC", 250, "dc"),
        ("0.1µF 63-", 63, "dc"),
        ("0.1µF 250VAC", 250, "ac"),
        ("0.1µF 250V~", 250, "ac"),
        ("0.1µF X2 275V", 275, "ac"),
        ("104K", None, None),
    ],
)
def test_rating_in_json(run, code, volt, kind):
    first = _first(run, code)
    assert (first["rating_volt"], first["rating_kind"]) == (volt, kind)


@pytest.mark.parametrize(
    ("code", "dielectric"),
    [
        ("104K X7R", "X7R"),
        ("101J NP0", "C0G"),
        ("MKT 0.1 63V", "polyester"),
        ("MKP 0.1 400V", "polypropylene"),
        ("KS 1n0 63V", "polystyrene"),
        ("104K", None),
    ],
)
def test_dielectric_in_json(run, code, dielectric):
    assert _first(run, code)["dielectric"] == dielectric


def test_a_marking_without_a_value_has_null(run):
    first = _first(run, "X7R")
    assert first["value"] is None
    assert first["dielectric"] == "X7R"
    assert "no value in this marking" in first["why"]


@pytest.mark.parametrize(
    ("value", "texts"),
    [
        ("4.7nF ±5%", {"472J", "4n7J"}),
        ("4.7kOhm ±5%", {"472J", "4K7J", "yellow violet red gold"}),
        ("4.7µH ±20%", {"4R7M"}),
        ("27nH", {"27N"}),
        ("49.9ohm ±1%", {"49R9F", "68X"}),
    ],
)
def test_write_gives_the_usual_forms(run, value, texts):
    answer = json.loads(run("--write", value, "--json")[1])
    assert texts <= {entry["text"] for entry in answer["markings"]}


@pytest.mark.parametrize(
    ("wanted", "unit", "nearest"),
    [
        ("868pF", "F", 820e-12),
        ("1.406nF", "F", 1.5e-9),
        ("134ohm", "ohm", 120.0),
        ("2.66mH", "H", 2.7e-3),
    ],
)
def test_prefer_for_each_kind_of_part(run, wanted, unit, nearest):
    answer = json.loads(run("--prefer", wanted, "--json")[1])
    assert answer["unit"] == unit
    assert answer["nearest"]["value"] == pytest.approx(nearest)
    assert len(answer["pairs"]) == 5
    for pair in answer["pairs"]:
        assert set(pair) == {
            "connection",
            "larger",
            "smaller",
            "value",
            "error",
            "voltage_shares",
            "current_shares",
            "caution",
        }


def test_series_may_be_chosen(run):
    answer = json.loads(run("--prefer", "868pF", "--series", "E96", "--json")[1])
    assert answer["series"] == "E96"
    assert answer["nearest"]["value"] == pytest.approx(866e-12)
