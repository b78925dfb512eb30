"""Every sample capture comes again from its seed, and reads and fits as its description says."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from benchapp.bench.samples import LOT, SAMPLES, files
from benchapp.fit import fit
from benchapp.nominal import Outcome, judge, load_nominal
from benchapp.readers import understand

FOLDER = Path(__file__).parent.parent / "sample_captures"
DESCRIBED = sorted(
    path.with_name(path.name.removesuffix(".toml"))
    for path in FOLDER.glob("*.toml")
    if path.with_name(path.name.removesuffix(".toml")).is_file()
)
COVERAGE = 4.0  # standard uncertainties: one test in 16,000 fails by chance, and seeds are fixed


def described(path: Path) -> dict:
    """Give the description beside a capture."""
    return tomllib.loads(path.with_name(f"{path.name}.toml").read_text(encoding="utf-8"))


def test_the_maker_gives_every_file_byte_for_byte():
    made = dict(files())
    present = {path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*") if path.is_file()}
    assert present == set(made)
    changed = [name for name, content in made.items() if (FOLDER / name).read_bytes() != content]
    assert changed == []


def test_every_sample_is_described():
    assert [path.name for path in DESCRIBED] == sorted(sample.name for sample in SAMPLES)


@pytest.mark.parametrize("path", DESCRIBED, ids=lambda path: path.name)
def test_a_sample_is_read_as_described(path):
    reading, wanted = understand(path), described(path)["read"]
    (capture,) = reading.captures
    points = getattr(capture, "frequency", getattr(capture, "time", None)).size
    assert type(capture).__name__.lower() == wanted["kind"]
    assert points + len(reading.set_aside) == wanted["points"]
    assert len(reading.set_aside) == wanted["set_aside"]


@pytest.mark.parametrize("path", DESCRIBED, ids=lambda path: path.name)
def test_a_sample_gives_its_true_values(path):
    about = described(path)
    result = fit(understand(path).captures[0], circuit=about["fit"]["circuit"])
    assert result.describes
    for name, fraction in about["fit"]["within"].items():
        found, true = result.estimates[name], about["true"][name]
        error = abs(found.value - true)
        assert error <= fraction * true, name
        assert error <= COVERAGE * found.u, name
        assert found.u <= fraction * true / 2, name


def test_the_first_sample_passes_its_nominal_design():
    nominal = load_nominal(FOLDER / "ga12.toml")
    (capture,) = understand(FOLDER / "ga12_tank.csv").captures
    verdict = judge(nominal, fit(capture, circuit=nominal.circuit), capture)
    assert verdict.outcome is Outcome.PASS


def test_the_lot_has_the_one_part_outside_that_its_description_names():
    nominal = load_nominal(FOLDER / "ga12.toml")
    parts = described(FOLDER / LOT)["parts"]
    assert len(parts) == 13
    failed = set()
    for serial in parts:
        (capture,) = understand(FOLDER / LOT / f"{serial}.csv").captures
        verdict = judge(nominal, fit(capture, circuit="tank"), capture)
        if verdict.outcome is Outcome.FAIL:
            failed.add(serial)
        else:
            assert verdict.outcome is Outcome.PASS, serial
    assert failed == {key for key, part in parts.items() if part["limits"].startswith("outside")}
