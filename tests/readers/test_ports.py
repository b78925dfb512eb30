"""S-parameters to captures: the port method, the chosen parameter, what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from benchapp.capture import Origin, Response, Sweep
from benchapp.errors import ReadError
from benchapp.readers.notes import Notes
from benchapp.readers.ports import AS_MEASURED, Trace, captures_of, captures_of_traces
from benchapp.readers.reading import Answers
from benchapp.readers.touchstone import Parameters

F = np.array([1e6, 2e6, 3e6])
LINES = np.array([4, 5, 6])
ORIGIN = Origin(source="a.s2p", reader="touchstone")


def parameters(kind="S", matrix=None, references=(50.0, 50.0)):
    ports = len(references)
    if matrix is None:
        matrix = np.full((3, ports, ports), 0.5 + 0j)
    return Parameters(
        kind=kind, frequency=F, matrix=matrix, lines=LINES, references=np.array(references)
    )


def notes(**answers) -> Notes:
    return Notes(answers=Answers(**answers))


def trace(name="S21", **changes) -> Trace:
    values = {"values": np.full(3, 0.5 + 0j), "reference": 50.0, **changes}
    return Trace(name=name, frequency=F, lines=LINES, **values)


def test_one_port_gives_the_impedance_and_says_why():
    held = notes()
    (sweep,) = captures_of(parameters(references=(50.0,)), ORIGIN, held)
    assert isinstance(sweep, Sweep)
    assert sweep.impedance.tolist() == [150, 150, 150]
    assert [made.subject for made in held.assumptions] == ["port"]


def test_one_port_may_be_kept_as_a_reflection():
    (response,) = captures_of(parameters(references=(50.0,)), ORIGIN, notes(port=AS_MEASURED))
    assert isinstance(response, Response)
    assert response.kind == "reflection"


def test_a_one_port_admittance_is_inverted():
    found = parameters("Y", np.full((3, 1, 1), 0.02 + 0j), (50.0,))
    (sweep,) = captures_of(found, ORIGIN, notes())
    assert sweep.impedance.tolist() == [50, 50, 50]
    assert sweep.noise.kind == "unknown"


@pytest.mark.parametrize(
    ("port", "ohm"), [("reflection", 150), ("series-through", 100), ("shunt-through", 25)]
)
def test_the_answered_port_makes_one_sweep_with_its_noise_kind(port, ohm):
    (sweep,) = captures_of(parameters(), ORIGIN, notes(port=port))
    assert sweep.impedance == pytest.approx(np.full(3, ohm))
    assert (sweep.noise.kind, sweep.noise.reference) == (port, 50.0)


def test_a_through_method_needs_equal_ports():
    with pytest.raises(
        ReadError, match=r"series-through needs equal port impedances \(got 50, 75"
    ):
        captures_of(parameters(references=(50.0, 75.0)), ORIGIN, notes(port="series-through"))


def test_a_through_method_needs_a_transmission():
    with pytest.raises(ReadError, match=r"shunt-through needs S21 with its phase \(got S11\)"):
        captures_of_traces([trace("S11")], ORIGIN, notes(port="shunt-through"))


def test_a_magnitude_cannot_become_an_impedance():
    scalar = trace(has_phase=False)
    with pytest.raises(ReadError, match="needs S21 with its phase"):
        captures_of_traces([scalar], ORIGIN, notes(port="series-through"))
    held = notes()
    (response,) = captures_of_traces([scalar], ORIGIN, held)
    assert not response.has_phase
    assert held.questions == []


def test_a_chosen_parameter_stands_alone():
    (response,) = captures_of(parameters(), ORIGIN, notes(parameter="s12"))
    assert response.origin.label == "S12"


def test_open_circuit_impedance_can_be_chosen():
    matrix = np.array([[[30 + 5j, 4j], [4j, 20 + 1j]]] * 3)
    found = parameters("Z", matrix)
    (sweep,) = captures_of(found, ORIGIN, notes(parameter="Z22"))
    assert sweep.impedance.tolist() == [20 + 1j] * 3
    assert sweep.origin.label == "Z22"


def test_open_circuit_impedance_follows_from_s():
    matrix = np.array([[[30 + 5j, 4j], [4j, 20 + 1j]]] * 3)
    from benchapp.readers.network import scattering

    s = scattering("Z", matrix, np.array([50.0, 50.0]))
    (sweep,) = captures_of(parameters("S", s), ORIGIN, notes(parameter="Z11"))
    assert sweep.impedance == pytest.approx(np.full(3, 30 + 5j))


@pytest.mark.parametrize("name", ["S31", "X11", "S"])
def test_a_parameter_that_is_not_there_is_refused(name):
    with pytest.raises(ReadError, match="parameter: must be S or Z with two ports of 1 to 2"):
        captures_of(parameters(), ORIGIN, notes(parameter=name))


def test_a_point_of_exact_open_is_set_aside():
    held = notes()
    values = np.array([0.5, 1.0, 0.5], dtype=complex)
    (sweep,) = captures_of_traces([trace("S11", values=values)], ORIGIN, notes_with(held))
    assert sweep.frequency.tolist() == [1e6, 3e6]
    assert held.set_aside == {5: "a value is missing or no number"}


def notes_with(held: Notes) -> Notes:
    held.answers = Answers(port="reflection")
    return held


def test_a_backward_transmission_serves_where_no_forward_one_is_there():
    (sweep,) = captures_of_traces([trace("S12")], ORIGIN, notes(port="series-through"))
    assert sweep.impedance == pytest.approx(np.full(3, 100.0))
