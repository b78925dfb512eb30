"""``benchapp explain`` and the hypotheses of ``benchapp compare``."""

from __future__ import annotations

import json

import pytest

from benchapp.__main__ import main
from benchapp.jobs import SAMPLE_CAPTURE, SAMPLE_NOMINAL, sample_folder

FOLDER = sample_folder()
TANK, GERMAN, RING = (
    str(FOLDER / name) for name in (SAMPLE_CAPTURE, "ga12_tank_german.csv", "ga12_ring_down.csv")
)
SHORTED = str(FOLDER / "ga12_lot" / "0209.csv")
NOMINAL = str(FOLDER / SAMPLE_NOMINAL)


def run(capsys, *words: str) -> tuple[int, str, str]:
    status = main(list(words))
    shown = capsys.readouterr()
    return status, shown.out, shown.err


def test_captures_of_one_part_agree(capsys):
    status, out, _ = run(capsys, "explain", TANK, GERMAN, RING)
    assert status == 0
    assert out.count("they agree within their uncertainties") == 2
    assert "ga12_ring_down.csv against ga12_tank.csv" in out


def test_another_part_is_not_explained(capsys):
    status, out, _ = run(capsys, "explain", TANK, SHORTED, "--json")
    assert status == 3
    found = json.loads(out)
    assert found["schema"] == "benchapp.explain/1"
    assert (found["agree"], found["causes"]) == (False, [])
    assert found["reason"] == "not explained by a single cause"
    assert len(found["differences"]) == 3


def _with_capacitance(tmp_path, picofarad):
    lines = []
    for line in (FOLDER / SAMPLE_CAPTURE).read_text(encoding="ascii").splitlines():
        cells = line.split(",")
        if len(cells) == 3 and cells[0][0].isdigit():
            f, r, x = map(float, cells)
            z = 1 / (1 / complex(r, x) + 2j * 3.141592653589793 * f * picofarad * 1e-12)
            lines.append(f"{f:.8g},{z.real:.9g},{z.imag:.9g}")
        else:
            lines.append(line)
    path = tmp_path / "clipped.csv"
    path.write_text("\n".join(lines) + "\n", encoding="ascii")
    return str(path)


def test_a_capacitance_across_the_part_is_named(capsys, tmp_path):
    clipped = _with_capacitance(tmp_path, 6.0)
    status, out, _ = run(capsys, "explain", TANK, clipped)
    assert status == 0
    assert "explained by capacitance of fixture or probe" in out
    _, out, _ = run(capsys, "explain", TANK, clipped, "--json")
    cause = json.loads(out)["causes"][0]
    assert cause["id"] == "fixture-capacitance"
    assert float(cause["size"].split()[0]) == pytest.approx(6.0, rel=0.1)


def test_one_capture_cannot_disagree(capsys):
    status, _, err = run(capsys, "explain", TANK)
    assert status == 2
    assert "must have two captures of one part or more (got 1)" in err


def test_a_failed_part_comes_with_hypotheses(capsys):
    status, out, _ = run(capsys, "compare", SHORTED, "--nominal", NOMINAL)
    assert status == 1
    assert "shorted turn: as if a closed turn coupled with k" in out
    _, out, _ = run(capsys, "compare", SHORTED, "--nominal", NOMINAL, "--json")
    found = json.loads(out)["hypotheses"]
    assert found["ranked"][0]["id"] == "shorted-turn"
    assert set(found["ranked"][0]) == {
        *("id", "title", "share", "as_if", "evidence", "next_test"),
    }


def test_a_good_part_has_none(capsys):
    _, out, _ = run(capsys, "compare", TANK, "--nominal", NOMINAL, "--json")
    assert json.loads(out)["hypotheses"] is None


def test_a_slip_of_a_prefix_is_no_fault_of_the_part(capsys, tmp_path):
    path = tmp_path / "design.toml"
    path.write_text(
        'title = "x"\ncircuit = "tank"\n[limits.L]\nnominal = "1.62 uH ±3 %"\n'
        '[limits.f0]\nnominal = "134.2 kHz ±1.5 %"\n',
        encoding="utf-8",
    )
    _, out, _ = run(capsys, "compare", TANK, "--nominal", str(path), "--json")
    assert json.loads(out)["hypotheses"] is None
