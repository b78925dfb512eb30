"""Starting: what is imported, what is shown, and that the process survives it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from benchapp.gui.app import _teller, make_window
from benchapp.gui.startpage import sample_paths

OFFSCREEN = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}


def run(code: str, *arguments: str, home: Path | None = None) -> subprocess.CompletedProcess:
    environment = OFFSCREEN if home is None else {**OFFSCREEN, "XDG_CONFIG_HOME": str(home)}
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", code, *arguments],
        env=environment,
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )


def test_the_installed_qt_survives_20000_wrapped_calls():
    """Some builds lose a reference to None at each void call, and abort after a few thousand."""
    code = (
        "from PySide6.QtCore import QObject\n"
        "one = QObject()\n"
        "for _ in range(20_000):\n"
        "    one.setObjectName('x')\n"
    )
    done = run(code)
    assert done.returncode == 0, done.stderr


def test_the_window_is_shown_without_scipy_or_visa(tmp_path):
    code = (
        "import sys\n"
        "from pathlib import Path\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from benchapp.gui.app import make_window\n"
        "from benchapp.gui.memory import Memory\n"
        "application = QApplication([])\n"
        "window = make_window(Memory(Path(sys.argv[1]) / 'settings.ini'))\n"
        "for key in ('start', 'capture', 'nominal', 'verdict'):\n"
        "    window.page(key)\n"
        "window.show()\n"
        "application.processEvents()\n"
        "heavy = {'scipy', 'pyvisa', 'pandas', 'matplotlib'} & set(sys.modules)\n"
        "window.close()\n"
        "sys.exit(f'imported: {sorted(heavy)}' if heavy else 0)\n"
    )
    done = run(code, str(tmp_path))
    assert done.returncode == 0, done.stderr


def test_the_entry_opens_the_window_on_files_and_ends_well(tmp_path):
    code = (
        "import sys, threading\n"
        "from PySide6.QtCore import QTimer\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from benchapp.gui import app, run\n"
        "made = app.make_window\n"
        "def watched(memory):\n"
        "    window = made(memory)\n"
        "    timer = QTimer(window, interval=20)\n"
        "    def look():\n"
        "        result = window.session.result\n"
        "        if result is not None and result.verdict is not None:\n"
        "            print(result.verdict.outcome, window.isVisible(), flush=True)\n"
        "            timer.stop()\n"
        "            window.close()\n"
        "    timer.timeout.connect(look)\n"
        "    timer.start()\n"
        "    return window\n"
        "app.make_window = watched\n"
        "status = run(sys.argv[1:2], sys.argv[2])\n"
        "assert [t.name for t in threading.enumerate()] == ['MainThread']\n"
        "sys.exit(status)\n"
    )
    done = run(code, *sample_paths(), home=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "pass True"
    assert done.stderr == ""


def test_a_fault_in_the_window_is_told_in_it_and_in_the_terminal(qtbot, memory, capsys):
    window = make_window(memory)
    qtbot.addWidget(window)
    window.show()
    fault = ValueError("not today")
    _teller(window)(ValueError, fault, None)
    assert "ValueError: not today" in window.message.words.text()
    assert window.message.hint.text().startswith("Your files are untouched.")
    assert "ValueError: not today" in capsys.readouterr().err
    window.close()


def test_a_missing_file_on_the_command_line_still_opens_the_window(qtbot, memory, tmp_path):
    window = make_window(memory)
    qtbot.addWidget(window)
    window.show()
    window.session.open([str(tmp_path / "gone.csv")])
    qtbot.waitUntil(window.message.isVisible)
    assert window.stack.currentWidget() is window.page("start")
    window.close()


def test_importing_the_room_imports_no_qt():
    """The command line may ask what is missing without paying for Qt, or dying of it."""
    code = (
        "import sys, benchapp.gui\n"
        "loaded = [name for name in sys.modules if name.startswith(('PySide6', 'pyqtgraph'))]\n"
        "sys.exit(f'{loaded}' if loaded else 0)\n"
    )
    done = run(code)
    assert done.returncode == 0, done.stderr


def test_without_a_display_the_program_says_so_and_lives(tmp_path):
    """Qt itself would abort the process here: exit by signal 6."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if name not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    }
    done = subprocess.run(
        [sys.executable, "-m", "benchapp", *sample_paths()],
        env={**environment, "XDG_CONFIG_HOME": str(tmp_path)},
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    first = done.stdout.splitlines()[0]
    assert "there is no screen (neither DISPLAY nor WAYLAND_DISPLAY is set)" in first
    assert "pass" in done.stdout
