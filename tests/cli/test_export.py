from __future__ import annotations

import pytest

from benchapp.cli import main
from tests.report.samples import SAMPLES, TIME

FILE = str(SAMPLES / "ga12_tank.csv")
NOMINAL = ["--nominal", str(SAMPLES / "ga12.toml")]


def run(*words):
    return main(words, window=lambda _: 99)


@pytest.mark.parametrize(
    ("kind", "seen"),
    [("csv", "limit of L"), ("json", "benchapp.results/1"), ("spice", ".SUBCKT GA12_TANK_CSV")],
)
def test_an_export_is_written_and_named(kind, seen, tmp_path, capsys):
    out = tmp_path / "out.dat"
    assert run("export", FILE, *NOMINAL, "--as", kind, "--out", str(out)) == 0
    assert seen in out.read_text(encoding="utf-8")
    assert str(out) in capsys.readouterr().out


def test_a_bundle_is_verified_and_unpacked(tmp_path, capsys):
    out, folder = tmp_path / "b.zip", tmp_path / "new"
    assert run("export", FILE, *NOMINAL, "--as", "bundle", "--out", str(out), "--time", TIME) == 0
    assert run("export", str(out), "--verify", "--into", str(folder)) == 0
    assert f"files as they were written (benchapp 0.1.0 {TIME})" in capsys.readouterr().out
    assert (folder / "design.toml").is_file()


def test_a_bundle_with_a_changed_byte_is_refused(tmp_path, capsys):
    out = tmp_path / "b.zip"
    assert run("export", FILE, "--as", "bundle", "--out", str(out)) == 0
    data = bytearray(out.read_bytes())
    data[200] ^= 1
    out.write_bytes(bytes(data))
    assert run("export", str(out), "--verify") == 4
    assert "do not use what is in this one" in capsys.readouterr().err


def test_an_export_never_goes_over_what_is_read(tmp_path, capsys):
    copy = tmp_path / "a.csv"
    copy.write_bytes((SAMPLES / "ga12_tank.csv").read_bytes())
    assert run("export", str(copy), "--as", "csv", "--out", str(copy)) == 2
    assert "must not be a file that is read" in capsys.readouterr().err


def test_form_and_file_must_be_given(capsys):
    assert run("export", FILE, "--as", "csv") == 2
    assert "must have --as and --out" in capsys.readouterr().err
