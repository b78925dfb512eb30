"""The reference coil at the command line: measured, checked, reviewed."""

from __future__ import annotations

import json
import shutil

import pytest

from benchapp.__main__ import main
from benchapp.jobs import sample_folder

SWEEP = ["sweep", "--profile", "lcr-list", "--start", "114kHz", "--stop", "154kHz"]
HELD = ["--points", "101", "--level", "0.5V", "--temperature", "23"]


@pytest.fixture
def coil(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHAPP_RECORD", str(tmp_path / "usual.benchlog"))
    return shutil.copy(sample_folder() / "ga12_reference.toml", tmp_path / "coil.toml")


def run(capsys, *words):
    status = main([str(word) for word in words])
    shown = capsys.readouterr()
    assert "Traceback" not in shown.err
    return status, shown.out, shown.err


def measured(capsys, coil, part="tank", *more):
    words = [*SWEEP, *HELD, "--resource", f"bench:{part}", "--reference-coil", coil]
    return run(capsys, *words, *more)


def test_before_any_check_lot_work_is_locked(capsys, coil):
    status, out, _ = run(capsys, "reference", coil)
    assert status == 1
    assert "lot work is LOCKED" in out
    assert "reference RC-1 has not been checked here" in out


def test_a_good_sweep_opens_and_is_remembered(capsys, coil):
    status, out, _ = measured(capsys, coil, "tank", "--who", "A. Brandt")
    assert status == 0
    assert "lot work is OPEN" in out
    assert "L          1.63" in out
    assert "; stated 1.6313 mH, " in out
    assert "E_n " in out
    status, out, _ = run(capsys, "reference", coil, "--json")
    found = json.loads(out)
    assert status == 0
    assert (found["schema"], found["open"], found["state"]) == (
        "benchapp.reference/1",
        True,
        "open",
    )
    assert found["last"]["who"] == "A. Brandt"
    assert found["charts"][0]["quantity"] == "L"
    assert found["charts"][0]["needed"] == 9
    assert len(found["charts"][0]["points"]) == 1


def test_a_wrong_coil_locks_until_a_review_and_a_new_check(capsys, coil):
    measured(capsys, coil)
    status, out, _ = measured(capsys, coil, "shorted-turn")
    assert status == 1
    assert "reference RC-1 is outside its limits" in out
    assert "review what was measured after " in out
    who = ["--who", "A. Brandt", "--review", "another coil was in the clip"]
    status, out, _ = run(capsys, "reference", coil, *who)
    assert status == 1
    assert "has not been checked here since" in out
    assert measured(capsys, coil)[0] == 0


def test_a_saved_capture_is_a_check_too(capsys, coil, tmp_path):
    path = tmp_path / "rc1.csv"
    run(capsys, *SWEEP, *HELD, "--resource", "bench", "--out", path)
    status, out, _ = run(capsys, "reference", coil, "--capture", path)
    assert status == 0
    assert "last check 20" in out
    assert (tmp_path / "usual.benchlog").is_file()


def test_control_limits_are_shown_once_there_are_enough(capsys, coil, tmp_path):
    other = tmp_path / "other.benchlog"
    path = tmp_path / "rc1.csv"
    run(capsys, *SWEEP, *HELD, "--resource", "bench", "--out", path)
    for _ in range(10):
        _, out, _ = run(capsys, "reference", coil, "--capture", path, "--record", other)
    assert "control limits 1.63" in out
    assert "10 readings" in out


def test_the_coil_is_refused_before_anything_is_switched_on(capsys, tmp_path):
    status, _, err = measured(capsys, tmp_path / "none.toml")
    assert status == 4
    assert "none.toml" in err
    assert "%" not in err


def test_a_capture_with_open_questions_is_no_check(capsys, coil, tmp_path):
    path = tmp_path / "odd.csv"
    path.write_text("a,b,c\n1,2,3\n2,3,4\n3,4,5\n", encoding="ascii")
    status, _, err = run(capsys, "reference", coil, "--capture", path)
    assert status in (2, 4)
    assert "odd.csv" in err


def lot(capsys, coil, *words):
    folder = sample_folder()
    design = ["--nominal", folder / "ga12.toml", "--reference-coil", coil]
    return run(capsys, "lot", folder / "ga12_lot", *design, *words)


def test_a_lot_is_not_judged_while_the_station_is_locked(capsys, coil):
    status, out, err = lot(capsys, coil)
    assert (status, out) == (3, "")
    assert err.startswith("benchapp: lot work is locked: reference RC-1 has not been checked here")
    assert "review what was measured since its last good check." in err
    measured(capsys, coil)
    status, out, err = lot(capsys, coil)
    assert status == 1
    assert "12 pass, 1 fail" in out


def test_the_record_of_the_lot_is_asked_for_the_checks(capsys, coil, tmp_path):
    measured(capsys, coil)
    other = tmp_path / "other.benchlog"
    assert lot(capsys, coil, "--record", other)[0] == 3
    measured(capsys, coil, "tank", "--record", other)
    assert lot(capsys, coil, "--record", other)[0] == 1
