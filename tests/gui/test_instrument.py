"""The instrument's model against the simulated bench, over real sockets of this computer."""

from __future__ import annotations

import time

import numpy as np
import pytest

from benchapp.bench.fault import Fault
from benchapp.bench.offer import Offer, setup_of
from benchapp.capture import Sweep
from benchapp.errors import QuantityError, UsageError
from benchapp.gui.instrument import Instrument
from benchapp.instruments import PARTIAL, visa
from benchapp.jobs import SaveCaptures, not_cancelled, silent

SHORT = {"points": "11"}


@pytest.fixture
def instrument(qtbot):
    made = Instrument()
    made.texts.update(SHORT)
    made.heard, made.captures = [], []
    made.told.connect(made.heard.append)
    made.taken.connect(made.captures.append)
    yield made
    made.close()


@pytest.fixture
def meter(instrument):
    with Offer().server() as server:
        instrument.choose(address=server.address)
        yield server


def idle(qtbot, instrument):
    qtbot.waitUntil(lambda: not instrument.is_busy, timeout=20_000)


def said(instrument):
    return [message for message in instrument.heard if message is not None]


def test_a_sweep_comes_in_point_by_point_and_leaves_the_output_off(qtbot, instrument, meter):
    sizes = []
    instrument.grew.connect(lambda: sizes.append(len(instrument.points)))
    instrument.take()
    assert (instrument.output, instrument.is_sweeping) == ("on", True)
    idle(qtbot, instrument)
    (capture,) = instrument.captures
    assert capture.frequency.tolist() == [point.frequency for point in instrument.points]
    assert sizes[-1] == 11
    assert sizes == sorted(sizes)
    assert (instrument.output, instrument.bias) == ("off", "off")
    assert not meter.panel.output
    assert capture.origin.part == "0001"
    assert instrument.texts["part"] == "0002"
    assert said(instrument) == []


def test_a_stop_keeps_the_points_within_a_fifth_of_a_second(qtbot, instrument, meter):
    instrument.set_text("points", "2001")
    instrument.take()
    qtbot.waitUntil(lambda: len(instrument.points) > 5, timeout=10_000)
    heard = len(meter.heard)
    start = time.monotonic()
    instrument.stop()
    qtbot.waitUntil(lambda: "ABOR" in meter.heard[heard:], timeout=5000)
    assert time.monotonic() - start < 2.0  # 0.2 s alone on a computer; many tests may run here
    idle(qtbot, instrument)
    (capture,) = instrument.captures
    assert 5 < capture.frequency.size < 2001
    assert capture.history[-1].name == PARTIAL
    (message,) = said(instrument)
    assert f"{capture.frequency.size} points are kept." in message.text
    assert message.mark == "doubt"
    assert not meter.panel.output


def test_off_stops_a_running_sweep(qtbot, instrument, meter):
    instrument.set_text("points", "2001")
    instrument.take()
    qtbot.waitUntil(lambda: len(instrument.points) > 2, timeout=10_000)
    instrument.switch_off()
    idle(qtbot, instrument)
    assert not meter.panel.output
    assert instrument.output == "off"


def test_off_at_rest_talks_to_the_instrument(qtbot, instrument, meter):
    meter.panel.execute("OUTP ON")
    instrument.switch_off()
    idle(qtbot, instrument)
    assert not meter.panel.output
    assert (instrument.output, instrument.bias) == ("off", "off")


def test_a_bias_needs_consent_that_ends_with_the_next_change(qtbot, instrument, meter):
    instrument.set_text("bias", "2 V")
    assert instrument.wants_consent()
    instrument.take()
    idle(qtbot, instrument)
    assert "bias: must be confirmed" in said(instrument)[-1].text
    assert meter.heard == []
    assert (instrument.output, instrument.bias) == ("off", "off")
    instrument.set_text("consent", "yes")
    instrument.take()
    assert instrument.bias == "on"
    idle(qtbot, instrument)
    assert len(instrument.captures) == 1
    assert instrument.bias == "off"
    instrument.set_text("bias", "3 V")
    assert instrument.texts["consent"] == "no"


def test_a_bias_that_may_be_on_blocks_the_next_part_until_it_is_off(qtbot, instrument, meter):
    instrument.bias = "unknown"
    instrument.take()
    assert not instrument.is_busy
    assert "do not disconnect" in said(instrument)[-1].text
    instrument.switch_off()
    idle(qtbot, instrument)
    assert instrument.obstacle == ""


def test_an_instrument_that_goes_away_leaves_the_points_and_a_warning(qtbot, instrument):
    server = Offer().server()
    server.start()
    instrument.choose(address=server.address)
    instrument.set_text("points", "2001")
    instrument.take()
    qtbot.waitUntil(lambda: len(instrument.points) > 3, timeout=10_000)
    server.stop()
    idle(qtbot, instrument)
    assert instrument.output == "unknown"
    assert instrument.captures[0].history[-1].name == PARTIAL
    message = said(instrument)[-1]
    assert message.mark == "stop"
    assert "switch it off at the instrument" in message.text


def test_nobody_there_is_said_with_what_to_do(qtbot, instrument):
    with Offer().server() as server:
        address = server.address
    instrument.choose(address=address)
    instrument.take()
    idle(qtbot, instrument)
    assert "refused connection" in said(instrument)[-1].text
    assert "Switch the instrument on" in said(instrument)[-1].hint
    assert instrument.captures == []


def test_a_broken_answer_on_the_way_is_measured_again(qtbot, instrument):
    with Offer(faults=(Fault(kind="reset", reply=15),)).server() as server:
        instrument.choose(address=server.address)
        instrument.take()
        idle(qtbot, instrument)
    assert instrument.captures[0].frequency.size == 11
    assert instrument.captures[0].history == ()


def test_without_an_address_nothing_is_taken(instrument):
    instrument.take()
    assert [message.text for message in said(instrument)] == ["No instrument is set up."]


@pytest.mark.parametrize(
    ("key", "words", "error"),
    [
        ("start", "", UsageError),
        ("stop", "many", QuantityError),
        ("level", "3 ohm", QuantityError),
    ],
)
def test_a_blank_that_cannot_be_understood_is_named(qtbot, instrument, meter, key, words, error):
    instrument.set_text(key, words)
    with pytest.raises(error, match="must") as refusal:
        instrument.plan()
    assert refusal.value.facts["key"] == key
    instrument.take()
    assert said(instrument)[-1].mark == "doubt"
    assert meter.heard == []


def test_the_trial_reading_shows_one_value_and_records_nothing(qtbot, instrument, meter):
    instrument.try_reading()
    idle(qtbot, instrument)
    assert instrument.trial.frequency == 114e3
    assert abs(instrument.trial.impedance) == pytest.approx(4247, rel=0.01)
    assert instrument.captures == []
    assert instrument.identity.startswith("SIMULATED BENCH")


def test_the_examination_tells_step_by_step(qtbot, instrument, meter):
    instrument.examine()
    idle(qtbot, instrument)
    assert [step.step for step in instrument.steps][:3] == ["address", "connection", "identity"]
    assert all(step.well for step in instrument.steps)
    assert instrument.identity.startswith("SIMULATED BENCH")


def standards(qtbot, instrument, server):
    for name, part in (("opened", "open"), ("shorted", "short"), ("load", "load")):
        server.clip(setup_of(part))
        instrument.take_standard(name)
        idle(qtbot, instrument)


def test_open_and_short_take_the_clip_away_and_the_raw_sweep_stays(qtbot, instrument, meter):
    instrument.set_text("start", "400 kHz")
    instrument.set_text("stop", "500 kHz")
    standards(qtbot, instrument, meter)
    assert instrument.captures == []
    del instrument.standards["load"]
    meter.clip(setup_of("coil"))
    instrument.take()
    idle(qtbot, instrument)
    (capture,) = instrument.captures
    raw = instrument.corrected[capture.digest].raw
    assert isinstance(raw, Sweep)
    assert raw.history == ()
    assert capture.history[0].name == "compensation"
    true = setup_of("coil").device
    from benchapp.bench.device import impedance

    wanted = impedance(true, capture.frequency)
    assert np.abs(capture.impedance / wanted - 1).max() < 0.01
    assert np.abs(raw.impedance / wanted - 1).max() > 0.015


def test_with_a_load_all_three_are_used(qtbot, instrument, meter):
    standards(qtbot, instrument, meter)
    compensation = instrument.fixture.compensation()
    assert compensation.words == "open, short, load"
    assert compensation.load_value == 1000
    instrument.forget_standards()
    assert instrument.fixture.compensation() is None


def test_where_the_rule_of_100_is_broken_it_is_said(qtbot, instrument, meter):
    standards(qtbot, instrument, meter)
    meter.clip(setup_of("tank"))
    instrument.take()
    idle(qtbot, instrument)
    assert "100 times away from the part" in said(instrument)[-1].text


def test_a_compensation_that_does_not_reach_is_said_and_the_raw_sweep_shown(
    qtbot, instrument, meter
):
    standards(qtbot, instrument, meter)
    meter.clip(setup_of("tank"))
    instrument.set_text("stop", "300 kHz")
    instrument.take()
    idle(qtbot, instrument)
    assert instrument.captures[0].history == ()
    assert said(instrument)[-1].mark == "doubt"


def test_the_bench_runs_in_the_program_and_stops(qtbot, instrument):
    instrument.start_bench("tank")
    idle(qtbot, instrument)
    assert instrument.address.startswith("TCPIP0::127.0.0.1::")
    instrument.clip("load")
    instrument.try_reading()
    idle(qtbot, instrument)
    assert instrument.trial.impedance.real == pytest.approx(1000, rel=0.01)
    instrument.stop_bench()
    idle(qtbot, instrument)
    assert (instrument.server, instrument.address) == (None, "")


def test_a_profile_that_the_bench_does_not_speak_is_said(qtbot, instrument):
    instrument.choose(profile="own.toml")
    instrument.start_bench("tank")
    idle(qtbot, instrument)
    assert "must be one that it speaks by itself" in said(instrument)[-1].text
    assert instrument.server is None


def test_another_address_forgets_what_the_old_one_said(qtbot, instrument, meter):
    instrument.try_reading()
    idle(qtbot, instrument)
    instrument.choose(address="TCPIP::192.0.2.7::5025::SOCKET")
    assert (instrument.identity, instrument.trial) == ("", None)


def test_serial_numbers_count_on_and_keep_their_width(qtbot, instrument, meter):
    for before, after in (("A-099", "A-100"), ("12x", "12x"), ("", "")):
        instrument.texts["part"] = before
        instrument.take()
        idle(qtbot, instrument)
        assert instrument.texts["part"] == after


def test_closing_in_mid_sweep_leaves_the_output_off(qtbot, instrument, meter):
    instrument.set_text("points", "2001")
    instrument.take()
    qtbot.waitUntil(lambda: len(instrument.points) > 2, timeout=10_000)
    instrument.close()
    assert not meter.panel.output


def test_an_examination_that_hangs_can_be_stopped(qtbot, instrument):
    with Offer(faults=(Fault(kind="stall", reply=0),)).server() as server:
        instrument.choose(address=server.address)
        instrument.examine()
        qtbot.waitUntil(lambda: len(instrument.steps) == 2, timeout=10_000)
        instrument.stop()
        idle(qtbot, instrument)
    assert [step.step for step in instrument.steps] == ["address", "connection"]


def test_what_is_refused_beforehand_does_not_hide_that_the_output_is_unsure(
    qtbot, instrument, meter
):
    instrument.output = "unknown"
    instrument.set_text("level", "50 V")
    instrument.take()
    idle(qtbot, instrument)
    assert "level: must be from" in said(instrument)[-1].text
    assert instrument.output == "unknown"


def test_after_a_fault_of_the_program_the_output_is_unsure(qtbot, instrument, meter, monkeypatch):
    def fail(*_arguments, **_more):
        raise RuntimeError("a fault")

    monkeypatch.setattr("benchapp.jobs.instrument.take", fail)
    instrument.take()
    idle(qtbot, instrument)
    assert (instrument.output, instrument.bias) == ("unknown", "unknown")
    assert "must not fail here" in said(instrument)[-1].text


def test_off_during_a_trial_reading_stops_it(qtbot, instrument):
    with Offer(faults=(Fault(kind="stall", reply=3),)).server() as server:
        instrument.choose(address=server.address)
        instrument.try_reading()
        qtbot.waitUntil(lambda: len(server.heard) > 5, timeout=10_000)
        instrument.switch_off()
        idle(qtbot, instrument)
        assert not server.panel.output
    assert instrument.output == "off"


def test_what_was_set_up_is_recalled_at_the_next_start(instrument, qtbot, tmp_path):
    mine = tmp_path / "mine.toml"
    mine.write_text("", encoding="utf-8")
    instrument.choose(address="GPIB0::5::INSTR", profile=str(mine), backend="@ivi")
    for key, words in (
        ("start", "100 kHz"),
        ("fixture", "clip"),
        ("delay", "5 ns"),
        ("bias", "2 V"),
    ):
        instrument.set_text(key, words)
    other = Instrument()
    other.recall(instrument.kept())
    assert (other.address, other.profile, other.backend) == ("GPIB0::5::INSTR", str(mine), "@ivi")
    assert (other.texts["start"], other.texts["fixture"], other.texts["delay"]) == (
        "100 kHz",
        "clip",
        "5 ns",
    )
    assert other.texts.get("bias", "") == ""
    mine.unlink()
    third = Instrument()
    third.recall(instrument.kept())
    assert third.profile == "lcr-points"
    for made in (other, third):
        made.close()


def test_the_address_of_the_simulated_bench_is_not_kept(qtbot, instrument):
    instrument.start_bench("tank")
    idle(qtbot, instrument)
    assert instrument.address
    assert instrument.kept()["address"] == ""


def test_the_reference_coil_is_measured_as_a_part_is(qtbot, instrument, meter):
    found = []
    instrument.checked.connect(found.append)
    instrument.take_reference()
    idle(qtbot, instrument)
    (capture,) = found
    assert capture.frequency.size == 11
    assert instrument.captures == []
    assert instrument.texts["part"] == "0001"


def test_looking_for_instruments_runs_on_request_only(qtbot, instrument, monkeypatch):
    asked = []
    monkeypatch.setattr(visa, "discover", lambda backend: asked.append(backend) or ("A", "B"))
    assert instrument.found is None
    instrument.discover()
    assert instrument.doing == "discovery"
    idle(qtbot, instrument)
    assert (asked, instrument.found) == (["@py"], ("A", "B"))


def test_a_saved_reading_of_the_fixture_is_opened(qtbot, instrument, meter, tmp_path):
    meter.clip(setup_of("short"))
    instrument.take()
    idle(qtbot, instrument)
    path = tmp_path / "short.csv"
    SaveCaptures(path=str(path), captures=tuple(instrument.captures))(silent, not_cancelled)
    instrument.open_standard("shorted", str(path))
    idle(qtbot, instrument)
    assert instrument.standards["shorted"].path == str(path)
    assert instrument.standards["shorted"].minutes(time.monotonic()) == 0


def test_a_file_that_is_no_reading_of_the_fixture_is_refused(qtbot, instrument, tmp_path):
    path = tmp_path / "odd.csv"
    path.write_text("hello", encoding="ascii")
    instrument.open_standard("opened", str(path))
    idle(qtbot, instrument)
    assert instrument.standards == {}
    assert said(instrument)


def test_a_blank_that_cannot_be_a_correction_leaves_the_sweep_as_it_came(qtbot, instrument, meter):
    instrument.set_text("source", "soon")
    instrument.take()
    idle(qtbot, instrument)
    assert instrument.captures[0].history == ()
    assert "soon" in said(instrument)[-1].text


def test_a_sweep_brings_what_the_station_knows(qtbot, instrument, meter):
    instrument.take()
    idle(qtbot, instrument)
    assert instrument.facts.dwell == pytest.approx(1.1 * 2.2 * 100 / 154e3)
    assert instrument.facts.compensated is None
    for name, part in (("opened", "open"), ("shorted", "short")):
        meter.clip(setup_of(part))
        instrument.take_standard(name)
        idle(qtbot, instrument)
    meter.clip(setup_of("tank"))
    instrument.take()
    idle(qtbot, instrument)
    assert instrument.facts.compensated is True
    assert 0 <= instrument.facts.compensation_age_hours < 0.1
    assert instrument.facts.open_ratio > 0
