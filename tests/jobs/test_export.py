from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchapp.errors import CancelledError, FileAccessError, ReadError, UsageError
from benchapp.jobs import (
    EXPORTS,
    ComparePart,
    ExportParts,
    OpenBundle,
    OpenFile,
    OpenNominal,
    ReportChoices,
    not_cancelled,
    silent,
)
from benchapp.readers import read
from tests.report.samples import SAMPLES, TIME


def run(job):
    return job(silent, not_cancelled)


@pytest.fixture
def part(tmp_path):
    """Judge a copy of a sample, so that tests may change it."""
    for name in ("ga12_tank.csv", "ga12.toml"):
        shutil.copy(SAMPLES / name, tmp_path)
    path = str(tmp_path / "ga12_tank.csv")
    nominal = run(OpenNominal(path=str(tmp_path / "ga12.toml")))
    reading = run(OpenFile(path=path))
    return run(
        ComparePart(capture=reading.captures[0], path=path, nominal=nominal, reading=reading)
    )


def export(part, kind, folder, *, parts=None, name="out.dat"):
    choices = ReportChoices(path=str(folder / name), time=TIME, operator="A. Brandt")
    return run(ExportParts(parts=parts or (part,), kind=kind, choices=choices))


@pytest.mark.parametrize("kind", EXPORTS)
def test_every_form_is_written_and_the_same_inputs_give_the_same_bytes(kind, part, tmp_path):
    first = Path(export(part, kind, tmp_path)).read_bytes()
    again = Path(export(part, kind, tmp_path, name="again.dat")).read_bytes()
    assert first == again
    assert first


def test_the_fitted_impedance_is_that_of_the_fit(part, tmp_path):
    path = export(part, "circuit", tmp_path, name="fit.s1p")
    (found,) = read(path)
    np.testing.assert_allclose(found.impedance, part.fit.fitted, rtol=1e-12)


def test_a_bundle_opens_elsewhere_with_the_same_numbers(part, tmp_path):
    path = export(part, "bundle", tmp_path, name="b.zip")
    folder = tmp_path / "elsewhere"
    bundle = run(OpenBundle(path=path, into=str(folder)))
    assert {name.split("/")[0] for name in bundle.files} == {
        *("raw", "captures", "reports", "results.csv", "results.json", "design.toml")
    }
    raw = next((folder / "raw").iterdir())
    reading = run(OpenFile(path=str(raw)))
    nominal = run(OpenNominal(path=str(folder / "design.toml")))
    again = run(ComparePart(capture=reading.captures[0], nominal=nominal, reading=reading))
    assert np.array_equal(again.fit.values, part.fit.values)
    (saved,) = read(next((folder / "captures").iterdir()))
    assert saved.digest == part.capture.digest


def test_a_bundle_is_not_unpacked_over_other_files(part, tmp_path):
    path = export(part, "bundle", tmp_path, name="b.zip")
    with pytest.raises(UsageError, match="must be a new or an empty folder"):
        run(OpenBundle(path=path, into=str(tmp_path)))


def test_a_changed_bundle_unpacks_nothing(part, tmp_path):
    path = Path(export(part, "bundle", tmp_path, name="b.zip"))
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    folder = tmp_path / "elsewhere"
    with pytest.raises(ReadError, match="must"):
        run(OpenBundle(path=str(path), into=str(folder)))
    assert not folder.exists()


def test_a_file_changed_since_it_was_read_is_not_packed(part, tmp_path):
    with Path(part.path).open("a") as file:
        file.write("\n")
    with pytest.raises(UsageError, match="must be as it was when it was read"):
        export(part, "bundle", tmp_path)


def test_a_part_without_a_file_is_packed_as_its_capture(part, tmp_path):
    bare = replace(part, reading=None, nominal=None, verdict=None, path="")
    path = export(bare, "bundle", tmp_path, name="b.zip")
    names = set(run(OpenBundle(path=path)).files)
    assert not [name for name in names if name.startswith(("raw", "design"))]
    assert [name for name in names if name.startswith("captures/")]


def test_what_takes_one_part_refuses_two(part, tmp_path):
    with pytest.raises(UsageError, match="must be one part for spice \\(got 2\\)"):
        export(part, "spice", tmp_path, parts=(part, part))


def test_an_unknown_form_and_no_part_are_refused(part, tmp_path):
    with pytest.raises(UsageError, match="export: must be one of csv"):
        export(part, "xls", tmp_path)
    job = ExportParts(parts=(), kind="csv", choices=ReportChoices(path="x", time=TIME))
    with pytest.raises(UsageError, match="export: must have a part"):
        run(job)


def test_a_fit_of_no_impedance_has_no_touchstone(tmp_path):
    reading = run(OpenFile(path=str(SAMPLES / "ga12_ring_down.csv")))
    part = run(ComparePart(capture=reading.captures[0], reading=reading))
    with pytest.raises(UsageError, match="must be of a fitted impedance"):
        export(part, "circuit", tmp_path)


def test_a_bundle_that_is_missing_or_too_large_is_named(tmp_path, monkeypatch):
    with pytest.raises(FileAccessError, match="must be a file that can be read"):
        run(OpenBundle(path=str(tmp_path / "no.zip")))
    (tmp_path / "big.zip").write_bytes(bytes(100))
    monkeypatch.setattr("benchapp.jobs.export._MOST", 10)
    with pytest.raises(ReadError, match="must be at most 1 GiB"):
        run(OpenBundle(path=str(tmp_path / "big.zip")))


def test_a_folder_that_cannot_be_made_is_named(part, tmp_path):
    path = export(part, "bundle", tmp_path, name="b.zip")
    with pytest.raises(FileAccessError, match="must be a folder that can be written"):
        run(OpenBundle(path=path, into=str(Path(path) / "below")))


def test_an_export_can_be_stopped(part, tmp_path):
    job = ExportParts(parts=(part,), kind="csv", choices=ReportChoices(path="x", time=TIME))
    with pytest.raises(CancelledError, match="stopped"):
        job(silent, lambda: True)


def test_an_export_is_not_written_over_a_file_unasked(tmp_path, part):
    (tmp_path / "x.csv").write_text("mine", encoding="utf-8")
    kept = ReportChoices(path=str(tmp_path / "x.csv"), time=TIME)
    with pytest.raises(UsageError, match="must be a new file"):
        run(ExportParts(parts=(part,), kind="csv", choices=kept))
    assert (tmp_path / "x.csv").read_text(encoding="utf-8") == "mine"
    run(ExportParts(parts=(part,), kind="csv", choices=replace(kept, overwrite=True)))
    assert (tmp_path / "x.csv").read_text(encoding="utf-8").startswith("part,file")
