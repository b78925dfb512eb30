"""Sweeps at the command line, from the simulated bench over real sockets of this computer."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

import benchapp.instruments
from benchapp.__main__ import main
from benchapp.bench.fault import Fault
from benchapp.bench.offer import Offer
from benchapp.instruments import visa
from benchapp.jobs import SAMPLE_NOMINAL, sample_folder
from benchapp.readers import read, understand

DESIGN = str(sample_folder() / SAMPLE_NOMINAL)
COIL = str(sample_folder() / "ga12_reference.toml")
SHORT = ["--start", "114kHz", "--stop", "154kHz", "--points", "21", "--level", "0.5V"]


def run(capsys, *words):
    status = main(["sweep", *words])
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return status, shown.out, shown.err


def on(server, *words):
    return ["--profile", "lcr-points", "--resource", server.address, *SHORT, *words]


@pytest.fixture
def meter():
    with Offer().server() as server:
        yield server


def test_a_sweep_is_saved_with_everything_that_is_known(capsys, meter, tmp_path):
    path = tmp_path / "tank.csv"
    words = ["--out", str(path), "--part", "0007", "--temperature", "23", "--fixture", "clip"]
    status, out, err = run(capsys, *on(meter, *words))
    assert status == 0
    assert "sweep: 21 points, 114.000 kHz to 154.000 kHz" in out
    assert "output off, bias off" in out
    assert "100 %  sweep: 21 of 21" in err
    (capture,) = read(path)
    assert capture.origin.source == "SIMULATED BENCH,LCR METER,1,1.0"
    assert capture.origin.part == "0007"
    assert capture.origin.taken is not None
    assert capture.conditions.level_volt == 0.5
    assert capture.conditions.temperature_celsius == 23
    assert capture.conditions.fixture == "clip"
    assert meter.heard[-1] == "SYST:ERR?"
    assert not meter.panel.output


def test_json_and_the_saved_file_hold_the_same_capture(capsys, meter, tmp_path):
    path = tmp_path / "tank.csv"
    status, out, _ = run(capsys, *on(meter, "--out", str(path), "--json"))
    assert status == 0
    found = json.loads(out)
    assert found["schema"] == "benchapp.sweep/1"
    assert (found["partial"], found["trouble"], found["output"]) == (False, None, "off")
    (capture,) = read(path)
    assert found["captures"][0]["digest"] == capture.digest
    assert found["captures"][0]["R"] == capture.impedance.real.tolist()


def test_fit_and_verdict_follow_at_once(capsys, meter):
    held = ["--temperature", "23", "--fixture", "four-terminal clip", "--points", "101"]
    status, out, _ = run(
        capsys, *on(meter, *held, "--level", "1V", "--fit", "--nominal", DESIGN, "--json")
    )
    swept, fitted, judged = (json.loads(line) for line in out.splitlines())
    assert swept["schema"] == "benchapp.sweep/1"
    assert fitted["schema"] == "benchapp.fit/1"
    # 2 pF of the clip lie across the capacitor of the part
    assert fitted["estimates"]["C"]["value"] == pytest.approx(866.2e-12, rel=2e-3)
    assert fitted["estimates"]["L"]["value"] == pytest.approx(1.6313e-3, rel=2e-3)
    assert judged["outcome"] == "pass"
    assert status == 0


def test_the_fit_in_plain_lines_follows_the_sweep(capsys, meter):
    status, out, _ = run(capsys, *on(meter, "--fit"))
    assert status == 0
    assert out.index("output off") < out.index("circuit tank") < out.index("  Q  ")


def test_the_resonance_is_found_and_the_points_laid_around_it(capsys, meter):
    words = ["--start", "60kHz", "--stop", "300kHz", "--points", "21", "--find", "--json"]
    status, out, _ = run(
        capsys, "--profile", "lcr-points", "--resource", meter.address, "--spacing", "log", *words
    )
    found = json.loads(out)
    assert status == 0
    assert found["resonance"]["f0"] == pytest.approx(133.9e3, rel=5e-3)
    assert [one["label"] for one in found["captures"]] == ["fine", "coarse"]


@pytest.mark.parametrize(
    ("profile", "label", "more"),
    [
        ("lcr-list", "sweep", SHORT),
        ("network-series", "sweep", SHORT[:6]),
        ("scope-gain-phase", "sweep", ["--series", "10kohm", *SHORT]),
        ("scope-ring-down", "ring-down", ["--level", "1V"]),
    ],
)
def test_the_word_bench_stands_for_the_simulated_bench(capsys, profile, label, more):
    status, out, _ = run(capsys, "--profile", profile, "--resource", "bench", "--json", *more)
    assert status == 0
    assert [one["label"] for one in json.loads(out)["captures"]] == [label]


def test_bias_needs_an_explicit_act_and_comes_with_its_caution(capsys, meter):
    status, out, err = run(capsys, *on(meter, "--bias", "2V"))
    assert (status, out) == (2, "")
    assert "bias: must be confirmed above" in err
    assert "--allow-over-limit" in err
    assert meter.heard == []
    status, out, err = run(capsys, *on(meter, "--bias", "2V", "--allow-over-limit"))
    assert status == 0
    assert err.startswith("DC bias: a coil under bias gives a dangerous voltage")
    assert "output off, bias off" in out
    assert max(float(line.split()[-1]) for line in meter.heard if "OFFS " in line) == 2
    assert meter.panel.set["bias"] == 0


def test_what_the_instrument_cannot_do_is_not_allowed_by_any_act(capsys, meter):
    status, _, err = run(capsys, *on(meter, "--bias", "50V", "--allow-over-limit"))
    assert status == 2
    assert "bias: must be from" in err
    assert meter.heard == []


def test_a_broken_answer_is_measured_again(capsys):
    with Offer(faults=(Fault(kind="drop", reply=20),)).server() as server:
        status, out, _ = run(capsys, *on(server))
    assert status == 0
    assert "note: The link was taken up again after:" in out
    assert "sweep: 21 points" in out


def test_an_instrument_that_goes_away_leaves_a_partial_sweep_and_says_what_is_unsure(
    capsys, tmp_path
):
    server = Offer().server()
    server.start()
    path = tmp_path / "partial.csv"

    def vanish():
        while len(server.heard) < 40:
            time.sleep(0.005)
        server.stop()

    thread = threading.Thread(target=vanish)
    thread.start()
    status, out, err = run(capsys, *on(server, "--out", str(path)))
    thread.join()
    assert status == 3
    assert "points are kept and marked as a part of a sweep" in err
    assert "It could not be confirmed that the output is off" in err
    assert "output unknown" in out
    (capture,) = understand(path).captures
    assert capture.origin.label == "sweep, partial"
    assert capture.history[-1].name == "partial sweep"
    assert capture.history[-1].detail.startswith("broken off after")


def test_ctrl_c_keeps_the_points_and_switches_the_output_off(tmp_path):
    path = tmp_path / "stopped.csv"
    with Offer().server() as server:
        words = [*on(server, "--settle", "50ms"), "--points", "400", "--out", str(path)]
        process = subprocess.Popen(
            [sys.executable, "-m", "benchapp", "sweep", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        try:
            deadline = time.monotonic() + 30
            while server.heard.count("FETC?") < 5 and time.monotonic() < deadline:
                time.sleep(0.01)
            os.kill(process.pid, signal.SIGINT)
            out, err = process.communicate(timeout=20)
        finally:
            process.kill()
        assert not server.panel.output
        assert "OUTP OFF" in server.heard[-6:]
    assert process.returncode == 3
    assert "stopping: the output is switched off" in err
    assert "the measurement was stopped" in err
    assert "output off, bias off" in out
    (capture,) = read(path)
    assert 4 <= capture.frequency.size < 100
    assert capture.origin.label == "sweep, partial"


def test_nobody_at_the_address_is_said_plainly(capsys):
    with Offer().server() as server:
        address = server.address
    status, out, err = run(capsys, "--profile", "lcr-points", "--resource", address, *SHORT)
    assert status == 4
    assert "refused connection" in err
    assert "Switch the instrument on" in err
    assert "output off" not in out


@pytest.mark.parametrize(
    ("words", "said", "status"),
    [
        (["--resource", "bench", *SHORT], "--profile: must be given", 2),
        (["--profile", "lcr-points", *SHORT], "--resource: must be given", 2),
        (
            ["--profile", "lcr-points", "--resource", "bench", "--start", "1kHz"],
            "--start and --stop: must be given together",
            2,
        ),
        (
            ["--profile", "nosuch", "--resource", "TCPIP::127.0.0.1::1::SOCKET", *SHORT],
            "nosuch",
            4,
        ),
        (["--profile", "nosuch", "--resource", "bench", *SHORT], "must be one that it speaks", 2),
        (
            ["--profile", "lcr-points", "--resource", "bench", *SHORT, "--nominal", "no.toml"],
            "no.toml",
            4,
        ),
        (
            ["--profile", "lcr-points", "--resource", "bench", *SHORT, "--out", "no/where.csv"],
            "must be a folder (got none)",
            4,
        ),
    ],
)
def test_what_cannot_be_done_is_refused_before_anything_is_switched(capsys, words, said, status):
    found, out, err = run(capsys, *words)
    assert found == status
    assert said in err
    assert out == ""


def test_a_file_that_is_there_is_replaced_only_on_request(capsys, meter, tmp_path):
    path = tmp_path / "kept.csv"
    path.write_text("precious", encoding="ascii")
    status, _, err = run(capsys, *on(meter, "--out", str(path)))
    assert status == 2
    assert "must be a new file (it is there already). Name another file, or add --force" in err
    assert path.read_text(encoding="ascii") == "precious"
    assert meter.heard == []
    for word in ("--force", "--overwrite"):
        assert run(capsys, *on(meter, "--out", str(path), word))[0] == 0
    assert len(read(path)) == 1


def test_a_fit_that_cannot_be_is_said_and_the_sweep_kept(capsys, meter, tmp_path):
    path, design = tmp_path / "two.csv", tmp_path / "pair.toml"
    text = Path(DESIGN).read_text(encoding="utf-8")
    design.write_text(text.replace('"tank"', '"coupled-pair"'), encoding="utf-8")
    words = ["--points", "2", "--nominal", str(design), "--out", str(path)]
    status, _, err = run(capsys, *on(meter, *words))
    assert status == 4
    assert "benchapp:" in err
    assert read(path)[0].frequency.size == 2


def test_the_doctor_tells_each_step(capsys):
    status, out, _ = run(capsys, "--doctor", "bench", "--profile", "lcr-points")
    assert status == 0
    for step in ("address", "connection", "identity", "output off", "output", "error", "done"):
        assert f"  {step}: well:" in out


def test_the_doctor_ends_at_the_trouble_with_advice(capsys):
    status, out, _ = run(capsys, "--doctor", "my meter")
    assert status == 4
    assert "address: TROUBLE: 'my meter' is no VISA address" in out
    assert "Write for example TCPIP::" in out


def test_the_doctor_in_json(capsys):
    status, out, _ = run(capsys, "--doctor", "bench", "--json")
    assert status == 0
    found = json.loads(out)
    assert found["schema"] == "benchapp.doctor/1"
    assert [step["step"] for step in found["steps"]] == ["address", "connection", "identity"]


def test_discovery_prints_what_visa_finds(capsys, monkeypatch):
    monkeypatch.setattr(visa, "discover", lambda _backend: ("ASRL1::INSTR",))
    assert run(capsys, "--discover")[:2] == (0, "ASRL1::INSTR\n")
    status, out, _ = run(capsys, "--discover", "--json")
    assert json.loads(out) == {"schema": "benchapp.discover/1", "resources": ["ASRL1::INSTR"]}
    assert status == 0


def test_the_accuracy_of_a_profile_reaches_the_verdict_without_a_second_file(
    capsys, meter, tmp_path
):
    mine = tmp_path / "mine.toml"
    shipped = Path(benchapp.instruments.__file__).parent / "profiles" / "lcr-points.toml"
    stated = '\n[accuracy.instrument]\nreading = "±0.5 %"\nphase = "±0.1 deg"\n'
    mine.write_text(shipped.read_text(encoding="utf-8") + stated, encoding="utf-8")
    held = ["--temperature", "23", "--fixture", "four-terminal clip", "--points", "61"]
    words = [*held, "--level", "1V", "--nominal", DESIGN, "--json"]
    wide = {}
    for profile in ("lcr-points", str(mine)):
        _, out, _ = run(capsys, *on(meter, *words, "--profile", profile))
        judged = json.loads(out.splitlines()[-1])
        wide[judged["U_holds"]] = next(
            one["U"] for one in judged["limits"] if one["quantity"] == "L"
        )
    assert set(wide) == {"scatter", "scatter and instrument"}
    assert wide["scatter and instrument"] > 5 * wide["scatter"]


@pytest.mark.parametrize(
    ("part", "low", "high"),
    [("short", 0.0, 1.0), ("load", 999.0, 1001.0), ("open", 4e5, 1e6), ("coil", 1e3, 2e3)],
)
def test_another_part_of_the_simulated_bench_is_named_with_it(capsys, part, low, high):
    words = ["--profile", "lcr-list", "--resource", f"bench:{part}", *SHORT, "--json"]
    status, out, _ = run(capsys, *words)
    found = json.loads(out)["captures"][0]
    sizes = [abs(complex(r, x)) for r, x in zip(found["R"], found["X"], strict=True)]
    assert status == 0
    assert low <= min(sizes) <= high


def test_a_part_that_the_bench_does_not_have_is_refused(capsys):
    words = ["--profile", "lcr-list", "--resource", "bench:battery", *SHORT]
    status, _, err = run(capsys, *words)
    assert status == 2
    assert "the part must be one that it has (got 'battery')" in err


def test_surroundings_travel_with_the_sweep(capsys, meter, tmp_path):
    path = tmp_path / "tank.csv"
    words = ["--surroundings", "on its ferrite plate", "--out", str(path)]
    assert run(capsys, *on(meter, *words))[0] == 0
    (capture,) = read(path)
    assert capture.conditions.surroundings == "on its ferrite plate"


def test_a_sweep_that_gave_nothing_is_no_check_of_the_reference(capsys, tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHAPP_RECORD", str(tmp_path / "parts.benchlog"))
    coil = str(sample_folder() / "ga12_reference.toml")
    with Offer(faults=(Fault(kind="refused", reply=0),)).server() as server:
        address = server.address
    words = ["--profile", "lcr-points", "--resource", address, *SHORT]
    status, _, _ = run(capsys, *words, "--reference-coil", coil)
    assert status == 4
    assert not (tmp_path / "parts.benchlog").exists()


@pytest.mark.parametrize(("profile", "warned"), [("scope-ring-down", True), ("lcr-list", False)])
def test_a_caution_stands_before_a_tank_is_let_ring(capsys, profile, warned):
    words = ["--profile", profile, "--resource", "bench", "--level", "0.5V"]
    grid = [] if warned else ["--start", "114kHz", "--stop", "154kHz"]
    status, _, err = run(capsys, *words, *grid)
    assert status == 0
    assert ("can carry many times the drive voltage" in err) is warned
    assert not warned or err.startswith("Resonance: ")


def _findings(out):
    return {each["id"]: each for each in json.loads(out.splitlines()[-1])["checks"]}


def test_the_station_states_what_it_knows(capsys, meter, tmp_path):
    """A part of low loss is swept without waiting, by a station whose coil nobody checked."""
    record = str(tmp_path / "parts.benchlog")
    words = ["--settle", "10us", "--gate", COIL, "--record", record, "--nominal", DESIGN, "--json"]
    _, out, _ = run(capsys, *on(meter, *words))
    found = _findings(out)
    assert found["dwell-too-short"]["text"].startswith("Each point was waited for 10.0")
    assert "has not been checked here" in found["reference-coil-unchecked"]["text"]
    _, out, _ = run(capsys, *on(meter, "--nominal", DESIGN, "--json"))
    assert not {"dwell-too-short", "reference-coil-unchecked"} & set(_findings(out))


def test_what_a_person_states_goes_before_what_the_station_knows(capsys, meter, tmp_path):
    facts = tmp_path / "facts.toml"
    facts.write_text('dwell = "5 ms"\n', encoding="utf-8")
    words = ["--settle", "10us", "--facts", str(facts), "--nominal", DESIGN, "--json"]
    _, out, _ = run(capsys, *on(meter, *words))
    assert "dwell-too-short" not in _findings(out)


def test_a_gate_that_cannot_be_read_is_refused_before_anything_is_switched(capsys, meter):
    status, _, err = run(capsys, *on(meter, "--gate", "no.toml"))
    assert status == 4
    assert "no.toml" in err
    assert not meter.panel.output
