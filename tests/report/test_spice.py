from __future__ import annotations

import math
import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Sweep
from benchapp.circuit import CIRCUITS, EXTENDED
from benchapp.errors import UsageError
from benchapp.fit import fit
from benchapp.report.spice import ladder, subcircuit
from tests.report.samples import subject

BAND = (10e3, 1e6)
VALUES = {
    "series-rlc": {"L": 1.62e-3, "C": 868e-12, "R": 17.0},
    "parallel-rlc": {"L": 1.62e-3, "C": 868e-12, "R": 110e3},
    "tank": {"L": 1.62e-3, "C": 868e-12, "R": 17.0},
    "coil": {"L": 1.62e-3, "C": 8e-12, "Rdc": 3.1, "Rac": 0.035},
    "inductor": {"L": 1.62e-3, "R": 17.0},
    "capacitor": {"C": 868e-12, "R": 0.2, "L": 12e-9},
    "coupled-pair": {"L": 1.62e-3, "C": 868e-12, "R": 17.0, "k": 0.2, "f2": 140e3, "Q2": 45.0},
    "core": {"L": 1.62e-3, "C": 8e-12, "Rdc": 3.1, "Rac": 0.035, "Rcore": 60e3},
}
FREQUENCY = np.geomspace(*BAND, 61)


def model(name):
    return EXTENDED["coil"] if name == "core" else CIRCUITS[name]


def fitted(name, values=None):
    """Give a fit that holds these values, without fitting."""
    circuit = model(name)
    numbers = np.array([(values or VALUES[name])[element] for element in circuit.elements])
    count = len(circuit.elements)
    return replace(
        subject().fit,
        circuit=circuit.name,
        elements=circuit.elements,
        values=numbers,
        covariance=np.eye(count),
        undetermined=(),
    )


def simulated(text, name, folder, frequency):
    """Let the simulator measure the terminals: the voltage over the current of a source."""
    if shutil.which("ngspice") is None:
        pytest.skip("ngspice is not installed")
    out, deck = folder / "out.txt", folder / "deck.cir"
    sweep = f"dec 10 {float(frequency[0])!r} {float(frequency[-1])!r}"
    deck.write_text(
        f"* measured\n{text}V1 s 0 DC 0 AC 1\nRS s a 50\nX1 a 0 {name}\n.control\n"
        f"set wr_singlescale\nset wr_vecnames\nset numdgt=15\nac {sweep}\n"
        f"wrdata {out} v(a) i(v1)\nquit 0\n.endc\n.end\n"
    )
    done = subprocess.run(
        ["ngspice", "-b", str(deck)], check=True, capture_output=True, text=True, timeout=60
    )
    assert "rror" not in done.stdout + done.stderr
    rows = np.array(
        [[float(x) for x in row.split()] for row in out.read_text().split("\n")[1:] if row]
    )
    return rows[:, 0], (rows[:, 1] + 1j * rows[:, 2]) / -(rows[:, 3] + 1j * rows[:, 4])


@pytest.mark.parametrize("name", VALUES)
def test_the_simulator_gives_the_fitted_impedance_to_a_millionth(name, tmp_path):
    text = subcircuit(fitted(name), BAND, "GA-12")
    frequency, found = simulated(text, "GA_12", tmp_path, FREQUENCY)
    circuit = model(name)
    expected = circuit.impedance(
        frequency, np.array([VALUES[name][element] for element in circuit.elements])
    )
    assert frequency.size >= 15
    np.testing.assert_array_less(np.abs(found - expected), 1e-6 * np.abs(expected))


@pytest.mark.parametrize("name", ["ga12_tank.csv", "ga12_coil.csv"])
def test_a_fitted_sample_is_reproduced_over_its_whole_sweep(name, tmp_path):
    part = subject(name)
    capture = part.capture
    assert isinstance(capture, Sweep)
    found = fit(capture, "coil" if "coil" in name else "tank")
    band = (float(capture.frequency[0]), float(capture.frequency[-1]))
    frequency, measured = simulated(subcircuit(found, band, "x"), "X", tmp_path, np.array(band))
    table = EXTENDED["coil"] if "Rcore" in found.elements else CIRCUITS[found.circuit]
    expected = table.impedance(frequency, found.values)
    np.testing.assert_array_less(np.abs(measured - expected), 1e-6 * np.abs(expected))


def test_a_coil_has_a_second_subcircuit_for_transients_with_positive_elements(tmp_path):
    text = subcircuit(fitted("coil"), BAND, "coil 7")
    second = text[text.index(".SUBCKT COIL_7_TRAN") :]
    values = [float(row.split()[3]) for row in second.split("\n") if re.match("[RLC]1 ", row)]
    assert len(values) == 3
    assert min(values) > 0
    middle = math.sqrt(BAND[0] * BAND[1])
    found_f, found = simulated(text, "COIL_7_TRAN", tmp_path, np.array([middle, 2 * middle]))
    expected = CIRCUITS["coil"].impedance(found_f, fitted("coil").values)
    np.testing.assert_allclose(found[0], expected[0], rtol=1e-6)


@pytest.mark.parametrize(("ratio", "error"), [(1.35, 1e-9), (10, 1e-8), (100, 1e-8), (1e4, 1e-5)])
def test_the_ladder_states_its_error_and_keeps_it(ratio, error):
    low, high = 1e5, 1e5 * ratio
    found = ladder(low, high)
    f = np.geomspace(low, high, 3001)
    followed = found.constant + sum(r * f**2 / (f**2 + p**2) for r, p in found.rungs)
    deviation = np.max(np.abs(followed / np.sqrt(f) - 1))
    assert deviation <= 1.5 * found.error + 1e-13
    assert found.error < error


def test_the_error_of_the_ladder_stands_in_the_file():
    text = subcircuit(fitted("coil"), BAND, "coil")
    assert f"{ladder(*BAND).error:.1e}" in text
    assert "for .AC analysis only" in text


@given(st.text(), st.text())
def test_no_name_or_note_adds_a_card(name, note):
    plain = subcircuit(fitted("tank"), BAND, "x", ("note",)).split("\n")
    found = subcircuit(fitted("tank"), BAND, name, (note,)).split("\n")
    assert len(found) == len(plain)
    assert found[0].startswith("* ")
    assert found[2].startswith(".SUBCKT ")
    assert re.fullmatch(r"\.SUBCKT [A-Z][A-Z0-9_]* a b", found[2])
    assert found[3:-2] == plain[3:-2]


def test_a_fit_that_misses_says_so_in_capitals():
    text = subcircuit(replace(fitted("tank"), describes=False, undetermined=("C",)), BAND, "x")
    assert "THE CIRCUIT DOES NOT DESCRIBE THE DATA" in text
    assert "* not determined by the data: C" in text


def test_an_impossible_coupling_is_refused():
    values = VALUES["coupled-pair"] | {"k": 1.2}
    with pytest.raises(UsageError, match="coupling must lie between 0 and 1"):
        subcircuit(fitted("coupled-pair", values), BAND, "x")


def test_a_fit_of_no_impedance_is_refused():
    with pytest.raises(UsageError, match="subcircuit: must be of one of series-rlc"):
        subcircuit(subject("ga12_ring_down.csv").fit, BAND, "x")


def test_an_element_of_nothing_is_refused():
    with pytest.raises(UsageError, match="elements must not be zero"):
        subcircuit(fitted("tank", VALUES["tank"] | {"C": 0.0}), BAND, "x")
