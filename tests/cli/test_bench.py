"""The simulated bench at the command line: says its address, answers there, stops when asked."""

from __future__ import annotations

import json
import signal
import subprocess
import sys

import pytest

from benchapp.__main__ import main
from benchapp.bench.offer import INSTRUMENTS
from benchapp.instruments import Link
from benchapp.jobs import ExamineAddress, not_cancelled, silent


def test_it_prints_address_part_and_profile_and_stops_by_itself(capsys):
    assert main(["bench", "--for", "50ms"]) == 0
    out = capsys.readouterr().out
    assert "simulated LCR meter at TCPIP0::127.0.0.1::" in out
    assert "in the clip: gate antenna coil GA-12" in out
    assert "profile: lcr-points or lcr-list" in out


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_json_gives_what_a_script_needs(capsys, name):
    assert main(["bench", "--instrument", name, "--seed", "5", "--for", "1ms", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "benchapp.bench/1"
    assert found["profiles"] == list(INSTRUMENTS[name][1])
    assert (found["part"], found["seed"]) == ("tank", 5)
    assert found["address"].startswith("TCPIP0::127.0.0.1::")


def test_it_answers_until_it_is_interrupted():
    process = subprocess.Popen(
        [sys.executable, "-m", "benchapp", "bench", "--json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        address = json.loads(process.stdout.readline())["address"]
        steps = ExamineAddress(address=address)(silent, not_cancelled)
        assert [step.well for step in steps] == [True, True, True]
        with Link(address) as link:
            assert link.identity.startswith("SIMULATED BENCH,LCR METER,1")
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=10) == 0
        assert process.stderr.read() == ""
    finally:
        process.kill()
        process.communicate()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--fault", "melt@2"], "fault: must be KIND@NUMBER"),
        (["--port", "99999"], "port: must be from 0 to 65535"),
        (["--seed", "-1"], "--seed: must not be below zero"),
        (["--for", "3 ohm"], "must"),
        (["--part", "brick"], "invalid choice"),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(capsys, words, said):
    assert main(["bench", *words]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert "Traceback" not in error
