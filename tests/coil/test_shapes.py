"""The table of shapes, which the command line and the window make their forms from."""

from __future__ import annotations

from dataclasses import MISSING, fields

import pytest

from benchapp.coil import calculate
from benchapp.coil.conductor import Conductor
from benchapp.coil.geometry import Loop, Solenoid
from benchapp.coil.mutual import Plate
from benchapp.coil.shapes import CONDUCTOR_ENTRIES, PLATE_ENTRIES, SHAPES, shape_of
from benchapp.errors import QuantityError
from benchapp.units import UNITS, Quantity

ENTRIES = [(shape.name, entry) for shape in SHAPES.values() for entry in shape.entries]


def example(shape: str, *, required_only: bool = False) -> dict[str, float | str]:
    read = {
        entry.name: entry.read(entry.example)
        for entry in SHAPES[shape].entries
        if entry.required or not required_only
    }
    return {
        name: value.value if isinstance(value, Quantity) else value for name, value in read.items()
    }


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("required_only", [True, False])
def test_every_shape_is_built_and_computed_from_its_examples(shape, required_only):
    design = SHAPES[shape].build(example(shape, required_only=required_only))
    result = calculate(design, frequencies=[134.2e3])
    assert result.shape == shape
    assert all(entry.value > 0 for entry in result.quantities)
    assert result.get("M" if shape == "pair" else "L") is not None


@pytest.mark.parametrize("shape", SHAPES)
def test_entries_are_the_fields_of_the_design(shape):
    kind = SHAPES[shape].kind
    required = {entry.name for entry in fields(kind) if entry.default is MISSING}
    assert {entry.name for entry in SHAPES[shape].entries} == {e.name for e in fields(kind)}
    assert {entry.name for entry in SHAPES[shape].entries if entry.required} == required


def test_entries_of_conductor_and_plate_are_their_fields():
    assert [entry.name for entry in CONDUCTOR_ENTRIES] == [e.name for e in fields(Conductor)]
    assert [entry.name for entry in PLATE_ENTRIES] == [e.name for e in fields(Plate)]


@pytest.mark.parametrize(
    ("shape", "entry"), ENTRIES, ids=lambda value: getattr(value, "name", value)
)
def test_every_entry_has_words_a_known_unit_and_a_readable_example(shape, entry):
    assert shape
    assert entry.label
    assert entry.help
    assert entry.unit in UNITS or entry.choices
    assert entry.read(entry.example)


def test_an_entry_keeps_the_tolerance():
    diameter = SHAPES["solenoid"].entries[0].read("50mm ±0.2mm")
    assert isinstance(diameter, Quantity)
    assert (diameter.lower, diameter.upper) == pytest.approx((49.8e-3, 50.2e-3))


def test_a_wire_entry_understands_a_gauge():
    wire = SHAPES["loop"].entries[1].read("AWG 18")
    assert isinstance(wire, Quantity)
    assert wire.value == pytest.approx(1.0237e-3, rel=1e-3)


@pytest.mark.parametrize("text", ["", "wide", "5 kg", "3 H"])
def test_a_value_that_is_not_understood_names_its_entry(text):
    with pytest.raises(QuantityError, match=r"^diameter: "):
        SHAPES["solenoid"].entries[0].read(text)


def test_a_choice_that_does_not_exist_is_refused():
    form = SHAPES["planar"].entries[0]
    with pytest.raises(QuantityError, match=r"form: must be one of square, .* 'round'"):
        form.read("round")


@pytest.mark.parametrize("shape", SHAPES)
def test_a_missing_entry_is_named_with_an_example(shape):
    values = example(shape)
    first = next(entry for entry in SHAPES[shape].entries if entry.required)
    values[first.name] = None
    with pytest.raises(QuantityError, match=rf"{first.name}: must be given for the shape {shape}"):
        SHAPES[shape].build(values)


def test_a_design_knows_its_shape():
    assert shape_of(Loop(diameter=0.1, wire=1e-3)).name == "loop"
    assert shape_of(Solenoid(diameter=0.05, length=0.05, turns=50)).kind is Solenoid
