"""Touchstone: the examples of the specification, an independent reader, and damaged files."""

from __future__ import annotations

import cmath
import math
import warnings

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from benchapp.capture import Response, Sweep
from benchapp.errors import ReadError
from benchapp.readers import Answers, read, understand
from tests.readers.writing import written
from tests.truth.touchstone import EXAMPLES, NO_DATA, ONE_PORT_IMPEDANCE


def polar(size, degrees):
    return cmath.rect(size, math.radians(degrees))


def matrix_of(captures, ports):
    """The S-matrix (N, P, P) that the captures of a file make up."""
    traces = np.array([capture.ratio for capture in captures])
    return np.moveaxis(traces.reshape(ports, ports, -1), 2, 0)


# ------------------------------------------------------------------ the specification


@pytest.mark.parametrize("name", ["ex_7.ts", "ex_9.s1p"])
def test_the_two_ways_to_write_one_impedance_give_the_values_of_the_specification(tmp_path, name):
    (sweep,) = read(written(tmp_path, name, EXAMPLES[name]))
    assert isinstance(sweep, Sweep)
    assert sweep.frequency.tolist() == [1e6 * mhz for mhz in ONE_PORT_IMPEDANCE]
    expected = [polar(*value) for value in ONE_PORT_IMPEDANCE.values()]
    np.testing.assert_allclose(sweep.impedance, expected, rtol=1e-12)


def test_a_reflection_becomes_the_impedance_across_the_port(tmp_path):
    (sweep,) = read(written(tmp_path, "ex_8.s1p", EXAMPLES["ex_8.s1p"]))
    gamma = polar(0.894, -12.136)
    assert sweep.frequency.tolist() == [2e6]
    assert sweep.impedance[0] == pytest.approx(50 * (1 + gamma) / (1 - gamma), rel=1e-12)
    assert (sweep.noise.kind, sweep.noise.reference) == ("reflection", 50.0)


def test_a_two_port_row_reads_11_21_12_22(tmp_path):
    captures = read(written(tmp_path, "ex_13.s2p", EXAMPLES["ex_13.s2p"]))
    named = {capture.origin.label: capture.ratio for capture in captures}
    assert list(named) == ["S11", "S12", "S21", "S22"]
    assert named["S11"].tolist() == [0.3926 - 0.1211j, 0.3517 - 0.3054j, 0.3419 + 0.3336j]
    assert named["S21"].tolist() == [-0.0003 - 0.0021j, -0.0096 - 0.0298j, -0.0134 + 0.0379j]
    assert captures[0].frequency.tolist() == [1e9, 2e9, 1e10]


def test_the_order_that_a_two_port_states_is_followed(tmp_path):
    text = EXAMPLES["ex_17.ts"]
    usual = matrix_of(read(written(tmp_path, "a.ts", text)), 2)
    turned = matrix_of(read(written(tmp_path, "b.ts", text.replace("21_12", "12_21"))), 2)
    assert usual[0, 1, 0] == pytest.approx(polar(3.57, 157))
    assert turned[0, 0, 1] == pytest.approx(polar(3.57, 157))


def test_a_two_port_without_a_stated_order_says_what_it_took(tmp_path):
    text = EXAMPLES["ex_17.ts"].replace("[Two-Port Data Order] 21_12\n", "")
    reading = understand(written(tmp_path, "a.ts", text))
    (made,) = [entry for entry in reading.assumptions if entry.subject == "two-port order"]
    assert made.confidence <= 0.5
    assert reading.captures[2].ratio[0] == pytest.approx(polar(3.57, 157))


def test_four_ports_keep_their_rows_even_when_they_are_not_aligned(tmp_path):
    found = matrix_of(read(written(tmp_path, "ex_14.s4p", EXAMPLES["ex_14.s4p"])), 4)
    assert found.shape == (3, 4, 4)
    assert found[0, 1, 1] == pytest.approx(polar(0.60, 161.20))
    assert found[1, 0, 3] == pytest.approx(polar(0.57, -95.77))
    assert found[2, 3, 0] == pytest.approx(polar(0.62, -114.19))


def test_a_lower_half_fills_the_whole_matrix(tmp_path):
    full = matrix_of(read(written(tmp_path, "ex_5.ts", EXAMPLES["ex_5.ts"])), 4)
    half = matrix_of(read(written(tmp_path, "ex_6.ts", EXAMPLES["ex_6.ts"])), 4)
    assert half.tolist() == full.tolist()


def test_an_upper_half_fills_the_whole_matrix(tmp_path):
    text = "[Version] 2.0\n# MHz S RI\n[Number of Ports] 2\n[Two-Port Data Order] 12_21\n"
    text += "[Matrix Format] Upper\n[Network Data]\n1 0.1 0 0.2 0\n 0.3 0\n[End]\n"
    found = matrix_of(read(written(tmp_path, "a.ts", text)), 2)
    assert found[0].real.tolist() == [[0.1, 0.2], [0.2, 0.3]]


def test_references_on_their_own_line_belong_to_the_ports(tmp_path):
    captures = read(written(tmp_path, "ex_4.ts", EXAMPLES["ex_4.ts"]))
    assert [capture.reference for capture in captures[:4]] == [50.0, 75.0, 0.01, 0.01]
    assert captures[7].ratio[0] == 24.0


def test_mixed_mode_names_stand_in_the_labels(tmp_path):
    captures = read(written(tmp_path, "ex_16.ts", EXAMPLES["ex_16.ts"]))
    assert len(captures) == 36
    assert captures[1].origin.label == "SD2,3,D6,5"
    assert captures[1].ratio[0] == 2 - 1j


@pytest.mark.parametrize("name", ["ex_17.ts", "ex_18.s2p"])
def test_noise_parameters_are_left_out_and_said_so(tmp_path, name):
    reading = understand(written(tmp_path, name, EXAMPLES[name]))
    assert reading.captures[0].frequency.tolist() == [2e9, 2.2e10]
    (noise,) = [made for made in reading.assumptions if made.subject == "noise parameters"]
    assert noise.reason == "2 rows of noise parameters"


def test_hybrid_parameters_of_both_versions_are_the_same_network(tmp_path):
    old = matrix_of(read(written(tmp_path, "ex_11.s2p", EXAMPLES["ex_11.s2p"])), 2)
    new = matrix_of(read(written(tmp_path, "ex_12.ts", EXAMPLES["ex_12.ts"])), 2)
    np.testing.assert_allclose(old, new, rtol=1e-14)


def test_a_heading_without_data_is_refused(tmp_path):
    with pytest.raises(ReadError, match=r"must hold network data \(got no whole row of 33"):
        read(written(tmp_path, "ex_1.ts", NO_DATA))


# ------------------------------------------------------------------ an independent reader

INDEPENDENT = sorted(set(EXAMPLES) - {"ex_16.ts", "ex_11.s2p", "ex_12.ts"})


@pytest.mark.parametrize("name", INDEPENDENT)
def test_scikit_rf_reads_the_same_network(tmp_path, name):
    path = written(tmp_path, name, EXAMPLES[name])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        network = skrf.Network(str(path))
    ports = network.nports
    if ports == 1:
        (found,) = understand(path, Answers(port="as measured")).captures
        np.testing.assert_allclose(found.ratio, network.s[:, 0, 0], rtol=0, atol=1e-12)
    else:
        np.testing.assert_allclose(matrix_of(read(path), ports), network.s, rtol=0, atol=1e-12)


@pytest.mark.parametrize("form", ["ri", "ma", "db"])
@pytest.mark.parametrize("ports", [1, 2, 3, 4])
def test_what_scikit_rf_writes_comes_back_to_twelve_digits(tmp_path, form, ports):
    rng = np.random.default_rng(ports)
    s = rng.uniform(-0.5, 0.5, (7, ports, ports)) + 1j * rng.uniform(-0.5, 0.5, (7, ports, ports))
    frequency = skrf.Frequency.from_f(np.linspace(1e5, 2e5, 7), unit="hz")
    network = skrf.Network(frequency=frequency, s=s, z0=75.0)
    network.write_touchstone(
        "net", dir=str(tmp_path), form=form, format_spec_A="{:.17g}", format_spec_B="{:.17g}"
    )
    reading = understand(tmp_path / f"net.s{ports}p", Answers(port="as measured"))
    found = matrix_of(reading.captures, ports)
    np.testing.assert_allclose(found, s, rtol=0, atol=1e-12)
    np.testing.assert_allclose(reading.captures[0].frequency, frequency.f, rtol=1e-12)
    assert reading.captures[0].reference == 75.0


# ------------------------------------------------------------------ the option line


@given(st.permutations(["MHz", "S", "RI", "R 75"]), st.sampled_from([str.upper, str.lower, str]))
def test_options_may_stand_in_any_order_and_case(tmp_path_factory, words, case):
    folder = tmp_path_factory.mktemp("options")
    text = case("  # " + "  ".join(words)) + "\n! after the options\n1 0.5 0.1\n"
    (sweep,) = read(written(folder, "a.s1p", text))
    gamma = 0.5 + 0.1j
    assert sweep.frequency.tolist() == [1e6]
    assert sweep.impedance[0] == pytest.approx(75 * (1 + gamma) / (1 - gamma), rel=1e-12)


def test_left_out_options_have_the_values_of_the_format(tmp_path):
    (bare,) = read(written(tmp_path, "a.s1p", "#\n1 0.5 90\n"))
    gamma = polar(0.5, 90)
    assert bare.frequency.tolist() == [1e9]
    assert bare.impedance[0] == pytest.approx(50 * (1 + gamma) / (1 - gamma), rel=1e-12)


def test_a_missing_option_line_is_an_assumption_of_low_confidence(tmp_path):
    reading = understand(written(tmp_path, "a.s1p", "1 0.5 90\n2 0.5 80\n"))
    (made,) = [entry for entry in reading.assumptions if entry.subject == "option line"]
    assert made.confidence < 0.7
    assert reading.captures[0].frequency.tolist() == [1e9, 2e9]


def test_without_an_option_line_an_absurd_frequency_is_asked_for(tmp_path):
    path = written(tmp_path, "a.s1p", "134200 0.5 90\n134300 0.5 80\n")
    with pytest.raises(ReadError, match="In which unit is the frequency") as refusal:
        understand(path)
    assert [asked.proposed for asked in refusal.value.facts["questions"]] == ["Hz"]
    (sweep,) = understand(path, Answers(frequency_unit="kHz")).captures
    assert sweep.frequency.tolist() == [134200e3, 134300e3]


def test_a_later_option_line_does_not_count(tmp_path):
    (sweep,) = read(written(tmp_path, "a.s1p", "# MHz Z RI R 1\n# kHz S MA R 50\n1 3 4\n"))
    assert sweep.frequency.tolist() == [1e6]
    assert sweep.impedance.tolist() == [3 + 4j]


def test_an_unknown_option_is_refused_with_its_line(tmp_path):
    path = written(tmp_path, "a.s1p", "! c\n# MHz S XY R 50\n1 0.5 0\n")
    with pytest.raises(ReadError, match=r"line 2: the option line must hold .* \(got 'xy'\)"):
        read(path)


def test_admittance_of_version_1_is_divided_by_the_resistance(tmp_path):
    (sweep,) = read(written(tmp_path, "a.s1p", "# MHz Y RI R 50\n1 2 0\n"))
    assert sweep.impedance.tolist() == [25 + 0j]


def test_a_stated_count_of_ports_beyond_eight_is_refused(tmp_path):
    text = "[Version] 2.0\n# MHz S RI R 50\n[Number of Ports] 12\n[Network Data]\n1 0 0\n"
    with pytest.raises(ReadError, match=r"must have 1 to 8 ports \(got 12\)"):
        read(written(tmp_path, "a.ts", text))


def test_references_that_do_not_fit_the_ports_are_refused(tmp_path):
    text = EXAMPLES["ex_5.ts"].replace("50 75 0.01 0.01", "50 75 -1")
    with pytest.raises(ReadError, match=r"\[Reference\] must give 4 resistances above zero"):
        read(written(tmp_path, "a.ts", text))


# ------------------------------------------------------------------ what goes wrong in practice


def test_damaged_rows_are_set_aside_with_their_lines(tmp_path):
    text = "# MHz Z RI R 1\n1 10 1\n2 20\n3 x 3\n4 9.9E37 0\n5 50 5 7\n6 60 6\n7 70"
    reading = understand(written(tmp_path, "a.s1p", text))
    assert reading.captures[0].frequency.tolist() == [1e6, 6e6]
    assert [row.line for row in reading.set_aside] == [3, 4, 5, 6, 8]
    assert reading.set_aside[0].why == "it does not start with a frequency"
    assert reading.set_aside[1].why == "it holds something that is no number"


def test_a_record_that_is_cut_is_set_aside(tmp_path):
    text = EXAMPLES["ex_13.s2p"] + "\n11.0 0.1 0.1 0.1\n12.0 0.1 0.1 0.1 0.1"
    reading = understand(written(tmp_path, "a.s2p", text))
    assert reading.captures[0].frequency.size == 3
    assert "5 numbers where a record has 9" in [row.why for row in reading.set_aside]


def test_decimal_commas_are_read_and_said(tmp_path):
    reading = understand(written(tmp_path, "a.s1p", "# MHz Z RI R 1\n1,5 10,25 1,5\n"))
    assert reading.captures[0].frequency.tolist() == [1.5e6]
    assert reading.captures[0].impedance.tolist() == [10.25 + 1.5j]
    assert [made.value for made in reading.assumptions] == ["comma"]


def test_falling_and_repeated_frequencies_are_put_in_order(tmp_path):
    reading = understand(
        written(tmp_path, "a.s1p", "# MHz Z RI R 1\n3 3 0\n2 2 0\n2 2 0\n1 1 0\n")
    )
    assert reading.captures[0].frequency.tolist() == [1e6, 2e6, 3e6]
    assert reading.captures[0].impedance.real.tolist() == [1, 2, 3]
    assert [row.why for row in reading.set_aside] == ["the row repeats the one before it"]


def test_several_sets_of_one_file_are_named_by_their_variables(tmp_path):
    text = "".join(
        f"VAR temp = {t}\nBEGIN ACDATA\n# MHz Z RI R 1\n% F n11x n11y\n1 {t} 0\n2 {t} 1\nEND\n\n"
        for t in (25, 85)
    )
    first, second = read(written(tmp_path, "a.mdf", text))
    assert (first.origin.label, second.origin.label) == ("temp = 25", "temp = 85")
    assert second.impedance.tolist() == [85 + 0j, 85 + 1j]


def test_text_between_begin_and_end_information_is_left_out(tmp_path):
    text = "[Version] 2.0\n# MHz Z RI\n[Number of Ports] 1\n[Begin Information]\n9 9 9\n"
    text += "[End Information]\n[Network Data]\n1 5 6\n[End]\n8 8 8\n"
    (sweep,) = read(written(tmp_path, "a.ts", text))
    assert sweep.impedance.tolist() == [5 + 6j]


def test_an_active_port_is_remarked(tmp_path):
    reading = understand(written(tmp_path, "a.s1p", "# MHz S MA R 50\n1 1.5 20\n2 1.4 20\n"))
    (made,) = [entry for entry in reading.assumptions if entry.subject == "|S11|"]
    assert made.confidence < 0.5
    assert "up to 1.5" in made.value


def test_a_two_port_stays_a_ratio_until_the_port_is_answered(tmp_path):
    path = written(tmp_path, "ex_13.s2p", EXAMPLES["ex_13.s2p"])
    reading = understand(path)
    assert all(isinstance(capture, Response) for capture in reading.captures)
    (asked,) = reading.questions
    assert (asked.name, asked.proposed) == ("port", "as measured")
    (sweep,) = understand(path, Answers(port="series-through")).captures
    s21 = -0.0003 - 0.0021j
    assert sweep.impedance[0] == pytest.approx(100 * (1 / s21 - 1), rel=1e-12)
    assert sweep.noise.kind == "series-through"


# ------------------------------------------------------------------ damage inside a record

GRID = np.linspace(1e5, 9e5, 21)


def network_text(ports, form="{:.6E}"):
    """A passive network as version 1 writes it, its rows of at most four pairs, and its S."""
    paths = np.arange(1, ports * ports + 1).reshape(ports, ports)
    s = 1 / (1 + 1j * GRID[:, None, None] / 3e5 * paths) / ports
    s = (s + s.transpose(0, 2, 1)) / 2
    lines = []
    for f, matrix in zip(GRID, s, strict=True):
        rows = [matrix.T.ravel()] if ports < 3 else list(matrix)
        for number, row in enumerate(rows):
            pairs = [form.format(part) for value in row for part in (value.real, value.imag)]
            lines.append([*([f"{f:.1f}"] if not number else []), *pairs])
    return lines, s


def text_of(lines):
    return "# Hz S RI R 50\n" + "\n".join(" ".join(cells) for cells in lines) + "\n"


def wrong_points(reading, s):
    """Count the points whose place or value is not that of the network."""
    ports = s.shape[1]
    wrong = 0
    for number, capture in enumerate(reading.captures):
        ratio = capture.ratio if isinstance(capture, Response) else None
        if ratio is None:
            ratio = (capture.impedance - 50) / (capture.impedance + 50)
        at = np.abs(GRID[:, None] - capture.frequency).argmin(axis=0)
        expected = s[at, number // ports, number % ports]
        wrong += np.count_nonzero(np.abs(ratio - expected) > 1e-5)
        wrong += np.count_nonzero(np.abs(GRID[at] - capture.frequency) > 1)
    return wrong


@pytest.mark.parametrize("ports", [1, 2, 3, 4])
def test_a_lost_number_costs_its_record_and_nothing_else(tmp_path, ports):
    whole, s = network_text(ports)
    height = len(whole) // GRID.size
    for row in (0, 10, 20):
        for line in range(row * height, row * height + height):
            for cell in range(len(whole[line])):
                lines = [cells.copy() for cells in whole]
                del lines[line][cell]
                reading = understand(written(tmp_path, f"a.s{ports}p", text_of(lines)))
                assert wrong_points(reading, s) == 0
                assert reading.set_aside
                assert all(
                    GRID.size - 2 <= capture.frequency.size < GRID.size
                    for capture in reading.captures
                )


@pytest.mark.parametrize("ports", [1, 2, 3, 4])
@pytest.mark.parametrize("form", ["{:.6E}", "{:.6g}"])
def test_a_shortened_number_is_set_aside_or_its_line_is_named(tmp_path, ports, form):
    whole, s = network_text(ports, form)
    height = len(whole) // GRID.size
    line = 10 * height + height - 1
    for cell in range(len(whole[line])):
        lines = [cells.copy() for cells in whole]
        lines[line][cell] = lines[line][cell][: 3 if lines[line][cell][0] == "-" else 2]
        reading = understand(written(tmp_path, f"a.s{ports}p", text_of(lines)))
        doubts = [one.value for one in reading.assumptions if one.confidence < 0.7]
        named = any(f"line {10 * height + 2} " in words for words in doubts)
        assert wrong_points(reading, s) == 0 or named


def test_fewer_records_than_stated_are_said(tmp_path):
    text = "[Version] 2.0\n# MHz Z RI\n[Number of Ports] 1\n[Number of Frequencies] 3\n"
    text += "[Network Data]\n1 5 6\n2 5 7\n[End]\n"
    reading = understand(written(tmp_path, "a.ts", text))
    (doubt,) = [one for one in reading.assumptions if one.subject == "points"]
    assert doubt.reason == "the file states 3 frequencies and holds 2 whole records"
    assert doubt.confidence < 0.7


STATED_50 = """[Version] 2.0
# MHz S RI
[Number of Ports] 1
[Reference] 50
[Network Data]
1 0.1 0
2 0.1 0
[End]
"""


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a.s1p", "# MHz S RI R 50\n1 0.1 0\n2 0.1 0\n"),
        ("a.ts", STATED_50),
        ("a.csv", "Z0 (ohm),50\nf (MHz),Re(S11),Im(S11)\n1,0.1,0\n2,0.1,0\n3,0.1,0\n"),
    ],
)
def test_an_answered_port_impedance_in_place_of_the_stated_one_is_said(tmp_path, name, text):
    answers = Answers(reference=75.0, port="reflection")
    reading = understand(written(tmp_path, name, text), answers)
    assert reading.captures[0].impedance[0].real == pytest.approx(75 * 1.1 / 0.9)
    (said,) = [one for one in reading.assumptions if one.subject == "port impedance"]
    assert said.value == "75 ohm"
    assert said.reason == "answered, in place of the 50 ohm that the file states"
    same = understand(written(tmp_path, name, text), Answers(reference=50.0, port="reflection"))
    assert "port impedance" not in [one.subject for one in same.assumptions]
