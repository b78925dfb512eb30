"""What single options do: each makes the difference it promises and no other."""

from __future__ import annotations

import io
import json
import sys

import numpy as np
import pytest

from benchapp.__main__ import main
from benchapp.bench.offer import Offer
from benchapp.cli.progress import shown_progress
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL, sample_folder
from benchapp.readers import read

FOLDER = sample_folder()
TANK, DESIGN = str(FOLDER / SAMPLE_CAPTURE), str(FOLDER / SAMPLE_NOMINAL)
ACCURACY = str(FOLDER / "bench_meter.accuracy.toml")
LOT = str(FOLDER / "ga12_lot")
RANGE = ["--start", "114kHz", "--stop", "154kHz", "--points", "11"]


def run(capsys, *words):
    status = main(list(words))
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return status, shown.out, shown.err


def told(capsys, *words):
    status, out, err = run(capsys, *words, "--json")
    assert out, err
    return status, json.loads(out)


def taken(capsys, *words, profile="lcr-points"):
    status, found = told(capsys, "sweep", "--profile", profile, "--resource", "bench", *words)
    assert status == 0
    return found


def impedance(capture):
    return np.array(capture["R"]) + 1j * np.array(capture["X"])


# Sweeps


def test_points_run_upwards_in_the_result_whichever_way_they_were_taken(capsys):
    up, down = (taken(capsys, *RANGE, "--direction", way)["captures"][0] for way in ("up", "down"))
    assert up["frequency"] == down["frequency"] == sorted(up["frequency"])
    assert np.abs(impedance(down) / impedance(up) - 1).max() < 0.02


def test_both_directions_give_a_sweep_for_each(capsys):
    captures = taken(capsys, *RANGE, "--direction", "both")["captures"]
    assert len(captures) == 2
    assert captures[0]["frequency"] == captures[1]["frequency"]
    assert captures[0]["label"] != captures[1]["label"]


def test_spacing_lays_points_evenly_in_hertz_or_in_ratio(capsys):
    by_ratio, even = (
        np.array(taken(capsys, *RANGE, "--spacing", how)["captures"][0]["frequency"])
        for how in ("log", "linear")
    )
    assert np.diff(even) == pytest.approx(np.diff(even)[0], rel=1e-6)
    ratios = by_ratio[1:] / by_ratio[:-1]
    assert ratios == pytest.approx(ratios[0], rel=1e-6)
    assert (even[0], even[-1]) == (114e3, 154e3)


def test_averaged_readings_scatter_less(capsys):
    once, often = (
        impedance(taken(capsys, *RANGE, "--average", n)["captures"][0]) for n in ("1", "16")
    )
    true = impedance(taken(capsys, *RANGE, "--average", "200")["captures"][0])
    scatter = [np.sqrt(np.mean(np.abs(each / true - 1) ** 2)) for each in (once, often)]
    assert scatter[1] < 0.6 * scatter[0]


@pytest.mark.parametrize(
    ("words", "sent", "not_sent"),
    [
        ([], "SENS:IMP:RANG:AUTO ON", "SENS:IMP:RANG 1"),
        (["--range", "10kohm"], "SENS:IMP:RANG 10000", "SENS:IMP:RANG:AUTO ON"),
    ],
)
def test_a_range_is_held_only_where_it_is_asked_for(capsys, words, sent, not_sent):
    with Offer().server() as server:
        at = ["--profile", "lcr-points", "--resource", server.address]
        status, _, _ = run(capsys, "sweep", *at, *RANGE, *words)
        heard = list(server.heard)
    assert status == 0
    assert any(line.startswith(sent) for line in heard)
    assert not any(line.startswith(not_sent) for line in heard)


def test_what_is_said_of_a_part_is_kept_with_its_sweep(capsys, tmp_path):
    out = str(tmp_path / "part.csv")
    said = {
        "--part": "0147",
        "--temperature": "23.5 degC",
        "--fixture": "four-terminal clip",
        "--surroundings": "wooden bench",
    }
    words = [word for pair in said.items() for word in pair]
    found = taken(capsys, *RANGE, "--level", "0.5V", *words, "--out", out)
    assert found["captures"][0]["part"] == "0147"
    (capture,) = read(out)
    conditions = capture.conditions
    assert capture.origin.part == "0147"
    assert conditions.temperature_celsius == 23.5
    assert conditions.fixture == "four-terminal clip"
    assert conditions.surroundings == "wooden bench"
    assert conditions.level_volt == 0.5
    assert capture.digest != ""


@pytest.mark.parametrize("window", ["200us", "400us"])
def test_a_ring_down_is_as_long_as_it_was_asked_for(capsys, window):
    found = taken(capsys, "--level", "1V", "--window", window, profile="scope-ring-down")
    (capture,) = found["captures"]
    span = capture["time"][-1] - capture["time"][0]
    assert span == pytest.approx(float(window[:3]) * 1e-6, rel=0.25)
    assert len(capture["time"]) == len(capture["voltage"]) == capture["points"]


def test_another_visa_library_that_is_not_there_is_named(capsys):
    words = ["--resource", "TCPIP0::127.0.0.1::1::SOCKET", "--backend", "nowhere/libvisa.so"]
    status, out, err = run(capsys, "sweep", "--profile", "lcr-points", *words, *RANGE)
    assert status == 4
    assert "nowhere/libvisa.so" in err
    assert "the VISA library must be installed" in err
    assert "output on" not in out


# Lots and captures


@pytest.mark.parametrize(
    ("words", "letter"),
    [
        (["--level", "S-1"], "A"),
        (["--level", "I"], "A"),
        (["--level", "II"], "B"),
        (["--level", "III"], "C"),
    ],
)
def test_the_level_of_inspection_gives_its_letter(capsys, words, letter):
    _, found = told(capsys, "lot", LOT, "--nominal", DESIGN, "--size", "13", *words)
    assert found["plan"]["letter"] == letter
    assert found["plan"]["level"] == words[1]


@pytest.mark.parametrize("severity", ["normal", "tightened", "reduced"])
def test_the_severity_is_that_of_the_plan(capsys, severity):
    words = ["--size", "500", "--aql", "1.0", "--severity", severity]
    _, found = told(capsys, "lot", LOT, "--nominal", DESIGN, *words)
    assert found["plan"]["severity"] == severity
    assert found["accepted"] is not True
    sizes = {"normal": 50, "tightened": 80, "reduced": 20}
    assert found["plan"]["n"] == sizes[severity]


def test_a_lot_is_fitted_as_a_capture_is(capsys):
    whole = told(capsys, "lot", LOT, "--nominal", DESIGN)[1]["statistics"]["L"]
    words = ["--circuit", "tank", "--band", "120kHz..148kHz"]
    part = told(capsys, "lot", LOT, "--nominal", DESIGN, *words)[1]["statistics"]["L"]
    assert part["mean"] == pytest.approx(whole["mean"], rel=1e-3)
    assert part["mean"] != whole["mean"]
    wide = told(capsys, "lot", LOT, "--nominal", DESIGN, "--accuracy", ACCURACY)[1]
    assert wide["statistics"]["L"]["mean"] == pytest.approx(whole["mean"], rel=1e-9)


def test_an_unknown_plan_for_a_delivery_is_refused_before_any_part_is_read(capsys):
    status, out, err = run(capsys, "lot", LOT, "--nominal", DESIGN, "--size", "13", "--aql", "77")
    assert (status, out) == (2, "")
    assert "77" in err


def test_captures_are_explained_in_the_band_and_circuit_that_are_asked_for(capsys):
    other = str(FOLDER / "ga12_lot" / "0201.csv")
    _, whole = told(capsys, "explain", TANK, other)
    words = ["--circuit", "tank", "--band", "120kHz..148kHz"]
    _, part = told(capsys, "explain", TANK, other, *words)
    assert whole["differences"] != part["differences"]
    assert [line.split()[0] for line in part["differences"]] == ["f0", "Q", "L"]


# Sums before measuring


def test_a_temperature_coefficient_moves_the_resonance_by_half_of_it(capsys):
    base = ["tank", "--L", "1.62mH", "--C", "868pF", "--temperature", "23..63"]
    _, flat = told(capsys, *base, "--tempco-C", "0")
    _, steep = told(capsys, *base, "--tempco-C", "0", "--tempco-L", "500")
    at_rest = flat["f0"]["nominal"]
    assert steep["f0"]["nominal"] == pytest.approx(at_rest)
    assert flat["stack_up"] is None or flat["stack_up"]["worst_low"] == pytest.approx(at_rest)
    # 500e-6/K over 40 K is 2 % of L at the warm end, and nothing at the reference of 23 °C.
    assert steep["stack_up"]["worst_low"] == pytest.approx(at_rest / 1.02**0.5)
    assert steep["stack_up"]["worst_high"] == pytest.approx(at_rest)
    (share,) = steep["stack_up"]["shares"]
    assert (share["name"], share["variance_share"]) == ("temperature", 1.0)


def test_track_and_thickness_carry_the_current_and_change_no_inductance(capsys):
    base = ["coil", "planar", "--form", "square", "--inner", "10mm", "--outer", "40mm"]
    found = [
        told(capsys, *base, "--turns", "8", "--track", track, "--thickness", thickness)[1]
        for track, thickness in (("0.3mm", "35um"), ("0.6mm", "35um"), ("0.3mm", "70um"))
    ]
    first, wide, thick = (each["R_dc"]["value"] for each in found)
    assert (wide, thick) == pytest.approx((first / 2, first / 2), rel=1e-6)
    assert len({each["L"]["value"] for each in found}) == 1


# Progress


class _Screen(io.StringIO):
    def isatty(self):
        return True


def test_on_a_terminal_progress_stays_on_one_line_and_repeats_nothing(monkeypatch):
    screen = _Screen()
    monkeypatch.setattr(sys, "stderr", screen)
    progress = shown_progress()
    for fraction in (0.0, 0.001, 0.5, 0.5, 1.0):
        progress("sweep", fraction)
    assert screen.getvalue().count("\r") == 3
    assert "\n" not in screen.getvalue()
    assert [part[:5] for part in screen.getvalue().split("\r")[1:]] == ["  0 %", " 50 %", "100 %"]


def test_in_a_file_progress_is_a_line_for_each_tenth(capsys):
    progress = shown_progress()
    for step in range(101):
        progress("sweep", step / 100)
    lines = capsys.readouterr().err.splitlines()
    assert [line.split()[0] for line in lines] == [str(n) for n in range(0, 101, 10)]


def test_what_is_done_within_its_patience_tells_no_progress(capsys):
    progress = shown_progress(patience=60.0)
    progress("sweep", 0.5)
    assert capsys.readouterr().err == ""
