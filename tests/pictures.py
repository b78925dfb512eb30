"""Pictures of every page, in themes and sizes: ``python -m tests.pictures [FOLDER [PAGE ...]]``.

They are looked at by a person and used by the documents. Nothing is asserted here.
"""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import QDeadlineTimer, QEvent, QLocale, QPointF, Qt
from PySide6.QtGui import QEnterEvent, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchapp.bench.offer import Offer
from benchapp.gui.app import make_window
from benchapp.gui.memory import Memory
from benchapp.gui.startpage import sample_paths
from benchapp.gui.tanksheet import EXAMPLE
from benchapp.gui.window import MainWindow
from benchapp.jobs import sample_folder
from benchapp.lot import StudyPlan

FOLDER = Path(__file__).resolve().parent.parent / "docs" / "pictures"
SIZES = ((1280, 800), (1920, 1080))
SMALL, SCALE = (1366, 768), "1.25"
THEMES = ("light", "dark")
SETTLE_MS = 250


def wait(until: Callable[[], bool] = lambda: False, most_ms: int = SETTLE_MS) -> None:
    """Let the window work until something holds, or for a while."""
    deadline = QDeadlineTimer(most_ms)
    while not deadline.hasExpired() and not until():
        QApplication.processEvents()


def open_files(window: MainWindow, paths: list[str]) -> None:
    """Open files and wait for the last one to be judged."""
    while window.session.part is not None:
        window.session.close_part()
    window.session.open(paths)
    wait(lambda: window.session.result is not None and window.session.is_settled, 10_000)


def at_work(window: MainWindow) -> None:
    """Wait until the instrument is done."""
    wait(lambda: not window.instrument.is_busy, 20_000)


def start_bench(window: MainWindow) -> None:
    """The simulated bench runs, with a tank in its clip."""
    open_files(window, sample_paths())
    window.instrument.choose(profile="lcr-points")
    window.instrument.start_bench("tank")
    at_work(window)
    window.instrument.texts.update(start="114 kHz", stop="154 kHz", points="201", part="0147")


def set_up(window: MainWindow) -> None:
    """The Set-up page with the bench examined, open and short read, and one part measured."""
    start_bench(window)
    window.session.use_nominal(None)
    instrument = window.instrument
    instrument.set_text("bias", "")
    instrument.examine()
    at_work(window)
    instrument.try_reading()
    for name, part in (("opened", "open"), ("shorted", "short")):
        at_work(window)
        instrument.clip(part)
        instrument.take_standard(name)
    at_work(window)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["BENCHAPP_RECORD"] = str(Path(folder) / "pictures.benchlog")
        instrument.set_text("temperature", "23 degC")
        window.coil.open(str(sample_folder() / "ga12_reference.toml"))
        wait(lambda: window.coil.reference is not None, 10_000)
        instrument.clip("tank")
        instrument.take_reference()
        at_work(window)
        wait(lambda: window.coil.gate.last is not None, 10_000)
        wait()
    instrument.clip("coil")
    instrument.take()
    at_work(window)
    wait(lambda: window.session.is_settled, 10_000)
    window.message.hide()
    window.go("setup")


def in_trouble(window: MainWindow) -> None:
    """Nobody answers at the address, and a bias waits for consent."""
    leave_bench(window)
    window.coil.forget()
    with Offer().server() as server:
        address = server.address
    window.instrument.choose(address=address)
    window.instrument.set_text("bias", "2 V")
    window.instrument.examine()
    at_work(window)
    window.go("setup")


def live(window: MainWindow) -> None:
    """A sweep half-way."""
    window.instrument.set_text("bias", "")
    start_bench(window)
    window.instrument.set_text("points", "801")
    window.go("capture")
    window.take_sweep()
    wait(lambda: len(window.instrument.points) > 400, 20_000)


def leave_bench(window: MainWindow) -> None:
    """No instrument, as at a first start."""
    window.instrument.stop()
    at_work(window)
    window.instrument.stop_bench()
    at_work(window)
    window.instrument.choose(address="")


def guided(window: MainWindow) -> None:
    """The guided first run, its bench at work and the open fixture to be read."""
    leave_bench(window)
    window.guide.begin()
    window.guide.again()
    for key in ("marking", "tank", "design", "bench", "conditions"):
        wait(lambda key=key: window.guide.step.key == key, 10_000)
        at_work(window)
        window.guide.act()
    wait(lambda: window.guide.step.key == "open", 10_000)
    window.guide.show_place()
    window.message.hide()


def empty(window: MainWindow) -> None:
    """A first start."""
    window.guide.leave()
    window._memory.guide = ((), "")
    window.guide.changed.emit()
    leave_bench(window)
    window.session.use_nominal(None)
    while window.session.part is not None:
        window.session.close_part()
    window.go("start")


def sample(page: str) -> Callable[[MainWindow], None]:
    """The sample with its design, at one page."""

    def show(window: MainWindow) -> None:
        open_files(window, sample_paths())
        window.go(page)

    return show


def rejected(page: str) -> Callable[[MainWindow], None]:
    """A part with a shorted turn, at one page."""

    def show(window: MainWindow) -> None:
        lot = sample_folder() / "ga12_lot" / "0209.csv"
        open_files(window, [str(lot), sample_paths()[1]])
        window.go(page)

    return show


def doubtful(page: str) -> Callable[[MainWindow], None]:
    """The sample with noise and two wild points added, against a tighter design, at one page."""

    def show(window: MainWindow) -> None:
        capture, design = (Path(path) for path in sample_paths())
        with tempfile.TemporaryDirectory() as folder:
            noisy, tight = Path(folder) / "ga12_noisy.csv", Path(folder) / "ga12_tight.toml"
            noisy.write_text(with_noise(capture.read_text(encoding="utf-8")), encoding="utf-8")
            words = design.read_text(encoding="utf-8").replace("±3 %", "±1.2 %")
            tight.write_text(words, encoding="utf-8")
            open_files(window, [str(noisy), str(tight)])
        window.go(page)

    return show


def with_noise(table: str) -> str:
    """Give every fourth row of the sample with 6 % of noise (seed 3) and two wild points."""
    lines = table.splitlines()
    first = next(at for at, line in enumerate(lines) if line[:1].isdigit())
    rows = np.array([[float(cell) for cell in line.split(",")] for line in lines[first::4]])
    random = np.random.default_rng(3)
    scatter = random.normal(size=(2, len(rows)))
    z = (rows[:, 1] + 1j * rows[:, 2]) * (1 + 0.06 * (scatter[0] + 1j * scatter[1]))
    z[[30, 70]] *= (1.8, 0.5)
    points = [
        f"{f:.0f},{one.real:.5g},{one.imag:.5g}" for f, one in zip(rows[:, 0], z, strict=True)
    ]
    return "\n".join([*lines[:first], *points]) + "\n"


def plane(name: str, view: str) -> Callable[[MainWindow], None]:
    """A sample in the complex plane, the mouse over one of its points."""

    def show(window: MainWindow) -> None:
        window.session.use_nominal(None)
        open_files(window, [str(sample_folder() / name)])
        window.go("capture")
        page = window.page("capture")
        keys = [one.key for one in page.bar._views]
        page.bar.views.setCurrentIndex(keys.index(view))
        page.plots.setFocus()
        QTest.keyClick(page.plots, Qt.Key.Key_Left)

    return show


def coil(window: MainWindow) -> None:
    """A coil alone, with what was understood unfolded."""
    window.session.use_nominal(None)
    open_files(window, [str(sample_folder() / "ga12_coil.csv")])
    window.go("capture")
    page = window.page("capture")
    page.bar.views.setCurrentIndex(2)
    page.understood.fold.setChecked(True)


def calculator(page: str) -> Callable[[MainWindow], None]:
    """One of the calculators of the station Nominal, with a driven tank and a marking."""

    def show(window: MainWindow) -> None:
        open_files(window, sample_paths())
        ratings = {"rated_dc": "2 kV", "rated_slew": "2000", "rise": "20 K", "thermal": "15"}
        window.sheet.fill({**EXAMPLE, **ratings})
        marking = window.page("marking")
        marking.code.setText("0.1")
        marking.code.textEdited.emit("0.1")
        window.go("tank")
        tank = window.page("tank")
        wait(lambda: tank.plot.plan is not None and bool(tank.plot.plan.outline), 10_000)
        window.go(page)

    return show


def refused(window: MainWindow) -> None:
    """A file that holds nothing, dropped on an open sample."""
    sample("capture")(window)
    window.page("capture").bar.views.setCurrentIndex(0)
    with tempfile.TemporaryDirectory() as folder:
        bad = Path(folder) / "holiday_plans.csv"
        bad.write_text("Dear diary,\nno numbers today.\n", encoding="utf-8")
        window.session.open([str(bad)])
        wait(lambda: not window.message.isHidden(), 5_000)


def fresh_record(window: MainWindow) -> None:
    """A record with nothing in it, so that no earlier picture says how to inspect."""
    leave_lot(window)
    own = Path(window.lots.recorder.own_place)
    window.lots.recorder.move(str(own.with_name(f"pictures-{next(RECORDS)}.benchlog")))


def state_lot(window: MainWindow) -> None:
    """The form of a lot of 150, its plan and how often it accepts."""
    fresh_record(window)
    fill_form(window, STATED)


def fill_form(window: MainWindow, stated: dict[str, str]) -> None:
    """State a delivery in the form of a new lot."""
    leave_lot(window)
    window.session.use_nominal(None)
    window.session.open([sample_paths()[1]])
    wait(lambda: window.session.nominal is not None and window.session.is_settled, 5_000)
    wait()
    window.go("lot")
    form = window.page("lot").start.delivery
    for key, words in stated.items():
        form.fields[key].setText(words)
        form.fields[key].textEdited.emit(words)
    wait(lambda: not window.page("lot").start.severity.asked, 2_000)
    wait(most_ms=600)


def leave_lot(window: MainWindow) -> None:
    """No lot on the bench, nothing of an earlier one in the form."""
    leave_bench(window)
    window.desk.leave()


def lot(page: str, parts: int = 13) -> Callable[[MainWindow], None]:
    """The lot of the samples, so many of its parts measured, at one page."""

    def show(window: MainWindow) -> None:
        fresh_record(window)
        inspect(window, STATED, parts)
        window.go(page)
        wait(most_ms=800)

    return show


def inspect(window: MainWindow, stated: dict[str, str], parts: int) -> None:
    """Begin a lot and measure so many parts of the samples."""
    fill_form(window, stated)
    for _ in range(2):  # the second time where the record proposes another severity
        if not window.desk.is_open:
            window.page("lot").start.begin.click()
            wait(lambda: window.desk.is_open, 3_000)
    window.desk.go_on(beyond=True)
    for path in sorted((sample_folder() / "ga12_lot").glob("*.csv"))[:parts]:
        window.session.open([str(path)])
        wait(lambda path=path: path.stem in window.desk.state.latest, 10_000)
    window.desk.choose(window.desk.state.parts[-1].serial)


def records(window: MainWindow) -> None:
    """The record with a lot in it, two of its parts compared."""
    lot("records")(window)
    page = window.page("records")
    wait(lambda: page.table.rows.rowCount() > 12, 5_000)
    page.table.choose([line.key for line in page.table.rows.lines[3:5]])
    page._show_choice()
    page.compare.click()
    window.message.hide()


def supplier(window: MainWindow) -> None:
    """Four lots of a supplier with their trend; in one of them is a part with a shorted turn."""
    fresh_record(window)
    for order, parts in (("4708", 5), ("4709", 4), ("4710", 9), ("4711", 3)):
        inspect(window, {**STATED, "order": order}, parts)
    window.go("supplier")
    wait(lambda: window.page("supplier").table.rowCount() == 4, 5_000)


def state_study(window: MainWindow) -> None:
    """The form of a gauge study, with the sample's design."""
    open_files(window, [sample_paths()[1]])
    leave_lot(window)
    window.lots.studies.study.leave()
    window.page("study").form.form.show_texts(STUDIED)
    window.go("study")


def study(share: float) -> Callable[[MainWindow], None]:
    """A gauge study of the sample coils (seed 7), so much of it measured."""

    def show(window: MainWindow) -> None:
        state_study(window)
        work = window.lots.studies.study
        parts = tuple(f"02{at:02d}" for at in range(1, 11))
        plan = StudyPlan(
            parts=parts,
            persons=tuple(STUDIED["persons"].split(", ")),
            trials=3,
            quantity="L",
            unit="H",
            tolerance=97.2e-6,
            references=tuple(1.620e-3 + 4e-6 * (at - 4.5) for at in range(10)),
        )
        with tempfile.TemporaryDirectory() as folder:
            work.begin(plan, str(Path(folder) / "gauge study L.csv"), 7)
            random = np.random.default_rng(7)
            bias = dict(zip(plan.persons, (0.0, 1.2e-6, -0.8e-6), strict=True))
            true = dict(zip(parts, plan.references, strict=True))
            for _ in range(round(share * len(work.sheet.readings))):
                act = work.sheet.next
                value = true[act.part] + bias[act.person] + 1.5e-6 * random.normal()
                work.take(round(value, 9))
            wait(lambda: work.found is not None or share < 1, 10_000)
            wait()

    return show


STUDIED = {"parts": "10", "trials": "3", "persons": "A. Example, B. Example, C. Example"}
RECORDS = itertools.count(1)
STATED = {
    "quantity": "150",
    "supplier": "Example Windings",
    "order": "4711",
    "date_code": "2640",
    "operator": "A. Example",
}
PAGES = {
    "guide": guided,
    "start": empty,
    "nominal": sample("nominal"),
    "tank": calculator("tank"),
    "stress": calculator("stress"),
    "marking": calculator("marking"),
    "coil": calculator("coil"),
    "capture": sample("capture"),
    "verdict": sample("verdict"),
    "capture-rejected": rejected("capture"),
    "verdict-rejected": rejected("verdict"),
    "capture-doubtful": doubtful("capture"),
    "verdict-doubtful": doubtful("verdict"),
    "capture-coil": coil,
    "capture-plane": plane("ga12_tank.csv", "impedance-plane"),
    "capture-reflection": plane("ga12_series.s1p", "reflection-plane"),
    "capture-refused": refused,
    "setup": set_up,
    "setup-trouble": in_trouble,
    "live": live,
    "lot-new": state_lot,
    "lot": lot("lot", 9),
    "parts": lot("parts"),
    "supplier": supplier,
    "records": records,
    "study-new": state_study,
    "study": study(0.4),
    "study-done": study(1.0),
}


def leave_mouse(window: MainWindow) -> None:
    """Take the mouse off everything, so that nothing is drawn as hovered."""
    nowhere = QPointF(-1, -1)
    for button in window.line.buttons:
        button.setAttribute(Qt.WidgetAttribute.WA_UnderMouse, on=False)
        QApplication.sendEvent(button, QEvent(QEvent.Type.Leave))
    QApplication.sendEvent(window, QEnterEvent(nowhere, nowhere, nowhere))


def small(picture: QImage) -> QImage:
    """Give a picture in its 256 commonest colours: a quarter of the size, looking the same."""
    plain = picture.convertToFormat(QImage.Format.Format_RGB32)
    pixels = np.frombuffer(plain.constBits(), dtype=np.uint32)
    colours, counts = np.unique(pixels, return_counts=True)
    commonest = colours[np.argsort(counts)[::-1][:256]]
    return plain.convertToFormat(
        QImage.Format.Format_Indexed8,
        [int(colour) for colour in commonest],
        Qt.ImageConversionFlag.AvoidDither | Qt.ImageConversionFlag.ThresholdDither,
    )


def sizes() -> dict[str, tuple[int, int]]:
    """Give the sizes of the window by their names; the small screen is scaled by 125 %."""
    if os.environ.get("QT_SCALE_FACTOR") == SCALE:
        width, height = (round(length / float(SCALE)) for length in SMALL)
        return {f"{SMALL[0]}x{SMALL[1]}": (width, height)}
    return {f"{width}x{height}": (width, height) for width, height in SIZES}


def main() -> None:
    """Write all pictures and say where; the scaled ones need a process of their own."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    wanted = {name: show for name, show in PAGES.items() if name in (sys.argv[2:] or PAGES)}
    if "QT_SCALE_FACTOR" not in os.environ:
        scaled = os.environ | {"QT_SCALE_FACTOR": SCALE}
        again = [sys.executable, "-m", "tests.pictures", str(folder), *wanted]
        subprocess.run(again, env=scaled, check=True)
    draw(folder, wanted)


def draw(folder: Path, wanted: dict[str, Callable[[MainWindow], None]]) -> None:
    """Write the pictures of this process."""
    QLocale.setDefault(QLocale.c())
    application = QApplication(sys.argv[:1])
    with tempfile.TemporaryDirectory() as settings:
        window = make_window(Memory(Path(settings) / "settings.ini"))
        window.show()
        for size, (width, height) in sizes().items():
            window.resize(width, height)
            for theme in THEMES:
                window.menu.wear(theme)
                for name, show in wanted.items():
                    window.message.hide()
                    show(window)
                    wait()
                    leave_mouse(window)
                    picture = small(window.grab().toImage())
                    picture.save(str(folder / f"{name}-{theme}-{size}.png"), "PNG", 0)
        window.close()
    application.processEvents()
    print(f"{len(wanted) * len(THEMES) * len(sizes())} pictures in {folder}")


if __name__ == "__main__":
    main()
