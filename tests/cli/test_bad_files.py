"""Thirty files that hold no measurement: one sentence with what to do, status 4, no traceback."""

from __future__ import annotations

import gzip
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from benchapp.__main__ import main

GOOD = "frequency_hz,R_ohm,X_ohm\n" + "".join(
    f"{1000 * n},{1 + 0.01 * n:.4f},{6.283 * n:.4f}\n" for n in range(1, 41)
)


def _text(content: str, encoding: str = "utf-8") -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        path = folder / "bad.csv"
        path.write_bytes(content.encode(encoding))
        return path

    return make


def _bytes(content: bytes, name: str = "bad.csv") -> Callable[[Path], Path]:
    def make(folder: Path) -> Path:
        (folder / name).write_bytes(content)
        return folder / name

    return make


def _folder(folder: Path) -> Path:
    (folder / "sweeps").mkdir()
    return folder / "sweeps"


def _missing(folder: Path) -> Path:
    return folder / "sweep_that_is_not_there.csv"


def _dangling(folder: Path) -> Path:
    (folder / "link.csv").symlink_to(folder / "gone.csv")
    return folder / "link.csv"


def _circle(folder: Path) -> Path:
    (folder / "link.csv").symlink_to(folder / "link.csv")
    return folder / "link.csv"


def _pipe(folder: Path) -> Path:
    os.mkfifo(folder / "pipe.csv")
    return folder / "pipe.csv"


def _zeros(folder: Path) -> Path:
    path = folder / "zeros.bin"
    with path.open("wb") as file:
        file.truncate(200 * 2**20)
    return path


def _repeated(line: str, times: int) -> str:
    return "frequency_hz,R_ohm,X_ohm\n" + line * times


RNG_BYTES = bytes((n * n * 31 + n * 7 + 13) % 256 for n in range(4096))

BAD: dict[str, Callable[[Path], Path]] = {
    "empty": _bytes(b""),
    "blank lines only": _text("\n\n   \n\t\n"),
    "random bytes": _bytes(RNG_BYTES),
    "picture": _bytes(b"\x89PNG\r\n\x1a\n" + RNG_BYTES, "photo.png"),
    "compressed": _bytes(gzip.compress(GOOD.encode()), "sweep.csv"),
    "zip archive": _bytes(b"PK\x03\x04" + RNG_BYTES, "sweep.xlsx"),
    "a page of the web": _text("<!doctype html><html><body><p>not a table</p></body></html>\n"),
    "a letter": _text("Dear colleague,\nthe coils came in broken.\nRegards\n"),
    "header only": _text("frequency_hz,R_ohm,X_ohm\n"),
    "one point": _text("frequency_hz,R_ohm,X_ohm\n1000,1.0,6.28\n"),
    "only a truncated row": _text("frequency_hz,R_ohm,X_ohm\n1000,1.0"),
    "all rows overload": _text(_repeated("1000,9.9E37,9.9E37\n", 5)),
    "all cells not a number": _text(_repeated("nan,nan,nan\n", 20)),
    "zero frequency throughout": _text(_repeated("0,1.0,6.28\n", 20)),
    "negative frequencies": _text(
        "frequency_hz,R_ohm,X_ohm\n" + "".join(f"-{n}000,1.0,{n}.28\n" for n in range(1, 30))
    ),
    "one frequency twenty times": _text(_repeated("1000,1.0,6.28\n", 20)),
    "no header and no unit": _text("".join(f"{n},{n * 2},{n * 3}\n" for n in range(1, 30))),
    "frequency without unit": _text(
        "a,b,c\n" + "".join(f"{n * 1.7:.2f},{n * 0.2:.2f},{n * 3.3:.2f}\n" for n in range(1, 30))
    ),
    "two decimal marks": _text(
        "frequency_hz;R_ohm;X_ohm\n"
        + "".join(f"1.0{n},5;1,5.{n};2.5,{n}\n" for n in range(10, 40))
    ),
    "frequency alone": _text("frequency_hz\n" + "".join(f"{n}000\n" for n in range(1, 30))),
    "resistance without reactance": _text(
        "frequency_hz,R_ohm\n" + "".join(f"{n}000,1.0\n" for n in range(1, 30))
    ),
    "words for numbers": _text(_repeated("low,middle,high\n", 20)),
    "lone quotes": _text('frequency_hz,R_ohm,X_ohm\n"1000,1.0,6.28\n' * 5),
    "wide characters cut in the middle": _bytes(
        b"\xff\xfe" + "f;R;X\n1;2".encode("utf-16-le")[:-1]
    ),
    "network file without data": _bytes(b"! a sweep\n# MHz S RI R 50\n", "coil.s1p"),
    "network file with odd columns": _bytes(b"# MHz S RI R 50\n1 0.5\n2 0.4\n", "coil.s1p"),
    "network file with unknown option": _bytes(
        b"# MHz Q XX R 50\n1 0.5 0.1\n2 0.4 0.1\n", "coil.s1p"
    ),
    "folder": _folder,
    "missing": _missing,
    "dangling link": _dangling,
    "link to itself": _circle,
    "named pipe": _pipe,
    "device": lambda _folder: Path("/dev/zero"),
    "200 MB of zeros": _zeros,
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_gives_one_sentence_and_status_4(name, tmp_path, capsys):
    path = BAD[name](tmp_path)
    assert main(["fit", str(path)]) == 4
    shown = capsys.readouterr()
    assert shown.out == ""
    assert len(shown.err.strip().splitlines()) == 1
    assert shown.err.startswith("benchapp: ")
    assert "Traceback" not in shown.err
    assert "something in this program is wrong" not in shown.err
    assert len(shown.err) < 500


def test_a_file_without_permission_is_refused_with_what_to_do(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("BENCHAPP_SETTINGS", "/nowhere")  # to be reached without rights too
    path = tmp_path / "locked.csv"
    path.write_text(GOOD, encoding="utf-8")
    assert main(["read", str(path)]) == 0  # loads every module before rights are dropped
    capsys.readouterr()
    path.chmod(0)
    was_root = os.geteuid() == 0
    if was_root:
        os.seteuid(65534)
    try:
        status = main(["fit", str(path)])
    finally:
        if was_root:
            os.seteuid(0)
    assert status == 4
    told = capsys.readouterr().err
    assert "permission" in told
    assert "locked.csv" in told


def test_a_truncated_last_row_is_set_aside_and_the_rest_is_fitted(tmp_path, capsys):
    path = tmp_path / "cut.csv"
    path.write_text(GOOD + "41000,1.4", encoding="utf-8")
    assert main(["fit", str(path), "--json"]) in (0, 3)
    assert '"read": 40' in capsys.readouterr().out
    assert main(["read", str(path)]) == 0
    assert "set aside line 42" in capsys.readouterr().out


def test_bad_files_stay_within_memory_in_a_process_of_their_own(tmp_path):
    path = _zeros(tmp_path)
    # From a small process: a child of a large one counts the memory of its parent as its own.
    code = (
        "import resource, subprocess, sys\n"
        "done = subprocess.run([sys.executable, '-m', 'benchapp', 'fit', sys.argv[1]])\n"
        "print(done.returncode, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)],
        check=True,
        capture_output=True,
        text=True,
        timeout=120,
    )
    status, kilobytes = map(int, done.stdout.split())
    assert status == 4
    assert len(done.stderr.strip().splitlines()) == 1
    assert kilobytes * 1024 < 300 * 2**20
