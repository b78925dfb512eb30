"""A design survives the way through the form and the file."""

from __future__ import annotations

import tomllib

import pytest

from benchapp.capture import Conditions
from benchapp.nominal import Decision, Limit, load_nominal, nominal_from
from benchapp.nominal.writing import form_from, toml_text
from tests.gui.factories import ESR_LIMIT, L_LIMIT, Q_LIMIT, nominal

DESIGN = {
    "title": 'Coil "GA-12", 20 °C',
    "revision": "C",
    "circuit": "tank",
    "conditions": {
        "frequency": "134.2 kHz",
        "level": "1 V ±10 %",
        "bias": "0.2 A",
        "temperature": "23 degC ±2 degC",
        "fixture": "four-terminal clip",
        "surroundings": "ferrite plate",
    },
    "limits": {
        "L": {"nominal": "1.62 mH", "tolerance": "-2 % +5 %"},
        "Q": [{"lower": "60", "at": "134.2 kHz"}, {"lower": "40", "at": "125 kHz"}],
        "|Z|": {"lower": "70 kohm", "upper": "150 kohm", "at": "134.2 kHz"},
        "theta": {"lower": "-30 deg", "upper": "30 deg", "at": "134.2 kHz"},
    },
    "decision": {"guard": 0.5, "coverage": 2.0},
    "construction": {"turns": 90.0, "strands": 20, "core": "air"},
    "history": [
        {"revision": "B", "date": "2026-03-14", "by": "M. Ito", "change": "L: ±5 % -> ±3 %"},
        {"revision": "C", "date": "2026-05-02"},
    ],
}


def same(first, second) -> bool:
    """Tell whether two designs ask the same of a part."""
    for name in (
        "title",
        "revision",
        "circuit",
        "conditions",
        "decision",
        "construction",
        "history",
    ):
        if getattr(first, name) != getattr(second, name):
            return False
    if len(first.limits) != len(second.limits) or len(first.accepted) != len(second.accepted):
        return False
    pairs = [*zip(first.limits, second.limits, strict=True)]
    pairs += zip(first.accepted, second.accepted, strict=True)
    return first.frequency == pytest.approx(second.frequency) and all(
        _same_fields(one, other) for one, other in pairs
    )


def _same_fields(one, other) -> bool:
    for name in type(one).__slots__:
        left, right = getattr(one, name), getattr(other, name)
        close = left == right if not isinstance(left, float) else left == pytest.approx(right)
        if not close:
            return False
    return True


def test_a_design_comes_back_from_its_form_unchanged():
    design = nominal_from(DESIGN)
    assert same(nominal_from(form_from(design)), design)


def test_a_design_comes_back_from_its_file_unchanged(tmp_path):
    design = nominal_from(DESIGN)
    path = tmp_path / "design.toml"
    path.write_text(toml_text(form_from(design)), encoding="utf-8")
    assert same(load_nominal(path), design)


def test_a_second_way_through_the_file_changes_nothing():
    once = toml_text(form_from(nominal_from(DESIGN)))
    assert toml_text(form_from(nominal_from(tomllib.loads(once)))) == once


def test_the_file_reads_as_a_person_would_write_it():
    text = toml_text(form_from(nominal(limits=(L_LIMIT, Q_LIMIT, ESR_LIMIT))))
    assert text.splitlines()[:3] == [
        'title = "Gate antenna coil GA-12"',
        'revision = "C"',
        'circuit = "tank"',
    ]
    assert '[limits.L]\nnominal = "1.62 mH"\ntolerance = "±3 %"\n' in text
    assert '[limits.ESR]\nat = "134.2 kHz"\nupper = "22 Ω"\n' in text
    assert text.endswith("[decision]\nguard = 1.0\ncoverage = 2.0\n")


def test_several_limits_of_one_quantity_become_several_tables():
    text = toml_text(form_from(nominal_from(DESIGN)))
    assert text.count("[[limits.Q]]") == 2
    assert '[limits."|Z|"]' in text


def test_what_is_not_stated_is_left_out():
    form = form_from(nominal(frequency=None, conditions=Conditions()))
    assert form["conditions"] == {}
    assert "conditions" not in toml_text(form)


def test_the_usual_leeway_of_a_condition_is_not_written_out():
    form = form_from(nominal_from({**DESIGN, "conditions": {"level": "1 V"}}))
    assert form["conditions"] == {"level": "1 V"}


def test_a_nominal_with_one_edge_keeps_it():
    limit = Limit(quantity="ESR", unit="ohm", nominal=17.5, upper=22.0)
    form = form_from(nominal(limits=(limit,)))
    assert form["limits"]["ESR"] == {"nominal": "17.5 Ω", "upper": "22 Ω"}
    assert nominal_from(form).limits[0].upper == pytest.approx(22.0)


def test_the_rule_of_decision_is_kept():
    form = form_from(nominal(decision=Decision(guard=0.0, coverage=3.0)))
    assert form["decision"] == {"guard": 0.0, "coverage": 3.0}
