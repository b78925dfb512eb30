"""``benchapp coil``: the shapes of the contract, plain text and JSON, and refusals."""

from __future__ import annotations

import json
import math
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from benchapp.cli import ACCEPTED, USAGE, main
from benchapp.coil import SHAPES
from tests.coil.truth import table, values

ROOT = Path(__file__).resolve().parent.parent.parent
COILS = values("coils.toml")
KEYS = {
    "schema",
    "shape",
    "given",
    "conductor",
    "L",
    "M",
    "k",
    "C_self",
    "SRF",
    "wire_length",
    "R_dc",
    "approximations",
    "at",
    "remarks",
}
CONTRACT = [
    "solenoid --diameter 50mm --length 50mm --turns 50",
    "solenoid --diameter 50mm --length 50mm --turns 50 --wire 0.8mm",
    "multilayer --inner 40mm --outer 60mm --length 10mm --turns 300",
    "spiral --inner 40mm --outer 60mm --turns 10",
    "loop --diameter 100mm --wire 1mm",
    "rectangle --width 0.4m --height 0.3m --wire 0.5mm",
    "rectangle --width 0.4m --height 0.3m --wire 0.5mm --turns 34",
    "planar --form square --inner 20mm --outer 50mm --turns 10",
    "planar --form hexagonal --inner 20mm --outer 50mm --turns 10",
    "planar --form octagonal --inner 20mm --outer 50mm --turns 10",
    "planar --form circular --inner 20mm --outer 50mm --turns 10",
    "pair --diameter1 50cm --diameter2 40cm --distance 10cm",
    "pair --diameter1 50cm --diameter2 40cm --distance 10cm --turns1 20 --turns2 5",
]


def no_window(files) -> int:
    raise AssertionError(f"the window was asked for with {files}")


@pytest.fixture
def run(capsys):
    def act(words: str) -> tuple[int, str, str]:
        status = main(["coil", *shlex.split(words)], no_window)
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return act


@pytest.fixture
def answer(run):
    def act(words: str) -> dict:
        status, out, err = run(words + " --json")
        assert (status, err) == (ACCEPTED, "")
        assert len(out.splitlines()) == 1
        return json.loads(out)

    return act


@pytest.mark.parametrize("words", CONTRACT)
def test_every_shape_of_the_contract_gives_one_json_object(answer, words):
    found = answer(words)
    assert set(found) >= KEYS
    assert found["schema"] == "benchapp.coil/1"
    assert found["shape"] == words.split()[0]
    main_value = found["M"] if found["shape"] == "pair" else found["L"]
    assert set(main_value) >= {"value", "unit", "method", "error_percent"}
    assert main_value["unit"] == "H"
    assert main_value["value"] > 0
    for entry in found["approximations"]:
        assert {"value", "unit", "method", "error_percent", "difference_percent"} <= set(entry)


@pytest.mark.parametrize("words", CONTRACT)
def test_every_shape_of_the_contract_gives_plain_text(run, words):
    status, out, err = run(words)
    assert (status, err) == (ACCEPTED, "")
    assert out.splitlines()[0] == SHAPES[words.split()[0]].title
    assert "inductance" in out
    assert not re.search(r"\b(nan|inf|None)\b", out)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("solenoid --diameter 0.1 --length 0.1 --turns 100", COILS["sheet"]["L"]),
        (
            "solenoid --diameter 5cm --length 50mm --turns 50 --wire 0.8mm",
            COILS["round_wire"]["L"],
        ),
        ("loop --diameter 100mm --wire 1mm", COILS["ring"]["direct"]),
        ("planar --form circular --inner 184um --outer 300um --turns 5", 8.895654168e-9),
        ("planar --form square --inner 184um --outer 300um --turns 5", 10.65301787e-9),
    ],
)
def test_inductance_has_its_known_value(answer, words, expected):
    assert answer(words)["L"]["value"] == pytest.approx(expected, rel=1e-9)


def test_sheet_and_wheeler_stand_beside_the_corrected_value(answer):
    found = answer("solenoid --diameter 50mm --length 50mm --turns 50 --wire 0.8mm")
    methods = {entry["method"]: entry for entry in found["approximations"]}
    sheet = methods["current sheet"]
    assert sheet["value"] == pytest.approx(COILS["round_wire"]["sheet"], rel=1e-12)
    assert sheet["error_percent"] == 0
    assert sheet["difference_percent"] == pytest.approx(1.2204, abs=1e-3)
    assert methods["Wheeler, single layer"]["error_percent"] == 1.0
    assert found["C_self"]["value"] == pytest.approx(2.3e-12)
    assert found["R_dc"]["unit"] == "ohm"


@pytest.mark.parametrize("row", table("coaxial_loops.csv"), ids=lambda row: row["M_nH"])
def test_pairs_have_their_known_mutual_inductance(answer, row):
    found = answer(
        f"pair --diameter1 {2 * float(row['radius1_cm'])}cm --diameter2 "
        f"{2 * float(row['radius2_cm'])}cm --distance {row['distance_cm']}cm"
    )
    assert found["M"]["value"] == pytest.approx(float(row["M_nH"]) * 1e-9, rel=1e-12)
    assert found["L"] is None
    assert found["k"]["low"] < found["k"]["value"] < found["k"]["high"]


def test_coupling_of_wound_coils_is_one_number(answer):
    found = answer(
        "pair --diameter1 80mm --diameter2 50mm --distance 20mm --turns1 20 --turns2 10 "
        "--length1 10mm --length2 5mm --wire1 0.4mm --wire2 AWG26"
    )
    product = found["L1"]["value"] * found["L2"]["value"]
    assert found["k"]["value"] == pytest.approx(found["M"]["value"] / math.sqrt(product))
    assert "low" not in found["k"]


def test_values_at_frequencies_come_in_their_order(answer):
    found = answer(
        "solenoid --diameter 50mm --length 50mm --turns 50 --wire 0.5mm --at 134.2kHz --at 10k"
    )
    assert [entry["frequency"] for entry in found["at"]] == pytest.approx([134.2e3, 10e3])
    first = found["at"][0]
    ratio = 2 * math.pi * 134.2e3 * first["L"]["value"] / first["R_ac"]["value"]
    assert first["Q"]["value"] == pytest.approx(ratio)
    beside = [e for e in found["approximations"] if e["frequency"] == pytest.approx(10e3)]
    assert {entry["quantity"] for entry in beside} == {"R_ac"}


def test_a_sweep_is_a_table_of_q_over_frequency(answer, run):
    words = "solenoid --diameter 50mm --length 50mm --turns 50 --wire 0.5mm"
    found = answer(words + " --sweep 10kHz..1MHz")["sweep"]
    assert (found["frequency"][0], found["frequency"][-1]) == pytest.approx((1e4, 1e6))
    assert found["R_ac"] == sorted(found["R_ac"])
    single = answer(words + " --at 10kHz")["at"][0]
    assert found["Q"][0] == pytest.approx(single["Q"]["value"], rel=1e-9)
    assert found["L"][0] == pytest.approx(single["L"]["value"], rel=1e-9)
    out = run(words + " --sweep 10kHz..1MHz")[1]
    assert re.search(r"^ +10\.00 kHz +\S+ µH +\S+ mΩ +\S+$", out, flags=re.MULTILINE)


def test_conductor_is_read_and_reported(answer):
    words = "loop --diameter 100mm --wire 1mm --material aluminium --temperature 60degC"
    found = answer(words + " --leads 20cm")
    assert found["conductor"] == {
        "material": "aluminium",
        "temperature_celsius": 60.0,
        "leads": 0.2,
        "strands": 1,
        "strand": None,
    }
    assert found["wire_length"]["value"] == pytest.approx(0.1 * math.pi + 0.2)
    copper = answer("loop --diameter 100mm --wire 1mm --leads 20cm")
    assert found["R_dc"]["value"] > 1.6 * copper["R_dc"]["value"]


def test_litz_is_read(answer):
    found = answer(
        "solenoid --diameter 50mm --length 50mm --turns 50 --wire 0.8mm "
        "--strands 120 --strand 0.05mm --at 134.2kHz"
    )
    assert found["conductor"]["strands"] == 120
    assert found["at"][0]["R_ac"]["value"] < 2 * found["R_dc"]["value"]


def test_tolerances_give_a_range_and_an_uncertainty(answer, run):
    words = "solenoid --diameter '50mm ±0.2mm' --length '50mm ±1%' --turns 50"
    found = answer(words)["L"]
    assert found["low"] < found["value"] < found["high"]
    assert 0 < found["u"] < (found["high"] - found["low"]) / 2
    assert " to " in run(words)[1]


def test_a_pitch_stands_for_the_length_with_its_tolerance(answer):
    pitch = answer("solenoid --diameter 50mm --pitch '1mm ±1%' --turns 50")["L"]
    length = answer("solenoid --diameter 50mm --length '50mm ±1%' --turns 50")["L"]
    for name in ("value", "low", "high", "u"):
        assert pitch[name] == pytest.approx(length[name], rel=1e-9)


def test_turns_are_found_for_a_wanted_inductance(answer, run):
    words = "solenoid --diameter 50mm --pitch 1mm --wire 0.8mm --want 100uH"
    found = answer(words)
    below, above = found["wanted"]["below"], found["wanted"]["above"]
    assert below["L"] < 100e-6 < above["L"]
    assert found["given"]["turns"] in {below["turns"], above["turns"]}
    assert found["given"]["length"] == pytest.approx(1e-3 * found["given"]["turns"])
    nearest = min((below, above), key=lambda entry: abs(entry["L"] - 100e-6))
    assert found["L"]["value"] == pytest.approx(nearest["L"])
    out = run(words)[1]
    assert f"{below['turns']} turns give" in out
    assert "turns would meet it exactly" in out


def test_a_smaller_inductance_than_one_turn_has_is_answered_with_one_turn(answer):
    found = answer("spiral --inner 40mm --outer 60mm --want 1nH")
    assert found["given"]["turns"] == 1
    assert found["wanted"]["below"] is None


def test_a_plate_changes_the_inductance(answer):
    plain = answer("spiral --inner 20mm --outer 50mm --turns 10")
    tiled = answer(
        "spiral --inner 20mm --outer 50mm --turns 10 --plate ferrite --gap 0.5mm "
        "--permeability 2000"
    )
    assert tiled["L"] == plain["L"]
    assert 1.5 < tiled["L_plate"]["value"] / plain["L"]["value"] < 2
    assert any("endless" in text for text in tiled["remarks"])


def test_a_number_without_a_unit_is_pointed_out_where_it_makes_a_giant(answer):
    assert any(
        "taken as metres" in text for text in answer("loop --diameter 50 --wire 1mm")["remarks"]
    )
    assert not any(
        "metres" in text for text in answer("loop --diameter 0.05 --wire 1mm")["remarks"]
    )


@pytest.mark.parametrize("series", ["awg", "metric"])
def test_wire_tables(run, series):
    status, out, _ = run(f"wires --series {series} --json")
    found = json.loads(out)
    assert status == ACCEPTED
    assert found["schema"] == "benchapp.wires/1"
    assert all(row["resistance_per_metre"] > 0 for row in found["wires"])
    status, out, _ = run(f"wires --series {series} --temperature 60")
    assert status == ACCEPTED
    assert "copper at 60 degC" in out
    assert len(out.splitlines()) == len(found["wires"]) + 2


def test_awg_24_stands_in_the_table(run):
    line = next(line for line in run("wires")[1].splitlines() if line.split()[0] == "24")
    assert line.split()[1:] == ["0.5106", "0.2047", "0.08422"]


REFUSED = [
    ("", "SHAPE"),
    ("toroid --inner 1mm", "invalid choice"),
    ("solenoid --length 50mm --turns 50", "--diameter"),
    ("solenoid --diameter 50mm --turns 50", "must have one of --length and --pitch (got none)"),
    (
        "solenoid --diameter 50mm --length 50mm --pitch 1mm --turns 50",
        "must have one of --length and --pitch (got both)",
    ),
    ("solenoid --diameter 50mm --length 50mm", "turns: must be given"),
    (
        "solenoid --diameter 50mm --length 50mm --turns 5 --want 1mH",
        "must have one of --turns and --want (got both)",
    ),
    (
        "solenoid --diameter 50mm --length 10mm --turns 50 --wire 0.8mm",
        "wire: must be no thicker than the pitch",
    ),
    ("spiral --inner 60mm --outer 40mm --turns 3", "outer: must be larger than the inner"),
    (
        "solenoid --diameter 50mm --length 10mm --wire 0.8mm --want 1mH",
        "--want: must be within reach of the winding",
    ),
    ("loop --diameter wide --wire 1mm", "diameter: "),
    ("loop --diameter 5ohm --wire 1mm", "diameter: "),
    ("loop --diameter 50mm --wire AWG99", "wire: gauge: must lie between"),
    ("loop --diameter 50mm --wire 1mm --at 0Hz", "frequency: must be above zero"),
    ("loop --diameter 50mm --wire 1mm --at 5mm", "Hz"),
    ("loop --diameter 50mm --wire 1mm --sweep 1MHz", "--sweep: must be LOW..HIGH"),
    ("loop --diameter 50mm --wire 1mm --sweep 1MHz..1kHz", "--sweep: must be LOW..HIGH"),
    (
        "spiral --inner 20mm --outer 50mm --turns 9 --sweep 1kHz..1MHz",
        "--sweep: must have a wire of known diameter",
    ),
    ("loop --diameter 50mm --wire 1mm --plate metal", "a plate must have its kind and its gap"),
    ("loop --diameter 50mm --wire 1mm --strands 7", "strands: must be two or more together"),
    (
        "loop --diameter 50mm --wire 1mm --strands 7.5 --strand 0.1mm",
        "strands: must be a whole number",
    ),
    ("loop --diameter 50mm --wire 1mm --temperature 500", "temperature: must lie between"),
    ("planar --form round --inner 1mm --outer 2mm --turns 3", "invalid choice"),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED, ids=[words for words, _ in REFUSED])
def test_what_cannot_be_is_refused_in_one_sentence(run, words, sentence):
    status, out, err = run(words)
    assert status == USAGE
    assert out == ""
    assert sentence in err
    assert len(err.splitlines()) == 1
    assert "Traceback" not in err


@pytest.mark.parametrize("shape", [*SHAPES, "wires"])
def test_help_names_every_option(capsys, shape):
    with pytest.raises(SystemExit) as left:
        main(["coil", shape, "--help"], no_window)
    assert left.value.code == 0
    text = capsys.readouterr().out
    for entry in SHAPES[shape].entries if shape in SHAPES else ():
        assert f"--{entry.name}" in text


def test_the_command_starts_without_scipy():
    code = (
        "import sys; from benchapp import cli; "
        "cli.main(['coil', 'loop', '--diameter', '0.1', '--wire', '1mm', '--at', '1MHz'], None); "
        "sys.exit('scipy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
