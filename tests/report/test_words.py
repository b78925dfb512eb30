from __future__ import annotations

import ast
from pathlib import Path

import pytest

import benchapp.report
from benchapp.errors import UsageError
from benchapp.report.words import PHRASES, Words

ROOM = Path(benchapp.report.__file__).parent


def spoken() -> set[str]:
    """Give every phrase that the reports ask the table for by its own text."""
    return {
        node.args[0].value
        for path in ROOM.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and getattr(node.func, "id", "") == "words"
        and isinstance(node.args[0], ast.Constant)
    }


def test_every_phrase_that_reports_use_is_in_the_table():
    assert spoken() - PHRASES == set()
    assert len(spoken()) > 60


def test_a_changed_phrase_is_used_and_the_others_stay():
    words = Words(language="de", changed={"Results": "Ergebnisse"})
    assert (words("Results"), words("Method")) == ("Ergebnisse", "Method")


def test_values_are_put_in_and_never_read_as_places():
    said = Words()("accepted by {name}: {reason}", name="{reason}", reason="{0.__class__}")
    assert said == "accepted by {reason}: {0.__class__}"


def test_a_phrase_that_does_not_exist_is_refused():
    with pytest.raises(UsageError, match="must name phrases of reports \\(got 'Resultz'\\)"):
        Words(changed={"Resultz": "x"})


@pytest.mark.parametrize("text", ["Ende", "Ende {numb", "Ende {number.__class__}"])
def test_a_text_without_the_same_places_is_refused(text):
    with pytest.raises(UsageError, match="must have the same places in braces"):
        Words(changed={"End of report {number}": text})
