"""What the coil room gives back."""

from __future__ import annotations

from benchapp.coil.value import CoilResult, Computed

STEADY = Computed(quantity="L", value=1e-3, unit="H", method="exact", error_percent=0.0)
AT = Computed(quantity="L", value=0.9e-3, unit="H", method="exact", at=1e5)


def test_a_quantity_is_found_by_name_and_frequency():
    result = CoilResult(shape="solenoid", quantities=(STEADY, AT))
    assert result.get("L") is STEADY
    assert result.get("L", 1e5) is AT


def test_a_quantity_that_was_not_computed_is_none():
    result = CoilResult(shape="solenoid", quantities=(STEADY,))
    assert result.get("Q") is None
    assert result.get("L", 1e5) is None


def test_an_approximation_is_never_taken_for_the_value():
    assert CoilResult(shape="loop", quantities=(), approximations=(STEADY,)).get("L") is None
