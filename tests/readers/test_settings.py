"""Settings files: keys with their lines, and refusals in one form for every kind of file."""

from __future__ import annotations

import pytest

from benchapp.errors import NominalError, UsageError
from benchapp.readers.settings import Settings, Subject, load_settings, near

COLOURS = Subject(title="a colour file", short="the colours", example='red = "1 mm"')


def _load(tmp_path, text, subject=COLOURS):
    path = tmp_path / "colours.toml"
    path.write_text(text, encoding="utf-8")
    return load_settings(path, subject)


def test_each_key_knows_its_line(tmp_path):
    found = _load(tmp_path, 'a = 1\n\n[one.two]\n# b = 3\n"b c" = 2\n')
    assert found.where(("a",)) == "colours.toml, line 1: a"
    assert found.where(("one", "two", "b c")) == "colours.toml, line 5: one.two.b c"
    assert found.where(("one", "two", "missing")) == "colours.toml, line 3: one.two.missing"
    assert found.where(("nowhere",)) == "colours.toml: nowhere"


def test_a_refusal_is_of_the_kind_of_the_file(tmp_path):
    subject = Subject(title="a design", short="the design", error=NominalError)
    with pytest.raises(NominalError, match=r"colours.toml, line 2: must be TOML \(got: "):
        _load(tmp_path, "a = 1\nb\n", subject)
    with pytest.raises(UsageError, match="must be TOML"):
        _load(tmp_path, "a = 1\nb\n")


def test_the_example_of_the_kind_stands_in_the_hint(tmp_path):
    with pytest.raises(UsageError) as caught:
        _load(tmp_path, "b\n")
    assert caught.value.hint == 'Write key = value lines, texts in quotes: red = "1 mm".'


def test_an_unknown_key_is_refused_with_the_one_that_was_meant(tmp_path):
    found = _load(tmp_path, "rad = 1\n")
    with pytest.raises(UsageError, match=r"line 1: rad must be a known key of the colours: red"):
        found.only(found.data, ("red",), ())
    assert near("rad", ("red", "blue")) == "Did you mean red?"
    assert near("q", ("red", "blue")) == "Check its spelling."


def test_texts_numbers_and_tables_are_told_apart():
    found = Settings(name="x", subject=COLOURS, data={"n": 2, "t": " a ", "flag": True, "e": ""})
    assert found.number(found.data, ("n",), 0.0) == 2.0
    assert found.number(found.data, ("m",), 7.0) == 7.0
    assert found.text(found.data, ("t",)) == "a"
    with pytest.raises(UsageError, match="flag must be a number"):
        found.number(found.data, ("flag",), 0.0)
    with pytest.raises(UsageError, match="n must be a text in quotes"):
        found.text(found.data, ("n",))
    with pytest.raises(UsageError, match="e must be a text in quotes"):
        found.text(found.data, ("e",))
    with pytest.raises(UsageError, match="n must be a table"):
        found.table(2, ("n",))


def test_values_have_units_and_may_be_kelvin():
    found = Settings(name="x", subject=COLOURS)
    assert found.quantity("2 K", ("t",), ("K",)) == (2.0, "K")
    assert found.quantity("5 mohm", ("r",), ("ohm",)) == (pytest.approx(5e-3), "ohm")
    with pytest.raises(UsageError, match="t must have a unit"):
        found.quantity("2", ("t",), ("K",))
    with pytest.raises(UsageError, match="r must be one value, without a tolerance"):
        found.quantity("5 ohm ±1 %", ("r",), ("ohm",))
