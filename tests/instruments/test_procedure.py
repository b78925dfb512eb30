from __future__ import annotations

import hashlib
import re
import threading
import time
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.bench import Analyser, Converter, Meter, MeterRange, Scope, Setup, scenario
from benchapp.bench.device import impedance
from benchapp.bench.fault import FAULTS, Fault
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.capture import Conditions
from benchapp.errors import CancelledError, FitError, LinkError, UsageError
from benchapp.fit import fit
from benchapp.instruments.link import Link
from benchapp.instruments.plan import Plan
from benchapp.instruments.procedure import take
from benchapp.instruments.profile_text import load_profile, parse_profile, shipped_profiles

PROFILES = shipped_profiles()
LCR = PROFILES["lcr-points"]
PANEL = {"lcr": "lcr", "network": "analyser", "scope": "scope"}
DESK = Desk(
    setup=Setup(device=scenario.TANK),
    meter=Meter(noise=0.0),
    analyser=Analyser(noise=1e-6),
    scope=Scope(converter=Converter(bits=12, full_scale=1.25), noise=1e-4),
    reading_time=0.0,
)
SHORT = Plan(start=120e3, stop=150e3, points=6, coarse_points=6, zoom=False, series_ohm=10e3)
PAGE = Path(__file__).parents[2] / "docs/profiles.md"


@pytest.fixture(autouse=True)
def _hurry(monkeypatch):
    """Wait less before a link is taken up again."""
    monkeypatch.setattr("benchapp.instruments.procedure.RETRY_SECONDS", 0.1)


def bench(name="lcr-points", **server):
    return BenchServer(PANELS[PANEL[name.split("-")[0]]](DESK), **server)


def hurried(profile, timeout=0.3):
    return replace(profile.link, timeout=timeout, open_timeout=timeout)


def measured(name, plan, desk=DESK, **server):
    with BenchServer(PANELS[PANEL[name.split("-")[0]]](desk), **server) as running:
        link = Link(running.address, hurried(PROFILES[name], 2.0))
        return take(link, PROFILES[name], plan), list(running.heard)


def error_of(sweep):
    return np.abs(sweep.impedance / impedance(scenario.TANK, sweep.frequency) - 1).max()


# --- whole measurements -------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in PROFILES if name != "scope-ring-down"])
def test_every_shipped_profile_finds_the_tank_over_a_real_socket(name):
    plan = Plan(start=60e3, stop=300e3, points=41, series_ohm=10e3)
    wired = {"network-shunt": "shunt-through"}.get(name, "series-through")
    taken, _ = measured(name, plan, replace(DESK, through=wired))
    assert not taken.partial, taken.trouble
    f0, q = taken.resonance
    assert f0 == pytest.approx(134043.6, rel=2e-4)
    assert q == pytest.approx(78.42, rel=0.05)  # a search, one or two points in the bandwidth
    fine, coarse = taken.captures
    assert (fine.origin.label, coarse.origin.label) == ("fine", "coarse")
    assert (fine.frequency.size, coarse.frequency.size) == (41, 61)
    # An impedance of 100 kohm to ground hides in S21: noise of 1e-6 becomes 0.4 %.
    assert error_of(fine) < (2e-2 if name == "network-shunt" else 5e-3)
    found = fit(fine, "tank").estimates
    assert found["L"].value == pytest.approx(1.6313e-3, rel=1e-3)
    assert found["Q"].value == pytest.approx(78.42, rel=5e-3)


def test_a_ring_down_is_one_record():
    taken, _ = measured("scope-ring-down", Plan(start=0, stop=0))
    (record,) = taken.captures
    assert record.time.size == 2000
    assert fit(record).estimates["f0"].value == pytest.approx(134043.6, rel=1e-4)


def test_the_words_to_the_instrument_come_in_a_safe_order():
    """Output off first and last; on only after everything is set and no error was reported."""
    _, heard = measured("lcr-points", replace(SHORT, level=0.5, averages=4, range_upper=1e5))
    setup = heard[: heard.index("OUTP ON") + 1]
    assert setup == [
        "*IDN?",
        "ABOR",
        "SOUR:VOLT:OFFS 0",
        "OUTP OFF",
        "*CLS",
        "FORM ASC",
        "SOUR:FREQ:MODE CW",
        "SOUR:VOLT 5.0000000000E-01",
        "SENS:AVER:COUN 4",
        "SENS:IMP:RANG 100000",
        "SYST:ERR?",
        "OUTP ON",
    ]
    assert heard[-5:] == ["ABOR", "SOUR:VOLT:OFFS 0", "OUTP OFF", "OUTP?", "SYST:ERR?"]
    assert heard.count("OUTP ON") == 1


def test_a_bias_is_ramped_up_after_the_output_is_on_and_down_before_it_is_off():
    taken, heard = measured("lcr-points", replace(SHORT, bias=4.0, consent=True))
    ramp = [
        float(line.split()[1]) if "OFFS " in line else line
        for line in heard
        if line.startswith(("SOUR:VOLT:OFFS", "OUTP O"))
    ]
    up, down = [1.0, 2.0, 3.0, 4.0], [3.0, 2.0, 1.0, 0.0]
    assert ramp == [0.0, "OUTP OFF", "OUTP ON", *up, *down, 0.0, "OUTP OFF", "SOUR:VOLT:OFFS?"]
    assert taken.ending.output == "off"
    assert taken.ending.bias == "off"
    assert taken.captures[0].conditions.bias_volt == 4.0


def test_where_there_is_no_resonance_the_whole_range_is_measured_and_it_is_said():
    resistor = replace(DESK, setup=Setup(device=scenario.COIL))
    plan = Plan(start=5e3, stop=50e3, points=31)
    taken, _ = measured("lcr-list", plan, resistor)
    assert taken.resonance is None
    assert "no resonance" in taken.notes[0]
    assert taken.captures[0].frequency[[0, -1]] == pytest.approx([5e3, 50e3])


def test_too_few_coarse_points_to_find_anything_end_in_the_whole_range():
    taken, _ = measured("lcr-list", replace(SHORT, zoom=True))
    assert taken.resonance is None
    assert [sweep.origin.label for sweep in taken.captures] == ["fine", "coarse"]


def test_a_search_that_cannot_be_fitted_ends_in_the_whole_range(monkeypatch):
    def hopeless(*_):
        raise FitError("hopeless.")

    monkeypatch.setattr("benchapp.instruments.procedure.fit", hopeless)
    taken, _ = measured("lcr-list", replace(SHORT, zoom=True, coarse_points=9))
    assert not taken.partial
    assert "no resonance" in taken.notes[0]


@pytest.mark.parametrize(
    ("direction", "labels"),
    [("up", ["sweep"]), ("down", ["sweep"]), ("both", ["sweep down", "sweep up"])],
)
def test_a_sweep_goes_up_down_or_both_ways(direction, labels):
    taken, heard = measured("lcr-points", replace(SHORT, direction=direction))
    set_to = [float(line.split()[1]) for line in heard if line.startswith("SOUR:FREQ ")]
    rising = np.diff(set_to) > 0
    expected = {"up": [True] * 5, "down": [False] * 5, "both": [True] * 5 + [False] * 6}
    assert rising.tolist() == expected[direction]
    assert [sweep.origin.label for sweep in taken.captures] == labels
    assert all(np.all(np.diff(sweep.frequency) > 0) for sweep in taken.captures)


def test_where_a_capture_comes_from_and_its_conditions_travel_with_it():
    stated = Conditions(temperature_celsius=23.0, fixture="clip")
    plan = replace(SHORT, level=0.5, part="GA-12 serial 7", conditions=stated)
    taken, _ = measured("lcr-points", plan)
    (sweep,) = taken.captures
    assert sweep.origin.source == "SIMULATED BENCH,LCR METER,1,1.0"
    assert sweep.origin.reader == "profile lcr-points.toml"
    assert sweep.origin.part == "GA-12 serial 7"
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}\+00:00", sweep.origin.taken)
    assert len(sweep.origin.sha256) == len(hashlib.sha256().hexdigest())
    assert sweep.conditions == replace(stated, level_volt=0.5)


def test_a_network_sweep_carries_how_its_noise_scales():
    taken, _ = measured("network-series", SHORT)
    assert taken.captures[0].noise.kind == "series-through"


def test_overloaded_points_are_set_aside_with_frequency_and_reason():
    ranges = (MeterRange(upper_ohm=50e3),)
    desk = replace(DESK, meter=Meter(noise=0.0, ranges=ranges))
    taken, _ = measured("lcr-list", replace(SHORT, points=201), desk)
    assert taken.aside
    assert {aside.why for aside in taken.aside} == {"status 1.0"}
    assert all(abs(aside.frequency - 134e3) < 2e3 for aside in taken.aside)
    assert taken.captures[0].frequency.size == 201 - len(taken.aside)


def test_progress_and_points_are_told_as_they_come():
    told, seen = [], []
    with bench() as running:
        take(
            Link(running.address, hurried(LCR)),
            LCR,
            replace(SHORT, zoom=True, coarse_points=9),
            progress=lambda text, share: told.append((text, share)),
            watch=seen.append,
        )
    assert len(seen) == 9 + 6
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert 0 <= min(shares) <= max(shares) <= 1
    assert {"connecting", "looking for the resonance", "fine: 6 of 6"} <= {t for t, _ in told}


# --- refusals, failures, stops ------------------------------------------------------------


def test_a_plan_that_does_not_suit_is_refused_before_anything_is_sent():
    with bench() as running:
        with pytest.raises(UsageError, match="level: must be from"):
            take(Link(running.address, hurried(LCR)), LCR, replace(SHORT, level=50.0))
        assert running.heard == []


def test_an_instrument_that_refuses_a_setting_is_never_switched_on():
    wide = replace(LCR, limits=replace(LCR.limits, averages=(1.0, 1e6)))
    with bench() as running:
        taken = take(Link(running.address, hurried(LCR)), wide, replace(SHORT, averages=5000))
        heard = list(running.heard)
    assert taken.captures == ()
    assert isinstance(taken.trouble, LinkError)
    assert re.search(r"must accept the settings \(got -222,\"Data out", str(taken.trouble))
    assert "OUTP ON" not in heard
    assert "OUTP OFF" in heard
    assert taken.ending.warnings == ()


def test_nobody_at_the_address_is_one_plain_error_and_no_alarm():
    with bench() as running:
        address = running.address
    taken = take(Link(address, hurried(LCR)), LCR, replace(SHORT, retries=0))
    assert re.search("must listen at this address", str(taken.trouble))
    assert taken.partial
    assert taken.ending.warnings == ()


@pytest.mark.parametrize("kind", sorted(FAULTS))
@pytest.mark.parametrize(("name", "reply"), [("lcr-points", 10), ("lcr-list", 3)])
def test_a_fault_in_mid_sweep_is_overcome_and_no_wrong_point_is_stored(kind, name, reply):
    with bench(name, faults=(Fault(kind=kind, reply=reply),), seed=2) as running:
        link = Link(running.address, hurried(PROFILES[name]))
        start = time.monotonic()
        taken = take(link, PROFILES[name], SHORT)
        assert time.monotonic() - start < 0.3 + 1.0 + 0.8
    assert not taken.partial, taken.trouble
    assert error_of(taken.captures[0]) < 2e-3
    assert taken.captures[0].frequency.size == 6
    assert taken.reconnections == len(taken.notes)
    assert taken.reconnections in ({1, 2, 3} if kind == "refused" else {1})
    assert taken.ending.output == "off"


def test_after_a_break_the_sweep_goes_on_at_the_point_where_it_broke():
    with bench(faults=(Fault(kind="drop", reply=12),)) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, SHORT)
        set_to = [line for line in running.heard if line.startswith("SOUR:FREQ ")]
        switched = [line for line in running.heard if line.startswith("OUTP O")]
    assert len(set_to) == 6 + 1
    assert switched == ["OUTP OFF", "OUTP ON", "OUTP OFF", "OUTP ON", "OUTP OFF"]
    assert "taken up again after" in taken.notes[0]


def test_a_link_that_keeps_breaking_gives_the_points_so_far_marked_partial():
    faults = tuple(Fault(kind="garbage", reply=reply) for reply in range(9, 40))
    with bench(faults=faults) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, replace(SHORT, retries=1))
    assert taken.partial
    assert isinstance(taken.trouble, LinkError)
    (sweep,) = taken.captures
    assert sweep.frequency.size == 2
    assert error_of(sweep) < 2e-3


def test_points_that_came_in_between_start_the_count_of_retries_again():
    """Four breaks in one sweep, each at another point, with two retries allowed."""
    faults = tuple(Fault(kind="drop", reply=reply) for reply in (5, 13, 21, 29))
    with bench(faults=faults) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, replace(SHORT, points=12))
    assert not taken.partial
    assert taken.reconnections == 4


def test_an_error_queue_that_answers_nonsense_is_a_broken_link_not_a_refusal():
    with bench(faults=(Fault(kind="stale", reply=1),)) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, SHORT)
    assert not taken.partial
    assert taken.reconnections == 1


@pytest.mark.parametrize("kind", ["stall", "none"])
def test_a_stop_keeps_the_points_so_far_switches_off_and_is_heard_at_once(kind):
    pressed = threading.Event()
    faults = (Fault(kind="stall", reply=8),) if kind == "stall" else ()
    seen, at = [], []

    def watch(point):
        seen.append(point)
        if len(seen) == 2:
            at.append(time.monotonic())
            pressed.set()

    with bench(faults=faults) as running:
        link = Link(running.address, hurried(LCR, 30.0), cancelled=pressed.is_set)
        taken = take(link, LCR, SHORT, watch=watch)
        took = time.monotonic() - at[0]
        heard = list(running.heard)
    assert took < 0.3  # 0.2 s to hear it, and switching off
    assert isinstance(taken.trouble, CancelledError)
    assert taken.partial
    assert taken.captures[0].frequency.size == 2
    assert heard[-3:] == ["OUTP OFF", "OUTP?", "SYST:ERR?"]
    assert taken.ending.output == "off"


def test_a_stop_in_a_long_measurement_breaks_it_off_and_switches_off_at_once():
    """A list sweep that takes 20 s at the instrument."""
    pressed = threading.Event()
    slow = replace(DESK, reading_time=10.0)
    plan = replace(SHORT, points=2)
    profile = PROFILES["lcr-list"]
    with BenchServer(PANELS["lcr"](slow)) as running:
        link = Link(running.address, hurried(profile, 30.0), cancelled=pressed.is_set)
        timer = threading.Timer(0.3, pressed.set)
        timer.start()
        start = time.monotonic()
        taken = take(link, profile, plan)
        assert time.monotonic() - start < 0.3 + 0.2 + 0.5
        assert running.heard[-5:-2] == ["ABOR", "SOUR:VOLT:OFFS 0", "OUTP OFF"]
        timer.join()
    assert isinstance(taken.trouble, CancelledError)
    assert taken.captures == ()
    assert taken.ending.output == "off"


def test_a_link_that_is_lost_for_good_ends_in_a_warning_that_cannot_be_overseen():
    class Dying:
        """Falls silent for ever after the first point."""

        def __init__(self):
            self.inner = PANELS["lcr"](DESK)
            self.server = None

        def busy(self, _line):
            return 0.0

        def execute(self, line):
            if line == "FETC?":
                self.server.refuse(60.0)
                time.sleep(0.15)  # until the port is closed
            return self.inner.execute(line)

    panel = Dying()
    faults = (Fault(kind="drop", reply=5),)
    with BenchServer(panel, faults=faults) as running:
        panel.server = running
        plan = replace(SHORT, retries=0, bias=1.0, consent=True)
        taken = take(Link(running.address, hurried(LCR)), LCR, plan)
    assert taken.partial
    assert taken.ending.output == "unknown"
    warnings = " ".join(taken.ending.warnings)
    assert "Switching off failed" in warnings
    assert "could not be confirmed that the output is off" in warnings
    assert "bias may still be on: do not disconnect" in warnings


def test_an_output_that_stays_on_is_said():
    class Stuck:
        def __init__(self):
            self.inner = PANELS["lcr"](DESK)

        def busy(self, _line):
            return 0.0

        def execute(self, line):
            return b"1" if line == "OUTP?" else self.inner.execute(line)

    with BenchServer(Stuck()) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, SHORT)
    assert taken.ending.output == "on"
    assert "switch it off at the instrument" in taken.ending.warnings[0]


def test_a_break_while_switching_off_is_overcome_in_silence():
    """The answer to OUTP? breaks off; the second attempt confirms."""
    with bench(faults=(Fault(kind="drop", reply=2 + 3 * 6),)) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, SHORT)
        assert [line for line in running.heard if line == "OUTP?"] == ["OUTP?", "OUTP?"]
    assert taken.ending.output == "off"
    assert taken.ending.warnings == ()


def test_a_lost_link_without_bias_does_not_warn_of_one():
    faults = tuple(Fault(kind="stall", reply=reply) for reply in range(5, 60))
    with bench(faults=faults) as running:
        taken = take(Link(running.address, hurried(LCR, 0.1)), LCR, replace(SHORT, retries=0))
    assert taken.ending.bias == "off"
    assert [warning.partition(":")[0] for warning in taken.ending.warnings] == [
        "Switching off failed",
        "It could not be confirmed that the output is off",
    ]


def test_a_link_is_as_before_after_a_measurement():
    with bench() as running:
        link = Link(running.address, hurried(LCR, 5.0), cancelled=lambda: False)
        before = link.cancelled, link.settings
        take(link, LCR, SHORT)
        assert (link.cancelled, link.settings) == before
        assert not link.is_open


@pytest.mark.parametrize(
    ("answer", "state"), [(b"0.0", "off"), (b"-1E-4", "off"), (b"2.5", "on"), (b"HM", "unknown")]
)
def test_a_bias_that_is_not_zero_or_says_nothing_is_said(answer, state):
    class Biased:
        def __init__(self):
            self.inner = PANELS["lcr"](DESK)

        def busy(self, _line):
            return 0.0

        def execute(self, line):
            return answer if line == "SOUR:VOLT:OFFS?" else self.inner.execute(line)

    with BenchServer(Biased()) as running:
        plan = replace(SHORT, bias=1.0, consent=True)
        taken = take(Link(running.address, hurried(LCR)), LCR, plan)
    assert taken.ending.bias == state
    assert bool(taken.ending.warnings) == (state != "off")


def test_errors_that_the_instrument_reports_at_the_end_are_passed_on():
    class Complaining:
        def __init__(self):
            self.inner = PANELS["lcr"](DESK)

        def busy(self, _line):
            return 0.0

        def execute(self, line):
            if line == "OUTP?":
                self.inner.execute("NONSENSE")
            return self.inner.execute(line)

    with BenchServer(Complaining()) as running:
        taken = take(Link(running.address, hurried(LCR)), LCR, SHORT)
    assert taken.ending.warnings == ('The instrument reports: -113,"Undefined header"',)


# --- a technician's own profile -----------------------------------------------------------


def test_a_profile_written_from_the_page_measures_with_a_meter_that_no_shipped_one_knows():
    mine = load_profile(Path(__file__).parent / "terse.toml")
    with BenchServer(PANELS["terse"](DESK), end=b"\r") as running:
        link = Link(running.address, hurried(mine))
        taken = take(link, mine, replace(SHORT, level=0.5, averages=2))
        for profile in PROFILES.values():
            link = Link(running.address, hurried(profile, 0.1))
            assert take(link, profile, replace(SHORT, retries=0)).partial
    assert not taken.partial, taken.trouble
    assert error_of(taken.captures[0]) < 2e-3
    assert taken.captures[0].origin.source == "TERSE METER OF THE SIMULATED BENCH"
    assert taken.ending.output == "unknown"
    assert "could not be confirmed" in taken.ending.warnings[0]


def test_a_meter_that_cannot_say_it_is_done_and_is_slow_to_change_is_waited_for():
    class Slow:
        def __init__(self):
            self.inner = PANELS["terse"](DESK)

        def busy(self, line):
            return self.inner.busy(line)

        def execute(self, line):
            if line.startswith("F"):
                time.sleep(0.02)  # ten times as long as the part takes to settle
            return self.inner.execute(line)

    mine = load_profile(Path(__file__).parent / "terse.toml")
    with BenchServer(Slow(), end=b"\r") as running:
        taken = take(Link(running.address, hurried(mine, 2.0)), mine, SHORT)
    assert error_of(taken.captures[0]) < 2e-3


def test_the_example_on_the_page_is_a_good_profile():
    example = re.search(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)[1]
    profile = parse_profile(example, "example")
    assert profile.done_answer == "YES"
    assert profile.answer.columns[0].factor == 1e3


def test_the_page_explains_every_key_that_a_profile_can_have():
    from benchapp.instruments import profile_text
    from benchapp.instruments.profile import ASKS, METHODS, SENDS

    text = PAGE.read_text(encoding="utf-8")
    keys = {
        *METHODS,
        *SENDS,
        *ASKS,
        *profile_text.LINK,
        *profile_text.LIMITS,
        *profile_text.ANSWER,
        *profile_text.NUMBERS,
        *(f'"{name}"' for name in profile_text.SEPARATORS),
        *("{" + name + "}" for names in SENDS.values() for name in names),
        *PROFILES,
    }
    assert [key for key in sorted(keys) if key not in text] == []
    words = {*tomllib.loads(Path(__file__).with_name("terse.toml").read_text())["send"]}
    assert words <= keys


def test_the_wait_at_each_point_is_told_where_the_program_waits():
    taken, _ = measured("lcr-points", SHORT)
    assert taken.dwell == pytest.approx(1.1 * 2.2 * 100 / 150e3)
    held, _ = measured("lcr-points", replace(SHORT, settle=3e-3))
    assert held.dwell == 3e-3
    stepped, _ = measured("lcr-list", SHORT)
    assert stepped.dwell is None
    assert taken.calibration_due is None
