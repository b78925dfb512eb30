from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from benchapp.bench import Setup, scenario
from benchapp.bench.fault import Fault
from benchapp.bench.panel import PANELS, Desk
from benchapp.bench.server import BenchServer
from benchapp.errors import CancelledError
from benchapp.instruments.doctor import examine_address
from benchapp.instruments.profile_text import load_profile, shipped_profiles

DESK = Desk(setup=Setup(device=scenario.TANK), reading_time=0.0)


def hurried(name="lcr-points", **link):
    profile = shipped_profiles()[name]
    return replace(profile, link=replace(profile.link, timeout=0.3, open_timeout=0.3, **link))


def examined(server, profile=None):
    return list(examine_address(server.address, profile or hurried()))


def steps(found):
    return [(entry.step, entry.well) for entry in found]


def test_a_good_address_goes_through_every_step_and_only_asks_and_switches_off():
    with BenchServer(PANELS["lcr"](DESK)) as server:
        found = examined(server)
        heard = list(server.heard)
    names = ["address", "connection", "identity", "output off", "output", "error", "done"]
    assert steps(found) == [(name, True) for name in names]
    assert found[2].found == "SIMULATED BENCH,LCR METER,1,1.0"
    assert heard[:4] == ["*IDN?", "ABOR", "SOUR:VOLT:OFFS 0", "OUTP OFF"]
    assert heard[4:] == ["OUTP?", "SYST:ERR?", "*OPC?"]
    assert all(0 <= entry.seconds < 0.3 for entry in found)


def test_without_a_profile_the_identity_is_asked_and_nothing_else():
    with BenchServer(PANELS["lcr"](DESK)) as server:
        found = list(examine_address(server.address))
        assert server.heard == ["*IDN?"]
    assert steps(found) == [("address", True), ("connection", True), ("identity", True)]


@pytest.mark.parametrize("address", ["", "hello", "192.0.2.7", "http://instrument"])
def test_what_is_no_address_ends_at_the_first_step_with_examples(address):
    (found,) = examine_address(address)
    assert (found.step, found.well) == ("address", False)
    assert "TCPIP::" in found.advice


@pytest.mark.parametrize(
    "address",
    [
        "TCPIP::192.0.2.7::5025::SOCKET",
        "TCPIP0::host::INSTR",
        "ASRL/dev/ttyUSB0::INSTR",
        "ASRL3::INSTR",
        "USB0::0x1::0x2::A::INSTR",
        "GPIB0::5::INSTR",
    ],
)
def test_every_kind_of_address_passes_the_first_step(address):
    def refuse(*_):
        raise CancelledError("far enough.")

    found = examine_address(address, dial=refuse)
    assert next(found).well
    with pytest.raises(CancelledError, match="far enough"):
        next(found)


def test_a_refused_connection_ends_the_examination_with_what_to_do():
    with BenchServer(PANELS["lcr"](DESK)) as server:
        address = server.address
    found = list(examine_address(address, hurried()))
    assert steps(found) == [("address", True), ("connection", False)]
    assert "must listen at this address" in found[1].found
    assert "Switch the instrument on" in found[1].advice


def test_a_wrong_line_end_is_found_out():
    with BenchServer(PANELS["lcr"](DESK), end=b"\r") as server:
        found = examined(server)
    assert steps(found)[2:] == [("identity", False), ("line end", True)]
    assert "with CR it answers 'SIMULATED BENCH,LCR METER" in found[3].found
    assert found[3].advice == 'Write terminator = "CR" in [link] of the profile.'


def test_an_instrument_that_answers_to_no_line_end_is_said(monkeypatch):
    monkeypatch.setattr("benchapp.instruments.doctor.TRY_SECONDS", 0.1)
    faults = tuple(Fault(kind="late", reply=reply) for reply in range(9))
    with BenchServer(PANELS["lcr"](DESK), faults=faults) as server:
        found = examined(server)
    assert steps(found)[2:] == [("identity", False), ("line end", False)]
    assert "no answer with LF, CR or CRLF" in found[3].found


def test_another_instrument_than_the_profiles_is_said():
    with BenchServer(PANELS["lcr"](DESK)) as server:
        found = examined(server, hurried(expect="ANALYSER"))
    assert steps(found)[2:] == [("identity", True), ("profile", False)]
    assert "does not contain 'ANALYSER'" in found[3].found


def test_a_question_that_fails_is_said_and_later_ones_are_left_out():
    faults = (Fault(kind="stall", reply=1),)
    with BenchServer(PANELS["lcr"](DESK), faults=faults) as server:
        found = examined(server)
    assert steps(found)[3:] == [("output off", True), ("output", False)]
    assert "whole answer must come within 0.3 s" in found[4].found


def test_a_profile_without_identity_goes_on_to_its_questions():
    terse = load_profile(Path(__file__).parent / "terse.toml")
    silent = replace(terse, link=replace(terse.link, identify="", timeout=0.3))
    with BenchServer(PANELS["terse"](DESK), end=b"\r") as server:
        found = list(examine_address(server.address, silent))
    assert steps(found) == [
        ("address", True),
        ("connection", True),
        ("output off", True),
        ("error", True),
    ]


def test_a_stop_ends_the_examination():
    with BenchServer(PANELS["lcr"](DESK), faults=(Fault(kind="stall", reply=0),)) as server:
        found = examine_address(server.address, hurried(), cancelled=lambda: True)
        assert next(found).step == "address"
        with pytest.raises(CancelledError):
            list(found)


@pytest.mark.parametrize("profile", [None, hurried()])
def test_another_visa_library_that_is_missing_is_told_with_advice(profile):
    address = "TCPIP::127.0.0.1::9::SOCKET"
    found = list(examine_address(address, profile, backend="nosuch@nosuch"))
    assert steps(found) == [("address", True), ("connection", False)]
    assert "the VISA library must be installed (got: Wrapper not found: No" in found[1].found
    assert found[1].advice.startswith("Leave the VISA library out to use the built-in one")
