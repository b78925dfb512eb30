"""What is missing for a window is found out without Qt, and said in one line."""

from __future__ import annotations

import subprocess
import sys

import pytest

from benchapp.gui import display

SCREEN = {"DISPLAY": ":0", "HOME": "/nowhere"}


@pytest.fixture
def everything(monkeypatch):
    """A machine that has all libraries, a font, and an X server that answers."""
    monkeypatch.setattr(display.sys, "platform", "linux")
    monkeypatch.setattr(display, "_importable", lambda _module: True)
    monkeypatch.setattr(display, "_loadable", lambda _library: True)
    monkeypatch.setattr(display, "_has_font", lambda _variables: True)
    monkeypatch.setattr(display, "_answers", lambda _display: True)


@pytest.mark.usefixtures("everything")
def test_a_machine_with_everything_lacks_nothing():
    assert display.missing(SCREEN) is None


@pytest.mark.usefixtures("everything")
def test_no_screen_is_said_with_the_names_of_the_variables():
    said = display.missing({})
    assert said == "there is no screen (neither DISPLAY nor WAYLAND_DISPLAY is set)."


@pytest.mark.usefixtures("everything")
def test_an_offscreen_platform_needs_no_screen():
    assert display.missing({"QT_QPA_PLATFORM": "offscreen"}) is None


@pytest.mark.parametrize(
    ("library", "package"),
    [
        ("libEGL.so.1", "libegl1"),
        ("libGL.so.1", "libgl1"),
        ("libxkbcommon.so.0", "libxkbcommon0"),
        ("libfontconfig.so.1", "libfontconfig1"),
        ("libdbus-1.so.3", "libdbus-1-3"),
        ("libglib-2.0.so.0", "libglib2.0-0"),
        ("libxcb-cursor.so.0", "libxcb-cursor0"),
        ("libxcb-icccm.so.4", "libxcb-icccm4"),
        ("libxcb-keysyms.so.1", "libxcb-keysyms1"),
        ("libxkbcommon-x11.so.0", "libxkbcommon-x11-0"),
        ("libxcb-shape.so.0", "libxcb-shape0"),
    ],
)
def test_each_missing_library_is_named_by_its_package(everything, monkeypatch, library, package):
    monkeypatch.setattr(display, "_loadable", lambda one: one != library)
    said = display.missing(SCREEN)
    assert said == f"system packages are missing; run: apt-get install {package}"


def test_a_library_only_for_x11_is_not_asked_for_offscreen(everything, monkeypatch):
    monkeypatch.setattr(display, "_loadable", lambda one: "xcb" not in one)
    assert display.missing({"QT_QPA_PLATFORM": "offscreen"}) is None
    assert "libxcb-cursor0" in display.missing(SCREEN)


def test_a_library_only_for_wayland_is_asked_for_there(everything, monkeypatch):
    monkeypatch.setattr(display, "_loadable", lambda one: "wayland" not in one)
    assert display.missing(SCREEN) is None
    said = display.missing({"WAYLAND_DISPLAY": "wayland-0"})
    assert said.endswith("apt-get install libwayland-client0 libwayland-cursor0")


def test_several_missing_packages_stand_on_one_line(everything, monkeypatch):
    monkeypatch.setattr(display, "_loadable", lambda _one: False)
    said = display.missing(SCREEN)
    assert "\n" not in said
    packages = said.rpartition("install ")[2].split()
    assert packages == sorted(set(packages))
    assert len(packages) == len(display._ALWAYS) + len(display._X11)


def test_a_machine_without_any_font_is_told_which_package_has_one(everything, monkeypatch):
    monkeypatch.setattr(display, "_has_font", lambda _variables: False)
    assert display.missing(SCREEN).endswith("apt-get install fonts-dejavu-core")


def test_fonts_are_looked_for_where_the_desktop_keeps_them(tmp_path, monkeypatch):
    folders = {"HOME": str(tmp_path / "home"), "XDG_DATA_DIRS": str(tmp_path / "share")}
    monkeypatch.setattr(display.os, "walk", _walk_only(tmp_path, display.os.walk))
    assert not display._has_font(folders)
    (tmp_path / "share/fonts/truetype").mkdir(parents=True)
    (tmp_path / "share/fonts/truetype/one.ttf").touch()
    assert display._has_font(folders)


def test_a_font_configuration_of_its_own_is_trusted():
    assert display._has_font({"FONTCONFIG_FILE": "/etc/some.conf"})


def _walk_only(inside, walk):
    return lambda folder: walk(folder) if folder.is_relative_to(inside) else iter(())


def test_an_x_server_that_does_not_answer_is_named(everything, monkeypatch):
    monkeypatch.setattr(display, "_answers", lambda _display: False)
    said = display.missing({"DISPLAY": ":77"})
    assert said == "the screen ':77' named by DISPLAY does not answer."


def test_no_server_listens_on_an_unused_display_number():
    assert not display._answers(":6543")


def test_missing_python_packages_come_before_everything_else(monkeypatch):
    monkeypatch.setattr(display, "_importable", lambda module: module != "pyqtgraph")
    assert display.missing({}) == "Python packages are missing; run: pip install pyqtgraph"


def test_other_systems_bring_their_own_libraries(monkeypatch):
    monkeypatch.setattr(display.sys, "platform", "win32")
    assert display.missing({}) is None


def test_this_very_machine_can_show_windows_without_a_screen():
    assert display.missing({"QT_QPA_PLATFORM": "offscreen"}) is None


def test_finding_out_imports_no_qt():
    code = (
        "import sys; from benchapp.gui.display import missing; missing({'DISPLAY': ':6543'});"
        "sys.exit(any('PySide' in name or 'pyqtgraph' in name for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
