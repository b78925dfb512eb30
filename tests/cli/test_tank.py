"""``benchapp tank`` as a technician and as a script use it."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from benchapp.cli import ACCEPTED, REJECTED, UNDECIDED, USAGE, main

FOLDER = Path(__file__).parent.parent / "truth"
RES1 = tomllib.loads((FOLDER / "resonance.toml").read_text(encoding="utf-8"))["RES-1"]
PRACTICE = tomllib.loads((FOLDER / "tank_practice.toml").read_text(encoding="utf-8"))
GA12 = ("--L", "1.62mH±3%", "--C", "868pF±2%", "--R", "16", "--tan-delta", "3e-4")


@pytest.fixture
def run(capsys):
    def call(*words):
        status = main(["tank", *words], lambda _files: pytest.fail("opened the window"))
        out, err = capsys.readouterr()
        return status, out, err

    return call


@pytest.fixture
def answer(run):
    def call(*words):
        status, out, err = run(*words, "--json")
        assert err == ""
        assert out.count("\n") == 1
        return status, json.loads(out)

    return call


def test_json_has_the_fixed_form(answer):
    status, found = answer("--L", "1mH", "--C", "1nF", "--R", "10")
    assert status == ACCEPTED
    assert found["schema"] == "benchapp.tank/1"
    for name, unit in (("L", "H"), ("C", "F"), ("f0", "Hz")):
        assert set(found[name]) == {"nominal", "low", "high", "rss_low", "rss_high", "unit"}
        assert found[name]["unit"] == unit
    assert found["f0"]["nominal"] == pytest.approx(RES1["f0"], rel=1e-13)
    assert found["Z_tank"] == pytest.approx(RES1["Z_tank"])
    assert found["Q"] == pytest.approx(RES1["Q"])
    assert found["BW"] == pytest.approx(RES1["BW"])
    assert found["tau"] == pytest.approx(200e-6)
    assert found["derived"] == "f0"


def test_tolerances_give_worst_case_and_root_sum_of_squares(answer):
    _, found = answer("--L", "1mH±10%", "--C", "1nF±5%")
    f0 = found["f0"]
    assert f0["low"] / f0["nominal"] - 1 == pytest.approx(PRACTICE["stack_up"]["worst_low"])
    assert f0["high"] / f0["nominal"] - 1 == pytest.approx(PRACTICE["stack_up"]["worst_high"])
    assert f0["rss_high"] / f0["nominal"] - 1 == pytest.approx(PRACTICE["stack_up"]["rss"])
    assert found["stack_up"]["tighten"] == "L"


@pytest.mark.parametrize(
    ("words", "derived", "key", "value"),
    [
        (("--L", "1 mH", "--f", "134.2 kHz"), "C", "C", 1.40648541062367e-9),
        (("--C", "1.40648541062367nF", "--f", "134.2kHz"), "L", "L", 1e-3),
        (("--C", "1n40648541062367", "--L", "1mH"), "f0", "f0", 134.2e3),
    ],
)
def test_any_two_give_the_third(answer, words, derived, key, value):
    """RES-10."""
    _, found = answer(*words)
    assert found["derived"] == derived
    assert found[key]["nominal"] == pytest.approx(value, rel=1e-9)


def test_parallel_circuit_tells_zero_phase_from_greatest_impedance(answer):
    _, found = answer("--L", "1mH", "--C", "1nF", "--R", "500", "--circuit", "parallel")
    assert found["zero_phase"] == pytest.approx(RES1["f0"] * 0.866025403784439)
    assert found["peak_frequency"] == pytest.approx(RES1["f0"] * 0.987291685061507)
    assert found["terminal_impedance"] == pytest.approx(2000 * 1.11946293585012)


def test_unknown_losses_are_null_and_noted(answer):
    _, found = answer("--L", "1mH", "--C", "1nF")
    assert found["Q"] is None
    assert found["BW"] is None
    assert any("coil's loss is not stated" in note for note in found["notes"])


def test_band_simulation_and_temperature(answer):
    _, found = answer(
        *GA12,
        *("--band", "132kHz..136.5kHz", "--units", "20000", "--seed", "3"),
        *("--temperature", "0..60", "--tempco-C", "-300 .. -200", "--also", "ageing C -1% +0%"),
    )
    assert found["band"]["inside"] is True
    assert found["band"]["words"] == "inside, but tolerances lead outside"
    assert [share["name"] for share in found["stack_up"]["shares"]][:2] == ["L", "C"]
    assert {share["name"] for share in found["stack_up"]["shares"]} >= {"temperature", "ageing"}
    draws = found["simulation"]
    assert draws["units"] == 20000
    assert draws["outside_interval"][0] < draws["outside"] < draws["outside_interval"][1]
    assert sum(draws["counts"]) == 20000


def test_the_seed_decides_the_simulation(answer):
    first, again, other = (
        answer(*GA12, "--units", "1000", "--seed", seed)[1]["simulation"]["mean"]
        for seed in ("1", "1", "2")
    )
    assert first == again != other


def test_an_open_ended_band(answer):
    assert answer(*GA12, "--band", "..136kHz")[1]["band"]["low"] is None


def test_drive_gives_currents_voltages_and_watts(answer):
    _, found = answer(*GA12, "--drive", "full 12V", "--at", "135kHz", "--load", "30")
    drive = found["drive"]
    assert drive["form"] == "full-bridge"
    assert drive["fundamental"] == pytest.approx(12 * PRACTICE["bridge"]["full"])
    assert drive["point"]["side"] == "inductive"
    assert drive["point"]["power"] == pytest.approx(sum(drive["point"]["powers"].values()))
    assert drive["unloaded"]["capacitor_voltage"] > drive["point"]["capacitor_voltage"]
    assert drive["resonance_unloaded"]["capacitor_voltage"] > 2 * 300
    assert found["safety"][-1].startswith("These notes are reminders")


def test_stress_of_the_worked_example(answer):
    entry = PRACTICE["capacitor_at_current"]
    status, found = answer(
        *("--C", "220nF", "--f", "100kHz", "--drive", "20A", "--tan-delta", "3e-4"),
        *("--rated-dc", "630V", "--curve", "10kHz:250V 200kHz:160V", "--rated-current", "30A"),
        *("--rated-slew", "200", "--max-rise", "20", "--thermal", "15"),
    )
    (case,) = found["stress"]
    assert status == ACCEPTED
    assert case["voltage_rms"] == pytest.approx(entry["voltage"])
    assert case["voltage_peak"] == pytest.approx(entry["peak"])
    assert case["dissipation"] == pytest.approx(entry["dissipation"])
    assert len(case["limits"]) == 5
    assert case["outcome"] in ("within", "near the limit")


@pytest.mark.parametrize(
    ("ratings", "status", "outcome"),
    [
        (("--rated-dc", "630V"), UNDECIDED, "cannot be judged"),
        (("--rated-dc", "150V"), REJECTED, "over"),
        ((), ACCEPTED, "cannot be judged"),
    ],
)
def test_status_tells_over_from_not_judged(answer, ratings, status, outcome):
    found = answer("--C", "220nF", "--f", "100kHz", "--drive", "20A", *ratings)
    assert found[0] == status
    assert found[1]["stress"][0]["outcome"] == outcome


def test_a_missing_curve_is_said_in_so_many_words(run):
    out = run("--C", "220nF", "--f", "100kHz", "--drive", "20A", "--rated-dc", "630V")[1]
    assert "cannot be judged: derating curve missing" in out
    assert "cannot be judged: cannot" not in out


def test_power_link(answer):
    _, found = answer(*GA12, "--k", "0.05", "--Q2", "40", "--L2", "2.6mH")
    assert 0.4 < found["link"]["efficiency"] < 0.6
    assert found["link"]["series_load"] > 0


def test_preferred_capacitors_with_their_stress(answer, run):
    _, found = answer(*GA12, "--combine", "E12", "--drive", "1V")
    assert found["preferred"]["pairs"][0]["value"] == pytest.approx(867e-12)
    text = run(*GA12, "--combine", "E12", "--drive", "1V")[1]
    assert "820 pF and 47 pF in parallel" in text
    assert " rms" in text
    assert "% of the current" in run(*GA12, "--combine", "E12")[1]


def test_text_is_for_a_technician(run):
    status, out, err = run(
        *GA12,
        *("--drive", "full 12V", "--band", "132kHz..136.5kHz", "--load", "30", "--units", "1000"),
        *("--k", "0.05", "--Q2", "40", "--L2", "2.6mH"),
    )
    assert (status, err) == (ACCEPTED, "")
    for words in (
        "series tank",
        "resonance f0           134.22 kHz  (worked out)  at worst 130.94 kHz to 137.66 kHz",
        "Q of the coil          85.38",
        "band 132.000 kHz to 136.500 kHz: inside, but tolerances lead outside",
        "tighten first: L",
        "outside the band",
        "driven by 12.00 V full-bridge, fundamental 10.80 V rms",
        "load taken away",
        "derating curve missing",
        "best efficiency",
        "caution: Danger:",
        "If unsure, stop and ask the responsible person.",
    ):
        assert words in out
    assert not {"None", "nan", "inf"} & set(out.replace(",", " ").split())


def test_no_caution_below_the_touch_limit(run):
    assert "caution" not in run(*GA12, "--drive", "100mV")[1]


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--L", "1mH"), "tank: must be given two of L, C and f (got 1)."),
        (("--L", "1mH", "--C", "1nF", "--f", "1kHz"), "two of L, C and f (got 3)"),
        (("--L", "1mH", "--C", "1kohm"), "quantity: must be in F (got '1kohm')"),
        (("--L", "1mH", "--C", "0F"), "capacitance: must be above zero"),
        ((*GA12, "--esr", "1"), "capacitor loss: must be its ESR or its tan delta"),
        ((*GA12, "--at", "134kHz"), "--at: must come with --drive"),
        ((*GA12, "--drive", "10Hz"), "--drive: must be in V or A (got '10Hz')"),
        ((*GA12, "--band", "134kHz"), "--band: must be LOW..HIGH (got '134kHz')"),
        ((*GA12, "--band", "136kHz..132kHz"), "band: must run from low to high"),
        ((*GA12, "--temperature", "60"), "--temperature: must be LOW..HIGH (got '60')"),
        ((*GA12, "--also", "ageing 1%"), "--also: must be a name, L or C, and a tolerance"),
        ((*GA12, "--units", "1.5"), "--units: must be a whole number"),
        (("--L", "1mH", "--C", "1nF", "--units", "10"), "stack-up: must have a tolerance"),
        ((*GA12, "--rated-dc", "630V"), "ratings of the capacitor: must come with --drive"),
        ((*GA12, "--drive", "1V", "--curve", "1kHz"), "--curve: must be points FREQUENCY:VOLTAGE"),
        ((*GA12, "--drive", "1V", "--curve", "1kHz:2V"), "derating curve: must have two or more"),
        ((*GA12, "--k", "0.1"), "power link: must have --k, --Q2 and this side's losses"),
        (("--L", "1mH", "--C", "1nF", "--k", "0.1", "--Q2", "9"), "power link: must have --k"),
        ((*GA12, "--k", "1.5", "--Q2", "40"), "coupling k: must be above 0 and below 1"),
        ((*GA12, "--correlation", "2"), "correlation: must be between two contributors"),
        ((*GA12, "--combine", "E5"), "preferred series: must be one of"),
        ((*GA12, "--circuit", "ladder"), "invalid choice: 'ladder'"),
    ],
)
def test_bad_usage_is_one_sentence_and_status_2(run, words, sentence):
    status, out, err = run(*words)
    assert status == USAGE
    assert out == ""
    assert sentence in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_a_tolerance_of_something_else_must_be_relative(run):
    status, _, err = run(*GA12, "--also", "ageing C ±1pF")
    assert status == USAGE
    assert "in %" in err or "must be in" in err


def test_ratings_without_determined_currents_are_not_passed(run):
    status, out, _ = run("--L", "1mH", "--C", "1nF", "--drive", "10V", "--rated-dc", "630V")
    assert status == UNDECIDED
    assert "Currents and voltages are not determined" in out


@pytest.mark.parametrize(
    ("words", "key", "value"),
    [
        (("--R", "20"), "Q", 50.0),
        (("--coil-Q", "50"), "R_coil", 20.0),
        (("--R", "10", "--esr", "10"), "Q", 50.0),
        (("--R", "10", "--tan-delta", "0.01"), "Q", 50.0),
        (("--R", "10", "--tan-delta", "0.01"), "ESR", 10.0),
        (("--R", "10", "--joints", "10"), "Q", 50.0),
        (("--R", "10", "--source", "10"), "Q", 100.0),
        (("--R", "10", "--source", "10"), "Q_loaded", 50.0),
        (("--R", "10", "--sense", "10"), "Q_loaded", 50.0),
        (("--R", "10", "--load", "10"), "Q_loaded", 50.0),
        (("--R", "10", "--circuit", "parallel", "--load", "100k"), "Q_loaded", 50.0),
        (("--R", "10", "--circuit", "parallel", "--source", "100k"), "Q_loaded", 50.0),
        (("--R", "10"), "Q_capacitor", None),
        ((), "Q", None),
        (("--R", "10"), "Z_tank", 1000.0),
        (("--R", "10"), "tau", 200e-6),
    ],
)
def test_every_loss_option_counts(answer, words, key, value):
    found = answer("--L", "1mH", "--C", "1nF", *words)[1][key]
    assert found == (None if value is None else pytest.approx(value))


@pytest.mark.parametrize(
    ("drive", "form", "size", "fundamental"),
    [
        ("10V", "sine", 10.0, 10.0),
        ("10 V", "sine", 10.0, 10.0),
        ("250mV", "sine", 0.25, 0.25),
        ("half 325V", "half-bridge", 325.0, 325 * 0.450158158078553),
        ("half-bridge 325", "half-bridge", 325.0, 325 * 0.450158158078553),
        ("full 24V", "full-bridge", 24.0, 24 * 0.900316316157106),
        ("FULL 24V", "full-bridge", 24.0, 24 * 0.900316316157106),
        ("2A", "current", 2.0, None),
        ("20 mA", "current", 0.02, None),
    ],
)
def test_forms_of_a_drive(answer, drive, form, size, fundamental):
    found = answer("--L", "1mH", "--C", "1nF", "--R", "10", "--drive", drive)[1]["drive"]
    assert found["form"] == form
    assert found["size"] == pytest.approx(size)
    assert found["fundamental"] == (None if fundamental is None else pytest.approx(fundamental))


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("132kHz..136kHz", 132e3, 136e3),
        ("132 kHz .. 136 kHz", 132e3, 136e3),
        ("132000..136000", 132e3, 136e3),
        ("..136kHz", None, 136e3),
        ("132kHz..", 132e3, None),
    ],
)
def test_forms_of_a_band(answer, text, low, high):
    band = answer("--L", "1.62mH", "--C", "868pF", "--band", text)[1]["band"]
    assert band["low"] == (None if low is None else pytest.approx(low))
    assert band["high"] == (None if high is None else pytest.approx(high))


@pytest.mark.parametrize(
    ("curve", "allowed"),
    [
        ("10kHz:250V 200kHz:100V", 123.6),
        ("10kHz:250V, 200kHz:100V", 123.6),
        ("10kHz:250V;200kHz:100V", 123.6),
        ("50kHz:200 200kHz:50", 100.0),
    ],
)
def test_forms_of_a_curve(answer, curve, allowed):
    """Log-log at 100 kHz: 250 (100/250)^(ln 10/ln 20) = 123.6 V; halfway 200 to 50 V is 100 V."""
    words = ("--C", "220nF", "--f", "100kHz", "--drive", "1A", "--curve", curve)
    limit = answer(*words)[1]["stress"][0]["limits"][1]
    assert limit["allowed"] == pytest.approx(allowed, abs=0.05)


@pytest.mark.parametrize("distribution", ["normal", "uniform", "triangular"])
def test_distributions_of_a_simulation(answer, distribution):
    words = (*GA12, "--units", "20000", "--distribution", distribution)
    found = answer(*words)[1]["simulation"]
    spread = {"normal": 1 / 3, "uniform": 1 / 3**0.5, "triangular": 1 / 6**0.5}[distribution]
    expected = 134215.5 / 2 * spread * (0.03**2 + 0.02**2) ** 0.5
    assert found["sd"] == pytest.approx(expected, rel=0.03)


def test_correlation_widens_the_spread(answer):
    sds = [
        answer(*GA12, "--units", "20000", "--correlation", r)[1]["simulation"]["sd"]
        for r in ("-0.9", "0", "0.9")
    ]
    assert sds == sorted(sds)
    assert sds[2] > 2 * sds[0]


def test_dc_on_the_capacitor_adds_to_the_peak(answer):
    words = ("--L", "1mH", "--C", "1nF", "--R", "10", "--drive", "1V")
    without, biased = (answer(*words, *more)[1]["stress"][0] for more in ((), ("--bias", "200V")))
    assert biased["voltage_peak"] == pytest.approx(without["voltage_peak"] + 200)
    assert biased["voltage_rms"] == without["voltage_rms"]
