"""Whether a window can be shown, found out without Qt.

Qt ends the process when its platform plugin cannot load or cannot reach a display, so this has
to be known before Qt is imported.
"""

from __future__ import annotations

import ctypes
import importlib.util
import os
import sys
from collections.abc import Mapping
from pathlib import Path

__all__ = ["missing"]

# Debian package by shared library: what Qt itself needs, then what each platform adds.
_ALWAYS = {
    "libglib-2.0.so.0": "libglib2.0-0",
    "libGL.so.1": "libgl1",
    "libEGL.so.1": "libegl1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libfontconfig.so.1": "libfontconfig1",
    "libdbus-1.so.3": "libdbus-1-3",
}
_X11 = {
    "libX11-xcb.so.1": "libx11-xcb1",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libxcb.so.1": "libxcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
}
_WAYLAND = {
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
}
_PLATFORMS = {"xcb": _X11, "wayland": _WAYLAND}
_FONTS = "fonts-dejavu-core"
_FONT_SUFFIXES = {".ttf", ".otf", ".ttc", ".pfb", ".pcf", ".gz"}
_PYTHON = {"PySide6": "PySide6-Essentials", "pyqtgraph": "pyqtgraph"}


def missing(environment: Mapping[str, str] | None = None) -> str | None:
    """Say in one line what a window lacks here, or None when it can be shown.

    Parameters
    ----------
    environment : mapping, optional
        Variables to look at instead of the process's own.
    """
    variables = os.environ if environment is None else environment
    absent = [name for module, name in _PYTHON.items() if not _importable(module)]
    if absent:
        return f"Python packages are missing; run: pip install {' '.join(absent)}"
    if not sys.platform.startswith("linux"):
        return None
    platform = _platform(variables)
    if platform is None:
        return "there is no screen (neither DISPLAY nor WAYLAND_DISPLAY is set)."
    needed = _ALWAYS | _PLATFORMS.get(platform, {})
    packages = sorted({name for library, name in needed.items() if not _loadable(library)})
    if not _has_font(variables):
        packages.append(_FONTS)
    if packages:
        return f"system packages are missing; run: apt-get install {' '.join(packages)}"
    if platform == "xcb" and not _answers(variables.get("DISPLAY", "")):
        return f"the screen {variables.get('DISPLAY', '')!r} named by DISPLAY does not answer."
    return None


def _importable(module: str) -> bool:
    return importlib.util.find_spec(module) is not None


def _platform(variables: Mapping[str, str]) -> str | None:
    """Name the Qt platform that will be used, None where there is no screen."""
    asked = variables.get("QT_QPA_PLATFORM", "").split(";")[0].split(":")[0]
    if asked:
        return asked.removesuffix("-egl")
    if variables.get("DISPLAY"):
        return "xcb"
    return "wayland" if variables.get("WAYLAND_DISPLAY") else None


def _loadable(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def _has_font(variables: Mapping[str, str]) -> bool:
    """Tell whether any font file is installed: without one, text is empty boxes."""
    if variables.get("FONTCONFIG_FILE") or variables.get("FONTCONFIG_PATH"):
        return True  # fonts live where that configuration says
    home = Path(variables.get("HOME", "/"))
    shares = variables.get("XDG_DATA_DIRS", "") or "/usr/local/share:/usr/share"
    folders = [home / ".fonts", home / ".local/share/fonts"]
    folders += [Path(share) / "fonts" for share in {*shares.split(":"), "/usr/share"} if share]
    return any(
        Path(name).suffix.lower() in _FONT_SUFFIXES
        for folder in folders
        for _, _, names in os.walk(folder)
        for name in names
    )


def _answers(display: str) -> bool:
    """Tell whether the X server named ``display`` accepts a connection."""
    xcb = ctypes.CDLL("libxcb.so.1")
    xcb.xcb_connect.restype = ctypes.c_void_p
    xcb.xcb_connect.argtypes = [ctypes.c_char_p, ctypes.c_void_p]
    xcb.xcb_connection_has_error.argtypes = [ctypes.c_void_p]
    xcb.xcb_disconnect.argtypes = [ctypes.c_void_p]
    connection = xcb.xcb_connect(display.encode() or None, None)
    broken = bool(xcb.xcb_connection_has_error(connection))
    xcb.xcb_disconnect(connection)
    return not broken
