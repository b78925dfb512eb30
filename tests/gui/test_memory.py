"""What is kept between starts comes back, and rubbish in its place is no harm."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QByteArray

from benchapp.gui.memory import Memory
from benchapp.readers import Answers, Remembered


@pytest.fixture
def again(tmp_path, memory):
    """Open the same settings as a later start would."""

    def reopen():
        memory.flush()
        return Memory(tmp_path / "settings.ini")

    return reopen


def test_a_first_start_has_nothing_to_remember(memory):
    assert memory.theme == "system"
    assert memory.recent == ()
    assert memory.view == ""
    assert memory.folder == ""
    assert memory.geometry.isEmpty()
    assert memory.book.entries() == {}


def test_choices_come_back_at_the_next_start(memory, again):
    memory.theme = "dark"
    memory.view = "inductance-quality"
    memory.geometry = QByteArray(b"place")
    later = again()
    assert later.theme == "dark"
    assert later.view == "inductance-quality"
    assert later.geometry == QByteArray(b"place")


def test_recent_files_stand_last_first_once_each_and_only_while_they_exist(
    memory, again, tmp_path
):
    files = [tmp_path / f"{number}.csv" for number in range(10)]
    for file in files:
        file.touch()
        memory.remember(str(file))
    memory.remember(str(files[4]))
    files[9].unlink()
    names = [path.rpartition("/")[2] for path in again().recent]
    assert names == ["4.csv", "8.csv", "7.csv", "6.csv", "5.csv", "3.csv", "2.csv"]


def test_the_folder_is_that_of_the_last_file(memory, tmp_path):
    memory.remember(str(tmp_path / "deep" / "one.csv"))
    assert memory.folder == str(tmp_path / "deep")


def test_answers_stand_in_a_file_of_their_own_beside_the_settings(memory, tmp_path):
    memory.book.keep("abc", Remembered(answers=Answers(port="reflection")))
    assert 'port = "reflection"' in (tmp_path / "answers.toml").read_text()


@pytest.mark.parametrize("rubbish", ["[[[", "[1, 2]", '{"paths": 5}', '{"paths": [1, null]}'])
def test_rubbish_in_the_settings_counts_as_nothing(memory, rubbish):
    memory._settings.setValue("recent", rubbish)
    memory._settings.setValue("theme", "purple")
    memory._settings.setValue("geometry", "no bytes")
    assert memory.recent == ()
    assert memory.folder == ""
    assert memory.theme == "system"
    assert memory.geometry.isEmpty()


def test_without_a_path_the_settings_lie_where_the_desktop_keeps_them(qapp, monkeypatch, tmp_path):
    from PySide6.QtCore import QSettings

    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(tmp_path))
    kept = Memory()
    kept.theme = "light"
    kept.flush()
    assert (tmp_path / "benchapp" / "window.ini").is_file()


def test_the_instrument_is_kept_as_words_by_name(tmp_path):
    path = tmp_path / "settings.ini"
    first = Memory(path)
    assert first.instrument == {}
    first.instrument = {"address": "GPIB0::5::INSTR", "start": "114 kHz"}
    first.flush()
    assert Memory(path).instrument == {"address": "GPIB0::5::INSTR", "start": "114 kHz"}


def test_a_reference_coil_is_kept_while_its_file_is_there(tmp_path):
    memory = Memory(tmp_path / "settings.ini")
    coil = tmp_path / "coil.toml"
    coil.write_text("", encoding="utf-8")
    memory.reference = str(coil)
    assert memory.reference == str(coil)
    coil.unlink()
    assert memory.reference == ""
    memory.reference = ""
    assert memory.reference == ""


def test_thresholds_lie_beside_the_settings(memory, tmp_path):
    assert memory.thresholds.path == str(tmp_path / "checks.toml")


def test_the_place_of_the_guided_run_is_kept(memory, tmp_path):
    assert memory.guide == ((), "")
    memory.guide = (("marking", "tank"), "lot-1")
    memory.flush()
    assert Memory(tmp_path / "settings.ini").guide == (("marking", "tank"), "lot-1")


def test_practice_has_a_record_of_its_own_until_the_next_start(memory, tmp_path):
    memory.record = "postgresql://bench/record"
    memory.practises = True
    assert memory.record == str(tmp_path / "practice.benchlog")
    memory.flush()
    assert Memory(tmp_path / "settings.ini").record == "postgresql://bench/record"
