"""What ``benchapp tank`` prints: every key of the JSON, every line of the text."""

from __future__ import annotations

import json

import pytest

from benchapp.cli import main

GA12 = (
    *("--L", "1.62mH±3%", "--C", "868pF±2%", "--R", "16", "--tan-delta", "3e-4"),
    *("--source", "2", "--load", "30", "--drive", "full 12V", "--at", "135kHz"),
    *("--band", "132kHz..136.5kHz", "--units", "5000", "--k", "0.05", "--Q2", "40"),
    *("--L2", "2.6mH", "--combine", "E12"),
)
NUMBER, TEXT, FLAG, LIST = (int, float), str, bool, list
KEYS = {
    "schema": TEXT,
    "circuit": TEXT,
    "derived": TEXT,
    "Z_tank": NUMBER,
    "Q": NUMBER,
    "BW": NUMBER,
    "Q_coil": NUMBER,
    "Q_capacitor": NUMBER,
    "Q_loaded": NUMBER,
    "BW_loaded": NUMBER,
    "R_coil": NUMBER,
    "ESR": NUMBER,
    "R": NUMBER,
    "edges": LIST,
    "zero_phase": NUMBER,
    "peak_frequency": NUMBER,
    "terminal_impedance": NUMBER,
    "damped_frequency": NUMBER,
    "log_decrement": NUMBER,
    "tau": NUMBER,
    "tau_loaded": NUMBER,
    "decay_cycles": NUMBER,
    "notes": LIST,
    "stress": LIST,
    "safety": LIST,
    "L.nominal": NUMBER,
    "L.low": NUMBER,
    "L.high": NUMBER,
    "L.rss_low": NUMBER,
    "L.rss_high": NUMBER,
    "L.unit": TEXT,
    "f0.nominal": NUMBER,
    "f0.rss_high": NUMBER,
    "band.low": NUMBER,
    "band.high": NUMBER,
    "band.inside": FLAG,
    "band.nearer": TEXT,
    "band.margin": NUMBER,
    "band.margin_fraction": NUMBER,
    "band.margin_rss": NUMBER,
    "band.margin_worst": NUMBER,
    "band.words": TEXT,
    "stack_up.frequency": NUMBER,
    "stack_up.worst_low": NUMBER,
    "stack_up.worst_high": NUMBER,
    "stack_up.rss_low": NUMBER,
    "stack_up.rss_high": NUMBER,
    "stack_up.shares": LIST,
    "stack_up.tighten": TEXT,
    "stack_up.tighten_to": NUMBER,
    "simulation.units": NUMBER,
    "simulation.mean": NUMBER,
    "simulation.sd": NUMBER,
    "simulation.quantiles": LIST,
    "simulation.edges": LIST,
    "simulation.counts": LIST,
    "simulation.below": NUMBER,
    "simulation.above": NUMBER,
    "simulation.outside": NUMBER,
    "simulation.outside_interval": LIST,
    "drive.form": TEXT,
    "drive.size": NUMBER,
    "drive.fundamental": NUMBER,
    "drive.point.frequency": NUMBER,
    "drive.point.impedance": NUMBER,
    "drive.point.phase_degrees": NUMBER,
    "drive.point.side": TEXT,
    "drive.point.source_current": NUMBER,
    "drive.point.tank_voltage": NUMBER,
    "drive.point.coil_voltage": NUMBER,
    "drive.point.coil_current": NUMBER,
    "drive.point.capacitor_voltage": NUMBER,
    "drive.point.capacitor_current": NUMBER,
    "drive.point.power": NUMBER,
    "drive.point.powers.coil": NUMBER,
    "drive.point.powers.capacitor": NUMBER,
    "drive.point.powers.joints": NUMBER,
    "drive.point.powers.sense resistor": NUMBER,
    "drive.point.powers.source": NUMBER,
    "drive.point.powers.load": NUMBER,
    "drive.unloaded.capacitor_voltage": NUMBER,
    "drive.resonance.capacitor_voltage": NUMBER,
    "drive.resonance_unloaded.capacitor_voltage": NUMBER,
    "drive.highest_voltage.capacitor_voltage": NUMBER,
    "drive.highest_current.capacitor_current": NUMBER,
    "link.coupling": NUMBER,
    "link.figure": NUMBER,
    "link.efficiency": NUMBER,
    "link.load_ratio": NUMBER,
    "link.critical_coupling": NUMBER,
    "link.series_load": NUMBER,
    "link.series_capacitance": NUMBER,
    "link.parallel_load": NUMBER,
    "link.parallel_capacitance": NUMBER,
    "preferred.series": TEXT,
    "preferred.nearest.value": NUMBER,
    "preferred.nearest.error": NUMBER,
    "preferred.pairs": LIST,
}


@pytest.fixture
def printed(capsys):
    def call(*words):
        main(["tank", *words], lambda _files: pytest.fail("opened the window"))
        return capsys.readouterr().out

    return call


@pytest.fixture
def answer(printed):
    return json.loads(printed(*GA12, "--json"))


def _at(value, path):
    for name in path.split("."):
        value = value[name]
    return value


@pytest.mark.parametrize(("path", "form"), KEYS.items())
def test_a_key_holds_what_scripts_expect(answer, path, form):
    value = _at(answer, path)
    assert isinstance(value, form)
    if form == NUMBER:
        assert not isinstance(value, bool)


def test_no_key_is_there_that_the_page_does_not_name(answer):
    named = {path.split(".")[0] for path in KEYS} | {"L", "C", "f0"}
    assert set(answer) == named


def test_a_stress_case_holds_its_five_limits(answer):
    case = answer["stress"][0]
    assert set(case) == {
        "case",
        "frequency",
        "voltage_rms",
        "voltage_peak",
        "current_rms",
        "slew",
        "dissipation",
        "outcome",
        "limits",
    }
    for limit in case["limits"]:
        assert set(limit) == {"name", "unit", "seen", "allowed", "outcome", "reason", "use"}


def test_a_share_tells_what_one_part_does(answer):
    for share in answer["stack_up"]["shares"]:
        assert set(share) == {"name", "sensitivity", "low", "high", "variance_share"}
        assert share["low"] < 0 < share["high"]


@pytest.mark.parametrize(
    "missing", ["band", "stack_up", "simulation", "drive", "link", "preferred"]
)
def test_what_was_not_asked_is_null(printed, missing):
    found = json.loads(printed("--L", "1mH", "--C", "1nF", "--json"))
    assert found[missing] is None


@pytest.mark.parametrize(
    "line",
    [
        "series tank",
        "  inductance L           1.6200 mH  at worst 1.5714 mH to 1.6686 mH",
        "  capacitance C          868.00 pF  at worst 850.64 pF to 885.36 pF",
        "  Z_tank = sqrt(L/C)     1.366 kΩ",
        "  coil resistance        16.00 Ω",
        "  capacitor ESR          409.8 mΩ",
        "  Q of the coil          85.38",
        "  Q of the capacitor     3333",
        "  Q of the tank          83.25",
        "  Q loaded               28.22",
        "  bandwidth              1.61217 kHz",
        "  bandwidth loaded       4.75597 kHz",
        "  zero phase at          134.216 kHz",
        "  least |Z| at           134.216 kHz",
        "  |Z| there              16.41 Ω",
        "  decay time tau         197.4 µs",
        "  decay time loaded      66.93 µs",
        "  cycles to 1/e          26.50",
        "band 132.000 kHz to 136.500 kHz: inside, but tolerances lead outside",
        "  margin to the low end 2.216 kHz",
        "what moves the resonance",
        "  all together at worst  -2.44 % / +2.57 %",
        "  root sum of squares    -1.8 % / +1.8 %",
        "  L                      -1.47 % / +1.53 %, 69 % of the squares",
        "  C                      -0.985 % / +1.02 %, 31 % of the squares",
        "  tighten first: L",
        "driven by 12.00 V full-bridge, fundamental 10.80 V rms",
        "  at the drive frequency: 135.000 kHz, inductive",
        "power link with k 0.05, Q 83.25 and 40",
        "  best efficiency        50.66 %",
        "  k sqrt(Q1 Q2)          2.89",
        "868.0 pF from E12",
        "  one capacitor: 820 pF (-5.53 %)",
        "note: Only the fundamental of the bridge's square wave is counted.",
    ],
)
def test_the_text_has_the_line(printed, line):
    assert line in printed(*GA12).splitlines()


@pytest.mark.parametrize(
    "line",
    [
        "parallel tank",
        "  zero phase at          137.832 kHz",
        "  greatest |Z| at        157.132 kHz",
        "  |Z| there              2.239 kΩ",
        "note: At Q 2 zero phase and greatest |Z| lie visibly apart: say which.",
    ],
)
def test_the_text_of_a_parallel_tank_tells_two_resonances_apart(printed, line):
    """RES-7 and RES-8 at Q 2."""
    words = ("--L", "1mH", "--C", "1nF", "--R", "500", "--circuit", "parallel")
    assert line in printed(*words).splitlines()


@pytest.mark.parametrize(
    "line",
    [
        "capacitor, at the drive frequency (100.000 kHz): over",
        "  peak voltage with DC          204.6 V        within: 32.5 % of the DC rating",
        "  rms voltage at the frequency  144.7 V        over: 117 % of the derating curve",
        "  rms current                   20.00 A        within: 66.7 % of the rated current",
        "  dV/dt                         128.6 V/µs     within: 64.3 % of the rated dV/dt",
        "  temperature rise              13.02 K        within: 65.1 % of the allowed rise",
    ],
)
def test_the_text_of_a_stress_table(printed, line):
    """20 A at 100 kHz in 220 nF; the curve read log-log at 100 kHz gives 123.6 V."""
    out = printed(
        *("--C", "220nF", "--f", "100kHz", "--drive", "20A", "--tan-delta", "3e-4"),
        *("--rated-dc", "630V", "--curve", "10kHz:250V 200kHz:100V", "--rated-current", "30A"),
        *("--rated-slew", "200", "--max-rise", "20", "--thermal", "15"),
    )
    assert line in out.splitlines()


def test_an_open_band_end_is_written_as_a_dash(printed):
    assert "band - to 136.000 kHz: inside, also at worst" in printed(
        "--L", "1.62mH±1%", "--C", "868pF", "--band", "..136kHz"
    )


def test_a_single_contributor_needs_no_advice_what_to_tighten(printed):
    assert "tighten first" not in printed("--L", "1.62mH±1%", "--C", "868pF")
