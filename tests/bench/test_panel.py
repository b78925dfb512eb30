from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from benchapp.bench import Analyser, Converter, Fixture, Meter, MeterRange, Scope, Setup
from benchapp.bench.analyser import parameter
from benchapp.bench.device import impedance, seen
from benchapp.bench.panel import PANELS, AnalyserPanel, Desk, MeterPanel, ScopePanel

F0 = 134.2e3


class Hand:
    """A clock that only moves when it is told to."""

    def __init__(self):
        self.time = 0.0

    def now(self):
        return self.time


@pytest.fixture
def hand():
    return Hand()


@pytest.fixture
def desk(tank, hand):
    return Desk(
        setup=Setup(device=tank),
        meter=Meter(noise=0.0, source_ohm=0.0),
        analyser=Analyser(noise=0.0),
        scope=Scope(converter=Converter(bits=16, full_scale=1.25), noise=0.0),
        now=hand.now,
    )


def floats(reply):
    return np.array([float(cell) for cell in reply.decode().split(",")])


def unblock(reply):
    digits = int(reply[1:2])
    return np.frombuffer(reply[2 + digits :], dtype=">f8")


def error(panel):
    return panel.execute("SYST:ERR?").decode().split(",")[0]


@pytest.mark.parametrize("name", ["lcr", "analyser", "scope"])
def test_every_panel_identifies_itself_in_four_fields_and_starts_with_its_output_off(desk, name):
    panel = PANELS[name](desk)
    fields = panel.execute("*IDN?").decode().split(",")
    assert len(fields) == 4
    assert fields[2] == str(desk.seed)
    assert panel.execute("OUTP?") == b"0"
    panel.execute("OUTP ON")
    assert panel.execute("OUTP?") == b"1"
    panel.execute("*RST")
    assert panel.execute("OUTP?") == b"0"


@pytest.mark.parametrize("name", ["lcr", "analyser", "scope"])
def test_every_setting_can_be_asked_back_and_refuses_what_is_out_of_range(desk, name):
    panel = PANELS[name](desk)
    for header, low, high, start in panel.knobs.values():
        assert float(panel.execute(f"{header.replace('[', '').replace(']', '')}?")) == start
        panel.execute(f"{header.replace('[', '').replace(']', '')} {high}")
        assert float(panel.execute(f"{header.replace('[', '').replace(']', '')}?")) == high
        panel.execute(f"{header.replace('[', '').replace(']', '')} {low - 1}")
        assert error(panel) == "-222"


@pytest.mark.parametrize(
    ("name", "ask"), [("lcr", "FETC?"), ("analyser", "CALC:DATA?"), ("scope", "TRAC? CH1")]
)
def test_asking_for_data_before_there_are_any_is_an_error_and_gives_no_reply(desk, name, ask):
    panel = PANELS[name](desk)
    assert panel.execute(ask) is None
    assert error(panel) == "-230"


@pytest.mark.parametrize(
    "line",
    ["FORM INT,8", "SENS:FUNC 'S31'", "SOUR:FUNC SQU", "SOUR:FREQ:MODE RAMP"],
)
def test_a_word_that_a_panel_does_not_know_is_an_illegal_parameter(desk, line):
    codes = set()
    for name in ("lcr", "analyser", "scope"):
        panel = PANELS[name](desk)
        panel.execute(line)
        codes.add(error(panel))
    assert "-224" in codes
    assert codes <= {"-224", "-113"}


def test_the_meter_reads_frequency_resistance_reactance_and_status(desk, hand):
    panel = MeterPanel(desk)
    panel.execute("OUTP ON;:SOUR:FREQ 134.2KHZ")
    hand.time += 1.0
    panel.execute("INIT")
    f, r, x, status = floats(panel.execute("FETC?"))
    z = impedance(desk.setup.device, F0)[0]
    assert f == F0
    assert complex(r, x) == pytest.approx(z, rel=1e-8)
    assert status == 0


def test_without_output_the_meter_says_so_in_its_status(desk):
    panel = MeterPanel(desk)
    panel.execute("SOUR:FREQ 1E5;:INIT")
    assert floats(panel.execute("FETC?"))[3] == 2


def test_right_after_a_change_of_frequency_the_reading_lags_as_the_part_rings(desk, hand):
    """After 2.2 Q/f0 = 2.2 pi tau 0.1 % of the change is left."""
    panel = MeterPanel(desk)
    panel.execute("OUTP ON;:SOUR:FREQ 120E3")
    hand.time += 1.0
    old, new = impedance(desk.setup.device, np.array([120e3, F0]))
    tau = 2 * 1.62e-3 / 17.08
    for wait in (0.0, tau, 2.2 * math.pi * tau):
        panel.execute("SOUR:FREQ 120E3")
        hand.time += 1.0
        panel.execute(f"SOUR:FREQ {F0}")
        hand.time += wait
        panel.execute("INIT")
        r, x = floats(panel.execute("FETC?"))[1:3]
        left = (complex(r, x) - new) / (old - new)
        assert left == pytest.approx(math.exp(-wait / tau), abs=1e-6)
    assert abs(left) == pytest.approx(1e-3, rel=0.01)


@pytest.mark.parametrize(
    ("line", "waits"),
    [("*OPC?", True), ("FETC?", True), ("*WAI", True), ("*IDN?", False), ("OUTP OFF", False)],
)
def test_results_wait_for_the_reading_and_averages_take_longer(desk, hand, line, waits):
    panel = MeterPanel(desk)
    assert panel.busy(line) == 0.0
    panel.execute("OUTP ON;:SENS:AVER:COUN 16;:INIT")
    hand.time += 5 * desk.reading_time
    assert panel.busy(line) == pytest.approx(11 * desk.reading_time if waits else 0.0)
    panel.execute("ABOR")
    assert panel.busy(line) == 0.0


def test_the_terse_meter_waits_with_its_data_only(desk):
    panel = PANELS["terse"](desk)
    panel.execute("G")
    assert panel.busy("D") == pytest.approx(desk.reading_time)
    assert panel.busy("I") == 0.0


def test_a_list_sweep_gives_every_point_in_text_or_block(desk):
    panel = MeterPanel(desk)
    panel.execute("OUTP ON;:SOUR:FREQ:MODE LIST;:SOUR:LIST:FREQ 1E5,1.342E5,2E5;:INIT")
    text = floats(panel.execute("FETC?")).reshape(3, 4)
    panel.execute("FORM REAL,64;:INIT")
    binary = unblock(panel.execute("FETC?")).reshape(3, 4)
    z = impedance(desk.setup.device, np.array([1e5, 1.342e5, 2e5]))
    np.testing.assert_allclose(binary[:, 1] + 1j * binary[:, 2], z)
    np.testing.assert_allclose(text, binary, rtol=1e-8)


def test_too_long_a_list_is_refused(desk):
    panel = MeterPanel(desk)
    panel.execute("SOUR:LIST:FREQ " + ",".join(["1E5"] * 3000))
    assert error(panel) == "-223"


def test_a_held_range_overloads_and_automatic_range_does_not(desk, hand):
    ranges = (MeterRange(upper_ohm=1e3), MeterRange(upper_ohm=1e6))
    panel = MeterPanel(replace(desk, meter=Meter(noise=0.0, ranges=ranges)))
    panel.execute(f"OUTP ON;:SOUR:FREQ {F0};:SENS:IMP:RANG 500")
    hand.time += 1.0
    panel.execute("INIT")
    assert floats(panel.execute("FETC?"))[3] == 1
    panel.execute("SENS:IMP:RANG:AUTO ON;:INIT")
    assert floats(panel.execute("FETC?"))[3] == 0


@pytest.mark.parametrize("through", ["series-through", "shunt-through"])
@pytest.mark.parametrize("name", ["S11", "S21"])
def test_the_analyser_sends_the_parameter_asked_for(desk, through, name):
    panel = AnalyserPanel(replace(desk, through=through))
    panel.execute("OUTP ON;:SENS:FREQ:STAR 120E3;STOP 150E3;:SENS:SWE:POIN 31")
    panel.execute(f'SENS:FUNC "XFR:POW:{name}"')
    assert error(panel) == "-224"  # names of functions have their long form only
    panel.execute(f'SENS:FUNC "XFRequency:POWer:{name}";:FORM REAL,64;:INIT')
    f = unblock(panel.execute("SENS:FREQ:DATA?"))
    pairs = unblock(panel.execute("CALC:DATA?")).reshape(-1, 2)
    np.testing.assert_allclose(f, np.linspace(120e3, 150e3, 31))
    method = "reflection" if name == "S11" else through
    expected = parameter(method, impedance(desk.setup.device, f), 50.0)
    np.testing.assert_allclose(pairs[:, 0] + 1j * pairs[:, 1], expected, rtol=1e-12)


def test_a_start_above_the_stop_is_a_settings_conflict(desk):
    panel = AnalyserPanel(desk)
    panel.execute("SENS:FREQ:STAR 1E6;STOP 1E5;:INIT")
    assert error(panel) == "-221"


def test_a_narrower_bandwidth_has_less_noise_and_takes_longer(desk, hand):
    noisy = replace(desk, analyser=Analyser(noise=1e-3))
    scatter, took = [], []
    for width in (1e3, 10.0):
        panel = AnalyserPanel(noisy)
        panel.execute(f"OUTP ON;:SENS:SWE:POIN 2001;:SENS:BAND {width};:FORM REAL,64")
        panel.execute("INIT")
        took.append(panel.busy("*OPC?"))
        pairs = unblock(panel.execute("CALC:DATA?")).reshape(-1, 2)
        f = unblock(panel.execute("SENS:FREQ:DATA?"))
        true = parameter("reflection", impedance(desk.setup.device, f), 50.0)
        scatter.append(np.sqrt(np.mean(np.abs(pairs @ [1, 1j] - true) ** 2)))
    assert scatter[0] / scatter[1] == pytest.approx(10.0, rel=0.2)
    assert took[1] / took[0] == pytest.approx(100.0)


def test_the_scope_records_both_ends_of_the_resistor(desk):
    panel = ScopePanel(desk)
    interval = 1 / (130e3 * 100)
    panel.execute(f"OUTP ON;:SOUR:FREQ 130E3;:SENS:SWE:TINT {interval};POIN 2000;:FORM REAL,64")
    panel.execute("SOUR:VOLT 1;:INIT")
    phasor = np.exp(-2j * np.pi * 130e3 * interval * np.arange(2000))
    a, b = (unblock(panel.execute(f"TRAC? CH{n}")) @ phasor for n in (1, 2))
    z = desk.series_ohm * b / (a - b)
    expected = seen(desk.setup, np.array([130e3]))[0]
    assert abs(z / expected - 1) < 1e-3


def test_the_scope_records_a_ring_down_after_a_step(desk):
    panel = ScopePanel(desk)
    panel.execute("OUTP ON;:SOUR:FUNC PULS;:SOUR:VOLT 1;:FORM REAL,64;:INIT")
    volts = unblock(panel.execute("TRAC? CH1"))
    assert volts.size == 2000
    assert volts[0] == pytest.approx(1.0, abs=1e-3)
    assert np.abs(volts[-50:]).max() < 0.2
    assert panel.execute("TRAC? CH2") is None
    assert error(panel) == "-224"


def test_without_output_the_scope_sees_nothing(desk):
    panel = ScopePanel(desk)
    panel.execute("FORM REAL,64;:INIT")
    assert not unblock(panel.execute("TRAC? CH1")).any()


def test_the_same_seed_and_talk_give_the_same_readings(desk):
    noisy = replace(desk, meter=Meter(noise=1e-3), seed=5)

    def talk():
        panel = MeterPanel(noisy)
        panel.execute("OUTP ON;:INIT")
        return panel.execute("FETC?")

    assert talk() == talk()


def test_the_terse_meter_measures_in_its_own_words(desk, hand):
    panel = PANELS["terse"](desk)
    assert b"TERSE" in panel.execute("I")
    assert panel.execute("D") == b"Z 0 P 0 O"
    assert panel.execute("E1") is None
    assert panel.execute("F134200") is None
    hand.time += 1.0
    assert panel.execute("G") is None
    words = panel.execute("D").decode().split()
    z = impedance(desk.setup.device, F0)[0]
    assert float(words[1]) == pytest.approx(abs(z), rel=1e-6)
    assert float(words[3]) == pytest.approx(np.degrees(np.angle(z)), abs=1e-4)
    assert words[4] == "N"


def test_the_terse_meter_numbers_its_last_error(desk):
    panel = PANELS["terse"](desk)
    panel.execute("Q")
    panel.execute("F-5")
    assert panel.execute("Q") == b"E222"
    assert panel.execute("Q") == b"E000"


def test_the_fixture_is_in_front_of_the_panels(desk, hand):
    clipped = replace(desk, setup=replace(desk.setup, fixture=Fixture(open_farad=10e-12)))
    panel = MeterPanel(clipped)
    panel.execute("OUTP ON;:SOUR:FREQ 120E3")
    hand.time += 1.0
    panel.execute("INIT")
    r, x = floats(panel.execute("FETC?"))[1:3]
    expected = 1 / (1 / impedance(desk.setup.device, 120e3)[0] + 2j * np.pi * 120e3 * 10e-12)
    assert complex(r, x) == pytest.approx(expected, rel=1e-8)
